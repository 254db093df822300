"""Sides of found quads moved onto the edge, to a fraction of a pixel. All sides at once.

Per side: profiles across the edge, projected on the colour step of that side, the steepest place
of each to a fraction of a pixel, and one robust line through them. Coarse on the view, then fine
on the source, where only the pixels beside the sides are read.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from random import Random
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from packet.imaging.geometry import (
    Pixels,
    Quads,
    along_way,
    following,
    lengths,
    preceding,
)
from packet.imaging.view import View, along_sides, sample, well_inside

_SAMPLES, _SETTLED_SAMPLES = 120, 80
MARGIN = 0.07  # of each end of a side that is left out, as in along_sides
_PAIRS = 120  # lines tried through two places each
_LEAST_SEEN = 0.25  # of a side that must lie in the picture
_MOST_SEEN = 0.9  # of a side with an edge, that it is known to be straight
_SLOPE: NDArray[Any] = (
    np.array([-1, -2, -2, 0, 2, 2, 1], np.float32) / 18
)  # (1 2 3 2 1) / 9, then (-1 0 1) / 2
_BENT_PX, _NEAR_PX = 0.4, 1.5  # off a line, of a side that may be a curve; off the curve itself

Values = NDArray[np.float64]


def refine(
    pixels: Pixels, view: View, quad_view: Quads, *, bent: bool = False, settled: bool = False
) -> Quads:
    """The quad in source pixels, its sides fitted on the view and then on the source.

    ``settled``: on the view they lie well already.

    ``bent``: sides may be shallow curves (paper that does not lie flat, a lens that bends); then
    the corners are where the curves end, not where lines through their middles would meet.
    """
    quads, samples = quad_view[None], _SETTLED_SAMPLES if settled else _SAMPLES
    if not settled or view.factor == 1:
        quads = move_sides(view, quads, reach_px=4.0)
    source, straight = view.to_source(quads), False
    if view.factor > 1:
        source = move_sides(pixels, source, reach_px=2.5 * view.factor, samples=samples // 2)
        near = _edges_near(pixels, source, reach_px=max(3.0, 1.2 * view.factor), samples=samples)
        ends, fitted = near.lines()
        source, straight = near.moved(source, ends, fitted), near.are_straight(ends)
    if bent and not straight:
        reach = 5.0 * view.factor
        source = move_sides(pixels, source, reach_px=reach, samples=samples // 2, bent=True)
    return np.asarray(source[0], np.float64)


def move_sides(
    pixels: Pixels | View,
    quads: Quads,
    *,
    reach_px: float,
    samples: int = _SAMPLES,
    bent: bool = False,
) -> Quads:
    """One pass over (n, 4, 2) quads: each side onto the strongest edge within ``reach_px`` of it.

    ``pixels``: a picture, or a view, whose colours are Lab. ``bent``: only sides that are curves
    are moved, onto the chord between their ends. A quad that would move far, or be none any more,
    stays.
    """
    near = _edges_near(pixels, quads, reach_px=reach_px, samples=samples)
    ends, fitted = near.chords() if bent else near.lines()
    return near.moved(quads, ends, fitted)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Edges:
    """The strongest edges near the sides of quads, across each at some places along it.

    ``along`` (samples,): those places, 0 to 1; ``places``, ``weights`` (sides, samples): offset of
    the edge outward, in pixels, and what it counts, 0 where there is none; ``inside``: is that
    place in the picture; ``seen`` (sides,): has the side an edge at all; ``reach_px``.
    """

    along: Values
    places: Values
    weights: Values
    inside: NDArray[np.bool_]
    seen: NDArray[np.bool_]
    reach_px: float

    def lines(self) -> tuple[Values, NDArray[np.bool_]]:
        """As ``robust_lines``."""
        return robust_lines(self.along, self.places, self.weights, self.reach_px)

    def chords(self) -> tuple[Values, NDArray[np.bool_]]:
        """As ``_chords``, of sides that are wholly in the picture."""
        ends, fitted = _chords(self.along, self.places, self.weights, self.reach_px)
        return ends, fitted & self.inside.all(axis=1)

    def moved(self, quads: Quads, ends: Values, fitted: NDArray[np.bool_]) -> Quads:
        """The quads with those sides put where they were fitted."""
        ends = np.where((fitted & self.seen)[:, None], ends, 0.0).reshape(-1, 4, 2)
        return put_off(quads, ends, most_px=6 * self.reach_px)

    def are_straight(self, ends: Values) -> bool:
        """Nearly all of each side has an edge, and that lies on the line between its ends."""
        strong = self.weights > 0
        line = ends[:, :1] + (ends[:, 1:] - ends[:, :1]) * self.along
        miss = chosen_medians(np.abs(line - self.places), strong)
        return bool(((miss < _BENT_PX) & (strong.mean(axis=1) > _MOST_SEEN)).all())


def _edges_near(pixels: Pixels | View, quads: Quads, *, reach_px: float, samples: int) -> _Edges:
    count = int(np.clip(round(reach_px * 2), 8, 28))
    offsets = np.linspace(-reach_px, reach_px, 2 * count + 1)
    points = along_sides(quads, samples=samples, offsets=offsets, margin=MARGIN)
    points = points.reshape(-1, samples, len(offsets), 2)  # (sides, samples, offsets, 2)
    middle = points[:, :, count]
    wide, high = (
        (pixels.width_px, pixels.height_px) if isinstance(pixels, View) else pixels.shape[1::-1]
    )
    inside = well_inside(middle, width_px=wide, height_px=high)
    slope, seen = _slopes_across(pixels, points, inside)
    places, weights = peaks(slope, offsets, inside)
    return _Edges(
        along=np.linspace(MARGIN, 1 - MARGIN, samples),
        places=places,
        weights=weights,
        inside=inside,
        seen=seen & (inside.mean(axis=1) >= _LEAST_SEEN),
        reach_px=float(offsets[-1]),
    )


def put_off(quads: Quads, ends: Values, *, most_px: float) -> Quads:
    """Quads whose sides are put off outward by ``ends`` (n, 4, 2: at start and end of a side)."""
    side = following(quads) - quads
    length = np.maximum(lengths(side)[..., None], 1e-9)
    outward = np.stack([side[..., 1], -side[..., 0]], axis=-1) / length
    start = quads + ends[..., :1] * outward
    way = side + (ends[..., 1:] - ends[..., :1]) * outward
    before, before_way = preceding(start), preceding(way)
    det = before_way[..., 0] * way[..., 1] - before_way[..., 1] * way[..., 0]
    flat = np.abs(det) < 1e-6 * length[..., 0] ** 2
    gap = start - before
    far = (gap[..., 0] * way[..., 1] - gap[..., 1] * way[..., 0]) / np.where(flat, 1.0, det)
    moved = before + far[..., None] * before_way
    step = following(moved) - moved
    after = following(step)
    convex = np.all(step[..., 0] * after[..., 1] - step[..., 1] * after[..., 0] > 1e-6, axis=1)
    near = lengths(moved - quads).max(axis=1) <= most_px
    good = convex & near & ~flat.any(axis=1)
    return np.asarray(np.where(good[:, None, None], moved, quads), np.float64)


def _slopes_across(
    pixels: Pixels | View, points: NDArray[np.float32], inside: NDArray[np.bool_]
) -> tuple[NDArray[np.float32], NDArray[np.bool_]]:
    """((sides, samples, offsets) steepness along the colour step of each side, has it any)."""
    seen = pixels.colours_at(points) if isinstance(pixels, View) else sample(pixels, points)
    slopes = slopes_of(seen)
    weight = inside / np.maximum(inside.sum(axis=1, keepdims=True), 1)
    flat = slopes.reshape(*slopes.shape[:2], -1)
    common = (weight.astype(np.float32)[:, None] @ flat).reshape(len(flat), *slopes.shape[2:])
    wide = max(3, (points.shape[2] // 6) | 1)
    count, before = common.shape[1], wide // 2 + 1
    padded = np.zeros((len(common), count + wide, common.shape[2]), common.dtype)
    padded[:, before : before + count] = common
    total = np.cumsum(padded, axis=1)
    common = (total[:, wide:] - total[:, :-wide]) / wide
    size = lengths(common)
    best = np.argmax(size, axis=1)
    rows = np.arange(len(size))
    most = size[rows, best]
    way = common[rows, best] / np.maximum(most, 1e-6)[:, None]
    return along_way(slopes, way.astype(np.float32)[:, None, None]), most > 1e-6


def slopes_of(profiles: NDArray[np.float32]) -> NDArray[np.float32]:
    """Central differences of lightly smoothed profiles (..., offsets, channels)."""
    return filtered(profiles, _SLOPE)


def filtered(profiles: NDArray[np.float32], kernel: NDArray[Any]) -> NDArray[np.float32]:
    """Each profile of (..., offsets, channels) by an odd kernel; beyond its ends, its end."""
    rows = profiles.reshape(-1, *profiles.shape[-2:])
    found = cv2.filter2D(rows, cv2.CV_32F, kernel[None], borderType=cv2.BORDER_REPLICATE)
    return np.asarray(found, np.float32).reshape(profiles.shape)


def peaks(
    slope: NDArray[np.float32], offsets: Values, inside: NDArray[np.bool_]
) -> tuple[Values, Values]:
    """(offset of the steepest place, weight) of every profile; weight 0 where there is no edge."""
    best = np.argmax(slope[:, :, 1:-1], axis=2) + 1
    sides, samples = np.ogrid[: slope.shape[0], : slope.shape[1]]
    before, at, after = (slope[sides, samples, best + k].astype(np.float64) for k in (-1, 0, 1))
    bend = before - 2 * at + after
    bent = bend < -1e-6
    shift = np.where(bent, 0.5 * (before - after) / np.where(bent, bend, -1.0), 0.0)
    places = offsets[best] + np.clip(shift, -0.5, 0.5) * (offsets[1] - offsets[0])
    usual = np.maximum(chosen_medians(at, inside), 1e-6)[:, None]
    weights = np.clip(at / usual, 0, 1.5)
    weights[(at < np.maximum(0.25 * usual, 0.15)) | ~inside] = 0.0
    return places, weights


def chosen_medians(values: Values, of: NDArray[np.bool_]) -> Values:
    """(sides,) of the chosen ones of (sides, samples); of an even number the lower middle."""
    ordered = np.sort(np.where(of, values, np.inf), axis=1)
    middle = np.maximum(of.sum(axis=1) - 1, 0) // 2
    found = ordered[np.arange(len(ordered)), middle]
    return np.where(np.isfinite(found), found, 0.0)


def robust_lines(
    along: Values, places: Values, weights: Values, reach: float
) -> tuple[Values, NDArray[np.bool_]]:
    """((sides, 2) offsets at start and end, found) of the line most profiles agree on.

    The best of many two-point lines (Fischler and Bolles 1981), then weighted fits.
    """
    count = len(along)
    tolerance = max(0.35, 0.06 * reach)
    first, second = _pairs(count)
    slope = (places[:, second] - places[:, first]) / (along[second] - along[first])
    level = places[:, first] - slope * along[first]
    there = (weights[:, first] > 0) & (weights[:, second] > 0)  # (sides, pairs)
    off = slope[..., None].astype(np.float32) * along.astype(np.float32)
    off += level[..., None].astype(np.float32) - places[:, None].astype(np.float32)
    near = (np.abs(off, out=off) < tolerance).astype(np.float32)
    support = (near @ weights[:, :, None].astype(np.float32))[..., 0]
    winner = np.argmax(np.where(there, support, -1.0), axis=1)
    rows = np.arange(len(places))
    good = weights > 0
    found = there.any(axis=1) & (good.sum(axis=1) >= min(20, 0.6 * count))
    miss = off[rows, winner].astype(np.float64)
    keep = good & (miss < 2 * tolerance)
    least = np.maximum(min(16, 0.5 * count), 0.3 * good.sum(axis=1))
    for _ in range(3):
        found &= keep.sum(axis=1) >= least
        fit = _weighted_fit(along, places, weights * keep, 1)
        miss = np.abs(fit[:, :1] + fit[:, 1:] * along - places)
        spread = 1.4826 * chosen_medians(miss, keep)
        keep = good & (miss < np.maximum(2.5 * spread, 0.1)[:, None])
    return np.stack([fit[:, 0], fit[:, 0] + fit[:, 1]], axis=1), found


@cache
def _pairs(count: int) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """The places that lines are tried through: always the same ones."""
    chooser = Random(7)
    pairs = np.array(
        [(chooser.randrange(count), chooser.randrange(count)) for _ in range(3 * _PAIRS)]
    )
    first, second = pairs[np.abs(pairs[:, 0] - pairs[:, 1]) > 0.25 * count][:_PAIRS].T
    return first, second


def _weighted_fit(along: Values, places: Values, weights: Values, degree: int) -> Values:
    """(sides, degree + 1) coefficients, constant first, of weighted least squares."""
    if degree == 1:
        return _weighted_lines(along, places, weights)
    powers = along[:, None] ** np.arange(2 * degree + 1)
    moments = weights @ powers
    which = np.arange(degree + 1)
    matrix = moments[:, which[:, None] + which] + 1e-9 * np.eye(degree + 1)
    right = (weights * places) @ powers[:, : degree + 1]
    return np.asarray(np.linalg.solve(matrix, right[..., None])[..., 0], np.float64)


def _weighted_lines(along: Values, places: Values, weights: Values) -> Values:
    """(sides, 2): the same for lines, where the answer can be written down."""
    pulled = weights * places
    total, level = weights.sum(axis=1) + 1e-9, pulled.sum(axis=1)
    first, slant = weights @ along, pulled @ along
    second = weights @ (along * along) + 1e-9
    det = np.maximum(total * second - first * first, 1e-12)
    lines = np.empty((len(places), 2))
    lines[:, 0] = (second * level - first * slant) / det
    lines[:, 1] = (total * slant - first * level) / det
    return lines


def _chords(
    along: Values, places: Values, weights: Values, reach: float
) -> tuple[Values, NDArray[np.bool_]]:
    """((sides, 2) offsets of the ends of shallow curves, is the side plainly one).

    A parabola by iterated weights; it must explain most of the profiles, and they must be much
    nearer to it than to a line.
    """
    strong = weights > 0
    _, straight, _ = _fitted(along, places, strong, 1)
    plain = (straight >= _BENT_PX) & (strong.mean(axis=1) >= 0.7)
    if not plain.any():
        return np.zeros((len(places), 2)), plain
    curve, rest, near = _fitted(along, places, strong, 2)
    plain &= (rest <= 0.6 * straight) & (rest <= 0.12 * reach) & (near >= 0.6)
    return np.stack([curve[:, 0], curve.sum(axis=1)], axis=1), plain


def _fitted(
    along: Values, places: Values, strong: NDArray[np.bool_], degree: int
) -> tuple[Values, Values, Values]:
    """Coefficients of a polynomial by iterated weights, the median miss of the strong places, and
    the share of them that are near it."""
    powers = (along[:, None] ** np.arange(degree + 1)).T
    weight = strong.astype(np.float64)
    for _ in range(12):
        fit = _weighted_fit(along, places, weight, degree)
        miss = np.abs(fit @ powers - places)
        usual = chosen_medians(miss, strong)
        weight = (
            strong / (1.0 + (miss / (1.5 * np.maximum(0.3, 1.4826 * usual)[:, None])) ** 2) ** 2
        )
    near = ((miss < _NEAR_PX) & strong).sum(axis=1) / np.maximum(strong.sum(axis=1), 1)
    return fit, usual, near
