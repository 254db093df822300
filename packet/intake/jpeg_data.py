"""JPEG streams looked at from outside (ITU-T T.81 annex B): complete or not, and metadata.

Decoders fill what is missing with grey and say nothing, so completeness is checked here.
"""

from __future__ import annotations

import io
import re
import zlib
from typing import TYPE_CHECKING, Any

from packet.errors import ScanError

if TYPE_CHECKING:
    from PIL import Image

_SOS, _EOI = 0xDA, 0xD9
_ALONE = frozenset({0x00, 0x01, *range(0xD0, 0xD8), 0xD8})  # no length follows (table B.1)
# Inside a scan FF 00 is a data byte, FF FF a fill byte and FF D0 to FF D7 restart markers.
_MARKER_IN_SCAN = re.compile(rb"\xff[^\x00\xd0-\xd7\xff]")
# No FF, no run of one bit pattern: where a scan lacks data this changes what is decoded.
_PADDING = bytes((41 * place + 23) % 251 for place in range(64))


def cut_short() -> ScanError:
    """The error for a picture of which a part is missing."""
    return ScanError(
        "is cut short: part of the picture is missing.", "Copy it again, or scan it again."
    )


def picture_end(data: bytes) -> int:
    """The offset of the end marker of the first picture in ``data``; ScanError if it has none."""
    at = 2
    while at + 1 < len(data):
        if data[at] != 0xFF or data[at + 1] == 0xFF:
            at += 1
            continue
        marker = data[at + 1]
        if marker == _EOI:
            return at
        if marker in _ALONE:
            at += 2
            continue
        at += 2 + int.from_bytes(data[at + 2 : at + 4], "big")
        if marker == _SOS:
            found = _MARKER_IN_SCAN.search(data, at)
            if found is None:
                break
            at = found.start()
    raise cut_short()


def check_length(data: bytes, size: tuple[int, int]) -> None:
    """Refuse a picture that cannot hold the pixels its header promises, before it is decoded.

    With Huffman coding every block of 8 by 8 takes a bit at least (ITU-T T.81, F.1.2 and G.1.2);
    arithmetic coding (SOF9 and SOF10) may take less and is let through.
    """
    blocks = -(-size[0] // 8) * -(-size[1] // 8)
    if len(data) * 8 < blocks and b"\xff\xc9" not in data and b"\xff\xca" not in data:
        raise cut_short()


def doubt(image: Image.Image) -> int | None:
    """A fingerprint of a decoded JPEG to confirm, None where it is plainly whole.

    A sequential picture without its end decodes to one flat colour there, so one that is not
    flat in its last corner is whole.
    """
    width, height = image.size
    corner = image.crop((max(0, width - 8), max(0, height - 8), width, height))
    flat = all(low == high for low, high in _ranges(corner))
    return _fingerprint(image) if flat or image.info.get("progressive") else None


def confirm(data: bytes, fingerprint: int) -> None:
    """Refuse a picture that has its end marker but not all of its data.

    It is decoded once more with padding before the end marker: a whole picture never reads that.
    A progressive picture that ends exactly between two scans is not recognised.
    """
    from PIL import Image

    end = picture_end(data)
    with Image.open(io.BytesIO(data[:end] + _PADDING + data[end:]), formats=["JPEG"]) as padded:
        padded.load()
        if _fingerprint(padded) != fingerprint:
            raise cut_short()


def _ranges(image: Image.Image) -> tuple[tuple[int, int], ...]:
    found: Any = image.getextrema()
    return found if isinstance(found[0], tuple) else (found,)


def _fingerprint(image: Image.Image) -> int:
    width, height = image.size
    value = 0
    for top in range(0, height, 256):
        value = zlib.crc32(image.crop((0, top, width, min(height, top + 256))).tobytes(), value)
    return value


def without_metadata(data: bytes) -> bytes:
    """The stream without APP1 to APP13, APP15 and comments; APP0 and APP14 (Adobe) stay.

    APP14 says how the colours are stored and APP0 that they are YCbCr, so pixels are unchanged.
    Raises ValueError where the segments do not follow annex B. What follows the end is dropped.
    """
    if data[:2] != b"\xff\xd8":
        raise ValueError("not a JPEG stream")
    kept = [data[:2]]
    at = 2
    while True:
        if data[at : at + 1] != b"\xff":
            raise ValueError("no marker where one is due")
        while data[at + 1 : at + 2] == b"\xff":  # fill bytes
            at += 1
        marker = data[at + 1]
        if marker == _SOS:
            return b"".join([*kept, data[at : picture_end(data) + 2]])
        end = at + 2 + int.from_bytes(data[at + 2 : at + 4], "big")
        if end > len(data) or end < at + 4:
            raise ValueError("a segment longer than the stream")
        if not (0xE1 <= marker <= 0xED or marker in (0xEF, 0xFE)):
            kept.append(data[at:end])
        at = end
