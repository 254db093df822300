"""Sides put from the edge of a shadow onto the paper's own.

Under a lid that stands off, or by a lamp, the dark of a paper's own shadow may be a greater step
than the paper's edge; but a shadow fades over many pixels.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from packet.imaging.geometry import Pixels, Quads, lengths, medians
from packet.imaging.refine import (
    MARGIN,
    Values,
    chosen_medians,
    filtered,
    peaks,
    put_off,
    robust_lines,
)
from packet.imaging.view import along_sides, sample, well_inside

_PLACES, _FEW_PLACES = 120, 60  # along a side
_LEAST_PLACES = 7  # across a side: in a tiny picture there is no shadow to tell
_FINE_PX, _WIDE_PX = 1.0, 4.0  # either way: what a sharp edge and a soft shadow differ over
_LEAST_STEP = 3.0  # levels
_SOFT = 0.5  # of a step over eight pixels, that a soft edge has over two
_LEAST_SHADOW = 3.0  # levels
_LIKE_STEP = 0.7  # of a shadow's own edge: what an edge within must have that is a step back up
_BESIDE = 7  # profiles


def out_of_shadow(
    pixels: Pixels,
    quad: Quads,
    *,
    reach_px: float,
    dark: bool = False,
    few: bool = False,
) -> Quads:
    """The quad with sides that lie on a soft edge put onto a sharp one within ``reach_px``.

    ``dark``: only where what lies between is darker than what lies without, and unlike what lies
    within, which a printed frame near the side is not. ``few``: fewer places along each side will
    do, as in a photo whose sides are certain.
    """
    samples = _FEW_PLACES if few else _PLACES
    pitch = max(0.5, reach_px / 40)
    offsets = np.arange(-(1.3 if dark else 1.0) * reach_px, 0.4 * reach_px + pitch, pitch)
    if len(offsets) < _LEAST_PLACES:
        return quad
    points = along_sides(quad[None], samples=samples, offsets=offsets, margin=MARGIN)[0]
    high, wide = pixels.shape[:2]
    first, last = (well_inside(points[:, :, k], width_px=wide, height_px=high) for k in (0, -1))
    inside = first & last
    profiles = sample(pixels, points)
    slope = _sharp_slopes(profiles, pitch)
    places, weights = peaks(slope, offsets, inside)
    along = np.linspace(MARGIN, 1 - MARGIN, samples)
    ends, fitted = robust_lines(along, places, weights, 0.0)
    line = ends[:, :1] + (ends[:, 1:] - ends[:, :1]) * along
    on_line = (np.abs(line - places) < max(0.7, pitch)) & (weights > 0)
    steps = chosen_medians(slope.max(axis=2).astype(np.float64), on_line)
    near = np.abs(offsets) <= _FINE_PX
    here = medians(slope[..., near].max(axis=2), axis=1)
    good = (
        fitted
        & (on_line.sum(axis=1) > (0.75 if dark else 0.45) * inside.sum(axis=1))
        & (inside.mean(axis=1) > 0.5)
        & (steps > _LEAST_STEP)
        & (np.abs(ends).max(axis=1) > 0.8)
    )
    sharper = steps > 2 * here
    if not good.any():
        return quad
    if dark:
        shadow, brighter = _shadow_between(profiles, offsets, line, on_line, steps)
        good &= shadow & (sharper | (brighter & (steps > _LIKE_STEP * here)))
    else:
        good &= sharper
    ends = np.where(good[:, None], ends, 0.0)
    return np.asarray(put_off(quad[None], ends[None], most_px=4 * reach_px)[0], np.float64)


def _shadow_between(
    profiles: NDArray[np.float32],
    offsets: Values,
    line: Values,
    on_line: NDArray[np.bool_],
    steps: Values,
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Per side, whether a shadow lies between a line within (sides, samples) and the side, and
    whether what lies within is brighter than it."""

    def at(place: Values) -> Values:
        index = np.clip(np.searchsorted(offsets, place), 0, len(offsets) - 1)
        found = np.take_along_axis(profiles, index[..., None, None], axis=2)[..., 0, :]
        return np.stack(
            [chosen_medians(found[..., k].astype(np.float64), on_line) for k in range(3)], -1
        )

    within, between, without = at(1.3 * line), at(0.5 * line), at(np.full_like(line, offsets[-1]))
    darker = (without - between).mean(axis=-1) > _LEAST_SHADOW
    darker &= (at(0.2 * line) - at(0.8 * line)).mean(axis=-1) > _LEAST_SHADOW  # to the paper
    unlike = np.linalg.norm(within - between, axis=-1) > 0.5 * steps
    sharp, wide = (
        np.linalg.norm(at(np.full_like(line, reach)) - at(np.full_like(line, -reach)), axis=-1)
        for reach in (_FINE_PX, _WIDE_PX)
    )
    soft = sharp < _SOFT * wide
    shadow = darker & unlike & soft & (chosen_medians(line, on_line) < 0)
    return shadow, (within - between).mean(axis=-1) > _LEAST_SHADOW


def _sharp_slopes(profiles: NDArray[np.float32], pitch: float) -> NDArray[np.float32]:
    """(sides, samples, offsets) sizes of steps over two pixels, less what a ramp would give; each
    is the mean of some neighbouring profiles, for noise."""
    fine, wide = round(_FINE_PX / pitch) or 1, round(_WIDE_PX / pitch) or 2
    kernel = np.zeros(2 * wide + 1, np.float32)
    kernel[[0, -1]] = fine / wide, -fine / wide
    kernel[[wide - fine, wide + fine]] += -1, 1
    flat = filtered(profiles, kernel).reshape(*profiles.shape[:2], -1)
    mean = np.full((_BESIDE, 1), 1 / _BESIDE)
    smooth = np.stack([cv2.filter2D(side, cv2.CV_32F, mean) for side in flat])
    return np.asarray(lengths(smooth.reshape(profiles.shape)), np.float32)
