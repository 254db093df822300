"""Outlines made of two: one of them with a side that the other one has."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from packet.imaging.expected import Expected
from packet.imaging.geometry import (
    Quads,
    following,
    lengths,
    meeting,
    overlap,
    projected,
    signed_area,
    unit_homographies,
)
from packet.imaging.rank import MOVED
from packet.imaging.score import Judged
from packet.imaging.view import View

_PLAIN_SIDE = 0.9  # share of a side with an edge
_BANDS_LEFT = 0.7  # Jaccard index of two outlines that each lack a band of one page
_LEAST_BAND, _MOST_BAND = 1.02, 1.3  # of the area, with one more
_DEEPER = np.arange(0.06, 0.3, 0.012)  # of the depth, that a title adds to the rest
_SHAPED = 0.9  # of a wanted shape


def mended(chosen: Sequence[Judged], ranked: Sequence[Judged]) -> list[Quads]:
    """Items whose weakest side is put where another candidate has a plain one close by."""
    mended: list[Quads] = []
    for one in chosen:
        side = int(np.argmin(one.edges))
        if one.cut or one.edges[side] >= _PLAIN_SIDE:
            continue
        around = lengths(following(one.quad) - one.quad).sum()
        for other in ranked:
            for k in np.flatnonzero(other.edges >= _PLAIN_SIDE):
                quad = _with_side(one.quad, side, other.quad[[k, (k + 1) % 4]])
                if quad is None:
                    continue
                if 0.004 * around < np.abs(quad - one.quad).max() < 0.02 * around:
                    mended.append(quad)
    return mended[:MOVED]


def with_bands(chosen: Sequence[Judged], ranked: Sequence[Judged]) -> list[Quads]:
    """Items with one side where another outline has it, farther out: a page with bands along its
    head and its foot has many outlines that end at one of them, and none may be the whole."""
    made: list[Quads] = []
    for one in chosen:
        if one.cut:
            continue
        for other in ranked:
            if overlap(one.quad, other.quad)[0] < _BANDS_LEFT:
                continue
            for k in np.flatnonzero(other.edges >= _PLAIN_SIDE).tolist():
                quad = _with_side(one.quad, k, other.quad[[k, (k + 1) % 4]])
                if quad is None:
                    continue
                more = signed_area(quad) / max(signed_area(one.quad), 1e-9)
                if _LEAST_BAND < more < _MOST_BAND:
                    made.append(quad)
    return made[:MOVED]


def with_title(view: View, chosen: Sequence[Judged], expected: Expected) -> list[Quads]:
    """Items made deeper along one side, wherever they get a wanted shape by that: what a card of a
    larger format is without its title may have the shape of a smaller one, and its sides are plain.
    In a photo alone: a scan's scale tells the format.
    """
    whole = [one.quad for one in chosen if not one.cut]
    if not (whole and expected.perspective):
        return []
    unit = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])
    deeper = np.repeat(unit[None], 4 * len(_DEEPER), axis=0).reshape(4, len(_DEEPER), 4, 2)
    for side, (axis, way, place) in enumerate([(1, -1, 0), (0, 1, 1), (1, 1, 1), (0, -1, 0)]):
        deeper[side, :, [side, (side + 1) % 4], axis] = place + way * _DEEPER
    there = unit_homographies(np.stack(whole))
    flat = deeper.reshape(-1, 2)
    made = np.concatenate([projected(flat, one).reshape(-1, 4, 2) for one in there])
    made = made[~np.isnan(made).any(axis=(1, 2))]
    return list(made[expected.shape_fits(view.to_source(made)) > _SHAPED])


def _with_side(quad: Quads, side: int, ends: Quads) -> Quads | None:
    """A quad with one side on the line through two points; None where its neighbours run along."""
    before, after = quad[[side - 1, side]], quad[[(side + 1) % 4, (side + 2) % 4]]
    corners = meeting(before, ends), meeting(after, ends)
    if corners[0] is None or corners[1] is None:
        return None
    moved = quad.copy()
    moved[[side, (side + 1) % 4]] = corners
    return moved
