"""Marks on a picture: what hangs together, bars and stripes, and levels read from a histogram."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from packet.imaging.geometry import Pixels
from packet.imaging.rectify import shrunk

_MOST_SHORT = np.iinfo(np.uint16).max - 1  # labels, beside the ground's, that 16 bits hold
_BARS_FILL = 0.6  # of its own box; a chip beside a portrait fills less of theirs
_NO_RUNS = np.zeros((3, 0), np.int64)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Marks:
    """What hangs together, 8 ways. Row 0 of ``boxes`` is the ground and says nothing.

    ``labels``: (h, w) row of each pixel; ``boxes``: (n, 5) x, y, width, height, area. ``runs``:
    (3, m) of the marked pixels of one row without a gap, in reading order: flat index of the
    first, how many, and their row of ``boxes``.
    """

    labels: NDArray[Any] = field(repr=False)
    boxes: NDArray[np.int64] = field(repr=False)
    runs: NDArray[np.int64] = field(repr=False)

    def drawn(self, wanted: NDArray[np.bool_]) -> NDArray[np.uint8]:
        """A picture of the wanted rows: 255 where they are, else 0; never the ground."""
        first, long, name = self.runs
        first, long = first[wanted[name]], long[wanted[name]]
        after = np.cumsum(long)
        total = int(after[-1]) if len(after) else 0
        picture = np.zeros(self.labels.shape, np.uint8)
        picture.ravel()[np.repeat(first - (after - long), long) + np.arange(total)] = 255
        return picture


def find_marks(marks: Pixels) -> Marks:
    """The connected parts of what is not 0 in (h, w) uint8.

    Boxes are taken from runs, for these are few; so are labels, of which there is no more than one
    for each run before they are joined.
    """
    row, begin, end = _runs(marks)
    if not len(row):
        nothing = np.zeros(marks.shape, np.uint16)
        return Marks(labels=nothing, boxes=np.zeros((1, 5), np.int64), runs=_NO_RUNS)
    short = len(row) <= _MOST_SHORT
    count, labels = cv2.connectedComponentsWithAlgorithm(
        marks, 8, cv2.CV_16U if short else cv2.CV_32S, cv2.CCL_WU
    )
    name = labels[row, begin].astype(np.int64)
    left, right, top, bottom = np.zeros((4, count), np.int64)
    left += marks.shape[1]
    np.minimum.at(left, name, begin)
    np.maximum.at(right, name, end)
    bottom[name], top[name[::-1]] = row, row[::-1]  # of equal indices the last one stays
    area = np.bincount(name, end - begin, minlength=count).astype(np.int64)
    return Marks(
        labels=np.asarray(labels),
        boxes=np.stack([left, top, right - left, bottom - top + 1, area], axis=1),
        runs=np.stack([row * marks.shape[1] + begin, end - begin, name]),
    )


def _runs(marks: Pixels) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.int64]]:
    """(row, first column, column after the last) of what is marked without a gap in one row."""
    high, wide = marks.shape
    stride = wide + 1  # with a gap before each row
    flat = np.zeros(high * stride + 1, bool)
    np.not_equal(marks, 0, out=flat[:-1].reshape(high, stride)[:, 1:])
    changes = np.flatnonzero(flat[1:] != flat[:-1])
    row = changes[::2] // stride
    return row, changes[::2] - row * stride, changes[1::2] - row * stride


def joined_pairs(marks: Pixels, *, rows: bool) -> Pixels:
    """(h, w) uint8 with each pair of columns as one, 1 where either is marked; with ``rows`` each
    pair of rows too."""
    high, wide = marks.shape
    even = cv2.copyMakeBorder(
        marks, 0, high % 2 if rows else 0, 0, wide % 2, cv2.BORDER_CONSTANT, value=0
    )
    pairs = even.view(np.uint16)
    seen = pairs[::2] | pairs[1::2] if rows else pairs
    return np.asarray((seen != 0).view(np.uint8), np.uint8)


def ranked(levels: Pixels, place: int) -> Pixels:
    """(...) uint8: the level of that place, from the lowest, among each of (n, ...) of uint8.

    Bit by bit, by counting what lies below: several times quicker than to put them in order.
    """
    count = np.min_scalar_type(len(levels))
    found = np.zeros(levels.shape[1:], np.uint8)
    for bit in (128, 64, 32, 16, 8, 4, 2, 1):
        more = found | np.uint8(bit)
        below = np.add.reduce((levels < more).view(np.uint8), axis=0, dtype=count)
        found = np.where(below <= place, more, found)
    return found


def level_at(grey: Pixels, percent: float) -> int:
    """The grey level that so many per cent of the pixels do not exceed."""
    low, high = 0, 255
    while low < high:  # quicker than a histogram, where most pixels are paper
        middle = (low + high) // 2
        if is_above(grey, percent, middle):
            low = middle + 1
        else:
            high = middle
    return low


def is_above(grey: Pixels, percent: float, level: int) -> bool:
    """Whether ``level_at`` so many per cent is above a level."""
    wanted = np.float32(percent / 100) * np.float32(grey.size)
    return bool(np.count_nonzero(grey <= level) < wanted)


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
    large = (boxes[:, 2] > 0.25 * size[0]) & (boxes[:, 3] >= 0.07 * size[1])
    return bool(np.any(large & (boxes[:, 4] > _BARS_FILL * boxes[:, 2] * boxes[:, 3])))


def dark_areas(grey: Pixels, *, below: float = 0.7) -> NDArray[np.int64]:
    """(n, 4) boxes of what stays dark when everything narrower than 3.5 % is filled: below a share
    of the median."""
    small = shrunk(grey, (max(1, grey.shape[1] // 2), max(1, grey.shape[0] // 2)))
    side = max(3, round(0.035 * small.shape[1]) | 1)
    filled = cv2.morphologyEx(small, cv2.MORPH_CLOSE, np.ones((side, side), np.uint8))
    dark = (filled < below * level_at(filled, 50)).astype(np.uint8)
    return 2 * find_marks(dark).boxes[1:, :4]


def has_stripe(areas: NDArray[np.int64], shape: tuple[int, ...]) -> bool:
    """One of the dark areas of a (height, width) picture runs from side to side, and is a band off
    its head and foot: a magnetic stripe."""
    height, width = shape
    return any(
        w > 0.9 * width
        and 0.1 * height < h < 0.35 * height
        and y > 0.03 * height
        and y + h < 0.97 * height
        for _, y, w, h in areas
    )
