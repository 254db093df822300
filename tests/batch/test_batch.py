"""Many packets at once: one row each, the same bytes as one by one, and no stop."""

from __future__ import annotations

import csv
import io
import json
import os
import shutil
import signal
import subprocess
import sys
import time
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from datetime import date
from multiprocessing import get_context
from pathlib import Path

import pypdf
import pytest
import small_packet
from click.testing import CliRunner

from batch.making import office, outputs, process_or_die, run, tiny
from packet import pipeline
from packet.batch import find_packets
from packet.cli import command
from packet.errors import PacketError, UsageError

TODAY = date(2026, 11, 25)


@pytest.fixture
def kept(tmp_path, monkeypatch):
    monkeypatch.setenv("PACKET_CACHE", str(tmp_path / "kept"))


@pytest.fixture(scope="module")
def built(tmp_path_factory):
    """Two packets, each built by itself, without a cache."""
    root = office(tmp_path_factory.mktemp("office"), "anna", "bruno")
    for name in ("anna", "bruno"):
        pipeline.build(root / name, jobs=1, use_cache=False)
    return root


def again(built, tmp_path) -> Path:
    """The same packets, not built yet."""
    return Path(shutil.copytree(built, tmp_path / "office", ignore=shutil.ignore_patterns("out")))


# --- the same bytes --------------------------------------------------------------------------


@pytest.mark.parametrize("jobs", [1, 3])
def test_same_bytes_as_one_by_one_cold_and_warm(built, tmp_path, kept, jobs):
    root = again(built, tmp_path)
    rows = run(root, TODAY, jobs=jobs)
    assert outputs(root) == outputs(built)
    assert all(row.built for row in rows.values())
    for name in rows:
        shutil.rmtree(root / name / "out")
    run(root, TODAY, jobs=jobs)
    assert outputs(root) == outputs(built)


@pytest.mark.parametrize("kind", ["threads", "processes"])
def test_same_bytes_by_any_executor(built, tmp_path, kept, kind):
    root = again(built, tmp_path)
    executor = (
        ThreadPoolExecutor(2)
        if kind == "threads"
        else ProcessPoolExecutor(2, mp_context=get_context("spawn"))
    )
    with executor:
        rows = run(root, TODAY, executor=executor)
    assert [row.error for row in rows.values()] == ["", ""]
    assert outputs(root) == outputs(built)


@pytest.mark.slow
def test_same_bytes_by_a_cluster(built, tmp_path, kept):
    """dask.distributed, two worker processes on this machine: the recipe of DEVELOPERS.md."""
    dask = pytest.importorskip("dask")
    distributed = pytest.importorskip("distributed")
    root = again(built, tmp_path)
    with (
        dask.config.set({"distributed.worker.daemon": False}),
        distributed.LocalCluster(
            n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None
        ) as cluster,
        distributed.Client(cluster) as client,
        client.get_executor(pure=False) as executor,
    ):
        rows = run(root, TODAY, executor=executor)
    assert [row.error for row in rows.values()] == ["", ""]
    assert outputs(root) == outputs(built)


def test_count_of_every_packet_is_agreed_by_two_readers(built):
    """pypdf beside pypdfium2, which the build itself counts with."""
    for row in run(built, TODAY).values():
        for file in row.files:
            path = built / row.name / "out" / file.name
            assert len(pypdf.PdfReader(path).pages) == file.pages
        assert row.box == 4 + row.files[0].sheets


# --- which packets -----------------------------------------------------------------------------


def test_packets_are_found_at_any_depth_in_natural_order(tmp_path):
    for name in ("c10", "c9", "family/b", "family/a", ".hidden/x", "c9/inner"):
        (tmp_path / name).mkdir(parents=True)
        (tmp_path / name / "packet.toml").write_text("", "utf-8")
    assert find_packets(tmp_path) == ("c9", "c10", "family/a", "family/b")


def test_folders_without_packets_are_refused(tmp_path):
    with pytest.raises(PacketError, match="holds no packet folder"):
        find_packets(tmp_path)
    with pytest.raises(PacketError, match="no such folder"):
        find_packets(tmp_path / "no")
    (tmp_path / "packet.toml").write_text("", "utf-8")
    with pytest.raises(PacketError, match="is a packet itself"):
        find_packets(tmp_path)


def test_only_and_changed(tmp_path, kept):
    for number, name in enumerate(("anna", "bruno", "carla")):
        tiny(tmp_path, name, number)
    assert list(run(tmp_path, TODAY, only=("bruno",))) == ["bruno"]
    rows = run(tmp_path, TODAY)
    assert [row.built for row in rows.values()] == [True, False, True]
    small_packet.page(5, dpi=30).save(tmp_path / "carla" / "means" / "q.png", dpi=(30, 30))
    assert list(run(tmp_path, TODAY, changed=True)) == ["carla"]
    assert run(tmp_path, TODAY, changed=True) == {}
    with pytest.raises(UsageError, match="Perhaps anna"):
        run(tmp_path, TODAY, only=("ana",))


# --- failures are rows -------------------------------------------------------------------------


def test_a_failed_packet_is_a_row(tmp_path, kept):
    for name in ("a-good", "b-no-scans", "c-broken-file", "d-locked", "e-good"):
        tiny(tmp_path, name, ord(name[0]))
    (tmp_path / "b-no-scans" / "means" / "p.png").unlink()
    (tmp_path / "c-broken-file" / "packet.toml").write_text("colour = 1\n", "utf-8")
    (tmp_path / "d-locked" / "out").write_bytes(b"a file where a folder should be")
    rows = run(tmp_path, TODAY)
    assert {name: row.state == "failed" for name, row in rows.items()} == {
        "a-good": False,
        "b-no-scans": True,
        "c-broken-file": True,
        "d-locked": True,
        "e-good": False,
    }
    assert "no scan could be used" in rows["b-no-scans"].error
    assert "packet.toml" in rows["c-broken-file"].error
    done = CliRunner().invoke(command, ["batch", str(tmp_path), "--today", "2026-11-25"])
    assert done.exit_code == 0 or isinstance(done.exception, SystemExit)
    assert done.exit_code == 2
    assert "a-good" in done.output


def test_a_scan_that_kills_its_worker_is_a_row(tmp_path, kept, monkeypatch):
    """A worker killed by the system (SIGKILL): that packet is a row, the next is whole."""
    import packet.imaging.scan

    for number, name in enumerate(("anna", "bruno")):
        tiny(tmp_path, name, number)
    monkeypatch.setattr(packet.imaging.scan, "process_scan", process_or_die)
    rows = run(tmp_path, TODAY, jobs=1)
    assert rows["anna"].state == "failed"  # its only scan could not be read
    assert "unreadable" in [one.code for one in rows["anna"].doubtful]
    assert rows["bruno"].box == 5


def test_an_interrupt_ends_it_and_leaves_no_child(tmp_path, kept):
    """Ctrl-C (SIGINT): over within a second of the machine's time, no process left (Linux)."""
    if not sys.platform.startswith("linux"):
        pytest.skip("reads /proc")
    root = office(tmp_path / "office", *(f"c{number}" for number in range(6)))
    run_ = subprocess.Popen(
        [sys.executable, "-m", "packet", "batch", str(root), "--jobs", "2"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env={**os.environ, "PACKET_CACHE": str(tmp_path / "kept")},
    )
    deadline = time.monotonic() + 120
    while not list(root.glob("*/out/record.json")) and time.monotonic() < deadline:
        time.sleep(0.02)
    children = _children(run_.pid)
    assert children
    run_.send_signal(signal.SIGINT)
    started = time.monotonic()
    _, said = run_.communicate(timeout=60)
    took = time.monotonic() - started
    # CPython itself ends by the signal where it came while a module was made (exec of a text);
    # a shell calls both 130.
    assert run_.returncode in (130, -signal.SIGINT), said
    assert "interrupted" in said
    while any(map(_lives, children)) and time.monotonic() < started + 30:
        time.sleep(0.02)  # what only keeps count of semaphores ends when its pipe is closed
    assert not any(map(_lives, children))
    assert took < 1 + os.getloadavg()[0]  # a second, where the machine is not shared
    before = len(list(root.glob("*/out/record.json")))
    rows = run(root, TODAY)
    assert sum(not row.built for row in rows.values()) == before  # it went on where it stopped
    assert not list(root.glob("*/out/.packet-part-*"))


def _lives(process: int) -> bool:
    try:
        words = Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()
    except OSError:
        return False
    return words[0] not in "ZX"


def _children(parent: int) -> list[int]:
    found = []
    for place in Path("/proc").iterdir():
        if place.name.isdigit():
            try:
                words = (place / "stat").read_text().rpartition(")")[2].split()
            except OSError:
                continue
            if int(words[1]) == parent:
                found.append(int(place.name))
    return found


# --- never mixes people ------------------------------------------------------------------------


def set_number(place, number, more=""):
    path = place / "packet.toml"
    text = path.read_text("utf-8").replace("[passport]", f'[passport]\nnumber = "{number}"')
    path.write_text(more + text, "utf-8")


def test_same_passport_number_in_two_packets(tmp_path, kept):
    for number, name in enumerate(("anna", "bruno", "carla")):
        tiny(tmp_path, name, number)
    set_number(tmp_path / "anna", "XA 1234567")
    set_number(tmp_path / "bruno", "xa1234567")
    rows = run(tmp_path, TODAY)
    codes = {name: [one.code for one in row.doubtful] for name, row in rows.items()}
    assert "same-passport" in codes["anna"]
    assert "same-passport" in codes["bruno"]
    assert "same-passport" not in codes["carla"]
    assert "1234567" not in repr(rows)
    assert rows["anna"].state == "needs-you"
    only = run(tmp_path, TODAY, only=("anna",))  # the others are looked at all the same
    assert "same-passport" in [one.code for one in only["anna"].doubtful]


def test_a_renewal_may_have_the_same_passport(tmp_path, kept):
    for number, name in enumerate(("old", "new")):
        tiny(tmp_path, name, number)
    set_number(tmp_path / "old", "XA1234567")
    set_number(tmp_path / "new", "XA1234567", more='made_from = "old"\n')
    rows = run(tmp_path, TODAY)
    assert not any(one.code == "same-passport" for row in rows.values() for one in row.doubtful)


@pytest.mark.parametrize("identity", [True, False])
def test_same_scan_of_an_identity_paper(tmp_path, kept, identity):
    """The passport's folder is one person's; a lease may be a family's."""
    for name in ("anna", "bruno"):
        place = small_packet.make(tmp_path / name, openings=0, papers=0)
        rules = (place / "rules.toml").read_text("utf-8")
        if identity:
            rules = rules.replace('folder = "means"', 'folder = "means"\nidentity = true')
        (place / "rules.toml").write_text(rules, "utf-8")
        small_packet.page(1, dpi=40).save(place / "means" / "p.png", dpi=(40, 40))
    rows = run(tmp_path, TODAY)
    assert all(
        ("same-scan" in [one.code for one in row.doubtful]) == identity for row in rows.values()
    )


# --- what it writes ----------------------------------------------------------------------------


def test_summary_files_and_files_to_print(tmp_path, kept):
    root = tmp_path / "office"
    for number, name in enumerate(("family/anna", "family-anna", "=bruno")):
        tiny(root, name, number)
    prints = tmp_path / "prints"
    words = ["batch", str(root), "--print-to", str(prints), "--json", "--today", "2026-11-25"]
    done = CliRunner().invoke(command, words)
    lines = [json.loads(line) for line in done.stdout.splitlines()]
    assert [line["packet"] for line in lines] == ["=bruno", "family/anna", "family-anna"]
    told = json.loads((root / "batch.json").read_bytes())
    assert told["packets"] == lines
    assert told["sheets"] == sum(line["sheets"] for line in lines)
    table = list(csv.DictReader(io.StringIO((root / "batch.csv").read_text("utf-8-sig"))))
    assert [row["packet"] for row in table] == ["'=bruno", "family/anna", "family-anna"]
    files = sorted(path.name for path in prints.rglob("*.pdf"))
    assert len(files) == 3 * 4
    assert "family-anna-2-envelope.pdf" in files
    for line in lines:
        for file in line["files"]:
            source = root / line["packet"] / "out" / file["file"]
            assert any(path.read_bytes() == source.read_bytes() for path in prints.rglob("*.pdf"))


def test_both_copy_sets_in_one_file(built, tmp_path):
    """Counted by pypdf; a picture that two pages show is in the file once."""
    prints = tmp_path / "prints"
    words = ["batch", str(built), "--print-to", str(prints), "--one-file", "--json"]
    CliRunner().invoke(command, words)
    one = built / "anna" / "out" / "copy-set-1.pdf"
    (both,) = prints.rglob("anna-copy-sets.pdf")
    assert not list(prints.rglob("anna-copy-set-?.pdf"))
    single, double = pypdf.PdfReader(one), pypdf.PdfReader(both)
    assert len(double.pages) == 2 * len(single.pages)
    assert [p.extract_text() for p in double.pages] == 2 * [p.extract_text() for p in single.pages]
    assert double.root_object["/ViewerPreferences"] == single.root_object["/ViewerPreferences"]
    assert both.stat().st_size <= 1.02 * one.stat().st_size + 4096
    for name in ("batch.csv", "batch.json", "batch.html"):
        (built / name).unlink()


def test_the_page_loads_nothing_and_runs_only_its_own_script(tmp_path, kept):
    """Content Security Policy Level 3 (W3C): a hash names the one script that may run."""
    import base64
    import hashlib
    import re

    tiny(tmp_path, "<b>anna</b>")
    CliRunner().invoke(command, ["batch", str(tmp_path), "--today", "2026-11-25"])
    page = (tmp_path / "batch.html").read_text("utf-8")
    (script,) = re.findall(r"<script>(.*?)</script>", page, re.DOTALL)
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    assert f"script-src 'sha256-{digest}'" in page
    assert "default-src 'none'" in page
    assert not re.search(r"(src|href)=\"(?!#)", page)
    assert "<b>anna" not in page
    assert 'scope="row"' in page


def test_files_to_print_do_not_go_into_a_packet(tmp_path):
    tiny(tmp_path, "anna")
    inside = str(tmp_path / "anna" / "means")
    done = CliRunner().invoke(command, ["batch", str(tmp_path), "--print-to", inside])
    assert isinstance(done.exception, UsageError)


# --- many --------------------------------------------------------------------------------------


@pytest.mark.slow
def test_time_grows_linearly_with_the_number_of_packets(tmp_path, kept):
    """Current packets, so that only the batch itself is measured."""
    tiny(tmp_path / "one", "c0")
    run(tmp_path / "one", TODAY)
    took = {}
    for number in (50, 200):
        for packet in range(number):
            target = tmp_path / str(number) / f"c{packet}"
            if not target.exists():
                shutil.copytree(tmp_path / "one" / "c0", target)
        start = time.process_time()
        assert len(run(tmp_path / str(number), TODAY)) == number
        took[number] = time.process_time() - start
    assert took[200] < 4 * 1.6 * took[50]
