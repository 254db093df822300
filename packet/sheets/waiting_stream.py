"""A PDF stream whose bytes wait on the disk until the file is written. Imported with pypdf."""

from __future__ import annotations

from collections.abc import Mapping
from typing import IO, Any

from pypdf.generic import StreamObject

from packet.spool import Blob, bytes_of


class WaitingStream(StreamObject):
    """``entries``: the stream's dictionary, of direct objects; ``blob``: its encoded bytes."""

    def __init__(self, entries: Mapping[Any, Any], blob: Blob) -> None:
        super().__init__()
        self.update(entries)
        self._blob = blob

    def write_to_stream(self, stream: IO[Any]) -> None:
        """The bytes are in memory while they are written, and no longer."""
        self.set_data(bytes_of(self._blob))
        super().write_to_stream(stream)
        self.set_data(b"")
