"""The lock: one holder at a time, and none once its process is gone."""

from __future__ import annotations

import os
import signal
import subprocess
import sys

import pytest

from packet.errors import BusyError
from packet.files import writing
from packet.lock import try_lock

HOLD = (
    "import sys, time, pathlib\n"
    "from packet.lock import try_lock\n"
    "lock = try_lock(pathlib.Path(sys.argv[1]))\n"
    "print(lock is not None, flush=True)\n"
    "time.sleep(60)\n"
)


@pytest.fixture
def holder(tmp_path):
    """Another process that holds the lock on tmp_path/.packet-lock."""
    path = tmp_path / ".packet-lock"
    with subprocess.Popen([sys.executable, "-c", HOLD, path], stdout=subprocess.PIPE) as process:
        assert process.stdout.readline().strip() == b"True"
        yield process
        process.kill()


def test_one_at_a_time_and_the_file_goes(tmp_path):
    path = tmp_path / "lock"
    first = try_lock(path)

    assert try_lock(path) is None
    first.release()
    assert not path.exists()
    second = try_lock(path)
    assert second is not None
    second.release()


def test_another_process_is_one_clear_sentence(tmp_path, holder):
    with (
        pytest.raises(BusyError, match=r"another packet command is writing there.*try again\."),
        writing(tmp_path),
    ):
        raise AssertionError("both hold it")


@pytest.mark.skipif(sys.platform == "win32", reason="no SIGKILL")
def test_the_lock_of_a_killed_process_blocks_nobody(tmp_path, holder):
    os.kill(holder.pid, signal.SIGKILL)
    holder.wait()
    assert (tmp_path / ".packet-lock").exists()
    with writing(tmp_path):
        assert try_lock(tmp_path / ".packet-lock") is None

    assert list(tmp_path.iterdir()) == []


@pytest.mark.skipif(not hasattr(os, "O_NOFOLLOW"), reason="needs O_NOFOLLOW")
def test_a_link_in_place_of_the_lock_is_not_followed(tmp_path):
    (tmp_path / "lock").symlink_to(tmp_path / "made-through-a-link")
    with pytest.raises(OSError, match="lock"):
        try_lock(tmp_path / "lock")
    assert not (tmp_path / "made-through-a-link").exists()
