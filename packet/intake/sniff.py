"""What a file is, by its first bytes: names and extensions are never believed."""

from __future__ import annotations

from typing import Literal

FileType = Literal["jpeg", "png", "tiff", "webp", "gif", "bmp", "heif", "avif", "jpeg2000", "pdf"]

HEAD_BYTES = 1024  # ISO 32000-1 annex H: readers accept %PDF- anywhere in the first 1024 bytes

_STARTS: tuple[tuple[bytes, FileType], ...] = (
    (b"\xff\xd8\xff", "jpeg"),  # ITU-T T.81: SOI, then a marker
    (b"\x89PNG\r\n\x1a\n", "png"),  # PNG specification, section 5.2
    (b"II*\0", "tiff"),  # TIFF 6.0, section 2
    (b"MM\0*", "tiff"),
    (b"II+\0", "tiff"),  # BigTIFF
    (b"MM\0+", "tiff"),
    (b"GIF87a", "gif"),
    (b"GIF89a", "gif"),
    (b"BM", "bmp"),
    (b"\0\0\0\x0cjP  \r\n\x87\n", "jpeg2000"),  # ISO/IEC 15444-1 annex I: signature box
    (b"\xff\x4f\xff\x51", "jpeg2000"),  # a bare codestream
)
# ISO/IEC 23008-12 (HEIF) and the AVIF specification: brands of the ftyp box.
_HEIF_BRANDS = frozenset(
    b"heic heix heim heis hevc hevx hevm hevs mif1 mif2 msf1 jpeg j2ki vvic".split()
)
_AVIF_BRANDS = frozenset(b"avif avis".split())


def file_type(head: bytes) -> FileType | None:
    """The type of a file from its first ``HEAD_BYTES`` bytes, None when it is none we read."""
    if head[:4] == b"II*\0" and head[8:10] == b"CR":
        return None  # a camera's raw file in TIFF's clothes: its pages are no pages
    for start, kind in _STARTS:
        if head.startswith(start):
            return kind
    if head[:4] == b"RIFF" and head[8:12] == b"WEBP":
        return "webp"
    if head[4:8] == b"ftyp":
        return _brand(head)
    if b"%PDF-" in head[:HEAD_BYTES] or head.lstrip()[:4] == b"%PDF":
        return "pdf"
    return None


def _brand(head: bytes) -> FileType | None:
    end = min(int.from_bytes(head[:4], "big") or len(head), len(head))
    brands = {head[8:12]} | {head[at : at + 4] for at in range(16, end, 4)}
    if brands & _AVIF_BRANDS:
        return "avif"
    if brands & _HEIF_BRANDS:
        return "heif"
    return None
