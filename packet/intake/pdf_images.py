"""What a PDF page paints, and the page's own pixels where it is nothing but one image."""

from __future__ import annotations

import ctypes
import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from packet.intake.jpeg_data import picture_end
from packet.intake.pdf_render import render, small_size_px
from packet.intake.picture import Picture
from packet.intake.plain import rgb_of
from packet.model import Point
from packet.units import PT_PER_INCH, pt_to_mm

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray
    from pypdfium2 import PdfPage

    Pixels = NDArray[np.uint8]

_GAP = 0.02  # of the page's width or height that the image may leave free at each side
_OVERHANG = 0.005  # of it that may be cut off by the page's edge
# Programs that wrap a photo in a PDF make a point or 1/96 inch of each pixel: a page of a metre.
_LEAST_DPI, _LARGEST_PAPER_MM = 100.0, 450.0  # common practice; A3, the largest scanned, is 420
_DEPTH = 12  # nested forms that are looked into
# Cells along a side; levels of 255 that their mean colours may be apart on average and at most.
# Measured: an image against its page 1.2 and 6, a cleaned page against its original 0 and 0.
_SAME_PAGE = (20, 2.5, 20)
_SAME_RENDERING = (96, 0.5, 12)


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """An image on a page. Corners (top left, top right, bottom left) as shown, in points."""

    image: Any
    size_px: tuple[int, int]
    corners_pt: tuple[Point, Point, Point]

    @property
    def box_pt(self) -> tuple[float, float, float, float]:
        """Left, top, right, bottom."""
        (ax, ay), (bx, by), (cx, cy) = self.corners_pt
        xs, ys = (ax, bx, cx, bx + cx - ax), (ay, by, cy, by + cy - ay)
        return min(xs), min(ys), max(xs), max(ys)

    def share_of(self, page_pt: tuple[float, float]) -> float:
        """The part of a page of that size that the image covers, 0 to 1."""
        left, top, right, bottom = self.box_pt
        width = min(right, page_pt[0]) - max(left, 0.0)
        height = min(bottom, page_pt[1]) - max(top, 0.0)
        area = page_pt[0] * page_pt[1]
        return max(0.0, width) * max(0.0, height) / area if area > 0 else 0.0

    @property
    def dpi(self) -> float:
        """Pixels per inch along the finer side, UserUnit aside."""
        (ax, ay), (bx, by), (cx, cy) = self.corners_pt
        along, across = math.hypot(bx - ax, by - ay), math.hypot(cx - ax, cy - ay)
        if along <= 0 or across <= 0:
            return 0.0
        return PT_PER_INCH * max(self.size_px[0] / along, self.size_px[1] / across)


@dataclass(frozen=True, slots=True, kw_only=True)
class Painted:
    """All a page paints. ``drawn``: visible text or lines; ``annotated``: notes or fields.

    ``loose_fonts``: some visible text has a font that the document does not hold.
    ``largest``: the image that covers most of the page, ``image_share``: the part it covers.
    """

    images: tuple[Placed, ...]
    drawn: bool
    annotated: bool
    loose_fonts: bool
    largest: Placed | None
    image_share: float


def painted(page: PdfPage) -> Painted:
    """Look through the page's objects, forms included, without decoding an image."""
    from pypdfium2 import PdfObject, raw

    images = []
    drawn = loose = False
    for item, kind, form in _objects(page, None, 0):
        if kind == raw.FPDF_PAGEOBJ_IMAGE:
            image = PdfObject(item, page=page, pdf=page.pdf, container=form)
            images.append(_placed(page, image))
        elif not drawn or (kind == raw.FPDF_PAGEOBJ_TEXT and not loose):
            visible = _visible(item, kind)
            drawn = drawn or visible
            loose = visible and kind == raw.FPDF_PAGEOBJ_TEXT and _loose(item)
    size_pt = page.get_size()
    largest = max(images, key=lambda image: image.share_of(size_pt), default=None)
    return Painted(
        images=tuple(images),
        drawn=drawn,
        loose_fonts=loose,
        annotated=raw.FPDFPage_GetAnnotCount(page) > 0,
        largest=largest,
        image_share=largest.share_of(size_pt) if largest is not None else 0.0,
    )


def _objects(page: PdfPage, form: Any, level: int) -> Iterator[tuple[Any, int, Any]]:
    """(handle, its kind, the form it lies in) of all objects but forms, as they are painted.

    Plain handles: a map has a million lines, and an object of the library for each takes seconds.
    """
    from pypdfium2 import PdfObject, raw

    kind_of, form_kind = raw.FPDFPageObj_GetType, raw.FPDF_PAGEOBJ_FORM
    if form is None:
        count, get, holder = raw.FPDFPage_CountObjects(page), raw.FPDFPage_GetObject, page.raw
    else:
        count, get = raw.FPDFFormObj_CountObjects(form), raw.FPDFFormObj_GetObject
        holder = form.raw
    for number in range(count):
        item = get(holder, number)
        kind = kind_of(item)
        if kind != form_kind:
            yield item, kind, form
        elif level < _DEPTH - 1:
            inner = PdfObject(item, page=page, pdf=page.pdf, container=form)
            yield from _objects(page, inner, level + 1)


def _visible(item: Any, kind: int) -> bool:
    """Text and paths that leave a mark; the hidden text of a scanner's OCR leaves none."""
    from pypdfium2 import raw

    if kind == raw.FPDF_PAGEOBJ_TEXT:
        return bool(raw.FPDFTextObj_GetTextRenderMode(item) != raw.FPDF_TEXTRENDERMODE_INVISIBLE)
    if kind == raw.FPDF_PAGEOBJ_PATH:
        fill, stroke = ctypes.c_int(), ctypes.c_int()
        raw.FPDFPath_GetDrawMode(item, fill, stroke)
        return bool(fill.value or stroke.value)
    return True


def _loose(item: Any) -> bool:
    from pypdfium2 import raw

    font = raw.FPDFTextObj_GetFont(item)
    return not font or raw.FPDFFont_GetIsEmbedded(font) != 1


def _placed(page: PdfPage, image: Any) -> Placed:
    matrix = image.get_matrix()
    outer = image.container
    while outer is not None:
        matrix = matrix.multiply(outer.get_matrix())
        outer = outer.container
    # An image fills the unit square, its top edge at y = 1 (ISO 32000-2, 8.9.5.1).
    corners = (matrix.on_point(0, 1), matrix.on_point(1, 1), matrix.on_point(0, 0))
    top_left, top_right, bottom_left = (_shown(page, x, y) for x, y in corners)
    return Placed(
        image=image,
        size_px=image.get_px_size(),
        corners_pt=(top_left, top_right, bottom_left),
    )


def _shown(page: PdfPage, x: float, y: float) -> Point:
    """User space to the page as shown: points from its top-left corner, x right, y down.

    /Rotate turns clockwise and the CropBox is what is seen (ISO 32000-2, table 31).
    """
    left, bottom, right, top = _seen_box(page)
    match page.get_rotation():
        case 90:
            return y - bottom, x - left
        case 180:
            return right - x, y - bottom
        case 270:
            return top - y, right - x
        case _:
            return x - left, top - y


def _seen_box(page: PdfPage) -> tuple[float, float, float, float]:
    from pypdfium2 import raw

    box = raw.FS_RECTF()
    raw.FPDF_GetPageBoundingBox(page, box)
    return box.left, box.bottom, box.right, box.top


def is_one_image(seen: Painted, page: PdfPage) -> bool:
    """Whether the page is one image over (nearly) all of it and nothing else that is seen."""
    if len(seen.images) != 1 or seen.drawn or seen.annotated:
        return False
    return _covers(seen.images[0], page)


def native_picture(page: PdfPage, seen: Painted, unit: float, number: int) -> Picture | None:
    """The page's own pixels, where it is one image and laid straight.

    None where anything is unusual, or where the pixels do not look like the page. A page larger
    than any paper at a low dpi says nothing of the true size: then dpi is None.
    """
    if not is_one_image(seen, page):
        return None
    placed = seen.images[0]
    if not _straight(placed):
        return None
    pixels = _pixels(placed)
    if pixels is None or not _looks_right(pixels, placed, page):
        return None
    left, top, right, bottom = placed.box_pt
    height, width = pixels.shape[:2]
    width_pt, height_pt = page.get_size()
    dpi = (
        width * PT_PER_INCH / ((right - left) * unit),
        height * PT_PER_INCH / ((bottom - top) * unit),
    )
    size_mm = (pt_to_mm(width_pt * unit), pt_to_mm(height_pt * unit))
    arbitrary = min(dpi) < _LEAST_DPI and max(size_mm) > _LARGEST_PAPER_MM
    return Picture(
        pixels=pixels,
        dpi=None if arbitrary else dpi,
        source="unknown" if arbitrary else "pdf",
        page=number,
        size_mm=size_mm,
    )


def _covers(placed: Placed, page: PdfPage) -> bool:
    width, height = page.get_size()
    left, top, right, bottom = placed.box_pt
    gaps = (left / width, (width - right) / width, top / height, (height - bottom) / height)
    return all(-_OVERHANG <= gap <= _GAP for gap in gaps)


def _straight(placed: Placed) -> bool:
    (ax, ay), (bx, by), (cx, cy) = placed.corners_pt
    level = abs(by - ay) <= 0.002 * abs(bx - ax) and abs(cx - ax) <= 0.002 * abs(cy - ay)
    turned = abs(bx - ax) <= 0.002 * abs(by - ay) and abs(cy - ay) <= 0.002 * abs(cx - ax)
    return level or turned


def _pixels(placed: Placed) -> Pixels | None:
    """The image decoded by pdfium and laid as shown; None where it has an alpha channel."""
    import numpy as np
    from pypdfium2 import PdfiumError

    try:
        bitmap = placed.image.get_bitmap()
    except PdfiumError:
        return None
    if (bitmap.width, bitmap.height) != placed.size_px or bitmap.mode in ("BGRA", "RGBA"):
        return None
    return np.ascontiguousarray(_as_shown(rgb_of(bitmap.to_numpy()), placed))


def _as_shown(stored: Pixels, placed: Placed) -> Pixels:
    (ax, ay), (bx, by), (cx, cy) = placed.corners_pt
    if abs(bx - ax) >= abs(by - ay):
        right, down = bx >= ax, cy >= ay
        shown = stored
    else:
        right, down = cx >= ax, by >= ay
        shown = stored.transpose(1, 0, 2)
    return shown[:: 1 if down else -1, :: 1 if right else -1]


def check_whole(placed: Placed) -> None:
    """Refuse a JPEG image without its end: pdfium would show what there is and say nothing."""
    if placed.image.get_filters(skip_simple=True) == ["DCTDecode"]:
        picture_end(bytes(placed.image.get_data(decode_simple=True)))


def _looks_right(pixels: Pixels, placed: Placed, page: PdfPage) -> bool:
    """Whether the pixels, laid where the image is, look like the page as it is rendered."""
    shown = render(page, small_size_px(page, 400))
    scale = shown.shape[1] / page.get_width()
    left, top, right, bottom = (max(0, round(edge * scale)) for edge in placed.box_pt)
    part = shown[top:bottom, left:right]
    return part.size > 0 and look_alike(pixels, part)


def look_alike(one: Pixels, other: Pixels, *, strict: bool = False) -> bool:
    """Whether two pictures of one page agree in the mean colour of every cell of a grid."""
    import numpy as np
    from PIL import Image

    cells, mean_apart, most_apart = _SAME_RENDERING if strict else _SAME_PAGE
    across, down = (
        max(1, min(cells, one.shape[axis] // 4, other.shape[axis] // 4)) for axis in (1, 0)
    )
    first, second = (
        np.asarray(Image.fromarray(pixels).resize((across, down), Image.Resampling.BOX)).astype(
            np.int16
        )
        for pixels in (one, other)
    )
    apart = np.abs(first - second)
    return bool(apart.mean() <= mean_apart and apart.max() <= most_apart)
