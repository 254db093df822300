"""JPEG streams looked at from outside (ITU-T T.81 annex B): complete or not, and metadata.

Decoders fill what is missing with grey and say nothing, so completeness is checked here.
"""

from __future__ import annotations

import re
import zlib
from collections.abc import Callable
from typing import TYPE_CHECKING

from packet.errors import ScanError

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray
    from PIL import Image

    Pixels = NDArray[np.uint8]

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


def doubt(stored: Image.Image | Pixels, *, progressive: bool) -> int | None:
    """A fingerprint of a decoded JPEG to confirm, None where it is plainly whole.

    ``stored``: as Pillow loaded it, or (h, w, 3) as decoded, turned by no tag. A sequential
    picture without its end decodes to one flat colour there, so one that is not flat in its last
    corner is whole.
    """
    return _fingerprint(stored) if progressive or _flat_at_end(stored) else None


def confirm(
    data: bytes, fingerprint: int, *, decode: Callable[[bytes], Image.Image | Pixels | None]
) -> None:
    """Refuse a picture that has its end marker but not all of its data.

    It is decoded once more with padding before the end marker: a whole picture never reads that.
    A progressive picture that ends exactly between two scans is not recognised. ``decode``: what
    the fingerprint's picture was decoded with.
    """
    end = picture_end(data)
    padded = decode(data[:end] + _PADDING + data[end:])
    if padded is None or _fingerprint(padded) != fingerprint:
        raise cut_short()


def _flat_at_end(stored: Image.Image | Pixels) -> bool:
    width, height = _size(stored)
    corner = _part(stored, max(0, width - 8), max(0, height - 8), width, height)
    channels = len(corner) // (min(8, width) * min(8, height))
    return all(len(set(corner[channel::channels])) == 1 for channel in range(channels))


def _fingerprint(stored: Image.Image | Pixels) -> int:
    width, height = _size(stored)
    value = 0
    for top in range(0, height, 256):
        value = zlib.crc32(_part(stored, 0, top, width, min(height, top + 256)), value)
    return value


def _size(stored: Image.Image | Pixels) -> tuple[int, int]:
    import numpy as np

    if isinstance(stored, np.ndarray):
        return int(stored.shape[1]), int(stored.shape[0])
    return stored.size


def _part(stored: Image.Image | Pixels, left: int, top: int, right: int, bottom: int) -> bytes:
    import numpy as np

    if isinstance(stored, np.ndarray):
        return bytes(stored[top:bottom, left:right].tobytes())
    return stored.crop((left, top, right, bottom)).tobytes()


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
