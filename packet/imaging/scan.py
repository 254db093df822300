"""One scan through the imaging room: what a worker runs.

Every page is found, judged and encoded, and let go before the next one is decoded.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, get_args

from packet.model import (
    EncodedImage,
    Finding,
    Item,
    ItemOverride,
    Kind,
    PageResult,
    Quad,
    ScanTask,
    Turn,
    VectorPage,
)
from packet.readings import ItemReader, Reading, ReadRequest
from packet.rules.sizes import kind_sizes_mm
from packet.units import mm_to_px

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

VECTOR_DPI = 300.0
READ_DPI = 200.0
PREVIEW_DPI = 100.0
INK_DPI = 60.0  # where a born-digital page is written on: it has no noise, so little is enough
INK_BELOW = 240  # of 255: a hairline drawn over a quarter of a pixel is darker than this
_PAGE_TOLERANCE_MM = 3.0


def warm_up() -> None:
    """Import what every job needs, before a worker's memory is limited."""
    import cv2

    import packet.imaging.item
    import packet.intake.pictures

    cv2.setNumThreads(1)
    packet.intake.pictures.warm_up()


def process_scan(task: ScanTask, reader: ItemReader | None = None) -> Iterator[PageResult]:
    """The pages of a scan, each with its items, one after another.

    ``task.kinds`` says what to look for (none: every kind). ``reader``: of each item's text;
    born-digital pages are drawn for it. Raises ScanError or ScanLimitError
    where a page cannot be read; the pages before it have been given by then.
    """
    import cv2

    from packet.imaging.item import picture_page
    from packet.intake.pictures import open_scan

    cv2.setNumThreads(1)
    for number, page in enumerate(open_scan(task.path, password=task.password), start=1):
        if isinstance(page, VectorPage):
            yield _vector_result(task, page, number, reader)
        else:
            yield picture_page(task, page, reader)


def _vector_result(
    task: ScanTask, page: VectorPage, number: int, reader: ItemReader | None = None
) -> PageResult:
    """A born-digital page goes through as it is: it is upright, straight and true to size."""
    width, height = (mm_to_px(side, VECTOR_DPI) for side in page.size_mm)
    right, bottom = width - 0.5, height - 0.5
    corners: Quad = ((-0.5, -0.5), (right, -0.5), (right, bottom), (-0.5, bottom))
    override = next(
        (one for one in task.overrides if one.page == number and one.item == 1),
        ItemOverride(scan=task.name),
    )
    turn: Turn = override.turn or 0
    size_mm = page.size_mm if turn % 180 == 0 else (page.size_mm[1], page.size_mm[0])
    kind = override.kind or _kind_of(page, task.kinds)
    margins_mm = _clear_margins_mm(_turned(page, turn, INK_DPI), size_mm)
    blank = margins_mm[1] >= size_mm[1]
    item = Item(
        scan=task.name,
        page=number,
        item=1,
        kind=kind,
        corners_px=_rolled(corners, turn),
        turn_deg=turn,
        skew_deg=0.0,
        size_mm=size_mm,
        measured_mm=page.size_mm,
        dpi=VECTOR_DPI,
        tone=override.tone or task.tone,
        image=_drawn(page, turn) if task.lossless else page if task.encode else None,
        blank=blank,
        margins_clear_mm=margins_mm,
        kind_from_user=override.kind is not None,
        findings=(_blank(task.name, number, kind),) if blank else (),
        preview=_preview(page, turn) if task.preview else b"",
        reading=None if reader is None or blank else _read(reader, page, turn, kind, task.kinds),
    )
    return PageResult(
        scan=task.name,
        page=number,
        width_px=round(width),
        height_px=round(height),
        items=(item,),
        preview=_preview(page, 0) if task.preview else b"",
    )


def _read(
    reader: ItemReader, page: VectorPage, turn: Turn, kind: Kind, kinds: tuple[Kind, ...]
) -> Reading:
    pixels = _turned(page, turn, READ_DPI)
    size_mm = page.size_mm if turn % 180 == 0 else (page.size_mm[1], page.size_mm[0])
    return reader(
        ReadRequest(
            pixels=pixels,
            dpi=READ_DPI,
            size_mm=size_mm,
            kind=kind,
            kinds=kinds,
            turned=True,
            turn_given=True,
        )
    )


def _drawn(page: VectorPage, turn: Turn) -> EncodedImage:
    """The page as pixels, for those who asked for a PNG; never used in the sets."""
    from packet.imaging.encode import encode_png

    return encode_png(_turned(page, turn, VECTOR_DPI), dpi=VECTOR_DPI)


def _preview(page: VectorPage, turn: Turn) -> bytes:
    from packet.imaging.encode import preview_jpeg

    return preview_jpeg(_turned(page, turn, PREVIEW_DPI))


def _turned(page: VectorPage, turn: Turn, dpi: float) -> NDArray[np.uint8]:
    import numpy as np

    from packet.intake.pdf_render import vector_pixels

    steps = get_args(Turn).index(turn)
    return np.ascontiguousarray(np.rot90(vector_pixels(page, dpi), -steps))


def _clear_margins_mm(
    pixels: NDArray[np.uint8], size_mm: tuple[float, float]
) -> tuple[float, float, float, float]:
    """Millimetres without ink at the left, top, right, bottom of (H, W, 3) pixels.

    The page's own width and height where nothing is written on it at all.
    """
    ink = pixels.min(axis=2) < INK_BELOW
    if not ink.any():
        return (*size_mm, *size_mm)
    left, right = _clear_ends(ink.any(axis=0), size_mm[0])
    top, bottom = _clear_ends(ink.any(axis=1), size_mm[1])
    return (left, top, right, bottom)


def _clear_ends(inked: NDArray[np.bool_], length_mm: float) -> tuple[float, float]:
    """How much of a line is clear before its first and after its last inked pixel."""
    pixel_mm = length_mm / len(inked)
    return (
        round(int(inked.argmax()) * pixel_mm, 2),
        round(int(inked[::-1].argmax()) * pixel_mm, 2),
    )


def _blank(scan: str, page: int, kind: Kind) -> Finding:
    from packet.imaging.verdicts import blank_finding

    return blank_finding(f"{scan}#{page}.1", kind)


def _rolled(corners: Quad, turn: Turn) -> Quad:
    steps = get_args(Turn).index(turn)
    a, b, c, d = (*corners[4 - steps :], *corners[: 4 - steps])
    return a, b, c, d


def _kind_of(page: VectorPage, kinds: tuple[Kind, ...]) -> Kind:
    """The wanted kind of this size, else A4, Letter or other."""
    for kind in (*kinds, Kind.A4_PAGE, Kind.LETTER_PAGE):
        for w, h in kind_sizes_mm(kind):
            for size in ((w, h), (h, w)):
                if all(abs(page.size_mm[k] - size[k]) < _PAGE_TOLERANCE_MM for k in (0, 1)):
                    return kind
    return Kind.OTHER
