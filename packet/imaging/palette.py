"""What colours a region has, as a histogram: paper and a patterned table are told apart by it
where no single colour of the table would do.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from packet.imaging.geometry import Pixels, Quads

_LIGHTS, _TINTS = 8, 8  # steps of lightness, and of each opponent colour
_TINT_WIDTH = 6  # levels of colour in a step; what is farther out counts with the last step
_BAND = 0.22  # of the quad, that the outside is looked at on each side

Codes = NDArray[np.uint16]


def codes_of(lab: Pixels) -> Codes:
    """(h, w) numbers of colours of (h, w, 3) Lab in 8 bits, below 512."""
    calm = cv2.blur(lab, (3, 3)).astype(np.int16)
    half = _TINTS // 2
    tints = np.clip((calm[..., 1:] - 128 + half * _TINT_WIDTH) // _TINT_WIDTH, 0, _TINTS - 1)
    light = calm[..., 0] * _LIGHTS // 256
    return np.asarray((light * _TINTS + tints[..., 0]) * _TINTS + tints[..., 1], np.uint16)


def apart(codes: Codes, quad: Quads, inner: Quads | None = None) -> float:
    """How differently a quad and the band around it are coloured: Hellinger distance, 0 to 1.

    ``quad`` in pixels of ``codes``; ``inner``: a part of it that does not count. 0.0 where one of
    the two is hardly in the picture.
    """
    middle = quad.mean(axis=0)
    grown = middle + (quad - middle) * (1 + 2 * _BAND)
    low = np.maximum(np.floor(grown.min(axis=0)).astype(int), 0)
    high = np.minimum(np.ceil(grown.max(axis=0)).astype(int) + 1, codes.shape[::-1])
    if np.any(high - low < 3):
        return 0.0
    part = codes[low[1] : high[1], low[0] : high[0]]
    zones = np.zeros(part.shape, np.uint8)  # 1: around, 2: within
    for corners, value in ((grown, 1), (middle + (quad - middle) * 1.03, 0)):
        cv2.fillConvexPoly(zones, np.round(corners - low).astype(np.int32), value)
    cv2.fillConvexPoly(zones, np.round(middle + (quad - middle) * 0.97 - low).astype(np.int32), 2)
    if inner is not None:
        own = inner.mean(axis=0)
        cv2.fillConvexPoly(zones, np.round(own + (inner - own) * 1.04 - low).astype(np.int32), 0)
    size = _LIGHTS * _TINTS * _TINTS
    around, within = (np.bincount(part[zones == zone], minlength=size) for zone in (1, 2))
    if min(around.sum(), within.sum()) < 0.02 * part.size:
        return 0.0
    alike = np.sqrt(around / around.sum() * (within / within.sum())).sum()
    return float(np.sqrt(max(0.0, 1 - alike)))
