"""What a found item is and how it is held, from its look alone; no word of it is read.

An open passport, a sheet of A4, a passport page and an ID-2 card have one shape (1.41, ISO 216 and
ISO/IEC 7810): dark stock, a fold down the middle, background print and the height of the type tell
them apart. The two sides of a card: a machine-readable zone, a stripe or a bar code are on the
back, a portrait on the front (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from packet.imaging.geometry import Pixels, Quads
from packet.imaging.marks import find_marks, level_at
from packet.imaging.rectify import shrunk
from packet.imaging.score import Expected
from packet.imaging.sizing import Sized, size_as_kind
from packet.imaging.upright import (
    ANALYSIS_PX,
    Print,
    read_print,
    turn_and_mirror,
)
from packet.model import Kind, SizeMm, Turn
from packet.rules.sizes import card_size_mm, kind_sizes_mm

_SHEET_SHAPES = (1.37, 1.46)
_DARK_STOCK = 85  # median luma
_COVER_TEXT = 1.1  # lines darker than the stock, in lengths of the item; a cover's are lighter
_FOLD_DEPTH = 0.08
_FOLD_STRAY = 0.5  # % of the width
_TINTED = 8.0  # per mille of the luma
_BLOCK_PX = 34
_FRONTS = (Kind.ID_CARD_FRONT, Kind.PERMIT_FRONT, Kind.TAX_CARD_FRONT)
_BACKS = (Kind.ID_CARD_BACK, Kind.PERMIT_BACK, Kind.TAX_CARD_BACK)
_PAGES = (Kind.PASSPORT_PAGE, Kind.VISA_PAGE)
_SHEETS = (Kind.A4_PAGE, Kind.FORM_PAGE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """Measured on an item with its long side along x; see the functions of the same names."""

    luma: float
    fold_depth: float
    fold_stray: float
    tint: float
    line_height: float  # median, pixels of 1400
    text_length: float
    across: bool  # text along the long side

    @property
    def folded(self) -> bool:
        """A narrow dark valley down the middle, straight from edge to edge."""
        return self.fold_depth > _FOLD_DEPTH and self.fold_stray < _FOLD_STRAY


@dataclass(frozen=True, slots=True, kw_only=True)
class Recognised:
    """What an item is, the clockwise turn that makes it upright (None: the print is silent), and
    whether it seems to be shown in a mirror."""

    sized: Sized
    turn: Turn | None
    mirrored: bool


def recognise(
    grey: Pixels, quad: Quads, sized: Sized, kinds: Sequence[Kind], expected: Expected
) -> Recognised:
    """Kind and size of an item as it is shown, and how it is held.

    ``grey``: the flat item, (h, w), its long side at most 1120 pixels; ``quad``: its outline from
    the top left as shown; ``sized``: the guess by shape; ``kinds``: what it may be (none:
    anything), empty also where the kind is known.
    """
    printed = read_print(grey)
    kind = kind_by_look(grey, printed, sized, kinds, expected) if kinds else sized.kind
    if kind is not sized.kind:
        sized = size_as_kind(quad, kind, expected)
    if kind is Kind.PASSPORT_COVER and expected.px_per_mm is None and sized.basis == "kind":
        sized = replace(sized, size_mm=_cover_size(grey))
    turn, mirrored = turn_and_mirror(printed)
    return Recognised(
        sized=sized,
        turn=None if kind is Kind.PASSPORT_COVER else turn,
        mirrored=mirrored,
    )


def _cover_size(grey: Pixels) -> SizeMm:
    """As shown: open covers have a fold down the middle; one cover by itself has their shape."""
    upright = grey.shape[0] > grey.shape[1]
    depth, stray = fold_valley(np.ascontiguousarray(np.rot90(grey, -1)) if upright else grey)
    folded = depth > _FOLD_DEPTH and stray < _FOLD_STRAY
    sizes = [(max(size), min(size)) for size in kind_sizes_mm(Kind.PASSPORT_COVER)]
    long, short = max(sizes) if folded else min(sizes)
    return (short, long) if upright else (long, short)


def kind_by_look(
    grey: Pixels, printed: Print, sized: Sized, kinds: Sequence[Kind], expected: Expected
) -> Kind:
    """The kind that the look speaks for among those that fit shape and, where trusted, size."""
    shape = max(sized.size_mm) / min(sized.size_mm)
    if _is_size(sized.size_mm, card_size_mm("id-1")):
        return _card_side(grey, printed, sized.kind, kinds)
    if not _SHEET_SHAPES[0] < shape < _SHEET_SHAPES[1]:
        return sized.kind
    for group in _ranked(look_of(grey, printed), _has_data_zone(grey, printed)):
        wanted = [kind for kind in kinds if kind in group and _may_be(kind, sized, expected)]
        if wanted and group is _FRONTS:
            return _card_side(grey, printed, wanted[0], kinds)
        if wanted:
            return sized.kind if sized.kind in wanted else wanted[0]
    return sized.kind


def _has_data_zone(grey: Pixels, printed: Print) -> bool:
    """Two lines of a machine-readable zone along the long side: a data page by itself."""
    upright = grey.shape[0] > grey.shape[1]
    zone = printed.zones[int(upright)]
    return zone is not None and zone[2] > 0.7 * max(grey.shape) and zone[3] < 0.14 * zone[2]


def _ranked(look: Look, data_zone: bool) -> tuple[tuple[Kind, ...], ...]:
    """Groups of kinds of the sheet's shape, the likeliest by look first."""
    spread, cover = (Kind.PASSPORT_SPREAD,), (Kind.PASSPORT_COVER,)
    if look.luma < _DARK_STOCK:
        written = look.text_length > _COVER_TEXT * ANALYSIS_PX
        return (_FRONTS, _PAGES, spread, cover, _SHEETS) if written else (cover,)
    much_text = look.text_length > 6 * ANALYSIS_PX and not look.across
    if look.folded and (look.tint > 0.6 * _TINTED or not much_text):
        return (spread, _SHEETS, _PAGES, _FRONTS)
    if data_zone:
        return (_PAGES, _FRONTS, spread, _SHEETS)
    if look.tint < _TINTED or much_text:
        return (_SHEETS, spread, _PAGES, _FRONTS)
    if look.across and look.line_height > 29.5:
        return (_FRONTS, _PAGES, spread, _SHEETS)
    return (_PAGES, spread, _FRONTS, _SHEETS)


def _may_be(kind: Kind, sized: Sized, expected: Expected) -> bool:
    """Any kind of the shape where no scale is known, else one of the size that was measured."""
    if expected.px_per_mm is None or sized.measured_mm is None or sized.kind is kind:
        return True
    return any(_is_size(sized.size_mm, size) for size in kind_sizes_mm(kind))


def _is_size(one: SizeMm, other: SizeMm) -> bool:
    return all(abs(a - b) < 1.5 for a, b in zip(sorted(one), sorted(other), strict=True))


# --- openings, sheets, pages ----------------------------------------------------------------------


def look_of(grey: Pixels, printed: Print) -> Look:
    """The measures that tell items of the sheet's shape apart."""
    upright = grey.shape[0] > grey.shape[1]
    wide = np.ascontiguousarray(np.rot90(grey, -1)) if upright else grey
    depth, stray = fold_valley(wide)
    axis = int(printed.down.length > printed.across.length)
    lines = printed.along(axis)[0]
    held = np.bincount(lines.line_of[lines.line_of >= 0], minlength=len(lines.boxes)) >= 4
    heights = lines.boxes[held, 3]
    scale = ANALYSIS_PX / max(grey.shape)
    return Look(
        luma=float(level_at(wide, 50)),
        fold_depth=depth,
        fold_stray=stray,
        tint=background_print(wide),
        line_height=float(np.median(heights)) * scale if len(heights) else 0.0,
        text_length=lines.length * scale,
        across=(axis == 1) == upright,
    )


def fold_valley(grey: Pixels) -> tuple[float, float]:
    """Depth of the dark line down the middle that reaches an edge, and its stray in % of the width.

    24 bands over the height, each by its median row. Depth: what seven bands in ten have; stray:
    within what seven in ten lie of the middle one. (0, 100) where the line ends before both
    edges, as a rule printed on a page does.
    """
    height, width = grey.shape
    half, core, middle = round(0.07 * width), round(0.02 * width), width // 2
    if half < 6 or height < 60:
        return 0.0, 100.0
    rim = round(0.015 * height)
    strip = grey[rim : height - rim, middle - half : middle + half + 1]
    step = max(1, len(strip) // (24 * 20))
    deep = len(strip) // (24 * step)
    bands = strip[: 24 * step * deep : step].reshape(24, deep, -1)
    rows = np.partition(bands, deep // 2, axis=1)[:, deep // 2].astype(np.float32)
    rows = np.asarray(cv2.blur(rows, (3, 1)), np.float32)
    paper = np.percentile(rows, 70, axis=1)
    inner = rows[:, half - core : half + core + 1]
    depths = (paper - inner.min(axis=1)) / np.maximum(paper, 1.0)
    places = inner.argmin(axis=1)
    depth = float(np.percentile(depths, 30))
    away = np.abs(places - np.median(places))
    stray = float(np.percentile(away, 70)) / width * 100
    ends = (away < 0.006 * width) & (depths > 0.4 * np.median(depths))
    if not (ends[0] or ends[-1]):
        return 0.0, 100.0
    return depth, stray


def background_print(grey: Pixels) -> float:
    """Fine contrast of the quieter parts of the paper, per mille of its luma: security print."""
    size = (max(1, grey.shape[1] // 2), max(1, grey.shape[0] // 2))
    small = shrunk(grey, size).astype(np.float32)
    fine = np.abs(small - cv2.GaussianBlur(small, (0, 0), 4))
    rows, columns = (size[1] - 10) // _BLOCK_PX, (size[0] - 10) // _BLOCK_PX
    if min(rows, columns) < 1:
        return 0.0
    contrast, paper = (_block_medians(layer, rows, columns) for layer in (fine, small))
    return 1000 * float(np.percentile(contrast / np.maximum(paper, 20.0), 30))


def _block_medians(layer: NDArray[np.float32], rows: int, columns: int) -> NDArray[np.float32]:
    """Medians of blocks of 34 x 34 pixels, of every second pixel each way."""
    part = layer[10 : 10 + rows * _BLOCK_PX : 2, 10 : 10 + columns * _BLOCK_PX : 2]
    side = _BLOCK_PX // 2
    blocks = part.reshape(rows, side, columns, side).swapaxes(1, 2).reshape(rows, columns, -1)
    middle = blocks.shape[2] // 2
    return np.asarray(np.partition(blocks, middle, axis=2)[:, :, middle], np.float32)


# --- the sides of a card --------------------------------------------------------------------------


def _card_side(grey: Pixels, printed: Print, guess: Kind, kinds: Sequence[Kind]) -> Kind:
    """The wanted kind of the side that is seen, the likeliest first."""
    back = is_card_back(grey, printed)
    side = _BACKS if back else _FRONTS
    if guess in side:
        return guess
    partner = dict(zip(_FRONTS + _BACKS, _BACKS + _FRONTS, strict=True)).get(guess, guess)
    if partner in kinds and partner is not guess:
        return partner
    return next((kind for kind in kinds if kind in side), guess)


def is_card_back(grey: Pixels, printed: Print) -> bool:
    """A machine-readable zone, lines over the whole width, a stripe or a bar code is seen."""
    axis = int(printed.down.length > printed.across.length)
    lines, contrast = printed.along(axis)
    if printed.zones[axis] is not None or _wide_rows(lines.boxes, contrast.shape[1]) > 1:
        return True
    upright = grey.shape[0] > grey.shape[1]
    wide = np.ascontiguousarray(np.rot90(grey, -1)) if upright else grey
    areas = dark_areas(wide)
    height, width = wide.shape
    for _, y, w, h in areas:
        inside = y > 0.03 * height and y + h < 0.97 * height
        if w > 0.9 * width and 0.1 * height < h < 0.35 * height and inside:
            return True
    return has_bar_code(wide)


def _wide_rows(boxes: NDArray[np.int64], width: int) -> int:
    """How many rows of print run from side to side, as no front's do beside its portrait; a row
    may be broken by a reflection or a finger."""
    rows: list[list[NDArray[np.int64]]] = []
    for box in sorted(boxes, key=lambda box: int(box[1])):
        last = rows[-1][-1] if rows else None
        if last is not None and abs(2 * (box[1] - last[1]) + box[3] - last[3]) < last[3]:
            rows[-1].append(box)
        else:
            rows.append([box])
    wide = 0
    for row in rows:
        x, w = np.array([box[0] for box in row]), np.array([box[2] for box in row])
        wide += bool((x + w).max() - x.min() > 0.85 * width and w.sum() > 0.62 * width)
    return wide


def dark_areas(grey: Pixels) -> NDArray[np.int64]:
    """(n, 4) boxes of what stays dark when everything narrower than 3.5 % is filled."""
    small = shrunk(grey, (max(1, grey.shape[1] // 2), max(1, grey.shape[0] // 2)))
    side = max(3, round(0.035 * small.shape[1]) | 1)
    filled = cv2.morphologyEx(small, cv2.MORPH_CLOSE, np.ones((side, side), np.uint8))
    dark = (filled < 0.7 * level_at(filled, 50)).astype(np.uint8)
    return 2 * find_marks(dark).boxes[1:, :4]


def has_bar_code(grey: Pixels) -> bool:
    """A block of parallel bars across the long side: strong changes along x, none along y."""
    cell = max(8, round(0.02 * grey.shape[1]))
    size = (max(1, grey.shape[1] // cell), max(1, grey.shape[0] // cell))
    part = grey[: size[1] * cell, : size[0] * cell]
    changes = []
    for x, y in ((1, 0), (0, 1)):
        steps = cv2.convertScaleAbs(cv2.Sobel(part, cv2.CV_16S, x, y, ksize=3), alpha=0.25)
        changes.append(4.0 * cv2.resize(steps, size, interpolation=cv2.INTER_AREA))
    along, across = changes
    bars = ((along > 40) & (along > 3.5 * across)).astype(np.uint8)
    joined = cv2.morphologyEx(bars, cv2.MORPH_CLOSE, np.ones((1, 3), np.uint8))
    boxes = cv2.connectedComponentsWithStats(joined, connectivity=4)[2][1:]
    return bool(np.any((boxes[:, 2] > 0.25 * size[0]) & (boxes[:, 3] >= 0.07 * size[1])))
