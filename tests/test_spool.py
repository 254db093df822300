"""Bytes that wait on the disk: the same bytes come back, and no file is left anywhere."""

from __future__ import annotations

import gc
import os
import subprocess
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from packet import spool
from packet.errors import PacketError
from packet.spool import LEAST_BYTES, Kept, Spool, bytes_of

LARGE = b"x" * LEAST_BYTES
linux = pytest.mark.skipif(not os.path.exists("/proc/self/fd"), reason="no /proc on this system")


def files_open_in(folder) -> int:
    names = (os.path.join("/proc/self/fd", one) for one in os.listdir("/proc/self/fd"))
    return sum(str(folder) in os.readlink(name) for name in names if os.path.islink(name))


@given(st.lists(st.binary(max_size=50).map(lambda data: data * 200)))
def test_what_goes_in_comes_out(many):
    kept = Spool()
    blobs = [kept.put(data) for data in many]
    assert [bytes_of(blob) for blob in reversed(blobs)] == many[::-1]
    assert [len(blob) for blob in blobs] == [len(data) for data in many]


def test_a_file_has_no_name_and_is_private(tmp_path):
    blob = Spool(tmp_path).put(LARGE)
    assert isinstance(blob, Kept)
    if sys.platform != "win32":
        assert list(tmp_path.iterdir()) == []
        assert os.fstat(blob._file._file.fileno()).st_mode & 0o077 == 0


@linux
def test_a_file_goes_when_nothing_in_it_is_wanted(tmp_path, monkeypatch):
    monkeypatch.setattr(spool, "FILE_BYTES", 2 * LEAST_BYTES)
    kept = Spool(tmp_path)
    blobs = [kept.put(LARGE) for _ in range(6)]
    assert files_open_in(tmp_path) == 3
    del blobs[:2]
    gc.collect()
    assert files_open_in(tmp_path) == 2
    assert bytes_of(blobs[0]) == LARGE


def test_a_folder_that_takes_no_file_is_no_reason_to_stop(tmp_path):
    assert bytes_of(Spool(tmp_path / "none").put(LARGE)) == LARGE


FULL = """
import resource, sys
from packet.spool import Kept, Spool, bytes_of
resource.setrlimit(resource.RLIMIT_FSIZE, (20_000, 20_000))
kept = Spool()
many = [bytes([n]) * 8_000 for n in range(5)]
blobs = [kept.put(data) for data in many]
assert [isinstance(blob, Kept) for blob in blobs] == [True, True, False, False, False]
assert [bytes_of(blob) for blob in blobs] == many
"""


@pytest.mark.skipif(sys.platform == "win32", reason="POSIX limits")
def test_what_the_disk_does_not_take_stays_in_memory():
    """RLIMIT_FSIZE: writing beyond it fails as on a full disk (setrlimit, POSIX.1-2017)."""
    subprocess.run([sys.executable, "-c", FULL], check=True)


def test_a_disk_that_loses_bytes_is_one_sentence():
    blob = Spool().put(LARGE)
    assert isinstance(blob, Kept)
    blob._file._file.truncate(1)
    with pytest.raises(PacketError, match="read back"):
        blob.read()
