"""A page on a scanner's glass that is little larger: A4 on 216 x 297 mm is seen with a strip of
lid beside it, and its ends lie on the edges of the picture.

No outline of four sides is seen then; two sides, or one, at the page's own width are.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product

import cv2
import numpy as np
from numpy.typing import NDArray

from packet.imaging.expected import Expected
from packet.imaging.geometry import Pixels, Quads, from_top_left, meeting, whole_picture
from packet.imaging.refine import move_sides, refine
from packet.imaging.score import side_edges
from packet.imaging.view import View

LIKE_GLASS = 0.03  # logarithm: by so much a glass is larger than a page at most
_LEAST_SPARE_MM = 0.8
_BEYOND_MM = 0.8  # that a side may be found farther in than the strip is wide
_PACE_MM = 1.5  # sides are looked for within so much of places twice as far apart
_MOST_PUSHED_MM = 32.0
_LEAST_PUSHED_MM = 1.5
_SURE_SIDE, _STEPPED = 0.75, 0.6  # shares of a side with an edge, and with other paper beyond it
_LINED = 0.85  # and of one that has an edge alone: its own shadow
_LAST_MM = 10.0  # of a side, before the edge of the picture
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
    lines = _lines_within(view, expected, scale)
    best: tuple[float, Quads] | None = None
    for one, other in product(lines[0] + lines[2], lines[1] + lines[3]):
        if abs(_cosine(one.ends, other.ends)) > _SQUARE:
            continue
        corner = meeting(one.ends, other.ends)
        assert corner is not None
        for size_mm, spare_mm in _pages(expected):
            pushed = np.array([other.inside_mm, one.inside_mm]) - spare_mm
            if pushed.min() <= -_PACE_MM or pushed.max() <= _LEAST_PUSHED_MM:
                continue
            quad = _page_from(corner, one, other, size_mm * scale)
            told = one.told + other.told
            if (best is None or told > best[0]) and _reaches_edges(view, quad, scale):
                best = told, quad
            break
    return None if best is None else refine(pixels, view, best[1], settled=True)


def _page_from(corner: Quads, one: _Line, other: _Line, size_px: Lengths) -> Quads:
    """A page of this size with a corner where its top or bottom and its left or right side meet."""
    along = (one.ends[1] - one.ends[0]) / np.linalg.norm(one.ends[1] - one.ends[0])
    way = along if one.side == 0 else -along  # clockwise, as all sides
    axes = np.stack([way, [-way[1], way[0]]])
    unit = np.array([[0, 0], [1, 0], [1, 1], [0, 1]]) - np.array([other.side == 1, one.side == 2])
    return np.asarray(corner + unit * size_px @ axes, np.float64)


def _reaches_edges(view: View, page: Quads, scale: Lengths) -> bool:
    """The two sides of a page that are seen are edges as far as the picture goes, which a rule or
    a frame printed on the page is not."""
    limits = np.array([view.width_px, view.height_px])
    ends = []
    for k in range(4):
        start, stop = page[k], page[(k + 1) % 4]
        inside = [np.all((one > 0) & (one < limits)) for one in (start, stop)]
        if inside[0] == inside[1]:
            continue
        near, far = (start, stop) if inside[0] else (stop, start)
        way = (far - near) / np.linalg.norm(far - near)
        room = np.where(way > 0, limits - 1 - near, near) / np.maximum(np.abs(way), 1e-9)
        last = near + way * room.min()
        piece = [last - way * _LAST_MM * scale.mean(), last]
        deep = np.array([-way[1], way[0]]) * _LAST_MM * scale.mean()
        ends.append(from_top_left(np.array([*piece, piece[1] + deep, piece[0] + deep])))
        side = int(
            np.argmin(np.abs(ends[-1] + np.roll(ends[-1], -1, axis=0) - sum(piece)).sum(axis=1))
        )
        if side_edges(view, ends[-1][None])[0][0, side] < _SURE_SIDE:
            return False
    return len(ends) == 2


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Line:
    """An edge along a whole side of the picture, some way within it.

    ``side``: 0 top, 1 right, 2 bottom, 3 left; ``ends``: (2, 2) view pixels, clockwise; ``told``:
    shares with an edge, and with other paper beyond it.
    """

    side: int
    ends: Quads
    inside_mm: float
    told: float


def _lines_within(view: View, expected: Expected, scale: Lengths) -> list[list[_Line]]:
    """The lines within each side of the picture (top, right, bottom, left)."""
    border = view.to_view(whole_picture(expected.width_px, expected.height_px))
    insets = np.arange(_LEAST_SPARE_MM + _PACE_MM, _MOST_PUSHED_MM, 2 * _PACE_MM)
    rough = border + _INWARD * insets[:, None, None] * scale
    moved = move_sides(view, rough, reach_px=float(1.3 * _PACE_MM * scale.max()))
    edges, steps = side_edges(view, moved)
    middles = (moved + np.roll(moved, -1, axis=1)) / 2
    away = np.abs(middles - (border + np.roll(border, -1, axis=0)) / 2)  # (insets, sides, 2)
    away = np.stack([away[:, k, 1 - k % 2] for k in range(4)], axis=1)
    plain = (edges > _SURE_SIDE) & (away > _CLEAR_PX) & ((steps > _STEPPED) | (edges > _LINED))
    sides = np.stack([moved, np.roll(moved, -1, axis=1)], axis=2)  # (insets, sides, 2 ends, 2)
    return [
        [
            _Line(
                side=k,
                ends=sides[row, k],
                inside_mm=float(away[row, k] / scale[1 - k % 2]),
                told=float(edges[row, k] + steps[row, k]),
            )
            for row in np.flatnonzero(plain[:, k])
        ]
        for k in range(4)
    ]


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
