"""A lock that the operating system holds: it ends with the process, however that ends.

The lock file is empty and says nothing; what counts is the lock on it. So a file that a killed
process left behind never blocks anyone, and there is no clock and no process number in it.
"""

from __future__ import annotations

import contextlib
import errno
import os
import sys
from pathlib import Path

_TRIES = 100  # the file goes away under our hands at most once per other process
_HELD = {errno.EWOULDBLOCK, errno.EAGAIN, errno.EACCES, errno.EDEADLK}


class Lock:
    """A lock that is held; ``release`` takes its file away too."""

    def __init__(self, path: Path, handle: int) -> None:
        self.path = path
        self._handle = handle

    def release(self) -> None:
        """Let go. The file goes first: who takes the lock afterwards makes it anew."""
        with contextlib.suppress(OSError):  # Windows keeps a file that is open
            self.path.unlink()
        os.close(self._handle)
        if sys.platform == "win32":
            with contextlib.suppress(OSError):
                self.path.unlink()


def try_lock(path: Path) -> Lock | None:
    """The lock on ``path``, made where it is not there yet; None while another process has it.

    OSError when the file cannot be made. On a file system without locks everyone gets one.
    """
    flags = os.O_RDWR | os.O_CREAT | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_CLOEXEC", 0)
    for _ in range(_TRIES):
        handle = os.open(path, flags, 0o600)
        try:
            if not _locked(handle):
                os.close(handle)
                return None
            if _still_there(path, handle):
                return Lock(path, handle)
        except BaseException:
            os.close(handle)
            raise
        os.close(handle)  # the holder before us took the file away: once more
    return None


def _still_there(path: Path, handle: int) -> bool:
    try:
        return os.path.samestat(os.fstat(handle), os.stat(path, follow_symlinks=False))
    except FileNotFoundError:
        return False


def _locked(handle: int) -> bool:
    try:
        if sys.platform == "win32":
            import msvcrt

            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as error:
        return error.errno not in _HELD  # any other error: this file system has no locks
    return True
