"""Page numbers that stand alone: a single digit is too small a thing for the model that finds text.

In the strip along the lower edge of an opening marks of the height of a digit are sought that have
a like mark in the same place of the other page; only such pairs are read. What is dark enough for
a mark is not known beforehand (faint numbers on a patterned ground, dark holes beside them), so
marks are sought at several depths.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cache, partial

import numpy as np
from numpy.typing import NDArray

from packet.recognition.boxes import Pixels

OPENING_MM = 176.0  # the width of an opening: two pages of ID-3 (ISO/IEC 7810)
_SEEN_PX_MM = 8.0  # 200 dpi are enough to find marks
_HEIGHT_MM = (1.2, 4.6)
_WIDTH_MM = (0.3, 7.5)
_JOIN_MM = 1.0  # gap between the digits of one number
_SHARED = 0.6  # of their height: marks of one line
_ALONE_MM = 1.6  # nothing of its height so near beside it
_SAME_PLACE_MM = 5.0
_SAME_LINE_MM = 1.5
_SLOPE = 0.045  # of the line through both: what is left of skew and of pages that do not lie flat
_LIKE_HEIGHT = 1.35
_MOST_PAIRS = 5
_PER_DEPTH = 1.5  # what each depth at which a pair shows is worth
_DEPTHS = (9.0, 13.0, 18.0, 25.0, 35.0, 50.0, 70.0)  # grey steps below the paper
_GROUND_MM = 8.0
_CLEAR = 0.5  # of the mark's own depth: so dark at most is what stands around it
_AROUND_MM = 0.7
# all of these: choice of this project, from drawn pages
Grey = NDArray[np.uint8]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Mark:
    """Pixels of the small strip."""

    x: float
    y: float
    w: float
    h: float

    @property
    def end(self) -> float:
        return self.x + self.w

    @property
    def foot(self) -> float:
        return self.y + self.h

    @property
    def middle(self) -> float:
        return self.x + self.w / 2


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkPair:
    """A mark on the left page and its like on the right one, as boxes to read."""

    left: NDArray[np.float32] = field(repr=False)
    right: NDArray[np.float32] = field(repr=False)


def mark_pairs(strip: Pixels) -> Iterator[MarkPair]:
    """Pairs of marks that may be page numbers, (h, W, 3) RGB; the likeliest pairs first."""
    small, scale = _small(strip)
    dark = _dark(small, scale)
    pairs: list[tuple[float, _Mark, _Mark]] = []
    for depth in _DEPTHS:
        marks = _marks(dark, depth, scale)
        left = [one for one in marks if one.middle < dark.shape[1] / 2]
        right = [one for one in marks if one.middle >= dark.shape[1] / 2]
        clear = cache(partial(_clear, dark, scale=scale))
        for a in left:
            for b in right:
                unlike = _unlike(a, b, dark.shape[1], scale)
                if unlike is not None and clear(a) and clear(b):
                    pairs.append((unlike + 8 / min(clear(a), clear(b)), a, b))
    back = strip.shape[1] / dark.shape[1]
    for a, b in _ranked(pairs)[:_MOST_PAIRS]:
        yield MarkPair(left=_box(a, back), right=_box(b, back))


def _ranked(pairs: list[tuple[float, _Mark, _Mark]]) -> list[tuple[_Mark, _Mark]]:
    """Each pair once, the likeliest first: what is printed shows at many depths, grain at one."""
    sets: list[list[tuple[float, _Mark, _Mark]]] = []
    for pair in sorted(pairs, key=lambda one: one[0]):
        for some in sets:
            if _over(pair[1], some[0][1]) and _over(pair[2], some[0][2]):
                some.append(pair)
                break
        else:
            sets.append([pair])
    sets.sort(key=lambda some: some[0][0] - _PER_DEPTH * len(some))
    return [some[0][1:] for some in sets]


def _small(strip: Pixels) -> tuple[Grey, float]:
    import cv2

    grey = cv2.cvtColor(strip, cv2.COLOR_RGB2GRAY)
    by = _SEEN_PX_MM * OPENING_MM / strip.shape[1]
    if by < 1:
        grey = cv2.resize(grey, None, fx=by, fy=by, interpolation=cv2.INTER_AREA)
    return np.asarray(grey, np.uint8), grey.shape[1] / OPENING_MM


def _dark(grey: Grey, scale: float) -> Grey:
    """By how many steps each pixel is darker than the paper about it."""
    import cv2

    side = round(_GROUND_MM * scale) | 1
    ground = cv2.blur(cv2.dilate(grey, np.ones((3, 3), np.uint8)), (side, side))
    return np.asarray(cv2.subtract(ground, cv2.GaussianBlur(grey, (0, 0), 0.1 * scale)), np.uint8)


def _marks(dark: Grey, depth: float, scale: float) -> list[_Mark]:
    """Connected marks of the height of a digit at this depth, alone on their line."""
    import cv2

    _, _, stats, _ = cv2.connectedComponentsWithStats((dark > depth).astype(np.uint8))
    high, wide = stats[1:, 3], stats[1:, 2]
    fits = (high > _HEIGHT_MM[0] * scale) & (high < _HEIGHT_MM[1] * scale)
    kept = stats[1:][fits & (wide > _WIDTH_MM[0] * scale)]
    boxes = [(float(x), float(y), float(w), float(h)) for x, y, w, h, _ in kept]
    return [_Mark(x=x, y=y, w=w, h=h) for x, y, w, h in _alone(_joined(boxes, scale), scale)]


_Box = tuple[float, float, float, float]  # x, y, width, height


def _joined(boxes: list[_Box], scale: float) -> list[_Box]:
    """Neighbours of one height on one line, put together."""
    joined: list[_Box] = []
    for box in sorted(boxes):
        last = joined[-1] if joined else None
        if last is not None and _level(last, box) and box[0] - last[0] - last[2] < _JOIN_MM * scale:
            top, foot = min(last[1], box[1]), max(last[1] + last[3], box[1] + box[3])
            end = max(last[0] + last[2], box[0] + box[2])
            joined[-1] = (last[0], top, end - last[0], foot - top)
        else:
            joined.append(box)
    return joined


def _alone(boxes: list[_Box], scale: float) -> list[_Box]:
    """Those that are narrow and have nothing of their height near beside them."""
    if not boxes:
        return []
    x, y, w, h = np.array(boxes).T
    gap = np.maximum(x - (x + w)[:, None], x[:, None] - (x + w))
    shared = np.minimum(y + h, (y + h)[:, None]) - np.maximum(y, y[:, None])
    beside = (shared > _SHARED * np.maximum(h, h[:, None])) & (gap <= _ALONE_MM * scale)
    np.fill_diagonal(beside, False)
    kept = ~beside.any(1) & (w < _WIDTH_MM[1] * scale)
    return [box for box, keep in zip(boxes, kept, strict=True) if keep]


def _level(one: _Box, other: _Box) -> bool:
    shared = min(one[1] + one[3], other[1] + other[3]) - max(one[1], other[1])
    return shared > _SHARED * max(one[3], other[3])


def _clear(dark: Grey, mark: _Mark, *, scale: float) -> float:
    """Depth of a mark's ink over that of what is around it; 0 where it does not stand out."""
    x, y, w, h = (round(value) for value in (mark.x, mark.y, mark.w, mark.h))
    reach = max(2, round(_AROUND_MM * scale))
    x0, y0 = max(0, x - reach), max(0, y - reach)
    part = dark[y0 : y + h + reach, x0 : x + w + reach]
    around = np.ones(part.shape, bool)
    around[y - y0 - 1 : y - y0 + h + 1, x - x0 - 1 : x - x0 + w + 1] = False
    own = float(np.percentile(dark[y : y + h, x : x + w], 90))
    other = float(np.percentile(part[around], 80)) if around.any() else 0.0
    return own / max(other, 4.0) if other < _CLEAR * own else 0.0


def _unlike(left: _Mark, right: _Mark, width: float, scale: float) -> float | None:
    """How little the places and heights are those of a pair; None where they are none."""
    tall = max(left.h, right.h) / min(left.h, right.h)
    apart = right.middle - left.middle
    off = abs(left.foot - right.foot) - _SLOPE * apart
    a, b = left.middle, right.middle
    aside = min(abs(a + b - width), abs(b - a - width / 2)) / scale
    if tall > _LIKE_HEIGHT or off > _SAME_LINE_MM * scale or aside > _SAME_PLACE_MM:
        return None
    return aside + 6 * (tall - 1)


def _over(one: _Mark, other: _Mark) -> bool:
    """One and the same mark, seen at two depths."""
    return (
        abs(one.middle - other.middle) < 0.3 * other.h
        and abs(one.foot - other.foot) < 0.2 * other.h
    )


def _box(mark: _Mark, back: float) -> NDArray[np.float32]:
    """The mark with room around it, its corners clockwise from the top left."""
    aside, above = 0.5 * mark.h, 0.3 * mark.h
    x0, x1 = mark.x - aside, mark.end + aside
    y0, y1 = mark.y - above, mark.foot + above
    return np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)], np.float32) * np.float32(back)
