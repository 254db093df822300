"""Quadrilaterals and the plane maps between them. Light mathematics, no pictures.

A quad is a (4, 2) float64 array of (x, y) pixels, pixel centres on integers, clockwise as seen
(y runs down), the first corner at the top left as shown.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

Pixels = NDArray[Any]  # (h, w) or (h, w, 3) uint8, RGB unless said otherwise
Quads = NDArray[np.float64]  # (4, 2), or (n, 4, 2)
_NEXT, _OPPOSITE, _PREVIOUS = [1, 2, 3, 0], [2, 3, 0, 1], [3, 0, 1, 2]
FOCAL = 0.85  # of the long side: a phone's main camera, measured beforehand
_PHONES = np.append(np.linspace(0.66, 1.0, 12), (1.2, 1.3, 1.4, 1.5))  # of others, and zoomed in
_FOCAL_SPREAD = 0.1  # logarithm
_MOST_UNLIKELY = 6.0  # a zoomed picture, before its corners are looked at
_SQUARE = 0.006  # cosine that a square corner may seem to have, found to a pixel or two


def meeting(one: Quads, other: Quads) -> NDArray[np.float64] | None:
    """Where the lines through two pairs of points (2, 2) meet; None for parallel ones."""
    way, across, apart = one[1] - one[0], other[1] - other[0], other[0] - one[0]
    turn = way[0] * across[1] - way[1] * across[0]
    if abs(turn) < 1e-9:
        return None
    share = (apart[0] * across[1] - apart[1] * across[0]) / turn
    return np.asarray(one[0] + share * way, np.float64)


def whole_picture(width_px: int, height_px: int) -> Quads:
    """The outline of a picture: pixel (0, 0) reaches from -0.5 to 0.5."""
    right, bottom = width_px - 0.5, height_px - 0.5
    return np.array([[-0.5, -0.5], [right, -0.5], [right, bottom], [-0.5, bottom]])


def from_top_left(quad: Quads) -> Quads:
    """The same quad clockwise, started at the corner that is the top left as shown.

    The top side is the one whose outward normal looks up most. Of one quad, or of (n, 4, 2).
    """
    quads = np.asarray(quad, np.float64).reshape(-1, 4, 2)
    backward = areas(quads) < 0
    quads = np.where(backward[:, None, None], quads[:, ::-1], quads)
    sides = quads[:, _NEXT] - quads
    rightward = sides[..., 0] / np.maximum(np.hypot(sides[..., 0], sides[..., 1]), 1e-9)
    first = np.argmax(rightward - rightward[:, _OPPOSITE], axis=1)
    order = (first[:, None] + np.arange(4)) % 4
    return np.take_along_axis(quads, order[..., None], axis=1).reshape(np.shape(quad))


def areas(quads: Quads) -> NDArray[np.float64]:
    """(n,) shoelace areas of (n, 4, 2); positive when clockwise as seen (y down)."""
    across = quads[:, 2] - quads[:, 0]
    other = quads[:, 3] - quads[:, 1]
    return np.asarray(0.5 * (across[:, 0] * other[:, 1] - across[:, 1] * other[:, 0]), np.float64)


def grown(quad: Quads, by: float) -> Quads:
    """The quad made larger by a factor, about the mean of its corners."""
    middle = quad.mean(axis=0)
    return np.asarray(middle + (quad - middle) * by, np.float64)


def signed_area(quad: Quads) -> float:
    """Shoelace area; positive when clockwise as seen (y down)."""
    (x0, y0), (x1, y1), (x2, y2), (x3, y3) = quad.tolist()
    return float(0.5 * ((x2 - x0) * (y3 - y1) - (y2 - y0) * (x3 - x1)))


def following(points: NDArray[Any]) -> NDArray[Any]:
    """(..., 4, 2) points, each in the place of the one before it."""
    return np.asarray(points[..., _NEXT, :])


def preceding(points: NDArray[Any]) -> NDArray[Any]:
    """(..., 4, 2) points, each in the place of the one after it."""
    return np.asarray(points[..., _PREVIOUS, :])


def lengths(vectors: NDArray[Any]) -> NDArray[Any]:
    """(...) lengths of (..., few) vectors: as ``np.linalg.norm`` of the last axis, several times
    quicker where that is short."""
    total = vectors[..., 0] * vectors[..., 0]
    for k in range(1, vectors.shape[-1]):
        total += vectors[..., k] * vectors[..., k]
    return np.asarray(np.sqrt(total))


def along_way(vectors: NDArray[Any], way: NDArray[Any]) -> NDArray[Any]:
    """(...) products of (..., few) vectors and those of ``way``, of a shape that spreads to it."""
    total = vectors[..., 0] * way[..., 0]
    for k in range(1, vectors.shape[-1]):
        total += vectors[..., k] * way[..., k]
    return np.asarray(total)


def medians(values: NDArray[Any], axis: int = 0) -> NDArray[Any]:
    """As ``np.median`` of floats, several times quicker on little; NaN is not looked for."""
    high = values.shape[axis] // 2
    low = high - 1 + values.shape[axis] % 2
    ordered = np.partition(values, (low, high), axis=axis)
    return np.asarray((ordered.take(low, axis) + ordered.take(high, axis)) * values.dtype.type(0.5))


def percentile(values: NDArray[Any], percent: float) -> float:
    """As ``np.percentile`` of all values, several times quicker on little; no NaN is looked for."""
    place = (values.size - 1) * (percent / 100)
    low = int(place)
    high = min(low + 1, values.size - 1)
    ordered = np.partition(values, (low, high), axis=None)
    way, share = ordered[high] - ordered[low], place - low
    return float(ordered[low] + way * share if share < 0.5 else ordered[high] - way * (1 - share))


def side_lengths(quad: Quads) -> tuple[float, float]:
    """(width, height): means of the top and bottom, and of the left and right side."""
    sides = following(quad) - quad
    top, right, bottom, left = np.hypot(sides[:, 0], sides[:, 1])
    return float(top + bottom) / 2, float(right + left) / 2


def sides_of(quads: Quads) -> NDArray[np.float64]:
    """(n, 2): means of the top and bottom, and of the left and right sides, of (n, 4, 2)."""
    sides = lengths(following(quads) - quads)
    return np.asarray((sides[:, :2] + sides[:, 2:]) / 2)


def same_size(a: Quads, b: Quads) -> bool:
    """True for two quads whose sides are as long, to 3 %, in either turn: cards side by side."""
    return bool(size_misses(a, b[None])[0] < 0.035)


def same_size_on_table(a: Quads, b: Quads, *, aspect: float) -> bool:
    """The same, to 5 %, for quads of a photo that lie in one plane, however tilted.

    ``aspect``: width / height of the flat rectangle behind ``a``.
    """
    return bool(size_misses(a, b[None], aspect=aspect)[0] < 0.05)


def size_misses(one: Quads, others: Quads, *, aspect: float | None = None) -> NDArray[np.float64]:
    """(n,) logarithms of what a side of each of (n, 4, 2) quads is longer or shorter than that of
    one, in either turn. ``aspect``: of the flat rectangle behind it; None where all are flat."""
    if aspect is None:
        own, sides = sides_of(one[None])[0], sides_of(others)
    else:
        own, sides = np.array([aspect, 1.0]), all_sides_on(one, others, aspect=aspect)
    sides = np.maximum(np.sort(sides, axis=1), 1e-9)
    return np.asarray(np.abs(np.log(sides / np.sort(own))).max(axis=1), np.float64)


def projected(points: NDArray[Any], matrix: NDArray[Any]) -> NDArray[np.float64]:
    """(n, 2) points through a (3, 3) homography; NaN for what lies on its horizon or behind it."""
    seen = np.column_stack([points, np.ones(len(points))]) @ matrix.T
    depth = np.where(seen[:, 2:] > 1e-6, seen[:, 2:], np.nan)
    return np.asarray(seen[:, :2] / depth, np.float64)


def sides_on(a: Quads, b: Quads, *, aspect: float) -> tuple[float, float]:
    """(width, height) of ``b`` in the plane of ``a``, whose own are ``aspect`` and 1; zeros where
    it is no rectangle there."""
    wide, high = all_sides_on(a, b[None], aspect=aspect)[0].tolist()
    return wide, high


def all_sides_on(one: Quads, quads: Quads, *, aspect: float) -> NDArray[np.float64]:
    """(n, 2): ``sides_on`` of (n, 4, 2) quads."""
    back = np.linalg.inv(unit_homographies(one[None])[0])
    flat = projected(quads.reshape(-1, 2), back).reshape(quads.shape) * np.array([aspect, 1.0])
    u, v = flat[:, 1] - flat[:, 0], flat[:, 3] - flat[:, 0]
    size = np.linalg.norm(u, axis=1) * np.linalg.norm(v, axis=1)
    square = np.abs(np.einsum("nk,nk->n", u, v)) <= 0.08 * size  # not for NaN
    square &= ~np.isnan(flat).any(axis=(1, 2))
    return np.where(square[:, None], sides_of(np.where(square[:, None, None], flat, 0.0)), 0.0)


def is_convex(quad: Quads) -> bool:
    """True for a quad without a re-entrant or straight corner: ``are_convex``, quicker for one."""
    a, b, c, d = quad.tolist()
    cross = [
        (y[0] - x[0]) * (z[1] - y[1]) - (y[1] - x[1]) * (z[0] - y[0])
        for x, y, z in ((a, b, c), (b, c, d), (c, d, a), (d, a, b))
    ]
    return bool(min(cross) > 1e-6 or max(cross) < -1e-6)


def are_convex(quads: Quads) -> NDArray[np.bool_]:
    """(n,) ``is_convex`` of (n, 4, 2)."""
    a = quads[:, _NEXT] - quads
    b = a[:, _NEXT]
    cross = a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0]
    return np.asarray((cross > 1e-6).all(axis=1) | (cross < -1e-6).all(axis=1))


def rectangle(
    middle: NDArray[np.float64], size: Sequence[float] | NDArray[np.float64], angle: float
) -> Quads:
    """Of a size (width, height) about its middle, turned by an angle (radians, clockwise as seen)
    from upright."""
    corners = np.array([[-0.5, -0.5], [0.5, -0.5], [0.5, 0.5], [-0.5, 0.5]]) * size
    cosine, sine = np.cos(angle), np.sin(angle)
    return np.asarray(middle + corners @ np.array([[cosine, sine], [-sine, cosine]]))


def top_angle_deg(quad: Quads) -> float:
    """Angle of the item against the x axis, clockwise positive: mean of top and bottom."""
    direction = (quad[1] - quad[0]) + (quad[2] - quad[3])
    return math.degrees(math.atan2(direction[1], direction[0]))


def overlap(a: Quads, b: Quads) -> tuple[float, float]:
    """(Jaccard index, share of the smaller one that lies in the other) of two convex quads."""
    area_a, area_b = abs(signed_area(a)), abs(signed_area(b))
    apart = np.any((a.max(axis=0) <= b.min(axis=0)) | (b.max(axis=0) <= a.min(axis=0)))
    if min(area_a, area_b) <= 0 or apart:
        return 0.0, 0.0
    common = common_area(a, b)
    return common / max(area_a + area_b - common, 1e-9), common / min(area_a, area_b)


def common_area(a: Quads, b: Quads) -> float:
    """Of two convex polygons, (n, 2) each, either way round."""
    return abs(_turned(common_part(a, b).tolist())) / 2


def common_part(a: Quads, b: Quads) -> Quads:
    """The polygon, (n, 2), that two convex ones share, (0, 2) where they share none: one clipped by
    each side of the other (Sutherland and Hodgman, CACM 1974), in double precision. OpenCV's own is
    wrong for one in eighty pairs of which sides nearly lie on one another."""
    seen: list[list[float]] = a.tolist()
    sides: list[list[float]] = b.tolist()
    way = 1.0 if _turned(sides) > 0 else -1.0
    for (x, y), (to_x, to_y) in zip(sides, [*sides[1:], sides[0]], strict=True):
        across, down = way * (to_x - x), way * (to_y - y)
        within = [across * (v - y) - down * (u - x) for u, v in seen]
        clipped: list[list[float]] = []
        for k, (u, v) in enumerate(seen):
            if within[k - 1] * within[k] < 0:
                part = within[k - 1] / (within[k - 1] - within[k])
                before_u, before_v = seen[k - 1]
                clipped.append([before_u + part * (u - before_u), before_v + part * (v - before_v)])
            if within[k] >= 0:
                clipped.append([u, v])
        if len(clipped) < 3:
            return np.zeros((0, 2))
        seen = clipped
    return np.array(seen, np.float64)


def _turned(polygon: list[list[float]]) -> float:
    """Twice the shoelace area."""
    return sum(polygon[k - 1][0] * v - u * polygon[k - 1][1] for k, (u, v) in enumerate(polygon))


def unit_homographies(quads: Quads) -> NDArray[np.float64]:
    """(n, 3, 3) maps of the unit square onto quads (Heckbert 1989, section 2.2.3)."""
    p0, p1, p2, p3 = (quads[:, k] for k in range(4))
    total, one, two = p0 - p1 + p2 - p3, p1 - p2, p3 - p2
    det = one[:, 0] * two[:, 1] - two[:, 0] * one[:, 1]
    det = np.where(np.abs(det) < 1e-9, 1e-9, det)
    g = (total[:, 0] * two[:, 1] - two[:, 0] * total[:, 1]) / det
    h = (one[:, 0] * total[:, 1] - total[:, 0] * one[:, 1]) / det
    maps = np.empty((len(quads), 3, 3))
    maps[:, :2, 0] = p1 - p0 + g[:, None] * p1
    maps[:, :2, 1] = p3 - p0 + h[:, None] * p3
    maps[:, :2, 2] = p0
    maps[:, 2, 0], maps[:, 2, 1], maps[:, 2, 2] = g, h, 1.0
    return maps


def plane_shapes(
    quads: Quads, *, width_px: int, height_px: int, focals: Sequence[float] = (FOCAL,)
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """(width / height, cosine of the corner angle, cosine of the tilt against the picture) of the
    flat rectangles behind a photo's quads, each (focals, n).

    From the homography of the unit square with the principal point at the picture's centre and a
    focal length of ``focals`` long sides: with H = [h1 h2 h3] the rectangle's sides are |K^-1 h1|
    and |K^-1 h2| (Zhang, IEEE PAMI 2000), and their cross product is its normal. A quad seen square
    on gives the plain ratio.
    """
    first, second = _sides_in_space(quads, focals, width_px=width_px, height_px=height_px)
    wide, high = np.maximum(lengths(first), 1e-9), np.maximum(lengths(second), 1e-9)
    across, after = [1, 2, 0], [2, 0, 1]
    upright = first[..., across] * second[..., after] - first[..., after] * second[..., across]
    tilt = np.abs(upright[..., 2]) / np.maximum(lengths(upright), 1e-12)
    return wide / high, along_way(first, second) / (wide * high), tilt


def _sides_in_space(
    quads: Quads, focals: Sequence[float] | NDArray[np.float64], *, width_px: int, height_px: int
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """(focals, n, 3) each: K^-1 h1 and K^-1 h2 of (n, 4, 2) quads, see ``plane_shapes``."""
    centre = np.array([(width_px - 1) / 2, (height_px - 1) / 2])
    maps = unit_homographies((quads - centre) / max(width_px, height_px))
    scale = np.array([1.0, 1.0, 0.0]) / np.array(focals)[:, None, None] + np.array([0.0, 0.0, 1.0])
    return scale * maps[:, :, 0], scale * maps[:, :, 1]


def plane_shape(quad: Quads, *, width_px: int, height_px: int) -> tuple[float, float]:
    """(width / height, cosine of the corner angle) of the flat rectangle behind a photo's quad.

    As ``plane_shapes``, over the focal lengths that phones have: those count more by which the
    corners are square, and where that says nothing (a quad seen square on) the usual ones. The
    last answers are kept: the same quads are asked about many times.
    """
    return _plane_shape(np.asarray(quad, np.float64).tobytes(), width_px, height_px)


@lru_cache(maxsize=4096)  # rounds ask about the same quads
def _plane_shape(quad: bytes, width_px: int, height_px: int) -> tuple[float, float]:
    """``quad``: of (4, 2) float64."""
    corners = np.frombuffer(quad).reshape(1, 4, 2)
    sides = _sides_in_space(corners, _PHONES, width_px=width_px, height_px=height_px)
    first, second = sides[0][:, 0], sides[1][:, 0]
    wide, high = lengths(first), lengths(second)
    cosine = along_way(first, second) / np.maximum(wide * high, 1e-12)
    unusual = np.minimum((np.log(_PHONES / FOCAL) / _FOCAL_SPREAD) ** 2, _MOST_UNLIKELY)
    unlikely = (cosine / _SQUARE) ** 2 + unusual
    weight = np.exp(-0.5 * (unlikely - unlikely.min()))
    weight /= weight.sum()
    aspect = np.exp(weight @ np.log(np.maximum(wide, 1e-9) / np.maximum(high, 1e-9)))
    return float(aspect), float(weight @ cosine)


def doubled(quad: Quads) -> list[Quads]:
    """The quad continued by a second one of its size across each of its two long sides.

    For half of an opening: the other page lies in the same plane, on the far side of the fold.
    """
    wide, high = side_lengths(quad)
    unit = np.array([[0, 0], [1, 0], [1, 1], [0, 1]], dtype=np.float32)
    matrix = cv2.getPerspectiveTransform(unit, quad.astype(np.float32))
    axis = 0 if wide < high else 1
    results = []
    for low, high_end in ((-1.0, 1.0), (0.0, 2.0)):
        corners = unit.astype(np.float64)
        corners[:, axis] = np.where(corners[:, axis] > 0.5, high_end, low)
        seen = projected(corners, matrix)
        if not np.isnan(seen).any():
            results.append(seen)
    return results
