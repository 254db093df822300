"""The marker segments of a JPEG stream (ITU-T T.81 annex B), without decoding it."""

from __future__ import annotations

from typing import BinaryIO

from packet.errors import ScanError


def check_complete(file: BinaryIO) -> None:
    """Refuse a JPEG without an end marker after its last scan; leaves ``file`` where it was.

    Decoders fill what is missing with grey and say nothing.
    """
    at = file.tell()
    file.seek(0)
    data = file.read()
    file.seek(at)
    start = data.find(b"\xff\xda")
    if start < 0 or data.rfind(b"\xff\xd9") < start:
        raise ScanError(
            "is cut short: the end of the picture is missing.", "Copy it again, or scan it again."
        )


def without_metadata(data: bytes) -> bytes:
    """The stream without APP1 to APP13, APP15 and comments; APP0 and APP14 (Adobe) stay.

    APP14 says how the colours are stored and APP0 that they are YCbCr, so pixels are unchanged.
    Raises ValueError where the segments do not follow annex B.
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
        if marker == 0xDA:  # start of scan: entropy-coded data follows
            return b"".join([*kept, data[at:]])
        end = at + 2 + int.from_bytes(data[at + 2 : at + 4], "big")
        if end > len(data) or end < at + 4:
            raise ValueError("a segment longer than the stream")
        if not (0xE1 <= marker <= 0xED or marker in (0xEF, 0xFE)):
            kept.append(data[at:end])
        at = end
