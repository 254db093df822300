"""No fault loses work: files are whole or absent, a mixed set is recognised, a build cures it."""

from __future__ import annotations

import contextlib
import json
import os
import random
import shutil
import signal
import subprocess
import sys
import time
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

import pytest
import small_packet

from packet import pipeline
from packet.errors import PacketError
from packet.files import writing
from packet.intake.packet_file import read_packet
from packet.intake.scans import list_scans
from packet.report.fresh import why_stale
from packet.report.record import read_record
from packet.sheets.recount import recount

posix = pytest.mark.skipif(sys.platform == "win32", reason="POSIX signals and limits")
PAPER = "means/p2.png"


@dataclass
class Ways:
    """A packet in two states, with one paper and with two, and what each builds to."""

    root: Path
    spare: Path
    cache: Path
    files: dict[str, dict[str, bytes]]
    build_s: float = 0.0

    @property
    def out(self) -> Path:
        return self.root / "out"

    def go(self, state: str) -> None:
        (self.root / PAPER).unlink(missing_ok=True)
        if state == "two":
            shutil.copy(self.spare, self.root / PAPER)

    def environment(self) -> dict[str, str]:
        return {**os.environ, "PACKET_CACHE": str(self.cache)}

    def start(self) -> subprocess.Popen:
        return subprocess.Popen(
            [sys.executable, "-m", "packet", "build", str(self.root), "--json"],
            stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, env=self.environment(),
        )  # fmt: skip


def read(out: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in out.iterdir() if path.is_file()}


@pytest.fixture(scope="module")
def ways(tmp_path_factory):
    room = tmp_path_factory.mktemp("faults")
    root = small_packet.make(room / "packet", openings=0, papers=2)
    spare = room / "p2.png"
    shutil.copy(root / PAPER, spare)
    made = Ways(root=root, spare=spare, cache=room / "cache", files={})
    for state in ("two", "one"):
        made.go(state)
        with made.start() as process:
            process.communicate()
            assert process.returncode in (0, 1)
        made.files[state] = read(made.out)
    made.go("two")
    began = time.monotonic()
    with made.start() as process:
        process.communicate()
    made.build_s = time.monotonic() - began
    assert made.files["one"].keys() == made.files["two"].keys()
    return made


def check(ways: Ways) -> str:
    """The invariant; the answer is "one", "two" or "mixed"."""
    held = {name: data for name, data in read(ways.out).items() if not name.startswith(".")}
    assert held.keys() <= ways.files["one"].keys()
    for name, data in held.items():
        assert data in (ways.files["one"][name], ways.files["two"][name]), f"{name} is not whole"
    for state, files in ways.files.items():
        if held == files:
            return state
    for state in ways.files:  # a mixed or incomplete set is said, whatever the scans are
        ways.go(state)
        packet = read_packet(ways.root)
        assert why_stale(packet, list_scans(packet)[0], ways.out, read_record(ways.out))
    return "mixed"


def kill_one_build(ways: Ways, state: str, moment_s: float, mode: str) -> str:
    """Start a build of ``state``, kill it, look at what is there.

    The moment counts from the start, from the first unfinished file, or from the first file
    that is renamed into place.
    """
    ways.go(state)
    before = places(ways.out)
    process = ways.start()
    while process.poll() is None and mode != "start":
        if mode == "writing" and list(ways.out.glob(".packet-part-*")):
            break
        if mode == "renaming" and places(ways.out) != before:
            break
    time.sleep(moment_s)
    process.send_signal(signal.SIGKILL)
    process.wait()
    process.stderr.close()
    return check(ways)


def places(out: Path) -> dict[str, int]:
    """Name -> inode of the files in place; a rename changes it."""
    with contextlib.suppress(OSError):
        return {e.name: e.inode() for e in os.scandir(out) if not e.name.startswith(".")}
    return {}


def kill_many(ways: Ways, times: int) -> Counter:
    """Kills at moments drawn with a fixed seed; each build has something new to write."""
    drawn = random.Random(20)
    longest_s = {"start": 1.2 * ways.build_s, "writing": 0.3, "renaming": 0.004}
    seen: Counter = Counter()
    state = check(ways)
    for turn in range(times):
        mode = ("start", "writing", "renaming")[turn % 3]
        other = "one" if state == "two" else "two"
        state = kill_one_build(ways, other, drawn.uniform(0, longest_s[mode]), mode)
        if state == other:
            seen["new"] += 1
        else:
            seen["mixed" if state == "mixed" else "old"] += 1
    return seen


def cure(ways: Ways) -> None:
    """The next build cures: the very same bytes, and nothing left over."""
    for state in ("one", "two"):
        ways.go(state)
        with ways.start() as process:
            process.communicate()
            assert process.returncode in (0, 1)
        assert read(ways.out) == ways.files[state]
        assert {path.name for path in ways.out.iterdir()} == ways.files[state].keys()


@posix
def test_a_build_killed_at_random_moments(ways):
    kill_many(ways, 6)
    cure(ways)


@posix
@pytest.mark.slow
def test_a_build_killed_at_200_random_moments(ways):
    seen = kill_many(ways, 200)
    print(dict(seen))
    cure(ways)
    assert seen.keys() == {"old", "mixed", "new"}


STEPS = """
import os, signal, sys
from pathlib import Path
import packet.files as files
out, last = Path(sys.argv[1]), int(sys.argv[2])
left = last
def watch(event, args):
    global left
    if event in ("open", "os.rename", "os.remove", "os.mkdir", "os.rmdir", "os.link"):
        left -= 1
        if left == 0:
            os.kill(os.getpid(), signal.SIGKILL)
new = {name: name.encode() * 3 for name in ("a.pdf", "b.pdf", "c.html", "record.json")}
sys.addaudithook(watch)
with files.writing(out):
    files.write_all_whole(out, new, last="record.json")
"""


@posix
def test_writing_killed_before_each_step(tmp_path):
    """Before every file-system call of the writing in turn: old or new, never half."""
    names = ("a.pdf", "b.pdf", "c.html", "record.json")
    old = {name: b"old " + name.encode() for name in names}
    new = {name: name.encode() * 3 for name in names}
    orders = []
    for step in range(1, 200):
        out = tmp_path / str(step)
        out.mkdir()
        for name, data in old.items():
            (out / name).write_bytes(data)
        call = [sys.executable, "-c", STEPS, str(out), str(step)]
        code = subprocess.run(call, check=False).returncode
        held = {name: (out / name).read_bytes() for name in names}
        assert all(held[name] in (old[name], new[name]) for name in names)
        if held["record.json"] == new["record.json"]:
            assert held == new  # the record is last
        orders.append(sum(held[name] == new[name] for name in names))
        if code == 0:
            break
        with writing(out):  # the next start: no lock, nothing left over
            pass
        assert sorted(path.name for path in out.iterdir()) == sorted(names)
    assert orders == sorted(orders)
    assert set(orders) == {0, 1, 2, 3, 4}


def test_a_mixed_set_is_said_by_count_status_and_recount_and_cured(ways, monkeypatch):
    monkeypatch.setenv("PACKET_CACHE", str(ways.cache))
    ways.go("two")
    for name, data in ways.files["two"].items():
        (ways.out / name).write_bytes(data)
    (ways.out / "copy-set-2.pdf").write_bytes(ways.files["one"]["copy-set-2.pdf"])

    counted, _, stale = pipeline.count(ways.root)
    assert counted["basis"] == "plan"
    assert "copy-set-2.pdf" in stale
    assert not recount(ways.root, ways.out).agrees
    pipeline.build(ways.root)
    assert read(ways.out) == ways.files["two"]
    assert recount(ways.root, ways.out).agrees


def test_two_builds_at_once_one_goes_on_and_one_says_why(ways):
    ways.go("one")
    with ways.start() as first, ways.start() as second:
        errors = [process.communicate()[1].decode() for process in (first, second)]
    codes = [first.returncode, second.returncode]

    assert min(codes) in (0, 1)
    assert set(codes) <= {0, 1, 2}
    for code, error in zip(codes, errors, strict=True):
        assert "Traceback" not in error
        if code == 2:
            assert "another packet command is writing there" in error
    assert check(ways) == "one"


def test_a_second_build_is_refused_while_the_folder_is_held(ways):
    ways.go("one")
    with writing(ways.out), ways.start() as process:
        error = process.communicate()[1].decode()
    assert process.returncode == 2
    assert "Wait until it has ended" in error


def test_a_scan_that_vanishes_stops_the_build_and_changes_nothing(ways):
    ways.go("two")
    before = read(ways.out)

    def vanish(*_):
        (ways.root / PAPER).unlink(missing_ok=True)

    with pytest.raises(PacketError, match="changed while"):
        pipeline.build(ways.root, jobs=1, progress=vanish, use_cache=False)
    assert read(ways.out) == before
    ways.go("two")


def test_a_known_scan_that_changes_under_its_size_and_time_stops_the_build(ways):
    ways.go("two")
    pipeline.build(ways.root, jobs=1)  # the cache knows every scan now
    scan = ways.root / PAPER
    data, facts = scan.read_bytes(), scan.stat()

    def exchange(*_):
        scan.write_bytes(data[:-1] + bytes([data[-1] ^ 1]))
        os.utime(scan, ns=(facts.st_atime_ns, facts.st_mtime_ns))

    (ways.out / "record.json").unlink()
    for name in ("envelope.pdf", "copy-set-1.pdf", "copy-set-2.pdf"):
        (ways.out / name).unlink()
    with pytest.raises(PacketError, match="changed while"):
        pipeline.build(ways.root, jobs=1, progress=exchange)
    scan.write_bytes(data)


LIMITED = """
import resource, sys
from packet.cli import main
resource.setrlimit(resource.RLIMIT_FSIZE, (30_000, 30_000))
main(["build", sys.argv[1], "--json"])
"""


@posix
def test_a_disk_that_takes_no_more_changes_nothing(ways):
    """RLIMIT_FSIZE: writing beyond it fails as on a full disk (setrlimit, POSIX.1-2017)."""
    ways.go("two")
    for name, data in ways.files["one"].items():
        (ways.out / name).write_bytes(data)
    done = subprocess.run(
        [sys.executable, "-c", LIMITED, str(ways.root)],
        capture_output=True, text=True, check=False, env=ways.environment(),
    )  # fmt: skip

    assert done.returncode == 2, done.stderr
    assert "nothing was written" in json.loads(done.stdout.splitlines()[-1])["error"]
    assert "Traceback" not in done.stderr
    assert read(ways.out) == ways.files["one"]


@posix
@pytest.mark.parametrize("name", ["SIGINT", "SIGTERM", "SIGHUP"])
def test_an_end_from_outside_leaves_nothing_unfinished(ways, name):
    ways.go("two")
    shutil.rmtree(ways.out, ignore_errors=True)
    process = ways.start()
    while process.poll() is None and not ways.out.exists():
        time.sleep(0.005)
    process.send_signal(getattr(signal, name))
    error = process.communicate()[1].decode()

    if process.returncode == 130:  # it may have been done already
        assert "Traceback" not in error
        assert not ways.out.exists() or check(ways) in ("one", "two", "mixed")
    left = list(ways.out.glob(".*")) if ways.out.exists() else []
    assert left == []
    cure(ways)
