"""Sides of a flat rectangle that lie askew to the others: on a scan three sides say where the
fourth one points.

Under a lid that stands off, a side may be fitted partly to the paper's edge and partly to that of
its shadow. The sides that agree give the direction; how far out the side lies is then read from
profiles across it, means along stretches of it, in which the paper's edge is the sharpest step.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from packet.imaging.geometry import Pixels, Quads, following, lengths
from packet.imaging.refine import put_off
from packet.imaging.view import along_sides, sample

_AGREE_DEG, _LONG_AGREE_DEG = 0.12, 0.08  # of three sides, or of the two long ones alone
_ASKEW_DEG, _MOST_DEG = 0.15, 2.5  # of another side, against those
_SAMPLES, _STRETCHES = 160, 8
_PITCH_PX = 0.5
SPARE_PX = 2.0  # beyond where the side was fitted to
_AS_SHARP = 0.5  # of the step where the side was; one across the paper's edge is spread out
_SHARPER = 1.1  # where one side alone says so
_FINE, _WIDE = 2, 8  # places either way: what a sharp edge and a soft shadow differ over


def is_square(quad: Quads) -> bool:
    """All four sides stand at right angles as only those of a scanned paper do: no measure of its
    print is better."""
    return float(np.ptp(askew_deg(quad))) < _AGREE_DEG


def stands_square(quad: Quads) -> bool:
    """Three sides have one direction, as those of a scanned paper do; in a photo two at most."""
    return bool(same_direction(askew_deg(quad)).sum(axis=1).max() >= 3)


def squared(pixels: Pixels, quad: Quads, *, scan: bool = True) -> Quads:
    """The quad (source pixels, square ones) with sides that stand askew turned as the others are;
    the same quad where the sides do not tell. ``scan``: it is one for certain; else a side must be
    sharper where it is put, as it is not in a blurred photo."""
    angles, long = askew_deg(quad), lengths(following(quad) - quad)
    if np.abs(angles).max() > _MOST_DEG or np.ptp(angles) < _AGREE_DEG:
        return quad
    agree = _agreeing(angles, long)
    were = sharpness(pixels, quad, reach_px=SPARE_PX)[1].max(axis=1)
    if agree is not None:
        return _turned(pixels, quad, agree, were, least=_AS_SHARP if scan else 1.0)[0]
    turned = (_turned(pixels, quad, np.arange(4) == k, were, least=_SHARPER) for k in range(4))
    return max(turned, key=lambda one: one[1])[0]


def _turned(
    pixels: Pixels,
    quad: Quads,
    agree: NDArray[np.bool_],
    were: NDArray[np.float64],
    *,
    least: float,
) -> tuple[Quads, float]:
    """(the quad with its other sides turned as those that agree, how much sharper they are then,
    as logarithms); a side stays where it would be less sharp, by that factor, than it was."""
    angles, long = askew_deg(quad), lengths(following(quad) - quad)
    common = float(np.average(angles[agree], weights=long[agree]))
    away = np.radians(angles - common)
    askew = ~agree & (np.abs(away) > np.radians(_ASKEW_DEG))
    half = np.tan(away) * long / 2  # what each end lies inward, or outward, of the middle
    ends = np.where(askew, half, 0.0)[:, None] * np.array([-1.0, 1.0])
    turned = put_off(quad[None], ends[None], most_px=float(long.max()))
    gain = 0.0
    for k in np.flatnonzero(askew).tolist():
        place, sharp = _sharpest(pixels, turned, k, reach_px=abs(half[k]) + SPARE_PX)
        ends[k] += place
        gain += float(np.log(max(sharp, 1e-6) / max(were[k], 1e-6)))
        if sharp < least * were[k]:
            ends[k] = 0.0  # it does stand askew: a paper not cut at right angles
    return np.asarray(put_off(quad[None], ends[None], most_px=float(long.max()))[0]), gain


def askew_deg(quad: Quads) -> NDArray[np.float64]:
    """(4,) degrees of the sides against the first, but for right angles."""
    side = following(quad) - quad
    angles = np.degrees(np.arctan2(side[:, 1], side[:, 0])) - 90 * np.arange(4)
    return np.asarray((angles - angles[0] + 45) % 90 - 45, np.float64)


def same_direction(angles: NDArray[np.float64]) -> NDArray[np.bool_]:
    """(4, 4) which sides stand alike, by their ``askew_deg``."""
    return np.asarray(np.abs(angles[:, None] - angles) < _AGREE_DEG)


def _agreeing(angles: NDArray[np.float64], long: NDArray[np.float64]) -> NDArray[np.bool_] | None:
    """Which sides have one direction: three of them, or the two long ones where the others do not
    agree on another; None where no more than two do."""
    near = same_direction(angles)
    best = near[int(np.argmax(near.sum(axis=1)))]
    if best.sum() >= 3:
        return np.asarray(best)
    first = int(long[1] + long[3] > long[0] + long[2])
    apart = [abs(float(angles[k] - angles[k + 2])) for k in (first, 1 - first)]
    if apart[0] < _LONG_AGREE_DEG and apart[1] > 2 * _LONG_AGREE_DEG:
        return np.asarray(np.arange(4) % 2 == first)
    return None


def _sharpest(pixels: Pixels, quads: Quads, side: int, *, reach_px: float) -> tuple[float, float]:
    """(how far outward of a side of (1, 4, 2) its sharpest step lies, in pixels; how sharp)."""
    offsets, sharp = sharpness(pixels, quads[0], sides=(side,), reach_px=reach_px)
    best = int(np.argmax(sharp[0]))
    return float(offsets[best]), float(sharp[0, best])


def sharpness(
    pixels: Pixels, quad: Quads, *, reach_px: float, sides: Sequence[int] = range(4)
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """((offsets,) in pixels outward of sides of a quad, (sides, offsets) how sharp the steps are
    there, in levels).

    Of each stretch by itself, for a dark stripe ends the other way than white paper in its own
    shadow does; of all by square roots, for the stripe's end is much the sharpest of them.
    """
    count = round(reach_px / _PITCH_PX)
    offsets = np.arange(-count - _WIDE, count + _WIDE + 1.0) * _PITCH_PX
    points = along_sides(quad[None], samples=_SAMPLES, offsets=offsets, sides=sides)[0]
    seen = sample(pixels, points.reshape(-1, len(offsets), 2))
    profile = seen.reshape(len(points), _STRETCHES, -1, *seen.shape[1:]).mean(axis=2)
    at = np.arange(_WIDE, len(offsets) - _WIDE)
    fine, wide = (profile[:, :, at + far] - profile[:, :, at - far] for far in (_FINE, _WIDE))
    sharp = np.sqrt(lengths(fine - wide * (_FINE / _WIDE))).mean(axis=1) ** 2
    return offsets[at], np.asarray(sharp, np.float64)
