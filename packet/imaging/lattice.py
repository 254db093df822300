"""Squares of a chequered ground: plain sides on all four, and no items."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from packet.imaging.geometry import Quads, signed_area, unit_homographies
from packet.imaging.view import View

_CELL = np.stack(np.meshgrid(*(np.linspace(0.2, 0.8, 5),) * 2), axis=-1).reshape(-1, 2)
_NEXT = [(1, 0), (-1, 0), (0, 1), (0, -1)]
_SAME = [(1, 1), (1, -1), (-1, 1), (-1, -1), (2, 0), (-2, 0), (0, 2), (0, -2)]
_PLACES = np.array([(0, 0), *_NEXT, *_SAME], float)
_BESIDE, _STEPS = slice(1, 5), slice(5, 13)
_LEAST_NEXT, _LEAST_SAME = 2, 3  # of the places that must be in the picture
_MOST_NEXT, _MANY_SAME = 0.65, 0.4  # of those: an item may lie on the others
_VISIBLE = 0.3  # of a place
_HORIZON = 0.2  # depth, of that of the quad's first corner: what lies beyond is not looked at
_SMOOTH = 8.0  # median deviation within a square, in Lab
_PLAIN = 18.0  # by so much, in Lab, squares of two colours differ at least
_MOST_LARGER = 2.5
_MANY = 2  # squares: one alone may be a part of a page whose table is as light as it is
_ALIKE = 0.4  # of that, squares of one colour at most: the light may slope


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Seen:
    """Quads and the places around each, as wide and high as it is in its own plane: (n, 13, 3)
    median Lab, which of them are in the picture, and which are of one colour."""

    colours: NDArray[np.float64] = field(repr=False)
    known: NDArray[np.bool_] = field(repr=False)
    smooth: NDArray[np.bool_] = field(repr=False)


def squares_of_many(view: View, quads: Sequence[Quads]) -> list[bool]:
    """Which of the quads are squares of a chequered table.

    Of one of them the places next to it are of one other colour, and those two steps away,
    straight or slantwise, of its own; where there are some, what has their colours and is not much
    larger is like them. Of an item on a plain table the latter are table; of white paper on white
    the former are alike.
    """
    if not len(quads):
        return []
    stacked = np.asarray(quads)
    seen = _around(view, stacked)
    areas = np.array([abs(signed_area(quad)) for quad in stacked])
    found = {k: pair for k in range(len(areas)) if (pair := _two_colours(seen, k))}
    if len(found) < _MANY:
        return [k in found for k in range(len(areas))]
    return [
        bool(seen.smooth[k, 0])
        and any(
            area < _MOST_LARGER * areas[one]
            and min(_apart(seen.colours[k, 0], colour) for colour in pair) < _ALIKE * _apart(*pair)
            for one, pair in found.items()
        )
        for k, area in enumerate(areas)
    ]


def _apart(one: NDArray[np.float64], other: NDArray[np.float64]) -> float:
    return float(np.linalg.norm(one - other))


def _around(view: View, quads: Quads) -> _Seen:
    """``quads``: (n, 4, 2)."""
    points = (_CELL[None] + _PLACES[:, None]).reshape(-1, 2)
    flat = np.column_stack([points, np.ones(len(points))])
    ends = np.einsum("pk,njk->npj", flat, unit_homographies(quads))
    depth = ends[..., 2]
    inside = depth > _HORIZON
    ends = ends[..., :2] / np.where(inside, depth, 1.0)[..., None]
    inside &= ((ends >= 0) & (ends <= (view.width_px - 1, view.height_px - 1))).all(axis=-1)
    ends = np.where(inside[..., None], ends, 0.0)
    places = (len(quads), len(_PLACES), len(_CELL))
    values = view.colours_at(ends).reshape(*places, 3).astype(np.float64)
    inside = inside.reshape(places)
    known = inside.mean(axis=2) > _VISIBLE
    values[~inside & known[..., None]] = np.nan
    count = np.where(known, inside.sum(axis=2), len(_CELL))
    colours = _medians(values, count)
    stray = _medians(np.abs(values - colours[:, :, None]), count).max(axis=-1)
    return _Seen(colours=colours, known=known, smooth=known & (stray < _SMOOTH))


def _medians(values: NDArray[np.float64], count: NDArray[np.int64]) -> NDArray[np.float64]:
    """(n, m, 3) medians of (n, m, cells, 3), of which ``count``, (n, m), are not NaN: as
    ``np.nanmedian``, several times quicker."""
    ordered = np.sort(values, axis=2)  # NaN last
    middle = np.stack([(count - 1) // 2, count // 2], axis=2)[..., None]
    return np.asarray(np.take_along_axis(ordered, middle, axis=2).mean(axis=2))


def _two_colours(seen: _Seen, k: int) -> tuple[NDArray[np.float64], NDArray[np.float64]] | None:
    """The colour of a square and that of those next to it; None where it is none of many."""
    known, colours, smooth = seen.known[k], seen.colours[k], seen.smooth[k]
    beside, same = known[_BESIDE], known[_STEPS]
    if not smooth[0] or beside.sum() < _LEAST_NEXT or same.sum() < _LEAST_SAME:
        return None
    own, other = colours[0], np.median(colours[_BESIDE][beside], axis=0)
    within = _ALIKE * _apart(own, other)
    unlike = (np.linalg.norm(colours[_BESIDE] - other, axis=1) < within) & smooth[_BESIDE]
    alike = (np.linalg.norm(colours[_STEPS] - own, axis=1) < within) & smooth[_STEPS]
    plain = _apart(own, other) > _PLAIN and alike.sum() >= _LEAST_SAME
    if plain and unlike[beside].mean() > _MOST_NEXT and alike[same].mean() > _MANY_SAME:
        return own, other
    return None
