"""The four sides of a scanned item of a known size or shape, sought together.

Under a lid as white as the paper a side may be fitted to a shadow, or partly to one, or to a line
that is printed beside a faint edge. But by a trusted scale opposite sides are a known distance
apart, by a shape alone at least one for all four: a place counts for a side only as much as the
place that goes with it counts for the other.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from packet.imaging.geometry import Pixels, Quads, following, lengths, rectangle
from packet.imaging.refine import put_off
from packet.imaging.square import SPARE_PX, askew_deg, same_direction, sharpness
from packet.model import SizeMm

_REACH_MM = 2.5  # of a side, from where the middle of the item puts it
_SCALES = np.linspace(0.992, 1.008, 17)  # what a scanner's scale may be off
_ANY_SCALES = np.linspace(0.965, 1.035, 141)  # where it is read from the sides themselves
_NO_STEP = 1.0  # levels: what lies below tells nothing
_AS_SHARP = float(np.log(0.5))  # of the product of all four steps where the sides were, and where
# the scale is not known, of each: at a wrong size 12 of 13 fall, or 15 of 16
_SETTLED_MM, _SETTLED_DEG = 0.1, 0.05
_PHOTO_DEG = 0.5  # the same, of what may be a photo seen nearly square on


def sized(
    pixels: Pixels, quad: Quads, size_mm: SizeMm, *, px_per_mm: float, trusted: bool
) -> Quads:
    """The quad (source pixels, as many a millimetre each way) moved to where a rectangle of its
    size has the sharpest steps on all sides; the same quad where these would be much less sharp.

    ``size_mm``: width and height as the quad lies. ``trusted``: the scale is a scanner's own, not
    one that was read from the quad.
    """
    size_px = np.array(size_mm) * px_per_mm
    scales = _SCALES if trusted else _ANY_SCALES
    side = following(quad) - quad
    askew, long = askew_deg(quad), lengths(side)
    off_px = np.abs(long - size_px[[0, 1, 0, 1]]).max()
    square = np.ptp(askew) < (_SETTLED_DEG if trusted else _PHOTO_DEG)
    if off_px < _SETTLED_MM * px_per_mm and square:
        return quad
    was = np.log(np.maximum(sharpness(pixels, quad, reach_px=SPARE_PX)[1].max(axis=1), _NO_STEP))
    best, most = quad, float(was.sum() + _AS_SHARP)
    first = float(np.arctan2(side[0, 1], side[0, 0]))
    for turned_deg in _directions(askew, long):
        flat = rectangle(quad.mean(axis=0), size_px, first + np.radians(turned_deg))
        offsets, sharp = sharpness(pixels, flat, reach_px=_REACH_MM * px_per_mm)
        ends, told = _best_places(offsets, np.log(np.maximum(sharp, _NO_STEP)), size_px, scales)
        if told.sum() > most and (trusted or (told > was + _AS_SHARP).all()):
            most = float(told.sum())
            moved = put_off(flat[None], ends[None, :, None].repeat(2, axis=2), most_px=long.max())
            best = moved[0]
    return best


def _best_places(
    offsets: NDArray[np.float64],
    told: NDArray[np.float64],
    size_px: NDArray[np.float64],
    scales: NDArray[np.float64],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """(places of the sides outward of a rectangle, how much each tells), (4,) each, at the scale
    by which opposite ones tell most. ``told``: (4, offsets)."""
    none = float(told.min()) - 100.0
    places, tells = np.zeros((len(scales), 4)), np.zeros((len(scales), 4))
    rows = np.arange(len(scales))
    for k, across in ((0, size_px[1]), (1, size_px[0])):
        more = (scales - 1) * across
        there = more[:, None] - offsets  # (scales, offsets) where the opposite side is then
        other = np.interp(there, offsets, told[k + 2], left=none, right=none)
        at = np.argmax(told[k] + other, axis=1)
        places[:, k], places[:, k + 2] = offsets[at], more - offsets[at]
        tells[:, k], tells[:, k + 2] = told[k, at], other[rows, at]
    best = int(np.argmax(tells.sum(axis=1)))
    return places[best], tells[best]


def _directions(askew: NDArray[np.float64], long: NDArray[np.float64]) -> list[float]:
    """Means of what sides of one direction stand askew, in degrees, long ones weighing more."""
    groups = np.unique(same_direction(askew), axis=0)
    return [float(np.average(askew[group], weights=long[group] ** 2)) for group in groups]
