"""What a found item is and how it is held, from its look alone; no word of it is read.

What has the shape of a sheet is told apart by ``sheet_look``. The two sides of a card: a
machine-readable zone, a stripe or a bar code are on the back, a portrait on the front (common
practice, no source).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from packet.imaging.expected import Expected
from packet.imaging.geometry import Pixels, Quads, percentile
from packet.imaging.marks import dark_areas, has_bar_code, has_stripe, level_at
from packet.imaging.rectify import shrunk
from packet.imaging.sheet_look import (
    has_fold,
    is_printed_on_half,
    likeliest,
    look_of,
    lying,
    wide_rows,
)
from packet.imaging.sizing import Sized, size_as_kind
from packet.imaging.upright import Print, read_print, turn_and_mirror
from packet.model import Kind, SizeMm, Turn
from packet.rules.sizes import card_size_mm, kind_sizes_mm

_SHEET_SHAPES = (1.37, 1.46)
# lengths of the item: of 380 drawn sides of cards fronts have up to 4.5, backs up to 8.9 where a
# zone, a stripe or a code is on them, too; tickets may have a stripe or a code
_CARD_TEXT, _MARKED_TEXT, _BACK_TEXT = 6.0, 9.0, 12.0
# share of the width that the machine-readable zone of a card takes: 30 signs, ten an inch, are
# 0.89 of 85.6 mm and 0.72 of 105 mm (ICAO Doc 9303 parts 3 and 5; the pitch from memory)
_CARD_ZONE = 0.65
# share of the height that the three lines of a TD1 card's zone take at least: 11 mm of 54 (ICAO Doc
# 9303 part 5; the pitch of lines from memory); a title of two lines takes 8
_CARD_ZONE_HIGH = 0.17
_ROWS_SIZE = (280, 176)  # a card at so few pixels that a line of print is one row, sharp or not
_ROW_SHARE = 25  # per cent of the width that may lack print: text beside a portrait lacks more
_ROW_INK = (
    0.36  # of the strongest print: drawn fronts have less in a third row, backs 0.37 and more
)
_WHITE, _WHITE_PAPER = 250, 230  # levels: of a reflection, and of paper too light to tell it
_MOST_HIDDEN = 0.5  # of a row
_ROW_TRACE = 0.15  # of a row of which a part is hidden, where two beside it are whole
_ZONE_STEP, _EVEN = 13.8, 0.3  # from row to row, a sixth of an inch; logarithm either way
_FARTHER = 1.7  # times the step from row to row
_ONE_ROW = 6  # closer tops are those of one row, a little askew
_NEARLY_EVEN = 0.4  # of rows of which a reflection hides some
_MOST_MISS = 0.1  # logarithm, of a tilted card's shape
_TILTED = 0.45  # logarithm: rows near the far end of a tilted card lie closer
_RIM = 6
_LEAST_INK = 0.03  # relative contrast
_FRONTS = (Kind.ID_CARD_FRONT, Kind.PERMIT_FRONT, Kind.TAX_CARD_FRONT)
_BACKS = (Kind.ID_CARD_BACK, Kind.PERMIT_BACK, Kind.TAX_CARD_BACK)


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
    if kinds:
        sized = _td1_card(grey, quad, sized, kinds, expected) or sized
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


def _td1_card(
    grey: Pixels, quad: Quads, sized: Sized, kinds: Sequence[Kind], expected: Expected
) -> Sized | None:
    """The ID-1 card that a tilted outline may be, though it is nearer to a sheet's shape: by its
    machine-readable zone."""
    backs = [kind for kind in kinds if kind in _BACKS]
    if not backs or expected.px_per_mm is not None or sized.basis != "kind":
        return None
    upright = grey.shape[0] > grey.shape[1]
    long, short = card_size_mm("id-1")
    size_mm = (short, long) if upright else (long, short)
    aspect, _ = expected.aspect_of(quad)
    miss = abs(np.log(max(aspect, 1e-6) * size_mm[1] / size_mm[0]))
    if _is_size(sized.size_mm, size_mm) or miss > _MOST_MISS:
        return None
    found = has_td1_zone(lying(grey))
    return replace(sized, kind=backs[0], size_mm=size_mm) if found else None


def _cover_size(grey: Pixels) -> SizeMm:
    """As shown: open covers have a fold down the middle, or all print on the front's half; one
    cover by itself has their shape."""
    upright = grey.shape[0] > grey.shape[1]
    folded = has_fold(lying(grey)) or is_printed_on_half(lying(grey))
    sizes = [(max(size), min(size)) for size in kind_sizes_mm(Kind.PASSPORT_COVER)]
    long, short = max(sizes) if folded else min(sizes)
    return (short, long) if upright else (long, short)


def kind_by_look(
    grey: Pixels, printed: Print, sized: Sized, kinds: Sequence[Kind], expected: Expected
) -> Kind:
    """The kind that the look speaks for among those that fit shape and, where trusted, size."""
    shape = max(sized.size_mm) / min(sized.size_mm)
    if _is_size(sized.size_mm, card_size_mm("id-1")):
        if Kind.OTHER in kinds and expected.px_per_mm is None and _is_full_of_text(grey, printed):
            return Kind.OTHER
        return _card_side(grey, printed, sized.kind, kinds)
    if not _SHEET_SHAPES[0] < shape < _SHEET_SHAPES[1]:
        return sized.kind
    for group in likeliest(look_of(grey, printed)):
        wanted = [kind for kind in kinds if kind in group and _may_be(kind, sized, expected)]
        if wanted and wanted[0] in _FRONTS + _BACKS:
            return _card_side(grey, printed, wanted[0], kinds)
        if wanted:
            return sized.kind if sized.kind in wanted else wanted[0]
    return sized.kind


def _is_full_of_text(grey: Pixels, printed: Print) -> bool:
    """More lines than a card holds: a ticket or slip of its shape. Backs may hold many."""
    text = max(printed.down.length, printed.across.length) / max(grey.shape)
    if text < _CARD_TEXT or (text < _BACK_TEXT and has_zone_at_end(lying(grey))):
        return False
    return text > _MARKED_TEXT or not _has_back_mark(grey, printed)


def _may_be(kind: Kind, sized: Sized, expected: Expected) -> bool:
    """Any kind of the shape where no scale is known, else one of the size that was measured."""
    if expected.px_per_mm is None or sized.measured_mm is None or sized.kind is kind:
        return True
    return any(_is_size(sized.size_mm, size) for size in kind_sizes_mm(kind))


def _is_size(one: SizeMm, other: SizeMm) -> bool:
    return all(abs(a - b) < 1.5 for a, b in zip(sorted(one), sorted(other), strict=True))


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
    """A machine-readable zone, lines over the whole width, a stripe or a bar code is seen.

    Two lines over the whole width may be a front's title; a zone has three.
    """
    if has_zone_rows(lying(grey)) or _has_back_mark(grey, printed):
        return True
    lines, contrast = printed.along(printed.main_axis)
    return wide_rows(lines.boxes, contrast.shape[1]) > 2


def _has_back_mark(grey: Pixels, printed: Print) -> bool:
    """A zone, a stripe, a bar code of such a size."""
    _, contrast = printed.along(printed.main_axis)
    high, width = contrast.shape
    zone = printed.zones[printed.main_axis]
    if zone is not None and zone[2] > _CARD_ZONE * width and zone[3] > _CARD_ZONE_HIGH * high:
        return True
    wide = lying(grey)
    areas = dark_areas(wide)
    return (
        has_stripe(areas, wide.shape) or _has_blurred_bars(areas, wide.shape) or has_bar_code(wide)
    )


def has_zone_rows(grey: Pixels) -> bool:
    """Three rows of print run from side to side of a card with its long side along x, as those of
    a machine-readable zone do, in focus or not; a finger may hide part of one of them. Where a
    reflection hides some of the card, they must lie as close as those of a zone: it may hide just
    what the print of a front lacks."""
    places, inks, hidden = _full_rows(grey)
    full = inks > _ROW_INK
    if full.sum() > 2 and not hidden:
        return True
    close = np.abs(np.log(np.diff(places) / _ZONE_STEP)) < (_NEARLY_EVEN if hidden else _EVEN)
    whole = full[:-2].astype(int) + full[1:-1] + full[2:]
    return bool(np.any(close[:-1] & close[1:] & (whole > 1)))


def has_td1_zone(grey: Pixels) -> bool:
    """Three rows from side to side and no more, close together in the foot or, held upside down,
    in the head: the zone of an ID-1 card, the only one of three lines (ICAO Doc 9303 part 5)."""
    places, inks, _ = _full_rows(grey)
    places = places[inks > _ROW_INK]
    if len(places) != 3:
        return False
    apart = np.log((places[2] - places[0]) / (2 * _ZONE_STEP))
    half = _ROWS_SIZE[1] / 2
    return bool(abs(apart) < _TILTED and (places.min() > half or places.max() < half))


def has_zone_at_end(grey: Pixels) -> bool:
    """The first or the last three rows from side to side lie as those of a zone do, and the next
    one is much farther off: what is printed in lines all over a slip has one step."""
    places, inks, _ = _full_rows(grey)
    if len(places) < 3:
        return False
    for rows, ink in ((places, inks), (places[-1] - places[::-1], inks[::-1])):
        if np.sum(ink[:3] > _ROW_INK) < 2:
            continue
        steps = np.diff(rows)
        zone = abs(np.log(steps[:2].mean() / _ZONE_STEP)) < _EVEN / 2
        apart = len(steps) == 2 or steps[2] > _FARTHER * steps[:2].mean()
        if zone and apart and steps[:2].max() < _FARTHER * steps[:2].min():
            return True
    return False


def _full_rows(grey: Pixels) -> tuple[NDArray[np.int64], NDArray[np.float64], bool]:
    """(places in 176 rows, ink) of rows of print that run from side to side, but for what a
    reflection hides of them; does one?"""
    small = shrunk(grey, _ROWS_SIZE)
    paper = cv2.morphologyEx(small, cv2.MORPH_CLOSE, np.ones((13, 13), np.uint8))
    contrast = cv2.subtract(paper, small).astype(np.float32) / np.maximum(paper, 40)
    part = slice(_RIM, -_RIM), slice(14, -14)
    ink, hidden = cv2.blur(contrast, (9, 1))[part], _whitened(small)[part]
    hidden &= hidden.mean(axis=1, keepdims=True) < _MOST_HIDDEN
    if hidden.any():
        rows = np.nanpercentile(np.where(hidden, np.nan, ink), _ROW_SHARE, axis=1)
    else:
        rows = _quarters(ink)
    strongest = max(percentile(ink[~hidden], 97), _LEAST_INK)
    places, inks = _tops(np.asarray(rows, np.float64) / strongest)
    return places + _RIM, inks, bool(hidden.any())


def _quarters(rows: NDArray[Any]) -> NDArray[np.float64]:
    """The 25th percentile of each row."""
    low = (rows.shape[1] - 1) * _ROW_SHARE // 100
    share = (rows.shape[1] - 1) * _ROW_SHARE / 100 - low
    ordered = np.partition(rows, (low, low + 1), axis=1)
    return np.asarray(ordered[:, low] + share * (ordered[:, low + 1] - ordered[:, low]), np.float64)


def _whitened(grey: Pixels) -> NDArray[np.bool_]:
    """Where a reflection has whitened paper that is darker elsewhere, and close to there."""
    if level_at(grey, 50) > _WHITE_PAPER:
        return np.zeros(grey.shape, bool)
    white = cv2.morphologyEx((grey >= _WHITE).astype(np.uint8), cv2.MORPH_OPEN, np.ones((5, 5)))
    return np.asarray(cv2.dilate(white, np.ones((15, 15))) > 0)


def _tops(level: NDArray[np.float64]) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """(places, levels) of the tops of a profile, each higher than ``_ROW_TRACE`` and parted from
    the next by a fall to half; of two closer than rows ever are the higher one."""
    tops: list[int] = []
    rising = False
    for place, value in enumerate(level):
        if rising and value > level[tops[-1]]:
            tops[-1] = place
        elif rising:
            rising = value > level[tops[-1]] / 2
        elif value > _ROW_TRACE:
            tops.append(place)
            rising = True
    rows: list[int] = []
    for top in tops:
        if not rows or top - rows[-1] >= _ONE_ROW:
            rows.append(top)
        elif level[top] > level[rows[-1]]:
            rows[-1] = top
    places = np.array(rows, np.int64)
    return places, level[places]


def _has_blurred_bars(areas: NDArray[np.int64], shape: tuple[int, ...]) -> bool:
    """A bar code out of focus: dark areas as high as one another in a row, and no portrait."""
    height, width = shape
    across, down = areas[:, 2] / width, areas[:, 3] / height
    if np.any((across > 0.08) & (across < 0.5) & (down > 0.25)):
        return False
    middle = areas[:, 1] + areas[:, 3] / 2
    bar = (down > 0.08) & (down < 0.24)
    bar &= (areas[:, 1] > 0.03 * height) & (areas[:, 1] + areas[:, 3] < 0.97 * height)
    return any(
        across[
            (np.abs(middle - middle[one]) < 0.25 * areas[one, 3])
            & (np.abs(areas[:, 3] - areas[one, 3]) < 0.35 * areas[one, 3])
        ].sum()
        > 0.3
        for one in np.flatnonzero(bar)
    )
