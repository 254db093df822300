"""Sides of a blurred picture: each is a ramp of many pixels, and lies in the middle of it.

A hand that moved spreads two opposite sides, a lens out of focus all four; the steepest place of
such a ramp is where the noise is, or the paper's own shadow begins. Smoothed over the ramp's width
the slope is greatest in its middle.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from packet.imaging.geometry import Pixels, Quads, along_way, lengths
from packet.imaging.refine import MARGIN, peaks, put_off, robust_lines, slopes_of
from packet.imaging.view import along_sides, sample, well_inside

_REACH_PX = 40  # either way, in which a ramp is measured
_NEAR = 0.6  # of that: the side itself
_OF_PEAK = 0.35  # of the greatest slope, that a ramp has in all places
_SOFT_PX = 8.0  # of sharp pictures one of two opposite sides has at most 6, shadows aside
_FEW, _MANY = 30, 120  # samples along a side
_LEAST_SEEN = 0.25  # of a side
_STEPS = 28  # places either way
_ROUNDS = 2


def in_ramps(pixels: Pixels, quad: Quads) -> Quads:
    """The quad (source pixels, of a photo) with the sides of a blurred picture in the middle of
    their ramps; the same quad where no two opposite sides are soft, which shadows do not do."""
    widths = ramp_widths(pixels, quad)
    if np.minimum(widths, np.roll(widths, 2)).max() < _SOFT_PX:
        return quad
    soft = np.flatnonzero(widths >= _SOFT_PX).tolist()
    for _ in range(_ROUNDS):
        ends = np.zeros((4, 2))
        for k in soft:
            ends[k] = _middle(pixels, quad, k, float(widths[k]))
        quad = np.asarray(put_off(quad[None], ends[None], most_px=4 * widths.max())[0], np.float64)
    return quad


def ramp_widths(pixels: Pixels, quad: Quads) -> NDArray[np.float64]:
    """(4,) pixels over which the mean profile across each side is steep; 0 for sides unseen."""
    offsets = np.arange(-_REACH_PX, _REACH_PX + 1.0)
    points = along_sides(quad[None], samples=_FEW, offsets=offsets)[0]
    high, wide = pixels.shape[:2]
    starts, ends = (well_inside(points[:, :, k], width_px=wide, height_px=high) for k in (0, -1))
    inside = starts & ends
    profiles = sample(pixels, points)
    near = round(_NEAR * _REACH_PX)
    widths = np.zeros(4)
    for k in range(4):
        if inside[k].mean() < _LEAST_SEEN:
            continue
        mean = profiles[k][inside[k]].mean(axis=0)
        slope = lengths(np.diff(cv2.blur(mean, (1, 3)), axis=0))
        first = _REACH_PX - near
        at = first + int(np.argmax(slope[first : first + 2 * near]))
        flat = np.flatnonzero(slope <= _OF_PEAK * slope[at])
        before, after = flat[flat < at], flat[flat > at]
        start = before[-1] if len(before) else -1
        end = after[0] if len(after) else len(slope)
        widths[k] = end - start - 1
    return widths


def _middle(pixels: Pixels, quad: Quads, side: int, width_px: float) -> NDArray[np.float64]:
    """(2,) how far outward of a side its start and end lie, by the middle of a ramp so wide."""
    reach = 1.3 * width_px
    offsets = np.linspace(-reach, reach, 2 * _STEPS + 1)
    points = along_sides(quad[None], samples=_MANY, offsets=offsets, margin=MARGIN, sides=(side,))[
        0
    ]
    high, wide = pixels.shape[:2]
    inside = well_inside(points[:, :, _STEPS], width_px=wide, height_px=high)
    if inside.mean() < _LEAST_SEEN:
        return np.zeros(2)
    steep = slopes_of(sample(pixels, points))
    count = max(1, round(width_px / (reach / _STEPS)) | 1)
    smooth = np.full((1, count), 1 / count, np.float32)
    slopes = np.asarray(
        cv2.filter2D(steep[0], cv2.CV_32F, smooth, borderType=cv2.BORDER_CONSTANT)[None], np.float32
    )
    common = slopes[inside].mean(axis=0)
    way = common[int(np.argmax(lengths(common)))]
    way = way / max(float(np.linalg.norm(way)), 1e-6)
    places, weights = peaks(along_way(slopes, way.astype(np.float32)), offsets, inside)
    ends, fitted = robust_lines(np.linspace(MARGIN, 1 - MARGIN, _MANY), places, weights, reach)
    return ends[0] if fitted[0] else np.zeros(2)
