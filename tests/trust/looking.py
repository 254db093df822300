"""Looking through written files from outside: every object, every stream as far as it decodes."""

from __future__ import annotations

import io
import zlib
from collections.abc import Iterator

import pikepdf


def streams(data: bytes) -> Iterator[bytes]:
    """All bytes that a PDF holds: as it lies, every stream raw and decoded, pictures inflated."""
    yield data
    with pikepdf.open(io.BytesIO(data)) as pdf:
        for thing in pdf.objects:
            if isinstance(thing, pikepdf.Stream):
                raw = thing.read_raw_bytes()
                yield raw
                try:
                    decoded = thing.read_bytes()
                except pikepdf.PdfError:  # a picture filter: the raw bytes are the picture file
                    decoded = raw
                yield decoded
                yield from _inflated(decoded)
            yield repr(thing).encode("utf-8", "backslashreplace")


def _inflated(data: bytes) -> Iterator[bytes]:
    """What deflate streams inside (a PNG or a font in a stream) hold."""
    at = -1
    while (at := data.find(b"\x78", at + 1)) >= 0 and at < 4096:
        try:
            yield zlib.decompressobj().decompress(data[at:], 1 << 20)
        except zlib.error:
            continue


def holds(data: bytes, marker: str) -> bool:
    """Whether a marker, in any usual spelling, is anywhere in a PDF or another file."""
    spellings = [marker.encode(code) for code in ("utf-8", "utf-16-be", "utf-16-le")]
    spellings.append(marker.encode().hex().encode())
    spellings.append(marker.encode().hex().upper().encode())
    parts = streams(data) if data.startswith(b"%PDF") else [data]
    return any(spelling in part for part in parts for spelling in spellings)
