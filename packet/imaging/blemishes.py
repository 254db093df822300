"""What lies over an item and is no print: fingers over its edge, shadows that evening out left.

Both are looked for on the toned item at about 50 dpi, print filled up: what stays dark there is
larger than any stroke. All lengths are millimetres on the item.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from packet.imaging.geometry import Pixels
from packet.imaging.marks import find_marks, level_at
from packet.imaging.rectify import shrunk
from packet.units import mm_to_px, px_to_mm

_DPI = 50.0
_FILLED_MM = 3.5  # strokes, letters and lines up to this wide are filled up
_COVERED = 0.72  # of the paper's level
_SHADED = 0.84
_DARK_ITEM = 110  # of 255: on darker items nothing of this can be told
_FINGER_MM = (5.0, 30.0)  # along the edge
_FINGER_DEEP_MM = 40.0
_FINGER_SOLID = 0.5  # of its box
_SHADOW_MM2 = 150.0
_SOFT_MM = 3.0  # over which a shadow's border runs; that of a printed block is sharp
_FOLD_MM = 16.0  # on either side of an opening's fold, whose own shadow stays


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground:
    """The toned item without its print: ``levels`` (h, w) at ``dpi``, ``paper`` their median."""

    levels: Pixels
    paper: int
    dpi: float


def ground_of(grey: Pixels, *, dpi: float) -> Ground | None:
    """None on an item that is dark by nature, or too small to tell anything."""
    shrink = min(1.0, _DPI / dpi)
    size = (round(grey.shape[1] * shrink), round(grey.shape[0] * shrink))
    if min(size) < 24:
        return None
    small = shrunk(grey, size)
    side = max(3, round(mm_to_px(_FILLED_MM, dpi * shrink)) | 1)
    levels = cv2.morphologyEx(small, cv2.MORPH_CLOSE, np.ones((side, side), np.uint8))
    paper = level_at(levels, 50)
    if paper < _DARK_ITEM:
        return None
    return Ground(levels=np.asarray(levels, np.uint8), paper=paper, dpi=dpi * shrink)


def covered_mm(ground: Ground | None) -> float:
    """How far what looks like a fingertip reaches in over the edge of the toned item; 0: none.

    A solid dark thing, 5 to 30 mm wide, that comes in over one side and ends on the paper.
    """
    if ground is None:
        return 0.0
    deepest = 0.0
    dark = (ground.levels < _COVERED * ground.paper).astype(np.uint8)
    for wide, deep, area in _from_one_edge(dark):
        wide_mm, deep_mm = px_to_mm(wide, ground.dpi), px_to_mm(deep, ground.dpi)
        fits = _FINGER_MM[0] <= wide_mm <= _FINGER_MM[1] and deep_mm <= _FINGER_DEEP_MM
        if fits and area >= _FINGER_SOLID * wide * deep:
            deepest = max(deepest, deep_mm)
    return deepest


def _from_one_edge(dark: NDArray[np.uint8]) -> Iterator[tuple[int, int, int]]:
    """Width, depth and area of what reaches one edge and no other."""
    height, width = dark.shape
    boxes = find_marks(dark).boxes[1:]
    x, y, wide, high, _ = boxes.T
    gaps = np.stack([y, x, height - y - high, width - x - wide], axis=1)  # of top, left and so on
    reached = gaps <= 1
    for k in np.flatnonzero(reached.sum(axis=1) == 1):
        edge = int(np.argmax(reached[k]))
        gap = int(gaps[k, edge])
        wide_px, high_px, area = (int(one) for one in boxes[k, 2:])
        yield (high_px, gap + wide_px, area) if edge % 2 else (wide_px, gap + high_px, area)


def shadow_percent(ground: Ground | None, *, fold: bool) -> float:
    """How much darker than the paper a broad soft shadow on the toned item is; 0: none.

    ``fold``: the item is an opening, whose fold has a shadow of its own.
    """
    if ground is None:
        return 0.0
    soft = cv2.GaussianBlur(ground.levels, (0, 0), mm_to_px(0.7, ground.dpi))
    shaded = (soft < _SHADED * ground.paper).astype(np.uint8)
    if fold:
        _clear_fold(shaded, round(mm_to_px(_FOLD_MM, ground.dpi)))
    found = find_marks(shaded)
    least = _SHADOW_MM2 / px_to_mm(1.0, ground.dpi) ** 2
    darkest = 0.0
    for number in np.flatnonzero(found.boxes[1:, 4] >= least) + 1:
        if not _reaches_edge(found.boxes[number], shaded.shape):
            continue
        part = found.labels == number
        drop = 1 - float(np.percentile(soft[part], 25)) / ground.paper
        if _border_mm(soft, part, ground) >= _SOFT_MM:
            darkest = max(darkest, 100 * drop)
    return darkest


def _reaches_edge(box: NDArray[np.int64], shape: tuple[int, ...]) -> bool:
    """What throws a shadow stands beside the item; a portrait lies inside it."""
    x, y, wide, high = (int(side) for side in box[:4])
    return min(x, y) <= 1 or x + wide >= shape[1] - 1 or y + high >= shape[0] - 1


def _clear_fold(shaded: NDArray[np.uint8], spare: int) -> None:
    height, width = shaded.shape
    middle = max(height, width) // 2
    if width > height:
        shaded[:, middle - spare : middle + spare] = 0
    else:
        shaded[middle - spare : middle + spare] = 0


def _border_mm(soft: Pixels, part: NDArray[np.bool_], ground: Ground) -> float:
    """The width over which a part's border runs: its drop over the slope there."""
    across = cv2.Sobel(soft, cv2.CV_32F, 1, 0, ksize=3, scale=1 / 8)
    down = cv2.Sobel(soft, cv2.CV_32F, 0, 1, ksize=3, scale=1 / 8)
    inner = cv2.erode(part.astype(np.uint8), np.ones((3, 3), np.uint8), borderValue=1)
    border = part & (inner == 0)
    if not border.any():
        return 0.0
    slope = float(np.percentile(cv2.magnitude(across, down)[border], 75))
    drop = ground.paper - float(np.percentile(soft[part], 25))
    return math.inf if slope <= 0 else px_to_mm(drop / slope, ground.dpi)
