"""The pages of a PDF: their one image at native resolution, kept as vectors, or rendered.

pdfium decides what a page looks like; pypdf tells what pdfium has no words for (UserUnit,
optional content, fonts). Where the two disagree about the number of pages the file is refused:
a wrong count is the worst fault this project knows.
"""

from __future__ import annotations

import contextlib
import itertools
import math
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from packet.errors import ScanError, ScanLimitError
from packet.intake.pdf_allowance import allow_drawing, allow_images, page_allowance
from packet.intake.pdf_bounds import check_drawing
from packet.intake.pdf_clean import vector_page
from packet.intake.pdf_images import (
    Painted,
    check_whole,
    is_one_image,
    look_alike,
    native_picture,
    painted,
)
from packet.intake.pdf_render import render, small_size_px
from packet.intake.pdf_structure import LockedError, Structure, read_structure, user_unit
from packet.intake.picture import Limits, Picture
from packet.intake.rasters import check_pages, check_pixels
from packet.model import VectorPage
from packet.spool import bytes_of
from packet.units import PT_PER_INCH, pt_to_mm

if TYPE_CHECKING:
    from pypdfium2 import PdfDocument, PdfPage

RENDER_DPI = 300.0
IMAGE_DPI = (150.0, 600.0)  # a page of one image that must be rendered keeps its dpi within this
COARSEST_DPI = 100.0  # a page that does not fit the pixel limit even so is refused
_SCAN_SHARE = 0.5  # a page that is half image or more is a scan, whatever else is drawn on it
_RESAVED_BYTES = 4_000_000  # what draws beyond all measure is small, or its bytes alone tell
_RESCUED_BYTES = 64_000_000  # of a file whose structure only pdfium finds
_LOCKED = (
    "Give its password with --password-file or in the PACKET_PASSWORD variable, "
    "or save it without one."
)


def pdf_pages(
    path: Path, *, limits: Limits, password: str | None
) -> Iterator[Picture | VectorPage]:
    """The pages of a PDF file, one at a time; what each may take is bounded in a worker."""
    import numpy
    import pypdf
    import pypdfium2

    del numpy, pypdf, pypdfium2  # imported before the clock runs
    size = path.stat().st_size
    pages = _pages(path, limits, password)
    for number in itertools.count(1):
        with page_allowance(size, number):
            page = next(pages, None)
        if page is None:
            return
        yield page
        del page  # before the next one is decoded


def _pages(path: Path, limits: Limits, password: str | None) -> Iterator[Picture | VectorPage]:
    size = path.stat().st_size
    with contextlib.ExitStack() as stack:
        document = _open(path, password, stack)
        count = len(document)
        check_pages(count, limits)
        structure = _structure(path, password, stack)
        measured = None
        if size <= (_RESAVED_BYTES if structure else _RESCUED_BYTES):
            measured = _resaved(document)
        structure = structure or measured
        if structure is not None and structure.count != count:
            raise ScanError(
                f"is damaged: one reader finds {count} pages in it and another {structure.count}.",
                "Open it in a viewer, print it to a new PDF and use that.",
            )
        if document.get_formtype():
            document.init_forms()
        for number in range(count):
            drawn = measured if measured is not None and measured.count == count else structure
            check_drawing(drawn.page(number) if drawn is not None else None, number + 1)
            yield _page(document, structure, number, limits, size)


def _open(path: Path, password: str | None, stack: contextlib.ExitStack) -> PdfDocument:
    import pypdfium2
    from pypdfium2.raw import FPDF_ERR_PASSWORD

    try:
        document = pypdfium2.PdfDocument(stack.enter_context(path.open("rb")), password=password)
    except pypdfium2.PdfiumError as error:
        structure = _structure(path, password, stack)
        if structure is not None and structure.count == 0:  # pdfium's code is then an older one
            raise ScanError(
                "is a PDF that holds no page.", "Save it again from the program that made it."
            ) from None
        if error.err_code == FPDF_ERR_PASSWORD and structure is None:
            raise _locked(password) from None
        raise ScanError(
            "is a PDF that is damaged.",
            "Save or scan it again, or print it to a new PDF.",
        ) from None
    stack.callback(document.close)
    return document


def _structure(path: Path, password: str | None, stack: contextlib.ExitStack) -> Structure | None:
    try:
        return read_structure(stack.enter_context(path.open("rb")), password)
    except LockedError:  # pdfium opens some files of which only a part is locked
        raise _locked(password) from None


def _resaved(document: PdfDocument) -> Structure | None:
    """The structure as pdfium would save it.

    What a page draws is measured on it: in a damaged file pypdf may see less than pdfium draws.
    """
    import io

    import pypdfium2

    saved = io.BytesIO()
    try:
        document.save(saved)
    except pypdfium2.PdfiumError:
        return None
    with contextlib.suppress(LockedError):
        return read_structure(saved, None)
    return None


def _locked(password: str | None) -> ScanError:
    if password:
        return ScanError("is locked and the password given does not open it.", _LOCKED)
    return ScanError("is locked with a password.", _LOCKED)


def _page(
    document: PdfDocument,
    structure: Structure | None,
    number: int,
    limits: Limits,
    file_bytes: int,
) -> Picture | VectorPage:
    import pypdfium2

    known = structure.page(number) if structure is not None else None
    try:
        page = document[number]
    except pypdfium2.PdfiumError:
        raise ScanError(
            f"has a damaged page (page {number + 1}).",
            "Open it in a viewer, print it to a new PDF and use that.",
        ) from None
    with contextlib.closing(page):
        unit = user_unit(known)
        seen = painted(page)
        alone = is_one_image(seen, page)
        for image in seen.images:
            if math.prod(image.size_px) > limits.page_pixels or alone:
                check_pixels(*image.size_px, limits)
        allow_images(seen, file_bytes, limits, alone=alone)
        if seen.largest is not None and seen.image_share >= _SCAN_SHARE:
            check_whole(seen.largest)
        picture = native_picture(page, seen, unit, number + 1)
        if picture is not None:
            return picture
        if structure is not None and known is not None and _is_drawing(seen):
            kept = vector_page(structure, known)
            if kept is not None and _shows_the_same(kept, page):
                return kept
        return _rendered(page, seen, unit, number + 1, limits)


def _is_drawing(seen: Painted) -> bool:
    if seen.annotated or seen.loose_fonts:
        return False
    return seen.drawn and seen.image_share < _SCAN_SHARE


def _shows_the_same(kept: VectorPage, page: PdfPage) -> bool:
    """Whether the cleaned page is one page, of the same size, that looks like the original."""
    import pypdfium2

    with contextlib.closing(pypdfium2.PdfDocument(bytes_of(kept.pdf_bytes))) as document:
        if len(document) != 1:
            return False
        copy = document[0]
        if any(abs(a - b) > 0.01 for a, b in zip(copy.get_size(), page.get_size(), strict=True)):
            return False
        size_px = small_size_px(page, 1000)
        return look_alike(render(copy, size_px), render(page, size_px), strict=True)


def _rendered(page: PdfPage, seen: Painted, unit: float, number: int, limits: Limits) -> Picture:
    """The page as a viewer shows it, at 300 dpi or at the dpi of the one image that it is."""
    width_in, height_in = (length * unit / PT_PER_INCH for length in page.get_size())
    if not (width_in > 0 and height_in > 0):
        raise ScanError(f"has a page without size (page {number}).", "Save it as PDF again.")
    dpi = RENDER_DPI
    if is_one_image(seen, page):
        own_dpi = seen.images[0].dpi / unit
        dpi = min(own_dpi, IMAGE_DPI[1]) if own_dpi >= IMAGE_DPI[0] else dpi
    by_area = math.sqrt(limits.page_pixels / (width_in * height_in)) * 0.999
    most_dpi = min(by_area, limits.side_pixels / max(width_in, height_in))
    if most_dpi < COARSEST_DPI:
        raise ScanLimitError(
            f"has a page of {width_in * 25.4:.0f} × {height_in * 25.4:.0f} mm (page {number}); "
            f"at 100 dpi at most {limits.page_pixels / 1e6:.0f} megapixels are read.",
            "Save that page at its true paper size.",
        )
    dpi = min(dpi, most_dpi)
    width, height = max(1, round(width_in * dpi)), max(1, round(height_in * dpi))
    allow_drawing(width * height)
    return Picture(
        pixels=render(page, (width, height)),
        dpi=(width / width_in, height / height_in),
        source="pdf",
        page=number,
        size_mm=(pt_to_mm(width_in * PT_PER_INCH), pt_to_mm(height_in * PT_PER_INCH)),
        native=False,
    )
