"""Files appear whole or not at all: written beside, synced, renamed; and SHA-256 of a file.

A file that is being written lies in a folder of its own beside its place, private and locked
while its process lives. It is taken away when the writing ends, well or badly, and by the next
command where the process was killed.
"""

from __future__ import annotations

import contextlib
import errno
import hashlib
import os
import shutil
import signal
import sys
import tempfile
import time
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import BinaryIO

from packet.errors import BusyError, OutputError
from packet.lock import try_lock

PART_PREFIX = ".packet-part-"  # folders of files that are being written
_PART_LOCK = "lock"
_TRIES = 20
_FOLDER_LOCK = ".packet-lock"
_MILLISECOND_NS = 1_000_000
_SETTLED_NS = 3_000_000_000  # longer than the tick of any disk (FAT: two seconds)


def file_digest(path: Path) -> str:
    """SHA-256 of a file's bytes, hex; OSError as the system raises it."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


Stamp = tuple[int, ...]  # what the system says of a file; () where that proves nothing


def stamped_digest(path: Path) -> tuple[str, Stamp]:
    """SHA-256 of a file's bytes, hex, and the stamp that ``unchanged`` compares.

    A stamp holds the time of the last change, which no program can set. It proves nothing on
    Windows, which has no such time; on a disk that counts in thousandths of a second or longer;
    and of a file just changed, which may change once more within the same tick.
    """
    with path.open("rb") as file:
        before = _stamp(file)
        digest = hashlib.file_digest(file, "sha256").hexdigest()
        changed_ns = os.fstat(file.fileno()).st_ctime_ns
        settled = time.time_ns() - changed_ns > _SETTLED_NS and changed_ns % _MILLISECOND_NS
        same = before == _stamp(file)
    return digest, before if settled and same and sys.platform != "win32" else ()


def unchanged(path: Path, stamp: Stamp) -> bool:
    """True where the stamp proves that the file still has the bytes that the digest is of."""
    if not stamp:
        return False
    with path.open("rb") as file:  # network disks ask the server again when a file is opened
        return _stamp(file) == stamp


def _stamp(file: BinaryIO) -> Stamp:
    facts = os.fstat(file.fileno())
    return (facts.st_dev, facts.st_ino, facts.st_size, facts.st_mtime_ns, facts.st_ctime_ns)


def make_private_folder(folder: Path) -> None:
    """Create ``folder`` (and parents) for the owner alone, where the system knows owners."""
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    except OSError as error:
        raise OutputError(_sentence(folder, error)) from None


@contextlib.contextmanager
def _no_interrupt() -> Iterator[None]:
    """Signals that end a command wait until the block has ended, where the system can do that."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    ending = {signal.SIGINT, signal.SIGTERM, signal.SIGHUP}
    before = signal.pthread_sigmask(signal.SIG_BLOCK, ending)
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


@contextlib.contextmanager
def writing(folder: Path) -> Iterator[None]:
    """Hold ``folder`` (made where it is missing) for the one process that writes into it.

    BusyError when another one does, OutputError when it cannot be made or written to. What a
    killed process left is swept away. A folder that was made and stays empty goes again.
    """
    new = not folder.exists()
    make_private_folder(folder)
    lock = None
    try:
        try:
            with _no_interrupt():  # a lock that is taken is always known below
                lock = try_lock(folder / _FOLDER_LOCK)
        except OSError as error:
            raise OutputError(_sentence(folder, error)) from None
        if lock is None:
            raise BusyError(
                f"{folder}: another packet command is writing there at this moment. Wait until "
                "it has ended, then try again."
            )
        sweep(folder)
        yield
    finally:
        if lock is not None:
            lock.release()
        if new:
            with contextlib.suppress(OSError):  # it is not empty
                folder.rmdir()


class Parts:
    """Files that are being written beside their places; ``made``: name -> path there, so far."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.made: dict[str, Path] = {}

    @contextlib.contextmanager
    def new(self, name: str) -> Iterator[BinaryIO]:
        """A new file to write, readable by the owner alone, synced when it is whole."""
        path = self.folder / name
        with _synced(path) as file:
            yield file
        self.made[name] = path

    def add(self, name: str, data: bytes) -> None:
        """A new file of these bytes."""
        path = self.folder / name
        _write_synced(path, data)
        self.made[name] = path


@contextlib.contextmanager
def whole_files(folder: Path, last: str) -> Iterator[Parts]:
    """Files that appear in ``folder`` when the block has ended well, ``last`` after the rest.

    All are written and synced beside their places first: a full disk changes nothing. Readable
    by the owner alone. OutputError says what could not be written and why.
    """
    make_private_folder(folder)
    try:
        with part_folder(folder) as beside:
            parts = Parts(beside)
            yield parts
            _put_in_place(folder, parts.made, last)
    except OSError as error:
        raise OutputError(_sentence(folder, error)) from None


def write_all_whole(folder: Path, files: Mapping[str, bytes], last: str) -> None:
    """Write every file of ``files`` into ``folder``, as ``whole_files`` does."""
    with whole_files(folder, last) as parts:
        for name, data in files.items():
            parts.add(name, data)


def _put_in_place(folder: Path, parts: Mapping[str, Path], last: str) -> None:
    """Rename; OutputError when some are in place and others cannot be."""
    done = 0
    try:
        for name in [name for name in parts if name != last] + [last]:
            if name == last:
                sync_folder(folder)  # what it names is in place before it is
            parts[name].replace(folder / name)
            done += 1
        sync_folder(folder)
    except OSError as error:
        if not done:
            raise
        raise OutputError(
            f"{folder}: the new files could not all be put in place (the system says: "
            f"{error.strerror}). Close programs that show the old ones and build again."
        ) from None


def write_new(path: Path, data: bytes) -> None:
    """Write a file that must not exist yet, whole; FileExistsError when it does."""
    if os.path.lexists(path):
        raise FileExistsError(errno.EEXIST, "exists", str(path))
    try:
        with part_folder(path.parent) as beside:
            part = beside / "new"
            _write_synced(part, data)
            _rename_new(part, path)
    except FileExistsError:
        raise
    except OSError as error:
        raise OutputError(_sentence(path.parent, error)) from None


def _rename_new(part: Path, path: Path) -> None:
    """Rename without replacing: a hard link fails where the name is taken, a rename may not."""
    try:
        os.link(part, path)
    except FileExistsError:
        raise
    except (OSError, NotImplementedError, AttributeError):  # a file system without links
        if os.path.lexists(path):
            raise FileExistsError(errno.EEXIST, "exists", str(path)) from None
        part.rename(path)


@contextlib.contextmanager
def part_folder(folder: Path) -> Iterator[Path]:
    """A private folder inside ``folder``, locked while it is in use and then taken away."""
    for _ in range(_TRIES):
        made = Path(tempfile.mkdtemp(prefix=PART_PREFIX, dir=folder))
        try:
            lock = try_lock(made / _PART_LOCK)
        except FileNotFoundError:  # swept away between the two steps
            continue
        if lock is not None:
            break
    else:
        raise OSError(errno.EBUSY, "a folder for unfinished files cannot be kept")
    try:
        yield made
    finally:
        with contextlib.suppress(OSError):
            shutil.rmtree(made, ignore_errors=True)
        lock.release()
        with contextlib.suppress(OSError):  # Windows removes a locked file only now
            made.rmdir()


def sweep(folder: Path) -> None:
    """Take away what killed processes left of files they were writing into ``folder``."""
    for left in part_folders(folder):
        with contextlib.suppress(OSError):
            lock = try_lock(left / _PART_LOCK)
            if lock is not None:  # whoever made it is gone
                shutil.rmtree(left, ignore_errors=True)
                lock.release()
                left.rmdir()


def part_folders(folder: Path) -> list[Path]:
    """Folders of files that are being written, or were when their process was killed."""
    try:
        found = sorted(folder.glob(f"{PART_PREFIX}*"))
    except OSError:
        return []
    return [path for path in found if path.is_dir() and not path.is_symlink()]


def _write_synced(path: Path, data: bytes) -> None:
    with _synced(path) as file:
        file.write(data)


@contextlib.contextmanager
def _synced(path: Path) -> Iterator[BinaryIO]:
    handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o600)
    with os.fdopen(handle, "wb") as file:
        yield file
        file.flush()
        os.fsync(file.fileno())


def sync_folder(folder: Path) -> None:
    """Make renames in ``folder`` last through a loss of power, where the system can."""
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
