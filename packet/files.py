"""Files appear whole or not at all: written beside, synced, renamed; and SHA-256 of a file."""

from __future__ import annotations

import contextlib
import errno
import hashlib
import os
from collections.abc import Mapping
from pathlib import Path

from packet.errors import OutputError

_CHUNK_BYTES = 1 << 20
_BESIDE = ".part"  # suffix of a file that is being written


def file_digest(path: Path) -> str:
    """SHA-256 of a file's bytes, hex; OSError as the system raises it."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def make_private_folder(folder: Path) -> None:
    """Create ``folder`` (and parents) for the owner alone, where the system knows owners."""
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    except OSError as error:
        raise OutputError(_sentence(folder, error)) from None


def write_all_whole(folder: Path, files: Mapping[str, bytes], last: str) -> None:
    """Write every file of ``files`` into ``folder``, ``last`` renamed into place after the rest.

    All are written and synced beside their places first: a full disk changes nothing. Readable
    by the owner alone. OutputError says what could not be written and why.
    """
    make_private_folder(folder)
    beside = {name: folder / f".{name}{_BESIDE}" for name in files}
    try:
        for name, path in beside.items():
            _write_synced(path, files[name])
        for name in [name for name in files if name != last] + [last]:
            beside[name].replace(folder / name)
        _sync_folder(folder)
    except OSError as error:
        raise OutputError(_sentence(folder, error)) from None
    finally:
        for path in beside.values():
            with contextlib.suppress(OSError):
                path.unlink(missing_ok=True)


def write_new(path: Path, data: bytes) -> None:
    """Write a file that must not exist yet, whole; FileExistsError when it does."""
    beside = path.with_name(f".{path.name[:200]}{_BESIDE}")
    if path.exists():
        raise FileExistsError(errno.EEXIST, "exists", str(path))
    try:
        _write_synced(beside, data)
        beside.rename(path)
    except OSError as error:
        raise OutputError(_sentence(path.parent, error)) from None
    finally:
        with contextlib.suppress(OSError):
            beside.unlink(missing_ok=True)


def _write_synced(path: Path, data: bytes) -> None:
    path.unlink(missing_ok=True)
    handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(handle, "wb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())


def _sync_folder(folder: Path) -> None:
    with contextlib.suppress(OSError):  # Windows cannot sync a folder
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _sentence(place: Path, error: OSError) -> str:
    reasons = {
        errno.ENOSPC: "the disk is full. Free some space and try again.",
        errno.EDQUOT: "your disk quota is used up. Free some space and try again.",
        errno.EACCES: "you may not write there. Choose another folder with --out.",
        errno.EPERM: "you may not write there. Choose another folder with --out.",
        errno.EROFS: "the disk is read-only. Choose another folder with --out.",
        errno.ENOTDIR: "a part of that path is a file. Choose another folder with --out.",
        errno.EEXIST: "a file of that name is in the way. Choose another folder with --out.",
    }
    reason = reasons.get(error.errno or 0, f"the system says: {error.strerror}.")
    return f"{place}: nothing was written, {reason}"
