"""How far an item goes on beyond the edge of the picture: told by the look of what is seen.

Three sides leave open which of the wanted sizes it has. Stock, fold, height of the type against
the paper's and background print speak for one of them; the more of it would be hidden, the less
likely it is (weights: common practice, no source).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from packet.imaging.expected import Expected
from packet.imaging.flat import flatten
from packet.imaging.geometry import Pixels, Quads, signed_area
from packet.imaging.layout_cues import has_zone_rows
from packet.imaging.quality import seen_part
from packet.imaging.sheet_look import (
    PAPERS,
    Look,
    Paper,
    has_fold,
    is_cover,
    look_of,
    lying,
    odds_of,
)
from packet.imaging.upright import read_print
from packet.imaging.view import View
from packet.model import Kind, SizeMm
from packet.rules.sizes import card_size_mm, kind_sizes_mm, paper_size_mm

_MOST_HIDDEN = 0.55  # of an item
_HIDDEN = 0.15  # of an item: by so much more of it hidden, the odds fall by one
_LEAST_COVERED = 0.97  # of what is seen
_SAME_SHAPE = 0.02  # logarithm
_ZONE_ROWS = 3.0  # log-odds, for a card

_CARD = Paper(
    kinds=(Kind.ID_CARD_FRONT, Kind.ID_CARD_BACK), long_mm=card_size_mm("id-1")[0], rare=0.0,
    most_text=8.0, across=0.95, type_mm=2.2, type_spread=0.4, zone=(3.0, 0.0, 0.0, 0.0),
)  # fmt: skip
_CARD_SIZES_MM = tuple(
    size for w, h in kind_sizes_mm(Kind.ID_CARD_FRONT) for size in ((w, h), (h, w))
)
_OTHER_CARD = -3.0  # log-odds of the larger formats, where a card is said to be there
_LETTER = Paper(
    kinds=(Kind.LETTER_PAGE,), long_mm=paper_size_mm("letter")[1], rare=3.0, tinted=False,
    most_text=math.inf, across=0.15, fold=(-1.5, 0.0),
)  # fmt: skip


def whole_by_look(
    view: View, levels: Sequence[Pixels], quad: Quads, side: int, expected: Expected
) -> Quads | None:
    """The whole item (source pixels) of which ``side`` of ``quad`` cannot be seen, in a photo;
    None where no wanted size goes on beyond the picture. ``levels``: the picture and its halves.
    """
    cards = set(expected.sizes_mm) <= set(_CARD_SIZES_MM)
    best: tuple[float, Quads] | None = None
    least_px = _LEAST_COVERED * _seen_px(view, quad)
    for size_mm, sizes in _shapes(expected.sizes_mm):
        for whole in replace(expected, sizes_mm=(size_mm,)).wholes_of(quad, side):
            hidden = float(view.outside(view.to_view(whole)[None])[0])
            if hidden > _MOST_HIDDEN or _seen_px(view, whole) < least_px:
                continue
            if cards:
                odds = 0.0 if _is_usual_card(sizes) else _OTHER_CARD
            else:
                odds = _odds(_flat(levels, whole, size_mm, expected), side, 1 - hidden, sizes)
            odds -= hidden / _HIDDEN
            if best is None or odds > best[0]:
                best = odds, whole
    return None if best is None else best[1]


def _is_usual_card(sizes: Sequence[SizeMm]) -> bool:
    return any(abs(max(size) - _CARD.long_mm) < 1.0 for size in sizes)


def _seen_px(view: View, quad: Quads) -> float:
    """Area in the picture."""
    return abs(signed_area(quad)) * (1 - float(view.outside(view.to_view(quad)[None])[0]))


def _shapes(sizes_mm: Sequence[SizeMm]) -> list[tuple[SizeMm, list[SizeMm]]]:
    """(one size, all of its shape), for each shape among the sizes."""
    shapes: list[tuple[SizeMm, list[SizeMm]]] = []
    for size in sizes_mm:
        for first, same in shapes:
            if abs(math.log(size[0] * first[1] / size[1] / first[0])) < _SAME_SHAPE:
                same.append(size)
                break
        else:
            shapes.append((size, [size]))
    return shapes


def _flat(levels: Sequence[Pixels], whole: Quads, size_mm: SizeMm, expected: Expected) -> Pixels:
    """An item in grey, what lies outside the picture at the level of the rest."""
    flat = flatten(levels, whole, size_mm)
    return seen_part(flat.grey, whole, width_px=expected.width_px, height_px=expected.height_px)


def _look(grey: Pixels, side: int, seen: float) -> Look:
    """Of an item of which ``seen`` is the share that can be seen, from the other side on."""
    look = look_of(grey, read_print(grey))
    upright = grey.shape[0] > grey.shape[1]
    if upright != (side % 2 == 0):  # the long side is seen: a fold across it ends where it is cut
        part = _towards_base(grey, side, max(0.3, seen))
        wide = np.ascontiguousarray(np.rot90(part, -1)) if upright else part
        look = replace(look, folded=has_fold(wide))
    return look


def _towards_base(grey: Pixels, side: int, share: float) -> Pixels:
    """The share of an item that lies at the side opposite to ``side``."""
    high, wide = grey.shape
    rows, columns = round(share * high), round(share * wide)
    parts = (grey[high - rows :], grey[:, :columns], grey[:rows], grey[:, wide - columns :])
    return parts[side]


def _odds(grey: Pixels, side: int, seen: float, sizes: Sequence[SizeMm]) -> float:
    """Of the likeliest paper that has one of these sizes."""
    look = _look(grey, side, seen)
    if is_cover(look):
        covers = {tuple(sorted(size)) for size in kind_sizes_mm(Kind.PASSPORT_COVER)}
        return 0.0 if any(tuple(sorted(size)) in covers for size in sizes) else -10.0
    longs = [max(size) for size in sizes]
    odds = [
        odds_of(look, one)
        for one in (*PAPERS, _LETTER)
        if any(abs(one.long_mm - x) < 1.0 for x in longs)
    ]
    if any(abs(_CARD.long_mm - x) < 1.0 for x in longs):
        odds.append(odds_of(look, _CARD) + _ZONE_ROWS * has_zone_rows(lying(grey)))
    return max(odds, default=-10.0)
