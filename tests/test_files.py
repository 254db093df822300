"""Files appear whole or not at all."""

from __future__ import annotations

import hashlib
import os
import stat
import subprocess
import sys
import time

import pytest

from packet import files
from packet.errors import OutputError
from packet.files import file_digest, write_all_whole, write_new

posix_owner = pytest.mark.skipif(
    sys.platform == "win32" or not hasattr(os, "geteuid") or os.geteuid() == 0,
    reason="needs POSIX permissions and not the superuser",
)


def test_all_files_are_there_and_private(tmp_path):
    out = tmp_path / "out"
    write_all_whole(out, {"a.pdf": b"one", "record.json": b"{}"}, last="record.json")

    assert sorted(p.name for p in out.iterdir()) == ["a.pdf", "record.json"]
    if sys.platform != "win32":
        assert stat.S_IMODE(out.stat().st_mode) == 0o700
        assert stat.S_IMODE((out / "a.pdf").stat().st_mode) == 0o600


def test_nothing_changes_when_one_cannot_be_written(tmp_path):
    write_all_whole(tmp_path, {"a": b"old", "z": b"old"}, last="z")
    with pytest.raises(OutputError, match="nothing was written"):
        write_all_whole(tmp_path, {"a": b"new", "z/no": b"new"}, last="z/no")

    assert (tmp_path / "a").read_bytes() == b"old"
    assert sorted(p.name for p in tmp_path.iterdir()) == ["a", "z"]


def test_a_file_in_the_way_of_the_folder_is_one_sentence(tmp_path):
    (tmp_path / "out").write_text("here")
    with pytest.raises(OutputError, match="--out"):
        write_all_whole(tmp_path / "out", {"a": b""}, last="a")


@posix_owner
def test_a_read_only_folder_is_one_sentence(tmp_path):
    tmp_path.chmod(0o500)
    with pytest.raises(OutputError, match="may not write"):
        write_all_whole(tmp_path, {"a": b""}, last="a")
    tmp_path.chmod(0o700)


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="no /dev/full on this system")
def test_a_full_disk_is_one_sentence(tmp_path, monkeypatch):
    """/dev/full answers every write with ENOSPC (Linux, full(4))."""
    real = os.open

    def opened(path, *rest, **named):
        full = os.path.basename(path) in {"a", "new"}
        return real("/dev/full", os.O_WRONLY) if full else real(path, *rest, **named)

    monkeypatch.setattr(os, "open", opened)
    with pytest.raises(OutputError, match="disk is full"):
        write_all_whole(tmp_path, {"a": b"data"}, last="a")
    with pytest.raises(OutputError, match="disk is full"):
        write_new(tmp_path / "picture.png", b"data")

    assert list(tmp_path.iterdir()) == []


def test_unfinished_files_are_private_and_go(tmp_path, monkeypatch):
    modes = []

    def looked(path, data):
        modes.append(stat.S_IMODE(path.parent.stat().st_mode))
        real(path, data)
        modes.append(stat.S_IMODE(path.stat().st_mode))
        assert path.parent in files.part_folders(tmp_path)

    real = files._write_synced
    monkeypatch.setattr(files, "_write_synced", looked)
    write_all_whole(tmp_path, {"a": b"data"}, last="a")

    assert [p.name for p in tmp_path.iterdir()] == ["a"]
    if sys.platform != "win32":
        assert modes == [0o700, 0o600]


def test_an_interrupt_leaves_nothing(tmp_path, monkeypatch):
    def interrupted(path, data):
        path.write_bytes(data[:1])
        raise KeyboardInterrupt

    monkeypatch.setattr(files, "_write_synced", interrupted)
    with pytest.raises(KeyboardInterrupt), files.writing(tmp_path / "out"):
        write_all_whole(tmp_path / "out", {"a": b"data"}, last="a")

    assert list(tmp_path.iterdir()) == []


def test_what_is_in_use_is_not_swept_away(tmp_path):
    with files.part_folder(tmp_path) as ours:
        (ours / "a").write_bytes(b"half")
        code = f"import pathlib, packet.files as f; f.sweep(pathlib.Path({str(tmp_path)!r}))"
        subprocess.run([sys.executable, "-c", code], check=True)
        assert (ours / "a").read_bytes() == b"half"
    assert list(tmp_path.iterdir()) == []


def test_what_a_killed_process_left_is_swept_away(tmp_path):
    code = (
        "import os, pathlib, packet.files as f\n"
        f"with f.part_folder(pathlib.Path({str(tmp_path)!r})) as made:\n"
        "    (made / 'a').write_bytes(b'half')\n"
        "    os._exit(9)\n"
    )
    subprocess.run([sys.executable, "-c", code], check=False)
    assert len(files.part_folders(tmp_path)) == 1
    files.sweep(tmp_path)

    assert list(tmp_path.iterdir()) == []


def test_sweeping_does_not_follow_links(tmp_path):
    kept = tmp_path / "elsewhere"
    kept.mkdir()
    (kept / "mine").write_text("stays")
    out = tmp_path / "out"
    out.mkdir()
    (out / ".packet-part-x").symlink_to(kept, target_is_directory=True)
    files.sweep(out)

    assert (kept / "mine").read_text() == "stays"


def test_a_failing_rename_says_that_the_set_is_mixed(tmp_path, monkeypatch):
    """Windows refuses to replace a file that a viewer has open."""
    calls = []

    def replace(self, target):
        calls.append(self.name)
        if len(calls) == 2:
            raise PermissionError(13, "Permission denied")
        os.replace(self, target)

    monkeypatch.setattr(type(tmp_path), "replace", replace)
    with pytest.raises(OutputError, match="build again"):
        write_all_whole(tmp_path, {"a": b"", "b": b"", "z": b""}, last="z")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["a"]


def test_write_new_never_overwrites(tmp_path):
    path = tmp_path / "a.png"
    write_new(path, b"first")
    with pytest.raises(FileExistsError):
        write_new(path, b"second")

    assert path.read_bytes() == b"first"
    assert [p.name for p in tmp_path.iterdir()] == ["a.png"]


def test_digest_is_sha256(tmp_path):
    """SHA-256 of "abc": FIPS 180-2, appendix B.1."""
    (tmp_path / "a").write_bytes(b"abc")

    assert file_digest(tmp_path / "a") == (
        "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    )
    assert file_digest(tmp_path / "a") == hashlib.sha256(b"abc").hexdigest()


@pytest.mark.skipif(sys.platform == "win32", reason="no stamps there: files are hashed again")
def test_a_stamp_tells_a_change_that_keeps_size_and_time(tmp_path, monkeypatch):
    scan = tmp_path / "scan"
    scan.write_bytes(b"one")
    assert files.stamped_digest(scan)[1] == ()  # just written: more may follow in the same tick
    assert not files.unchanged(scan, ())

    now = time.time_ns()
    monkeypatch.setattr(files.time, "time_ns", lambda: now + 10**10)
    monkeypatch.setattr(files, "_MILLISECOND_NS", 10**15)  # whatever this disk counts in
    digest, stamp = files.stamped_digest(scan)
    assert digest == hashlib.sha256(b"one").hexdigest()
    assert files.unchanged(scan, stamp)

    before = scan.stat()
    time.sleep(0.05)
    scan.write_bytes(b"two")
    os.utime(scan, ns=(before.st_atime_ns, before.st_mtime_ns))
    assert scan.stat().st_mtime_ns == before.st_mtime_ns
    assert not files.unchanged(scan, stamp)

    other = tmp_path / "other"
    other.write_bytes(b"one")
    other.replace(scan)
    assert not files.unchanged(scan, stamp)


def test_a_stamp_in_whole_milliseconds_proves_nothing(tmp_path, monkeypatch):
    scan = tmp_path / "scan"
    scan.write_bytes(b"one")
    now = time.time_ns()
    monkeypatch.setattr(files.time, "time_ns", lambda: now + 10**10)
    monkeypatch.setattr(files, "_MILLISECOND_NS", 1)  # as if its time ended in six noughts
    assert files.stamped_digest(scan)[1] == ()
