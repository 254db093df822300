"""A page on a scanner's glass that is little larger: A4 on 216 x 297 mm is seen with a strip of
lid beside it, and its ends lie on the edges of the picture.

No outline of four sides is seen then; two sides, or one, at the page's own width are.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import cv2
import numpy as np
from numpy.typing import NDArray

from packet.imaging.geometry import Pixels, Quads, meeting, whole_picture
from packet.imaging.refine import move_sides, refine
from packet.imaging.score import Expected, side_edges
from packet.imaging.view import View

LIKE_GLASS = 0.03  # logarithm: by so much a glass is larger than a page at most
_LEAST_SPARE_MM = 0.8
_BEYOND_MM = 0.8  # that a side may be found farther in than the strip is wide
_PACE_MM = 1.5  # sides are looked for within so much of places twice as far apart
_MOST_PUSHED_MM = 32.0
_LEAST_PUSHED_MM = 1.5
_SURE_SIDE, _STEPPED = 0.75, 0.6  # shares of a side with an edge, and with other paper beyond it
_SQUARE = 0.03  # cosine
_CLEAR_PX = 8.0  # of the view, from the picture's edge: nearer a side cannot be judged
_DARKER, _MARKED = 25, 0.002  # levels of L, and share of the strips
_SPECKS = 0.02  # per cent of the ink at either end: dust
_PLAIN = 0.75  # share of a side with an edge
_RIGHT = 0.005  # by which the width may differ from the page's
_LEAST_MM = -1.0  # that the glass may be larger, the other way
_OPPOSITE = ((3, 1), (0, 2))  # sides of a quad: left and right, top and bottom
_INWARD = np.array([[1, 1], [-1, 1], [-1, -1], [1, -1]])  # from its corners

Lengths = NDArray[np.float64]
"""(2,) or (4,): along x and y, or one a side."""


def page_on_glass(pixels: Pixels, view: View, expected: Expected) -> Quads | None:
    """The outline (source pixels) of a page of a wanted size on a glass of nearly that size; None
    where none of its sides is seen, or the glass is no larger. ``expected`` has a trusted scale.
    """
    for size_mm, spare_mm in _pages(expected):
        if spare_mm.min() < _LEAST_MM or spare_mm.max() < _LEAST_SPARE_MM:
            continue
        quad = _by_its_sides(pixels, view, expected, size_mm, spare_mm)
        if quad is not None:
            return quad
    return None


def _pages(expected: Expected) -> Iterator[tuple[Lengths, Lengths]]:
    """(width and height, by how much the glass is larger) of the pages it is nearly as large as."""
    glass = np.array(expected.measured_mm(whole_picture(expected.width_px, expected.height_px)))
    for size in expected.sizes_mm:
        size_mm = np.array(size)
        if np.abs(np.log(glass / size_mm)).max() <= LIKE_GLASS:
            yield size_mm, glass - size_mm


def page_pushed_over(pixels: Pixels, view: View, expected: Expected) -> Quads | None:
    """The outline (source pixels) of a page that was pushed over two edges of a glass of nearly
    its size: the other two sides are seen as steps of colour, farther in than the glass is larger.
    """
    assert expected.px_per_mm is not None
    scale = np.array(expected.px_per_mm) / view.factor  # view pixels a millimetre
    sides, inside_mm = _steps_within(view, expected, scale)
    top, right, bottom, left = (side is not None for side in sides)
    if top == bottom or left == right:
        return None
    y, x = (0 if top else 2), (1 if right else 3)
    one, other = sides[y], sides[x]
    if one is None or other is None or abs(_cosine(one, other)) > _SQUARE:
        return None
    corner = meeting(one, other)
    assert corner is not None
    for size_mm, spare_mm in _pages(expected):
        pushed = inside_mm[[x, y]] - spare_mm
        if pushed.min() > -_PACE_MM and pushed.max() > _LEAST_PUSHED_MM:
            along = (one[1] - one[0]) / np.linalg.norm(one[1] - one[0])  # clockwise, as all sides
            way = along if top else -along
            axes = np.stack([way, [-way[1], way[0]]])
            unit = np.array([[0, 0], [1, 0], [1, 1], [0, 1]]) - np.array([right, bottom])
            return refine(pixels, view, corner + unit * size_mm * scale @ axes, settled=True)
    return None


def _steps_within(
    view: View, expected: Expected, scale: Lengths
) -> tuple[list[Quads | None], Lengths]:
    """(the top, right, bottom and left side that is seen as a step of colour some way within the
    picture, how far in each is); view pixels and millimetres."""
    border = view.to_view(whole_picture(expected.width_px, expected.height_px))
    insets = np.arange(_LEAST_SPARE_MM + _PACE_MM, _MOST_PUSHED_MM, 2 * _PACE_MM)
    rough = border + _INWARD * insets[:, None, None] * scale
    moved = move_sides(view, rough, reach_px=float(1.3 * _PACE_MM * scale.max()))
    edges, steps = side_edges(view, moved)
    middles = (moved + np.roll(moved, -1, axis=1)) / 2
    away = np.abs(middles - (border + np.roll(border, -1, axis=0)) / 2)  # (insets, sides, 2)
    away = np.stack([away[:, k, 1 - k % 2] for k in range(4)], axis=1)
    told = np.where((edges > _SURE_SIDE) & (away > _CLEAR_PX), steps, 0.0)
    best = told.argmax(axis=0)
    sides = np.stack([moved, np.roll(moved, -1, axis=1)], axis=2)  # (insets, sides, 2 ends, 2)
    seen = [sides[best[k], k] if told[best[k], k] > _STEPPED else None for k in range(4)]
    return seen, np.array([away[best[k], k] / scale[1 - k % 2] for k in range(4)])


def _cosine(one: Quads, other: Quads) -> float:
    a, b = one[1] - one[0], other[1] - other[0]
    return float(a @ b / max(np.linalg.norm(a) * np.linalg.norm(b), 1e-9))


def page_around_print(
    view: View, outline: Quads, points: NDArray[np.float32], expected: Expected
) -> Quads:
    """A page of a wanted size about the middle of a glass of nearly that size, where none of its
    sides is seen: as much of the strip is left out as is larger than the page, none that is
    printed on. ``outline``: the glass, turned as the page is; ``points``: (n, 2) of ink. The
    outline itself where the print is wider than the page, or no size is like it.
    """
    assert expected.px_per_mm is not None
    axes = np.stack([outline[1] - outline[0], outline[3] - outline[0]])
    length = np.linalg.norm(axes, axis=1)
    axes = axes / length[:, None]
    middle = outline.mean(axis=0)
    ink = (points - middle) @ axes.T
    low, top = (
        np.percentile(ink, (_SPECKS, 100 - _SPECKS), axis=0) if len(ink) else (np.zeros(2),) * 2
    )
    for size_mm, _ in _pages(expected):
        half = np.minimum(size_mm * expected.px_per_mm, length) / 2
        if np.all(top - low <= 2 * half):
            away = np.clip(0.0, top - half, low + half)
            corners = away + half * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])
            quad = np.asarray(middle + corners @ axes, np.float64)
            return outline if _is_marked_around(view, quad) else quad
    return outline


def _is_marked_around(view: View, quad: Quads) -> bool:
    """Something darker than the strips beside a page is on them."""
    around = np.ones(view.lab.shape[:2], np.uint8)
    cv2.fillConvexPoly(around, np.round(view.to_view(quad)).astype(np.int32), 0)
    light = view.lab[..., 0][around == 1].astype(np.int16)
    return bool(len(light) and (light < np.median(light) - _DARKER).mean() > _MARKED)


def _by_its_sides(
    pixels: Pixels,
    view: View,
    expected: Expected,
    size_mm: Lengths,
    spare_mm: Lengths,
) -> Quads | None:
    assert expected.px_per_mm is not None
    scale = np.array(expected.px_per_mm) / view.factor  # view pixels a millimetre
    strip = np.where(spare_mm < _LEAST_SPARE_MM, 0.0, spare_mm)
    inset = strip / 2 * scale
    border = view.to_view(whole_picture(expected.width_px, expected.height_px))
    rough = border + _INWARD * inset
    reach = float((strip.max() / 2 + _BEYOND_MM) * scale.max())
    moved = move_sides(view, rough[None], reach_px=reach)[0]
    moved = refine(pixels, view, moved, settled=True)
    plain = side_edges(view, view.to_view(moved)[None])[0][0] > _PLAIN
    outer = view.to_source(border)
    sides = np.stack([outer, np.roll(outer, -1, axis=0)], axis=1)  # top, right, bottom, left
    seen = np.stack([moved, np.roll(moved, -1, axis=0)], axis=1)
    found = [
        axis
        for axis in (0, 1)
        if strip[axis] and _put(sides, seen, plain, size_mm[axis] * expected.px_per_mm[axis], axis)
    ]
    if len(found) == 1:
        _squared(sides, found[0], (strip == 0) * spare_mm * expected.px_per_mm)
    return _quad_of(sides) if found else None


def _put(sides: Quads, seen: Quads, plain: NDArray[np.bool_], length_px: float, axis: int) -> bool:
    """Two opposite ``sides`` where they are seen, or one of them a page's width from the other;
    False where none is seen, or they are not that far apart."""
    first, second = _OPPOSITE[axis]
    if not plain[[first, second]].any():
        return False
    pair = {k: seen[k] if plain[k] else sides[k].copy() for k in (first, second)}
    apart = abs(float(pair[second][:, axis].mean() - pair[first][:, axis].mean()))
    if abs(apart / length_px - 1) > _RIGHT:
        return False
    for k, other in ((first, second), (second, first)):
        sides[k] = pair[k] if plain[k] else _parallel(pair[other], pair[k], length_px, axis)
    return True


def _squared(sides: Quads, axis: int, spare_px: NDArray[np.float64]) -> None:
    """The other two sides, on the edges of the picture, at right angles to those that are seen."""
    one, other = (sides[k] for k in _OPPOSITE[axis])
    along = (one[1] - one[0]) + (other[0] - other[1])
    across = np.array([-along[1], along[0]]) / np.linalg.norm(along)
    for k, way in zip(_OPPOSITE[1 - axis], (1, -1), strict=True):
        middle = sides[k].mean(axis=0)
        middle[1 - axis] += way * spare_px[1 - axis] / 2
        half = float(np.linalg.norm(sides[k][1] - sides[k][0])) / 2
        half = math.copysign(half, float(across @ (sides[k][1] - sides[k][0])))
        sides[k] = middle - half * across, middle + half * across


def _parallel(side: Quads, near: Quads, length_px: float, axis: int) -> Quads:
    """The side opposite to one that is seen, a page's width from it."""
    ends = side[::-1].copy()
    ends[:, axis] += math.copysign(length_px, near[:, axis].mean() - side[:, axis].mean())
    return ends


def _quad_of(sides: Quads) -> Quads | None:
    corners = [meeting(sides[k - 1], sides[k]) for k in range(4)]
    return None if any(one is None for one in corners) else np.array(corners, np.float64)
