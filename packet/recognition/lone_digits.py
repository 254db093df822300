"""Page numbers that stand alone: a single digit is too small a thing for the model that finds text.

In the strip along the lower edge of an opening dark marks of the height of a digit are sought that
have a like mark in the same place of the other page; only such pairs are read.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from packet.recognition.boxes import Pixels

if TYPE_CHECKING:
    from packet.recognition.engine import Engine

OPENING_MM = 176.0  # the width of an opening: two pages of ID-3 (ISO/IEC 7810)
_HEIGHT_MM = (1.2, 4.6)
_WIDTH_MM = (0.3, 7.5)
_JOIN_MM = 1.0  # gap between the digits of one number
_ALONE_MM = 4.0  # nothing of its height so near beside it
_SAME_PLACE_MM = 5.0
_SAME_LINE_MM = 1.5
_MOST_PAIRS = 4
_LEAST_CONTRAST = 22.0
_GROUND_MM = 8.0
Mark = tuple[float, float, float, float]  # x, y, width, height in pixels


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkPair:
    """A mark on the left page and its like on the right one, as boxes to read."""

    left: NDArray[np.float32]
    right: NDArray[np.float32]


def mark_pairs(strip: Pixels) -> Iterator[MarkPair]:
    """Pairs of marks that may be page numbers, (h, W, 3) RGB; the likeliest pairs first."""
    scale = strip.shape[1] / OPENING_MM
    marks = _alone(_joined(_marks(strip, scale), scale), scale)
    middle = strip.shape[1] / 2
    left = [one for one in marks if one[0] + one[2] / 2 < middle]
    right = [one for one in marks if one[0] + one[2] / 2 >= middle]
    pairs = [
        (_unlike(a, b, strip.shape[1]) / scale, a, b)
        for a, b in product(left, right)
        if abs(_foot(a) - _foot(b)) < _SAME_LINE_MM * scale
    ]
    pairs = [one for one in pairs if one[0] < _SAME_PLACE_MM]
    for _, a, b in sorted(pairs)[:_MOST_PAIRS]:
        yield MarkPair(left=_box(a), right=_box(b))


def _marks(strip: Pixels, scale: float) -> list[Mark]:
    """Dark connected marks of the height of a digit."""
    import cv2

    grey = cv2.cvtColor(strip, cv2.COLOR_RGB2GRAY)
    side = round(_GROUND_MM * scale) | 1
    ground = cv2.blur(cv2.dilate(grey, np.ones((3, 3), np.uint8)), (side, side))
    dark = cv2.subtract(ground, cv2.GaussianBlur(grey, (0, 0), 0.08 * scale))
    least = max(_LEAST_CONTRAST, 0.4 * float(np.percentile(dark, 99.8)))
    _, _, stats, _ = cv2.connectedComponentsWithStats((dark > least).astype(np.uint8))
    return [
        (float(x), float(y), float(w), float(h))
        for x, y, w, h, _ in stats[1:]
        if _HEIGHT_MM[0] * scale < h < _HEIGHT_MM[1] * scale
        and _WIDTH_MM[0] * scale < w < _WIDTH_MM[1] * scale
    ]


def _joined(marks: list[Mark], scale: float) -> list[Mark]:
    """Neighbours of one height on one line, put together."""
    joined: list[Mark] = []
    for mark in sorted(marks):
        last = joined[-1] if joined else None
        if last is not None and _level(last, mark) and mark[0] - _end(last) < _JOIN_MM * scale:
            top = min(last[1], mark[1])
            foot = max(_foot(last), _foot(mark))
            joined[-1] = (last[0], top, _end(mark) - last[0], foot - top)
        else:
            joined.append(mark)
    return [one for one in joined if one[2] < _WIDTH_MM[1] * scale]


def _alone(marks: list[Mark], scale: float) -> list[Mark]:
    def apart(one: Mark, other: Mark) -> bool:
        gap = max(other[0] - _end(one), one[0] - _end(other))
        return not _level(one, other) or gap > _ALONE_MM * scale

    return [one for one in marks if all(apart(one, other) for other in marks if other is not one)]


def _level(one: Mark, other: Mark) -> bool:
    shared = min(_foot(one), _foot(other)) - max(one[1], other[1])
    return shared > 0.6 * max(one[3], other[3])


def _unlike(left: Mark, right: Mark, width: float) -> float:
    """How far the two are from the same place of their pages, mirrored or not, in pixels."""
    a, b = left[0] + left[2] / 2, right[0] + right[2] / 2
    return min(abs(a + b - width), abs(b - a - width / 2)) + abs(left[3] - right[3])


def _end(mark: Mark) -> float:
    return mark[0] + mark[2]


def _foot(mark: Mark) -> float:
    return mark[1] + mark[3]


def _box(mark: Mark) -> NDArray[np.float32]:
    """The mark with room around it, its corners clockwise from the top left."""
    x, y, w, h = mark
    aside, above = 0.5 * h, 0.3 * h
    x0, x1, y0, y1 = x - aside, x + w + aside, y - above, y + h + above
    return np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)], np.float32)


def read_pair(engine: Engine, strip: Pixels, pair: MarkPair) -> tuple[tuple[str, float], ...]:
    """(text, score) of both marks."""
    from packet.recognition.lines import read_line

    return tuple(read_line(engine, strip, box) for box in (pair.left, pair.right))
