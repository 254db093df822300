"""Files appear whole or not at all."""

from __future__ import annotations

import hashlib
import os
import stat
import sys

import pytest

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
    monkeypatch.setattr(os, "open", lambda path, *a, **k: real("/dev/full", os.O_WRONLY))
    with pytest.raises(OutputError, match="disk is full"):
        write_all_whole(tmp_path, {"a": b"data"}, last="a")


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
