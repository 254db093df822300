"""What colours a region has, as a histogram: paper and a patterned table are told apart by it
where no single colour of the table would do.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from packet.imaging.geometry import Pixels, Quads, grown

_LIGHTS, _TINTS = 8, 8  # steps of lightness, and of each opponent colour
_TINT_WIDTH = 6  # levels of colour in a step; what is farther out counts with the last step
COLOURS = _LIGHTS * _TINTS * _TINTS
_BAND = 0.22  # of the quad, that the outside is looked at on each side
_STRIP = (0.03, 0.1)  # of the depth of a quad, from a side
_LEAST_STRIP = 20  # pixels

# places in a quad and beside it, in its own sides: for a quick look at many quads
_WITHIN = np.stack(np.meshgrid(*(np.linspace(0.06, 0.94, 8),) * 2), axis=-1).reshape(-1, 2)
_BESIDE = np.concatenate(
    [
        np.insert(np.linspace(-0.1, 1.1, 10)[:, None], axis, depth, axis=1)
        for depth in (-0.14, -0.06, 1.06, 1.14)
        for axis in (0, 1)
    ]
)
_FEWER = 64  # colours, for few places


def _strips(near: float, far: float) -> NDArray[np.float64]:
    """(16, 4) weights of a quad's corners in those of a strip along each side, from one share of
    the depth to another; negative: without."""
    start = np.eye(4)
    end, opposite, down_end = (np.roll(start, -k, axis=0) for k in (1, 3, 2))
    corners = []
    for depth in (near, far):
        a, b = start + depth * (opposite - start), end + depth * (down_end - end)
        corners += [a + _STRIP[0] * (b - a), b + _STRIP[0] * (a - b)]
    return np.stack([corners[0], corners[1], corners[3], corners[2]], axis=1).reshape(16, 4)


# weights of a quad's corners in those of the areas that are told apart, one drawn over another
_AREAS = np.concatenate(
    [
        grown(np.eye(4), 1 + 2 * _BAND),
        _strips(-_STRIP[0], -_STRIP[1]),
        grown(np.eye(4), 1.03),
        grown(np.eye(4), 0.97),
        _strips(*_STRIP),
    ]
)
# 1 to 5: around, 2 to 5 along the sides; 6 to 10: within, 7 to 10 along the sides
_ZONES = (1, 2, 3, 4, 5, 0, 6, 7, 8, 9, 10)
_LEAST_PLACES = 20  # in the picture

Codes = NDArray[np.uint16]


def codes_of(lab: Pixels, *, every: int = 1) -> Codes:
    """(h, w) numbers of colours of (h, w, 3) Lab in 8 bits, below 512; of every so many pixels
    each way."""
    calm = cv2.blur(lab, (3, 3))[::every, ::every].astype(np.int16)
    half = _TINTS // 2
    tints = np.clip((calm[..., 1:] - 128 + half * _TINT_WIDTH) // _TINT_WIDTH, 0, _TINTS - 1)
    light = calm[..., 0] * _LIGHTS // 256
    return np.asarray((light * _TINTS + tints[..., 0]) * _TINTS + tints[..., 1], np.uint16)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Contrast:
    """How differently a quad and the band around it are coloured: Hellinger distances, 0 to 1.

    ``whole``: 0.0 where one of the two is hardly in the picture. ``inner``: (4,) of a strip along
    the inner face of each side, and what is around: table within a quad shows there, however
    little of the quad it is. ``outer``: (4,) of a strip along the outer face, and what is within:
    paper that goes on. NaN for a strip that is hardly in the picture.
    """

    whole: float
    inner: NDArray[np.float64]
    outer: NDArray[np.float64]


def contrast(codes: Codes, quad: Quads, inner: Quads | None = None) -> Contrast:
    """``quad`` in pixels of ``codes``; ``inner``: a part of it that does not count."""
    nothing = Contrast(whole=0.0, inner=np.full(4, np.nan), outer=np.full(4, np.nan))
    areas = (_AREAS @ quad).reshape(-1, 4, 2)
    outer = areas[0]
    low = np.maximum(np.floor(outer.min(axis=0)).astype(int), 0)
    high = np.minimum(np.ceil(outer.max(axis=0)).astype(int) + 1, codes.shape[::-1])
    if np.any(high - low < 3):
        return nothing
    part = codes[low[1] : high[1], low[0] : high[0]]
    zones = np.zeros(part.shape, np.uint16)
    for corners, value in zip(np.round(areas - low).astype(np.int32), _ZONES, strict=True):
        cv2.fillConvexPoly(zones, corners, value)
    if inner is not None:
        cv2.fillConvexPoly(zones, np.round(grown(inner, 1.04) - low).astype(np.int32), 0)
    counts = np.bincount((zones * np.uint16(COLOURS) + part).ravel(), minlength=11 * COLOURS)
    counts = counts.reshape(11, COLOURS)
    around, within = counts[1:6].sum(axis=0), counts[6:].sum(axis=0)
    if min(around.sum(), within.sum()) < 0.02 * part.size:
        return nothing
    inner_faces = _distances(np.concatenate([within[None], counts[7:]]), around)
    return Contrast(
        whole=float(inner_faces[0]),
        inner=inner_faces[1:],
        outer=_distances(counts[2:6], within),
    )


def roughly_apart(codes: Codes, quads: Quads, without: Quads | None = None) -> NDArray[np.float64]:
    """(n,) how differently (n, 4, 2) quads in pixels of ``codes`` and what is around them are
    coloured, by some places of each; 0.0 where few of them are in the picture. Places in the quad
    ``without`` do not count."""
    light, tints = codes >> 6, codes & 63
    fewer = (light >> 1 << 4) + (tints >> 4 << 2) + ((tints & 7) >> 1)
    if without is not None:
        cv2.fillConvexPoly(fewer, np.round(without).astype(np.int32), _FEWER)
    counts = [_at_places(fewer, quads, places) for places in (_WITHIN, _BESIDE)]
    sizes = [one.sum(axis=1) for one in counts]
    alike = np.sqrt(counts[0] * counts[1]).sum(axis=1) / np.sqrt(np.maximum(sizes[0] * sizes[1], 1))
    there = np.minimum(*sizes) >= _LEAST_PLACES
    return np.asarray(np.where(there, np.sqrt(np.maximum(0.0, 1 - alike)), 0.0), np.float64)


def _at_places(codes: Codes, quads: Quads, places: NDArray[np.float64]) -> NDArray[np.float64]:
    """(n, colours) histograms of the colours at places of each quad that are in the picture."""
    x, y = places[:, :1], places[:, 1:]
    weights = np.concatenate([(1 - x) * (1 - y), x * (1 - y), x * y, (1 - x) * y], axis=1)
    points = np.round(weights.astype(np.float32) @ quads.astype(np.float32)).astype(np.int32)
    inside = ((points >= 0) & (points < codes.shape[::-1])).all(axis=2)
    number = np.repeat(np.arange(len(quads)), inside.sum(axis=1))
    seen = codes[points[inside][:, 1], points[inside][:, 0]]
    bins = _FEWER + 1  # the last for what does not count
    counts = np.bincount(number * bins + seen, minlength=len(quads) * bins)
    return counts.reshape(len(quads), bins)[:, :_FEWER].astype(np.float64)


def _distances(some: NDArray[np.int64], other: NDArray[np.int64]) -> NDArray[np.float64]:
    """(n,) Hellinger distances of (n, colours) histograms and another; NaN for those of a few
    pixels only."""
    counts = some.sum(axis=1)
    alike = np.sqrt(some) @ np.sqrt(other) / np.sqrt(np.maximum(counts, 1) * float(other.sum()))
    far = np.sqrt(np.maximum(0.0, 1 - alike))
    return np.asarray(np.where(counts < _LEAST_STRIP, np.nan, far), np.float64)
