"""Bytes that wait on the disk for their turn, so that memory does not grow with the pages.

A spool is a private file without a name, which goes with the process, however that ends; Windows
shows a name and takes it away. What cannot be put there stays in memory: a spool stops nothing.
"""

from __future__ import annotations

import weakref
from dataclasses import dataclass, field
from pathlib import Path

from packet.errors import PacketError

LEAST_BYTES = 4096  # what is smaller stays in memory
FILE_BYTES = 64 << 20  # then the next file: one goes when nothing in it is wanted any more


class _File:
    """A file without a name. It is closed when nobody holds it."""

    def __init__(self, folder: Path | None) -> None:
        import tempfile

        self._file = tempfile.TemporaryFile(dir=folder, buffering=0)  # noqa: SIM115
        weakref.finalize(self, self._file.close)
        self.end = 0

    def append(self, data: bytes) -> int:
        """Write at the end; where the bytes start. OSError, also where not all could be written."""
        start, rest = self.end, memoryview(data)
        self._file.seek(start)
        while rest:
            rest = rest[self._file.write(rest) :]
        self.end += len(data)
        return start

    def read(self, start: int, size: int) -> bytes:
        self._file.seek(start)
        return self._file.read(size)


@dataclass(frozen=True, slots=True)
class Kept:
    """Bytes in a spool; ``len`` is how many. One thread at a time."""

    _file: _File = field(repr=False)
    _start: int
    _size: int

    def __len__(self) -> int:
        return self._size

    def read(self) -> bytes:
        """The bytes; PacketError where the disk does not give them back."""
        try:
            data = self._file.read(self._start, self._size)
        except OSError:
            data = b""
        if len(data) != self._size:
            raise PacketError(
                "What was read from the scans could not be read back from the disk: nothing was "
                "written. Look whether the disk is full or failing, then try again."
            )
        return data


Blob = bytes | Kept


def bytes_of(blob: Blob) -> bytes:
    """The bytes themselves, wherever they wait."""
    return blob if isinstance(blob, bytes) else blob.read()


class Spool:
    """Puts bytes on the disk, in ``folder`` (None, or where that fails: the system's place)."""

    def __init__(self, folder: Path | None = None) -> None:
        self._folder = folder
        self._file: _File | None = None
        self._off = False

    def put(self, data: bytes) -> Blob:
        """The same bytes, kept on the disk where they are worth it and can be."""
        if self._off or len(data) < LEAST_BYTES:
            return data
        try:
            if self._file is None or self._file.end >= FILE_BYTES:
                self._file = self._made()
            return Kept(self._file, self._file.append(data), len(data))
        except OSError:
            self._off = True
            return data

    def _made(self) -> _File:
        try:
            return _File(self._folder)
        except OSError:
            return _File(None)
