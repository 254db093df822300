"""A written file as a second reader (pypdfium2) finds it: what the recount goes by."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from packet.errors import PacketError, ScanError
from packet.units import pt_to_mm

RASTER_DPI = 60.0  # enough to see that a drawn page changed

BUILD_AGAIN = "Build again, then print anew: packet build."


@dataclass(frozen=True, slots=True, kw_only=True)
class PageSeen:
    """One page as the second reader sees it. ``label``: the number that a viewer shows."""

    label: str
    size_mm: tuple[float, float]
    digest: str
    empty: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class FileSeen:
    """One written file. ``parts``: (title, index of its first page) from the outline."""

    pages: tuple[PageSeen, ...]
    parts: tuple[tuple[str, int], ...]


def read_file(path: str) -> FileSeen:
    """Worker function: what the second reader finds in a PDF; ScanError when it cannot."""
    import pypdfium2

    try:
        with pypdfium2.PdfDocument(path) as pdf:
            return FileSeen(
                pages=tuple(_page(pdf, number) for number in range(len(pdf))),
                parts=tuple(
                    (mark.get_title(), mark.get_dest().get_index())
                    for mark in pdf.get_toc(max_depth=4)
                    if mark.level == 0
                ),
            )
    except pypdfium2.PdfiumError as error:
        raise ScanError(f"cannot be opened ({error}).", BUILD_AGAIN) from None


def _page(pdf: Any, number: int) -> PageSeen:
    page = pdf[number]
    objects = list(page.get_objects())
    width, height = page.get_size()
    seen = PageSeen(
        label=pdf.get_page_label(number),
        size_mm=(pt_to_mm(width), pt_to_mm(height)),
        digest=_page_digest(page, objects),
        empty=not objects,
    )
    page.close()
    return seen


def _page_digest(page: Any, objects: Sequence[Any]) -> str:
    """Pictures by their bytes and place, text by its words; drawings also by their look."""
    import pypdfium2
    import pypdfium2.raw as pdfium

    digest = hashlib.sha256()
    drawn = False
    for thing in objects:
        place = ",".join(f"{value:.2f}" for value in thing.get_bounds())
        digest.update(f"{thing.type}:{place};".encode())
        if isinstance(thing, pypdfium2.PdfImage):
            digest.update(hashlib.sha256(thing.get_data(decode_simple=False)).digest())
        drawn |= thing.type not in (pdfium.FPDF_PAGEOBJ_IMAGE, pdfium.FPDF_PAGEOBJ_TEXT)
    words = page.get_textpage()
    digest.update(words.get_text_range().encode("utf-8", "surrogatepass"))
    words.close()
    if drawn:
        bitmap = page.render(scale=RASTER_DPI / 72, grayscale=True)
        digest.update(bytes(bitmap.buffer))
        bitmap.close()
    return digest.hexdigest()


def count_pages(pdf_file: bytes | Path, password: str | None = None) -> int:
    """Pages of a PDF, counted by the second reader; PacketError when it cannot open it."""
    import pypdfium2

    try:
        with pypdfium2.PdfDocument(pdf_file, password=password) as pdf:
            return len(pdf)
    except pypdfium2.PdfiumError:
        raise PacketError(
            "A written file cannot be opened by a second reader: nothing was kept. Build again; "
            "if it stays, report it as a fault of packet."
        ) from None
