"""What was read from scans before, kept: the same bytes, read the same way, are read once.

An entry is named by what it depends on: the digest of the scan's bytes, and the digest of the
options, of packet's own code and rule data, and of the libraries' versions. Nothing else can
change a result, so an entry never goes stale; it is only ever missing. A damaged entry is thrown
away and the scan is read again. The folder holds pictures of identity papers: it is the owner's
alone (0700, files 0600), on this machine alone, and bounded: what was not used for longest goes.

Several processes may use one folder: entries are written beside their place and renamed, and a
reader holds the file that it opened. No failure of the cache stops a command: a full or
read-only disk turns it off for the run (``Cache.trouble`` says why).
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import stat
import tempfile
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import asdict, replace
from pathlib import Path

from packet.cache_entry import pack, unpack
from packet.intake.sniff import HEAD_BYTES, file_type
from packet.model import PageResult, ScanTask
from packet.spool import Blob, bytes_of
from packet.versions import reading_versions

LIMIT_BYTES = 2 << 30
FOLDER_VARIABLE = "PACKET_CACHE"  # the folder to use, in the environment
_SUFFIX = ".scan"
_PART = ".part-"
_PART_AGE_S = 24 * 3600.0  # a part this old was left by a process that was killed
_TRIM_EVERY = 8  # the folder is measured again after an eighth of its limit was written
_DIGITS = 40  # hex digits of each of the two digests in an entry's name


def cache_folder() -> Path:
    """``PACKET_CACHE`` where it is set, else the user's own cache folder of this system."""
    named = os.environ.get(FOLDER_VARIABLE)
    if named:
        return Path(named)
    from platformdirs import user_cache_path

    return user_cache_path("packet", appauthor=False)


def entry_name(task: ScanTask, digest: str) -> str:
    """The file name of what ``task`` gives for a scan of this SHA-256 (hex)."""
    overrides = [asdict(replace(one, scan="")) for one in task.overrides]
    options = [
        task.kinds,
        task.tone,
        task.encode,
        task.small,
        task.lossless,
        task.preview,
        task.read,
        overrides,
    ]
    told = json.dumps([options, reading_versions()]).encode()
    return f"{digest[:_DIGITS]}-{hashlib.sha256(told).hexdigest()[:_DIGITS]}{_SUFFIX}"


class Cache:
    """The entries in one folder, which is made when the first one is kept."""

    def __init__(self, folder: Path, *, limit_bytes: int = LIMIT_BYTES) -> None:
        self.folder = folder
        self.limit_bytes = limit_bytes
        self.trouble = ""
        self._written = 0

    def find(
        self, task: ScanTask, digest: str, keep: Callable[[bytes], Blob] = bytes
    ) -> tuple[PageResult, ...] | None:
        """What ``task`` gave before for a scan with this digest; None where it is not known.

        ``keep``: where each picture goes (``Spool.put``), so that one at a time is in memory.
        """
        if self.trouble or not _may_be_kept(task):
            return None
        path = self.folder / entry_name(task, digest)
        try:
            if not _own(self.folder, make=False):
                return None
            with path.open("rb") as entry:
                pages = unpack(entry, task.name, keep)
        except OSError:
            return None
        except (ValueError, LookupError, TypeError, AttributeError, RecursionError):
            with contextlib.suppress(OSError):
                path.unlink()
            return None
        with contextlib.suppress(OSError):
            os.utime(path)
        return pages

    def keep(self, task: ScanTask, digest: str, pages: Sequence[PageResult]) -> None:
        """Keep what ``task`` gave for a scan with this digest, where it can be kept."""
        if self.trouble or not _may_be_kept(task):
            return
        try:
            pieces = pack(pages, task.name)
        except (TypeError, ValueError):
            return
        size = sum(map(len, pieces))
        if size > self.limit_bytes:
            return
        try:
            if not _own(self.folder, make=True):
                self._give_up("it belongs to someone else")
                return
            self._write(entry_name(task, digest), pieces)
        except OSError as error:
            self._give_up((error.strerror or "unknown reason").lower())
            return
        self._written += size
        if self._written > self.limit_bytes // _TRIM_EVERY:
            self.trim()

    def _give_up(self, reason: str) -> None:
        """Keep nothing more in this run, and say so once, on standard error."""
        import logging

        self.trouble = (
            f"{self.folder}: what was read from the scans could not be kept for the next time "
            f"({reason}). The result is the same."
        )
        logging.getLogger("packet").warning("%s", self.trouble)

    def _write(self, name: str, pieces: Sequence[Blob]) -> None:
        handle, part = tempfile.mkstemp(prefix=_PART, dir=self.folder)  # for the owner alone
        try:
            with os.fdopen(handle, "wb") as file:
                file.writelines(map(bytes_of, pieces))
            os.replace(part, self.folder / name)
        except BaseException:
            with contextlib.suppress(OSError):
                os.unlink(part)
            raise

    def trim(self) -> None:
        """Bring the folder under its limit: what was used longest ago goes first."""
        self._written = 0
        entries = sorted(self._entries(), key=lambda entry: entry[1].st_mtime_ns)
        total = sum(facts.st_size for _, facts in entries)
        for path, facts in entries:
            if total <= self.limit_bytes:
                break
            with contextlib.suppress(OSError):
                path.unlink()
            total -= facts.st_size
        for path, facts in self._files(_PART):
            if abs(time.time() - facts.st_mtime) > _PART_AGE_S:
                with contextlib.suppress(OSError):
                    path.unlink()

    def size(self) -> tuple[int, int]:
        """(entries, their bytes)."""
        sizes = [facts.st_size for _, facts in self._entries()]
        return len(sizes), sum(sizes)

    def clear(self) -> int:
        """Remove every entry and what a killed process left; how many files went."""
        return _remove(path for path, _ in (*self._entries(), *self._files(_PART)))

    def forget(self, digests: Iterable[str]) -> int:
        """Remove every entry of the scans with these SHA-256 (hex); how many there were."""
        wanted = {digest[:_DIGITS] for digest in digests}
        return _remove(path for path, _ in self._entries() if path.name[:_DIGITS] in wanted)

    def _entries(self) -> list[tuple[Path, os.stat_result]]:
        return [entry for entry in self._files("") if entry[0].name.endswith(_SUFFIX)]

    def _files(self, prefix: str) -> Iterator[tuple[Path, os.stat_result]]:
        try:
            paths = [path for path in self.folder.iterdir() if path.name.startswith(prefix)]
        except OSError:
            return
        for path in paths:
            with contextlib.suppress(OSError):
                facts = path.lstat()
                if stat.S_ISREG(facts.st_mode):
                    yield path, facts


def open_cache(use: bool = True) -> Cache | None:
    """The user's cache, or None where it is not to be used."""
    return Cache(cache_folder()) if use else None


def forget(digests: Iterable[str]) -> int:
    """Remove from the user's cache what was read from the scans with these SHA-256 (hex)."""
    return Cache(cache_folder()).forget(digests)


def _remove(paths: Iterable[Path]) -> int:
    gone = 0
    for path in paths:
        with contextlib.suppress(OSError):
            path.unlink()
            gone += 1
    return gone


def _may_be_kept(task: ScanTask) -> bool:
    """False for a PDF that a password may have opened: what was locked is not kept open."""
    if task.password is None:
        return True
    try:
        with task.path.open("rb") as file:
            return file_type(file.read(HEAD_BYTES)) != "pdf"
    except OSError:
        return False


def _own(folder: Path, *, make: bool) -> bool:
    """True where the folder is the user's own; its rights are narrowed to the owner."""
    if make:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    facts = folder.stat()
    if hasattr(os, "getuid"):
        if facts.st_uid != os.getuid():
            return False
        if stat.S_IMODE(facts.st_mode) & 0o077:
            folder.chmod(0o700)
    return stat.S_ISDIR(facts.st_mode)
