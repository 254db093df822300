"""Boxes of text on a picture, and a box cut out as a level strip.

From the map of the finding model to rectangles by its own rule (differentiable binarisation:
Liao et al., AAAI 2020): binarise, outline, smallest rectangle, mean score, widen.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from packet.recognition.engine import Engine

Pixels = NDArray[np.uint8]
Boxes = NDArray[np.float32]
"""(n, 4, 2): x, y of the corners, clockwise; the first two are the upper end of a long side."""

LONG_SIDE = 640  # of the picture that the finding model sees
_INK = 0.3
_SURE = 0.5
_LEAST_PX = 3.0
_TONE_PX = 24  # height of a box whose tones are compared
_WIDEN = 1.6  # these four: configuration of rapidocr 3.10


def find_boxes(
    engine: Engine, pixels: Pixels, long_side: int = LONG_SIDE, *, quarter: bool = False
) -> Boxes:
    """Boxes of text, in pixels of the picture; their first side lies along the text.

    ``quarter``: text that runs upwards is expected.
    """
    seen = engine.text_map(pixels, long_side, quarter=quarter)
    scale = np.array([pixels.shape[1] / seen.shape[1], pixels.shape[0] / seen.shape[0]], np.float32)
    found = boxes_of_map(seen)
    return found * scale


def boxes_of_map(seen: NDArray[np.float32]) -> Boxes:
    """Boxes in pixels of the map."""
    mask = cv2.dilate((seen > _INK).astype(np.uint8), np.ones((2, 2), np.uint8))
    outlines = cv2.findContours(mask, cv2.RETR_LIST, cv2.CHAIN_APPROX_SIMPLE)[0]
    found = []
    for outline in outlines:
        middle, (wide, high), angle = cv2.minAreaRect(outline)
        if min(wide, high) < _LEAST_PX:
            continue
        corners = np.asarray(cv2.boxPoints((middle, (wide, high), angle)), np.float32)
        if _mean_inside(seen, corners) < _SURE:
            continue
        grow = 2 * _WIDEN * wide * high / (2 * (wide + high))
        outer = cv2.boxPoints((middle, (wide + grow, high + grow), angle))
        found.append(_lying(np.asarray(outer, np.float32)))
    if not found:
        return np.zeros((0, 4, 2), np.float32)
    return np.stack(found)


def _mean_inside(seen: NDArray[np.float32], corners: NDArray[np.float32]) -> float:
    low = np.clip(np.floor(corners.min(0)).astype(int), 0, None)
    high = np.ceil(corners.max(0)).astype(int) + 1
    part = seen[low[1] : high[1], low[0] : high[0]]
    mask = np.zeros(part.shape, np.uint8)
    cv2.fillPoly(mask, [np.round(corners - low).astype(np.int32)], 1)
    return cv2.mean(part, mask)[0]


def _lying(corners: NDArray[np.float32]) -> NDArray[np.float32]:
    """Corners clockwise such that the first side is a long one, from left to right or, for an
    upright box, from bottom to top (so that a clockwise quarter turn makes it read)."""
    middle = corners.mean(0)
    order = np.argsort(np.arctan2(corners[:, 1] - middle[1], corners[:, 0] - middle[0]))
    ring = corners[order]
    first, second = np.linalg.norm(ring[1] - ring[0]), np.linalg.norm(ring[2] - ring[1])
    if second > first:
        ring = np.roll(ring, -1, axis=0)
    along = ring[1] - ring[0]
    upright = abs(along[1]) > abs(along[0])
    if (along[1] > 0) if upright else (along[0] < 0):
        ring = np.roll(ring, -2, axis=0)
    return np.asarray(ring, np.float32)


def sides_of(boxes: Boxes) -> NDArray[np.float32]:
    """(n, 2): length along the text and across it."""
    return np.stack(
        [
            np.linalg.norm(boxes[:, 1] - boxes[:, 0], axis=1),
            np.linalg.norm(boxes[:, 2] - boxes[:, 1], axis=1),
        ],
        axis=1,
    )


def light_signs(pixels: Pixels, boxes: Boxes) -> bool:
    """Whether the signs in most of these boxes are lighter than what they stand on.

    Signs cover less than half of a box, so its median is the ground.
    """
    ways = []
    for box in boxes:
        grey = cv2.cvtColor(cut(pixels, box, _TONE_PX), cv2.COLOR_RGB2GRAY)
        dark, ground, light = np.percentile(grey, (4, 50, 96))
        ways.append(1 if light - ground > 1.5 * (ground - dark) else -1)
    return sum(ways) > 0


def cut(pixels: Pixels, box: NDArray[np.float32], height: int, width: int | None = None) -> Pixels:
    """A box as a level strip, (height, width, 3); by default as wide as its shape wants."""
    ((along, across),) = sides_of(box[None])
    if width is None:
        width = max(8, round(height * float(along) / max(float(across), 1.0)))
    to = np.array([[0, 0], [width, 0], [width, height], [0, height]], np.float32)
    matrix = cv2.getPerspectiveTransform(np.asarray(box, np.float32), to)
    strip = cv2.warpPerspective(
        pixels, matrix, (width, height), flags=cv2.INTER_AREA, borderMode=cv2.BORDER_REPLICATE
    )
    return np.asarray(strip, np.uint8)
