"""One item read: which of the readers apply to it, and what they say together.

Text is found once. Its turn comes first, then what the upright picture holds: machine-readable
lines, page numbers of an opening, a few lines of plain text, a tax code. What is asked for follows
from the size, so that a sheet of paper does not pay for what only a passport has.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from packet.model import Kind, SizeMm, Turn
from packet.readings import MrzLines, Reading, ReadRequest, ReadState
from packet.recognition.page_numbers import PageNumbers

if TYPE_CHECKING:
    from packet.recognition.boxes import Boxes, Pixels
    from packet.recognition.engine import Engine

_OPENING_MM, _SHEET_MM = (125.0, 176.0), (210.0, 279.4)
_NEAR_MM = 3.0
_ZONE_FILLS = 0.70  # of the width: TD3 0.89, MRV-B 0.73, a passport copied on A4 0.53
_STEP = (0.045, 0.080)  # from line to line, in lengths: 6.35 mm over 112 or 91
_MOST_BOXES = 36  # a sheet full of text has more than an opening
_FEW_BOXES = 8  # of an opening: stamps and headings alone, its page numbers decide
_DARK = 90  # median luma: a cover
_FOOT = 0.75  # of the height of an opening: below it stand the lines of a data page


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Upright:
    """An item held upright: pixels, boxes of text, size; ``turn``: clockwise, None when unsure."""

    pixels: Pixels = field(repr=False)
    boxes: Boxes = field(repr=False)
    size_mm: SizeMm
    turn: Turn | None


def read_item(request: ReadRequest) -> Reading:
    """What the text of the item says; an empty reading where nothing could be read."""
    from packet.recognition.engine import load_engine

    engine = load_engine()
    if engine is None or request.blank or min(request.pixels.shape[:2]) < 32:
        return Reading()
    return _read(engine, request)


def _read(engine: Engine, request: ReadRequest) -> Reading:
    import numpy as np

    from packet.recognition.boxes import find_boxes
    from packet.recognition.contents import Upright, read_contents
    from packet.recognition.page_numbers import read_page_numbers

    pixels = request.pixels
    if pixels.ndim == 2:
        pixels = np.repeat(pixels[:, :, None], 3, axis=2)
    boxes = find_boxes(engine, pixels, quarter=_stands(request))
    held, numbers = _held(engine, request, pixels, boxes)
    book = Kind.PASSPORT_SPREAD in request.kinds
    held, zones = _zones(engine, held, given=request.turn_given, book=book)
    if numbers is None and held.turn is not None and _is_open(held) and not _passport(zones):
        numbers = read_page_numbers(engine, held.pixels)
    numbers = numbers or PageNumbers()
    sheet = _is_size(held.size_mm, _SHEET_MM, longer_too=True)
    speaks = _speaks(held, sheet=sheet)
    contents = read_contents(
        engine,
        Upright(
            pixels=held.pixels,
            boxes=held.boxes if speaks else held.boxes[:0],
            size_mm=held.size_mm,
            guess=request.kind,
            kinds=request.kinds,
            mrz=zones,
            numbers=bool(numbers.numbers),
        ),
    )
    return Reading(
        turn_deg=held.turn,
        kind=contents.told.kind,
        kind_confidence=contents.told.confidence,
        kind_reason=contents.told.reason,
        mrz=zones,
        tax_codes=contents.tax_codes,
        page_numbers=numbers.numbers,
        page_numbers_state=numbers.state,
        terms=contents.terms,
    )


# --- upright ----------------------------------------------------------------------------------


def _held(
    engine: Engine, request: ReadRequest, pixels: Pixels, boxes: Boxes
) -> tuple[_Upright, PageNumbers | None]:
    """The item as its text reads; its page numbers where they were looked for to tell the turn."""
    from packet.recognition.turn import turn_of_text

    if request.turn_given:
        return _turned(pixels, boxes, request.size_mm, 0), None
    told = turn_of_text(engine, pixels, boxes)
    if _is_size(request.size_mm, _OPENING_MM):
        return _by_numbers(engine, request, pixels, boxes, told)
    return _turned(pixels, boxes, request.size_mm, told), None


def _by_numbers(
    engine: Engine, request: ReadRequest, pixels: Pixels, boxes: Boxes, told: Turn | None
) -> tuple[_Upright, PageNumbers | None]:
    """An opening: numbers at its foot tell its turn better than words do, which stamps hold too.

    A dark cover and machine-readable lines have other ways to tell.
    """
    from packet.recognition.lines import turned_boxes, turned_pixels
    from packet.recognition.mrz_zone import zones_of
    from packet.recognition.page_numbers import numbers_by_boxes, numbers_by_marks

    has_zone = told is not None and bool(
        zones_of(turned_boxes(boxes, told, pixels.shape), turned_pixels(pixels, told).shape[1])
    )
    if not has_zone and not _is_dark(pixels):
        wide = request.size_mm[0] > request.size_mm[1]
        turns: tuple[Turn, Turn] = (0, 180) if wide else (90, 270)
        both = [_turned(pixels, boxes, request.size_mm, turn) for turn in turns]
        both.sort(key=lambda held: held.turn != told)
        # no two numbers that follow each other do so upside down: the first look that reads tells
        for look in (numbers_by_marks, numbers_by_boxes):
            for held in both:
                numbers = look(engine, held.pixels)
                if numbers.state is ReadState.READ:
                    return held, numbers
    looked = None if has_zone else PageNumbers()
    if told is not None and (has_zone or len(boxes) > _FEW_BOXES or _is_cover(pixels, boxes)):
        return _turned(pixels, boxes, request.size_mm, told), looked
    return _turned(pixels, boxes, request.size_mm, None), looked


def _turned(pixels: Pixels, boxes: Boxes, size_mm: SizeMm, turn: Turn | None) -> _Upright:
    from packet.recognition.lines import turned_boxes, turned_pixels

    by: Turn = turn or 0
    return _Upright(
        pixels=turned_pixels(pixels, by),
        boxes=turned_boxes(boxes, by, pixels.shape),
        size_mm=size_mm if by % 180 == 0 else (size_mm[1], size_mm[0]),
        turn=turn,
    )


# --- what an upright item holds ---------------------------------------------------------------


def _zones(
    engine: Engine, held: _Upright, *, given: bool, book: bool
) -> tuple[_Upright, tuple[MrzLines, ...]]:
    """Machine-readable lines, on anything smaller than a sheet. Lines that read tell the turn.

    A sheet has the shape of an opening: where lines fill its width as they fill a data page's,
    its size was taken wrongly. A copy of a passport on a sheet is narrower.
    """
    from packet.recognition.mrz import read_mrz

    if max(held.size_mm) > max(_OPENING_MM) + _NEAR_MM:
        return held, _zone_that_fills(engine, held) if book else ()
    zones = read_mrz(engine, held.pixels, held.boxes) or _second_look(engine, held)
    if zones or given or not len(held.boxes):
        return held, zones
    turn: Turn = ((held.turn or 0) + 180) % 360  # type: ignore[assignment]
    other = _turned(held.pixels, held.boxes, held.size_mm, 180)
    over = tuple(
        zone
        for zone in read_mrz(engine, other.pixels, other.boxes)
        if zone.state in (ReadState.READ, ReadState.REPAIRED)
    )
    if not over:
        return held, ()
    return _Upright(pixels=other.pixels, boxes=other.boxes, size_mm=other.size_mm, turn=turn), over


def _second_look(engine: Engine, held: _Upright) -> tuple[MrzLines, ...]:
    """The foot of a data page's opening by itself, where faint lines stand out better."""
    from packet.recognition.boxes import find_boxes
    from packet.recognition.mrz import read_mrz

    wide, high = held.size_mm
    if held.turn is None or wide > high or not _is_size(held.size_mm, _OPENING_MM):
        return ()
    foot = held.pixels[round(_FOOT * held.pixels.shape[0]) :]
    return read_mrz(engine, foot, find_boxes(engine, foot))


def _zone_that_fills(engine: Engine, held: _Upright) -> tuple[MrzLines, ...]:
    """The lowest zone of a sheet that is as wide as an opening's; one look, no second turn."""
    from packet.recognition.mrz import read_zone
    from packet.recognition.mrz_zone import zones_of

    if len(held.boxes) > _MOST_BOXES:
        return ()
    width = held.pixels.shape[1]
    for zone in zones_of(held.boxes, width):
        lengths = [math.dist(line[0], line[1]) for line in zone.lines]
        step = math.dist(zone.lines[0][0], zone.lines[1][0]) / lengths[0]
        if min(lengths) > _ZONE_FILLS * width and _STEP[0] < step < _STEP[1]:
            read = read_zone(engine, held.pixels, zone)
            return (read,) if read is not None else ()
    return ()


# --- measures ---------------------------------------------------------------------------------


def _is_size(size: SizeMm, other: SizeMm, *, longer_too: bool = False) -> bool:
    shorter, longer = sorted(size)
    if longer_too:
        return shorter > other[0] - _NEAR_MM and longer > other[1] - _NEAR_MM
    return math.dist((shorter, longer), other) < _NEAR_MM


def _stands(request: ReadRequest) -> bool:
    """Whether text likely runs along y as shown: sheets are high, cards and openings wide."""
    wide, high = request.size_mm
    if request.turn_given:
        return False
    return (wide > high) == (max(wide, high) > _SHEET_MM[1] - _NEAR_MM)


def _is_open(held: _Upright) -> bool:
    """An opening with its fold upright."""
    return _is_size(held.size_mm, _OPENING_MM) and held.size_mm[0] > held.size_mm[1]


def _passport(zones: tuple[MrzLines, ...]) -> bool:
    return any(zone.mrz_format == "TD3" for zone in zones)


def _speaks(held: _Upright, *, sheet: bool) -> bool:
    return len(held.boxes) > 0 and (sheet or held.turn is not None)


def _is_cover(pixels: Pixels, boxes: Boxes) -> bool:
    """Dark stock, or signs lighter than it, as stamps and printed pages never have them."""
    from packet.recognition.boxes import light_signs

    return _is_dark(pixels) or light_signs(pixels, boxes)


def _is_dark(pixels: Pixels) -> bool:
    import numpy as np

    return float(np.median(pixels[::8, ::8].astype(np.float32) @ (0.299, 0.587, 0.114))) < _DARK
