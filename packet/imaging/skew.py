"""Small rest angles of a page, read from its own lines of text and rules.

Ink pixels are projected on an axis; at the right angle the profile has the sharpest steps
(Postl's criterion: sum of squared differences of the profile).
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from packet.imaging.geometry import Pixels, Quads, whole_picture

_LONG_SIDE_PX = 1400
_REACH_DEG = 8.0
_MOST_POINTS = 60_000


def straightened(pixels: Pixels) -> tuple[Quads, float]:
    """(outline of a whole page turned by its text's skew, that skew), nothing written cut off.

    ``pixels``: (h, w, 3) RGB. The skew: clockwise angle of the text against the picture's axes,
    whether its lines run across or up and down. The outline of the picture and 0.0 where the text
    is straight, says nothing, or would leave the page when turned.
    """
    height, width = pixels.shape[:2]
    outline = whole_picture(width, height)
    points, factor = ink_points(pixels)
    skew = _skew_of(points)
    if skew is None or abs(skew) < 0.03:
        return outline, 0.0
    angle = np.deg2rad(skew)
    turn = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    centre = np.array([(width - 1) / 2, (height - 1) / 2])
    ink = ((points + 0.5) * factor - 0.5 - centre) @ turn.T
    half = np.array([width / 2, height / 2])
    if np.mean(np.any(np.abs(ink) > half, axis=1)) > 0.001:
        return outline, 0.0
    return (outline - centre) @ turn + centre, skew


def _skew_of(points: NDArray[np.float32]) -> float | None:
    if len(points) < 400:
        return None
    best: tuple[float, float] | None = None
    for axis in (1, 0):
        found = _best_angle(points, axis)
        if found is not None and (best is None or found[1] > best[1]):
            best = found
    return None if best is None else best[0]


def ink_points(pixels: Pixels) -> tuple[NDArray[np.float32], int]:
    """((n, 2) x, y of ink pixels at reading size, how many source pixels one of them is)."""
    height, width = pixels.shape[:2]
    factor = min(max(1, round(max(height, width) / _LONG_SIDE_PX)), height, width)
    small = cv2.resize(
        pixels[: height // factor * factor, : width // factor * factor],
        (width // factor, height // factor),
        interpolation=cv2.INTER_AREA,
    )
    small = cv2.cvtColor(small, cv2.COLOR_RGB2GRAY)
    ground = cv2.blur(small, (25, 25))
    ink = (small.astype(np.int16) < ground.astype(np.int16) - 25).astype(np.uint8)
    rim = max(4, round(0.015 * max(small.shape)))
    ink[:rim], ink[-rim:], ink[:, :rim], ink[:, -rim:] = 0, 0, 0, 0
    _count, labels, stats, _ = cv2.connectedComponentsWithStats(ink, connectivity=8)
    large = stats[:, cv2.CC_STAT_AREA] > 0.01 * ink.size
    large[0] = True
    ink[large[labels]] = 0
    rows, columns = np.nonzero(ink)
    if len(rows) > _MOST_POINTS:
        pick = np.random.default_rng(7).choice(len(rows), _MOST_POINTS, replace=False)
        rows, columns = rows[pick], columns[pick]
    return np.stack([columns, rows], axis=1).astype(np.float32), factor


def _best_angle(points: NDArray[np.float32], axis: int) -> tuple[float, float] | None:
    """(angle, how clear) of lines that run along x (axis 1: projected on y) or along y."""
    along, across = points[:, 1 - axis], points[:, axis]
    sign = 1.0 if axis == 1 else -1.0
    coarse = points[:: max(1, len(points) // 15_000)]
    angles = np.arange(-_REACH_DEG, _REACH_DEG + 0.01, 0.4)
    values = np.array([_sharpness(coarse[:, 1 - axis], coarse[:, axis], sign * a) for a in angles])
    top = int(np.argmax(values))
    clear = float(values[top] / max(np.median(values), 1e-9))
    if clear < 1.35 or top in (0, len(angles) - 1):
        return None
    fine = angles[top] + np.arange(-0.5, 0.501, 0.05)
    values = np.array([_sharpness(along, across, sign * a) for a in fine])
    k = int(np.clip(np.argmax(values), 1, len(fine) - 2))
    before, at, after = values[k - 1 : k + 2]
    bend = before - 2 * at + after
    shift = 0.5 * (before - after) / bend if bend < 0 else 0.0
    return float(fine[k] + 0.05 * np.clip(shift, -1, 1)), clear


def _sharpness(along: NDArray[np.float32], across: NDArray[np.float32], angle_deg: float) -> float:
    angle = np.deg2rad(angle_deg)
    place = across * np.cos(angle) - along * np.sin(angle)
    bins = np.floor(place - place.min() + 0.5).astype(np.int64)
    profile = np.bincount(bins).astype(np.float64)
    steps = np.diff(profile)
    return float(steps @ steps)
