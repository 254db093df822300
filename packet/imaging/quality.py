"""What can be measured on one rectified item: sharpness, glare, ink, clear margins.

All lengths are millimetres on the item itself, so that one limit holds for every camera.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from packet.imaging.flat import Box, Flat
from packet.imaging.geometry import Pixels, Quads, percentile
from packet.imaging.limits import limit_for
from packet.imaging.marks import find_marks, is_above, joined_pairs
from packet.imaging.rectify import shrunk
from packet.model import Kind
from packet.units import mm_to_px, px_to_mm

_TILE_MM, _PRINT_MM = 16.0, 3.0
_LEAST_CONTRAST = 2.0  # levels, mean
_TILES = 10
EDGE_SHARE = 0.02  # of the short side: there the edge of the item shows
_AS_FINE = 0.99  # of the print's resolution, that a card's flat picture mostly has
_FIRST_TILES = 3  # of those: where they are plainly sharp, the others need no look
_LEAST_EDGES = 150
_SHARP_PX = 2.8  # sharp edges measure 2.0 to 2.8 pixels, on drawn photos of 60 to 170 dpi
_LEAST_STEPS = (0.25, 0.12)  # of the brighter side; flatter edges say nothing about focus, the
# second counts only where nothing is steeper: print so blurred that it has lost its contrast
_STEP, _TINTED_STEP = 45, 35  # grey levels by which ink is darker than what is around it
_FINE_MM = 0.35  # lines of background print are finer
_BAND_PX = 200  # rows that are looked at together for ink

PASSPORT_PAPER = (Kind.PASSPORT_SPREAD, Kind.PASSPORT_PAGE, Kind.VISA_PAGE)
"""Kinds with a background print, whose edges tell of blur where nothing else is written."""


def seen_part(grey: Pixels, quad: Quads, *, width_px: int, height_px: int) -> Pixels:
    """The flat item (h, w) with what lay outside the picture at its median level.

    ``quad``: the item's corners in the picture. For measuring only: the white that a cut-off item
    is filled up with is no paper, no glare and no edge. The same array where nothing is cut off.
    """
    if quad.min() >= -1 and np.all(quad.max(axis=0) <= [width_px, height_px]):
        return grey
    high, wide = grey.shape
    corners = np.array([[0, 0], [wide, 0], [wide, high], [0, high]], np.float32)
    matrix = cv2.getPerspectiveTransform(quad.astype(np.float32), corners)
    known = np.full((height_px // 8 + 1, width_px // 8 + 1), 255, np.uint8)
    coarse = matrix @ np.diag([8.0, 8.0, 1.0])
    inside = cv2.warpPerspective(known, coarse, (wide, high), flags=cv2.INTER_NEAREST)
    outside = cv2.dilate(255 - inside, np.ones((9, 9), np.uint8)) > 0
    if not outside.any() or outside.all():
        return grey
    part = grey.copy()
    part[outside] = np.median(grey[~outside][::16])
    return part


def edge_width_mm(
    grey: Pixels, flat: Flat, *, written: bool = True, rim: float = EDGE_SHARE
) -> float | None:
    """How wide the sharpest dark-to-light edges are, on the worse axis; None on blank items.

    ``grey``: that of ``flat``, what lay outside the picture set aside; ``written``: there is ink
    on it, and not a background print alone, which may be soft by nature; ``rim``: share of the
    short side that is left out along each edge. Width = step over slope,
    for the step within 1.6 mm; the lower quartile over the busiest tiles, per axis, at the
    print's resolution. A Gaussian blur of sigma s gives about 2.5 s. 0.0 where the edges are as
    narrow as the picture's own pixels let them be: its resolution is then what is wrong, if any.
    """
    dpi = flat.full_dpi
    window = max(5, round(mm_to_px(1.6, dpi)) | 1)
    boxes = _busy_tiles(grey, dpi=flat.dpi, rim=rim)
    first = boxes[:_FIRST_TILES]
    # interpolated for measuring, which widens edges if anything
    rough = [grey[y : y + high, x : x + wide] for x, y, wide, high in first]
    if flat.dpi > _AS_FINE * dpi and _are_sharp(rough, window):
        return 0.0
    tiles = flat.tiles(first)
    if _are_sharp(tiles, window):
        return 0.0
    tiles += flat.tiles(boxes[_FIRST_TILES:])
    for step in _LEAST_STEPS if written else _LEAST_STEPS[:1]:
        widths = _widths_px(tiles, window, step)
        if widths:
            return px_to_mm(max(widths), dpi) if max(widths) > _SHARP_PX else 0.0
    return None


def _are_sharp(tiles: Sequence[Pixels], window: int) -> bool:
    """Edges along both axes, as narrow as the picture's own pixels let them be."""
    widths = _widths_px(tiles, window, _LEAST_STEPS[0])
    return len(widths) == 2 and max(widths) <= _SHARP_PX


def _widths_px(tiles: Sequence[Pixels], window: int, least_step: float) -> list[float]:
    """The width of the edges along x and along y, of those axes that have enough of them."""
    stacks = [_stacked(tiles), _stacked([cv2.transpose(tile) for tile in tiles])]
    found = [_width_px(axis, window, least_step) for axis in stacks]
    return [width for width in found if width is not None]


def _width_px(stacks: Sequence[Pixels], window: int, least_step: float) -> float | None:
    """The lower quartile of the widths along x; None where there are too few edges."""
    found = [_widths(stack, window, least_step) for stack in stacks]
    widths = np.concatenate(found) if found else np.empty(0, np.float32)
    return percentile(widths, 25) if len(widths) >= _LEAST_EDGES else None


def _busy_tiles(grey: Pixels, *, dpi: float, rim: float) -> list[Box]:
    """The tiles with most contrast of print, not of a portrait or a fold, which are soft by nature;
    the outer rim, where the edge of the item shows, left out."""
    reach = max(3, round(mm_to_px(_PRINT_MM, dpi)) | 1)
    fine = cv2.absdiff(grey, cv2.blur(grey, (reach, reach)))
    edge, side = round(rim * min(grey.shape)), max(8, round(mm_to_px(_TILE_MM, dpi)))
    (top, high), (left, wide) = (_parts_of(long, edge, side) for long in grey.shape)
    if not len(top):
        return []
    sums = [
        cv2.reduce(fine[y : y + h], 0, cv2.REDUCE_SUM, dtype=cv2.CV_32S)[0]
        for y, h in zip(top, high, strict=True)
    ]
    total = np.cumsum(np.insert(sums, 0, 0, axis=1), axis=1)
    contrast = (total[:, left + wide] - total[:, left]) * (1 / np.multiply.outer(high, wide))
    tiles = [
        (float(contrast[row, column]), (int(x), int(y), int(w), int(h)))
        for row, (y, h) in enumerate(zip(top, high, strict=True))
        for column, (x, w) in enumerate(zip(left, wide, strict=True))
    ]
    tiles.sort(reverse=True)
    return [box for contrast, box in tiles[:_TILES] if contrast > _LEAST_CONTRAST]


def _parts_of(long: int, rim: int, side: int) -> NDArray[np.int64]:
    """(starts, lengths) of parts of ``side`` pixels between two rims; a last one of less than half
    of that is left out, and what has less than 4."""
    starts = np.arange(rim, max(rim + 1, long - rim - side // 2), side)
    lengths = np.minimum(side, long - rim - starts)
    return np.stack([starts, lengths])[:, lengths >= 4]


def _stacked(tiles: Sequence[Pixels]) -> list[Pixels]:
    """Those of one width one below the other: nothing is looked at from row to row."""
    widths = sorted({tile.shape[1] for tile in tiles})
    return [np.concatenate([tile for tile in tiles if tile.shape[1] == one]) for one in widths]


def _widths(tile: Pixels, window: int, least_step: float) -> NDArray[np.float32]:
    """Step over slope, in pixels, at every steep place along x."""
    line = np.ones((1, window), np.uint8)
    high, low = cv2.dilate(tile, line), cv2.erode(tile, line)
    slope = np.zeros_like(tile)
    slope[:, 1:-1] = cv2.absdiff(tile[:, 2:], tile[:, :-2])
    peak = slope >= cv2.dilate(slope, np.ones((1, 5), np.uint8))
    step = cv2.subtract(high, low)
    least = cv2.LUT(high, (least_step * np.arange(256)).astype(np.uint8))
    use = peak & (step > least) & (slope > 4)
    use[:, :2] = use[:, -2:] = False
    places = np.flatnonzero(use)
    return np.asarray(2.0 * step.ravel()[places] / slope.ravel()[places], np.float32)


def glare_mm(grey: Pixels, *, dpi: float) -> float | None:
    """Narrow side of the largest burnt-out patch; None where none can be told from the paper.

    ``grey``: the flat item (h, w), its tone as it was taken. Burnt out = luma of 249 and more, on
    an item whose own paper is clearly darker.
    """
    height, width = grey.shape
    small_dpi = min(dpi, 75.0)
    size = (max(8, round(width * small_dpi / dpi)), max(8, round(height * small_dpi / dpi)))
    small = shrunk(grey, size)
    if is_above(small, 60, 225):
        return None
    patch = cv2.morphologyEx((small >= 249).astype(np.uint8), cv2.MORPH_OPEN, np.ones((3, 3)))
    contours, _ = cv2.findContours(patch, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    widest = 0.0
    for contour in contours:
        if cv2.contourArea(contour) > 0.3 * patch.size:
            continue
        widest = max(widest, min(cv2.minAreaRect(contour)[1]))
    return px_to_mm(widest, small_dpi) if widest > 0 else None


def is_blank(grey: Pixels, *, kind: Kind, dpi: float) -> bool:
    """Nothing is written on the toned item; a cover is never blank."""
    if kind is Kind.PASSPORT_COVER:
        return False
    fold = kind is Kind.PASSPORT_SPREAD
    limit = limit_for("blank").limit
    tinted = kind in PASSPORT_PAPER
    return ink_share_percent(grey, dpi=dpi, fold=fold, tinted=tinted, enough=limit) < limit


def ink_share_percent(
    grey: Pixels,
    *,
    dpi: float,
    fold: bool = False,
    tinted: bool = False,
    enough: float = 100.0,
) -> float:
    """Share of the toned item that clearly differs from what is around it.

    Darker is ink; on an item dark by nature lighter is print too. The outer 4 % are left out.
    ``tinted``: the paper has a background print, whose fine lines are no ink: they vanish, and
    strokes of a pen or stamp do not, when every place is averaged with what lies 0.35 mm around.
    ``fold``: a tinted item with a fold, dark by its own shadow: 5 % on either side are left out.
    ``enough``: where there is as much, or more, no more need be counted.
    """
    height, width = grey.shape
    if fold:
        middle, spare = max(height, width) // 2, round(0.05 * max(height, width))
        halves = np.split(grey, [middle - spare, middle + spare], axis=int(width > height))
        total = 0.0
        for part in (halves[0], halves[2]):
            total += ink_share_percent(part, dpi=dpi, tinted=True, enough=2 * enough - total)
            if total >= 2 * enough:
                break
        return total / 2
    rim_y, rim_x = round(0.04 * height), round(0.04 * width)
    inner = grey[rim_y : height - rim_y or 1, rim_x : width - rim_x or 1]
    shrink = min(1.0, 150.0 / dpi)
    size = (max(1, round(inner.shape[1] * shrink)), max(1, round(inner.shape[0] * shrink)))
    small = shrunk(inner, size)
    count = 0
    for ink in _ink_by_bands(small, dpi=dpi * shrink, tinted=tinted):
        count += cv2.countNonZero(ink.view(np.uint8))
        if 100.0 * count / small.size >= enough:
            break
    return 100.0 * count / small.size


def _ink_by_bands(small: Pixels, *, dpi: float, tinted: bool) -> Iterator[NDArray[np.bool_]]:
    """Which pixels of some rows after others, of (h, w) grey, clearly differ from what is around
    them."""
    window = max(3, round(mm_to_px(6.0, dpi)) | 1)
    dark = not is_above(small, 50, 109)
    step = _TINTED_STEP if tinted else _STEP
    for top in range(0, len(small), _BAND_PX):
        first = max(0, top - window)
        part = small[first : top + _BAND_PX + window]
        ground = cv2.blur(part, (window, window))
        if tinted and not dark:
            part = cv2.GaussianBlur(part, (0, 0), mm_to_px(_FINE_MM, dpi))
        ink = cv2.absdiff(ground, part) > 22 if dark else cv2.subtract(ground, part) > step
        yield ink[top - first : top - first + _BAND_PX]


def margins_clear_mm(grey: Pixels, *, dpi: float) -> tuple[float, float, float, float]:
    """How far in the nearest content lies from the (left, top, right, bottom) edge.

    Content is print, handwriting and stamps: sharp strokes and borders in groups of 1.8 mm and
    more. Soft shadows, specks of dust and the shadow along the item's own edge are none.
    """
    small, small_dpi = _shrunk(grey, dpi, 100.0)
    sharp = _without_edges(_sharp_marks(small, small_dpi), small_dpi)
    marks = _grouped(_frame_of(sharp, small_dpi), small_dpi)
    if not marks.any():
        marks = _grouped(sharp, small_dpi)
    height, width = small.shape
    columns, rows = np.flatnonzero(marks.any(axis=0)), np.flatnonzero(marks.any(axis=1))
    if not len(columns):
        wide, high = px_to_mm(width, small_dpi), px_to_mm(height, small_dpi)
        return wide, high, wide, high
    return (
        px_to_mm(float(columns[0]), small_dpi),
        px_to_mm(float(rows[0]), small_dpi),
        px_to_mm(float(width - 1 - columns[-1]), small_dpi),
        px_to_mm(float(height - 1 - rows[-1]), small_dpi),
    )


def _frame_of(marks: NDArray[np.uint8], dpi: float) -> NDArray[np.uint8]:
    """The marks in the outer 30 mm: where there are any, the others decide nothing."""
    deep = round(mm_to_px(30.0, dpi))
    frame = marks.copy()
    frame[deep:-deep, deep:-deep] = 0
    return frame


def _shrunk(grey: Pixels, dpi: float, most_dpi: float) -> tuple[Pixels, float]:
    """(the item at about ``most_dpi`` where it is finer, its dpi)."""
    if dpi <= 1.3 * most_dpi:
        return grey, dpi
    height, width = grey.shape
    size = (max(1, round(width * most_dpi / dpi)), max(1, round(height * most_dpi / dpi)))
    return shrunk(grey, size), most_dpi


def _sharp_marks(grey: Pixels, dpi: float) -> NDArray[np.uint8]:
    """1 on dark strokes up to 2.5 mm wide, and on the dark side of every sharp border."""
    side = max(3, round(mm_to_px(2.5, dpi)) | 1)
    strokes = cv2.morphologyEx(grey, cv2.MORPH_BLACKHAT, np.ones((side, side), np.uint8))
    around = np.ones((3, 3), np.uint8)
    high, low = cv2.dilate(grey, around), cv2.erode(grey, around)
    step = high - low
    border = (step > 70) & (grey < low + step // 2)
    return ((strokes > 35) | border).astype(np.uint8)


def _without_edges(marks: NDArray[np.uint8], dpi: float) -> NDArray[np.uint8]:
    """Without the outer 0.6 mm and the lines that run 10 mm and more along the item's edge.

    Such a line is the shadow of the paper's edge when it begins within 1.5 mm of it and is no
    deeper than 3 mm.
    """
    rim, near, deep = (max(1, round(mm_to_px(mm, dpi))) for mm in (0.6, 1.5, 3.0))
    long = max(3, round(mm_to_px(10.0, dpi)))
    marks = marks.copy()
    marks[:rim] = marks[-rim:] = 0
    marks[:, :rim] = marks[:, -rim:] = 0
    for turn in range(4):
        strip = np.rot90(marks, turn)[:deep]
        band = cv2.morphologyEx(
            np.ascontiguousarray(strip), cv2.MORPH_CLOSE, np.ones((1, 9), np.uint8)
        )
        band = cv2.morphologyEx(band, cv2.MORPH_OPEN, np.ones((1, long), np.uint8))
        labels = cv2.connectedComponents(cv2.dilate(band, np.ones((3, 3), np.uint8)))[1]
        touching = np.unique(labels[:near])
        strip[np.isin(labels, touching[touching > 0])] = 0
    return marks


def _grouped(marks: NDArray[np.uint8], dpi: float) -> NDArray[np.bool_]:
    """The marks that belong to a group of 1.8 mm or more, no gap in it above 2 mm."""
    found = find_marks(marks)
    kept = found.drawn(np.maximum(found.boxes[:, 2], found.boxes[:, 3]) >= mm_to_px(0.7, dpi))
    # groups are told at half the size, which is enough for gaps of millimetres
    small = joined_pairs(kept, rows=True)
    side = 2 * max(1, round(mm_to_px(0.5, dpi))) + 1
    groups = find_marks(cv2.dilate(small, np.ones((side, side), np.uint8)))
    extent = 2 * (np.maximum(groups.boxes[:, 2], groups.boxes[:, 3]) - (side - 1))
    drawn = groups.drawn(extent >= mm_to_px(1.8, dpi))
    wanted = cv2.resize(drawn, None, fx=2, fy=2, interpolation=cv2.INTER_NEAREST)
    return np.asarray((kept > 0) & (wanted[: kept.shape[0], : kept.shape[1]] > 0))
