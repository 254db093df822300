"""Marks on a small picture: what hangs together, and levels read from a histogram."""

from __future__ import annotations

from dataclasses import dataclass, field

import cv2
import numpy as np
from numpy.typing import NDArray

from packet.imaging.geometry import Pixels

_SPARSE = 0.2  # share of marked pixels up to which they are looked at one by one


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Marks:
    """What hangs together, 8 ways. Row 0 of ``boxes`` is the ground and says nothing.

    ``labels``: (h, w) row of each pixel; ``boxes``: (n, 5) x, y, width, height, area;
    ``places``: flat indices of the marked pixels, in rising order.
    """

    labels: NDArray[np.int32] = field(repr=False)
    boxes: NDArray[np.int64] = field(repr=False)
    places: NDArray[np.int64] = field(repr=False)

    def drawn(self, wanted: NDArray[np.bool_]) -> NDArray[np.uint8]:
        """A picture of the wanted rows: 255 where they are, else 0; never the ground."""
        picture = np.zeros(self.labels.shape, np.uint8)
        shades = wanted.astype(np.uint8) * 255
        picture.ravel()[self.places] = shades[self.labels.ravel()[self.places]]
        return picture


def find_marks(marks: Pixels) -> Marks:
    """The connected parts of what is not 0 in (h, w) uint8.

    Boxes are taken from the marked pixels alone where these are few, as on paper.
    """
    if cv2.countNonZero(marks) > _SPARSE * marks.size:
        return _of_many(marks)
    count, found = cv2.connectedComponentsWithAlgorithm(marks, 8, cv2.CV_32S, cv2.CCL_WU)
    labels = np.asarray(found, np.int32)
    places = np.flatnonzero(marks != 0)
    first, last = _runs(places, marks.shape[1])
    names = labels.ravel()[first].astype(np.int64)
    y = first // marks.shape[1]
    begin, end = first - y * marks.shape[1], last - y * marks.shape[1]
    left, right, top, bottom = np.zeros((4, count), np.int64)
    left += marks.shape[1]
    np.minimum.at(left, names, begin)
    np.maximum.at(right, names, end)
    bottom[names], top[names[::-1]] = y, y[::-1]  # of equal indices the last one stays
    area = np.bincount(names, end - begin + 1, minlength=count).astype(np.int64)
    boxes = np.stack([left, top, right - left + 1, bottom - top + 1, area], axis=1)
    return Marks(labels=labels, boxes=boxes, places=places)


def _runs(places: NDArray[np.int64], width: int) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """(first, last) places of what is marked without a gap in one row."""
    begins = np.ones(len(places) + 1, bool)  # and beyond the last one
    begins[1:-1] = np.diff(places) != 1
    rows = np.arange(0, places[-1] + 1 if len(places) else 0, width)
    begins[np.searchsorted(places, rows)] = True
    at = np.flatnonzero(begins)
    return places[at[:-1]], places[at[1:] - 1]


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


def _of_many(marks: Pixels) -> Marks:
    _, labels, boxes, _ = cv2.connectedComponentsWithStatsWithAlgorithm(
        marks, 8, cv2.CV_32S, cv2.CCL_WU
    )
    return Marks(
        labels=np.asarray(labels, np.int32),
        boxes=np.asarray(boxes, np.int64),
        places=np.flatnonzero(marks),
    )


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
    return cv2.countNonZero(cv2.compare(grey, level, cv2.CMP_LE)) < wanted
