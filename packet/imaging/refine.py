"""Sides of a found quad moved onto the edge, to a fraction of a pixel.

Per side: profiles across the edge, projected on the colour step of that side, the steepest place
of each to a fraction of a pixel, and one robust line through them. Coarse on the view, then fine
on the source.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from packet.imaging.geometry import Pixels, Quads, crossing, is_convex, line_through, signed_area
from packet.imaging.view import View, along_sides, sample

_SAMPLES = 120
_MARGIN = 0.07  # of each end of a side that is left out, as in along_sides


def refine(pixels: Pixels, view: View, quad_view: Quads, *, bent: bool = False) -> Quads:
    """The quad in source pixels, its sides fitted on the view and then on the source.

    ``bent``: sides may be shallow curves (paper that does not lie flat, a lens that bends); then
    the corners are where the curves end, not where lines through their middles would meet.
    """
    quad = move_sides(view.lab, quad_view, reach_px=4.0)
    source = view.to_source(quad)
    if view.factor > 1:
        source = move_sides(pixels, source, reach_px=2.5 * view.factor)
        source = move_sides(pixels, source, reach_px=max(3.0, 1.2 * view.factor))
    if bent:
        source = move_sides(pixels, source, reach_px=5.0 * view.factor, bent=True)
    return source


def move_sides(
    pixels: Pixels,
    quad: Quads,
    *,
    reach_px: float,
    samples: int = _SAMPLES,
    bent: bool = False,
) -> Quads:
    """One pass: each side onto the strongest edge within ``reach_px`` of it.

    ``bent``: only sides that are curves are moved, onto the chord between their ends.
    """
    count = int(np.clip(round(reach_px * 2), 8, 28))
    offsets = np.linspace(-reach_px, reach_px, 2 * count + 1)
    points = along_sides(quad[None], samples=samples, offsets=offsets)[0]
    height, width = pixels.shape[:2]
    lines = []
    for side in range(4):
        start, end = quad[side], quad[(side + 1) % 4]
        fitted = _fit_side(pixels, points[side], offsets, width=width, height=height, bent=bent)
        lines.append(
            fitted if fitted is not None else line_through(np.stack([start, end]), np.ones(2))
        )
    corners = [crossing(lines[side - 1], lines[side]) for side in range(4)]
    if any(corner is None for corner in corners):
        return quad
    moved = np.array(corners)
    far = np.max(np.linalg.norm(moved - quad, axis=1)) > 6 * reach_px
    if far or not is_convex(moved) or signed_area(moved) <= 0:
        return quad
    return moved


def _fit_side(
    pixels: Pixels,
    points: NDArray[np.float64],
    offsets: NDArray[np.float64],
    *,
    width: int,
    height: int,
    bent: bool = False,
) -> NDArray[np.float64] | None:
    """Line (a, b, c) along the edge, None where the edge cannot be seen."""
    middle = points[:, len(offsets) // 2]
    inside = (
        (middle[:, 0] > 1)
        & (middle[:, 0] < width - 2)
        & (middle[:, 1] > 1)
        & (middle[:, 1] < height - 2)
    )
    if inside.sum() < 0.25 * len(middle):
        return None
    points = points[inside]
    slopes = _slopes(sample(pixels, points))
    common = slopes.mean(axis=0)  # (offsets, channels)
    wide = max(3, (len(offsets) // 6) | 1)
    common = np.apply_along_axis(
        lambda values: np.convolve(values, np.ones(wide) / wide, mode="same"), 0, common
    )
    size = np.linalg.norm(common, axis=1)
    best = int(np.argmax(size))
    if size[best] <= 1e-6:
        return None
    slope = slopes @ (common[best] / size[best]).astype(np.float32)
    places, weights = _peaks(slope, offsets)
    if bent:
        return _chord(points, offsets, places, weights) if inside.all() else None
    return _robust_line(points, offsets, places, weights)


def _slopes(profiles: NDArray[np.float32]) -> NDArray[np.float32]:
    """Central differences of lightly smoothed profiles (n, offsets, channels)."""
    kernel = np.array([1, 2, 3, 2, 1], dtype=np.float32) / 9
    padded = np.pad(profiles, ((0, 0), (2, 2), (0, 0)), mode="edge")
    count = profiles.shape[1]
    smooth = np.zeros_like(profiles)
    for k in range(5):
        smooth += kernel[k] * padded[:, k : k + count]
    return np.asarray(np.gradient(smooth, axis=1), dtype=np.float32)


def _peaks(
    slope: NDArray[np.float32], offsets: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """(offset of the steepest place, weight) of every profile; weight 0 where there is no edge."""
    inner = slope[:, 1:-1]
    best = np.argmax(inner, axis=1) + 1
    rows = np.arange(len(slope))
    before, at, after = slope[rows, best - 1], slope[rows, best], slope[rows, best + 1]
    bend = before - 2 * at + after
    shift = np.where(bend < -1e-6, 0.5 * (before - after) / np.where(bend < -1e-6, bend, -1.0), 0.0)
    pitch = offsets[1] - offsets[0]
    places = offsets[best] + np.clip(shift, -0.5, 0.5) * pitch
    usual = max(float(np.median(at)), 1e-6)
    weights = np.clip(at / usual, 0, 1.5).astype(np.float64)
    weights[at < max(0.25 * usual, 0.15)] = 0.0
    return places.astype(np.float64), weights


def _robust_line(
    points: NDArray[np.float64],
    offsets: NDArray[np.float64],
    places: NDArray[np.float64],
    weights: NDArray[np.float64],
) -> NDArray[np.float64] | None:
    """The line most profiles agree on: the best of many two-point lines, then weighted fits."""
    good = weights > 0
    if good.sum() < 20:
        return None
    along = np.flatnonzero(good).astype(np.float64) / len(weights)
    place, weight = places[good], weights[good]
    tolerance = max(0.35, 0.06 * offsets[-1])
    chooser = np.random.default_rng(7)
    first = chooser.integers(0, len(place), 160)
    second = chooser.integers(0, len(place), 160)
    apart = np.abs(along[first] - along[second]) > 0.25
    first, second = first[apart], second[apart]
    if not len(first):
        return None
    tilt = (place[second] - place[first]) / (along[second] - along[first])
    level = place[first] - tilt * along[first]
    misses = np.abs(level[:, None] + tilt[:, None] * along[None] - place[None])
    support = ((misses < tolerance) * weight[None]).sum(axis=1)
    winner = int(np.argmax(support))
    keep = misses[winner] < 2 * tolerance
    for _ in range(3):
        if keep.sum() < 16 or keep.sum() < 0.3 * len(weights):
            return None
        fit = np.polyfit(along[keep], place[keep], 1, w=np.sqrt(weight[keep]))
        miss = np.abs(np.polyval(fit, along) - place)
        spread = 1.4826 * np.median(miss[keep])
        keep = miss < max(2.5 * spread, 0.1)
    return _as_line(points, np.polyval(fit, np.array([0.0, 1.0 - 1.0 / len(weights)])))


def _chord(
    points: NDArray[np.float64],
    offsets: NDArray[np.float64],
    places: NDArray[np.float64],
    weights: NDArray[np.float64],
) -> NDArray[np.float64] | None:
    """The line between the ends of a shallow curve; None where the side is not plainly one.

    A parabola by iterated weights; it must explain most of the profiles, and they must be much
    nearer to it than to a line.
    """
    along = np.linspace(_MARGIN, 1 - _MARGIN, len(places))
    strong = weights > 0
    if strong.mean() < 0.7:
        return None
    fits = []
    for degree in (1, 2):
        weight = strong.astype(np.float64)
        for _ in range(12):
            fit = np.polyfit(along, places, degree, w=np.sqrt(weight))
            miss = np.abs(np.polyval(fit, along) - places)
            spread = max(0.3, 1.4826 * float(np.median(miss[strong])))
            weight = strong / (1.0 + (miss / (1.5 * spread)) ** 2) ** 2
        fits.append((fit, float(np.median(miss[strong])), float((miss[strong] < 1.5).mean())))
    (_, straight, _), (curve, rest, near) = fits
    if rest > 0.6 * straight or rest > 0.12 * offsets[-1] or near < 0.6 or straight < 0.4:
        return None
    start, end = np.polyval(curve, np.array([0.0, 1.0]))
    first, last = np.polyval(np.polyfit([0.0, 1.0], [start, end], 1), along[[0, -1]])
    return _as_line(points, np.array([first, last]))


def _as_line(points: NDArray[np.float64], ends: NDArray[np.float64]) -> NDArray[np.float64]:
    """Offsets at the first and the last profile to a line (a, b, c) in pixels."""
    span = points.shape[1] - 1
    outward = points[0, -1] - points[0, 0]
    unit = outward / max(np.linalg.norm(outward), 1e-9)
    middle = points[:, span // 2]
    pair = np.stack([middle[0] + ends[0] * unit, middle[-1] + ends[1] * unit])
    return line_through(pair, np.ones(2))
