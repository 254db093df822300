"""Outlines made of two: one of them with a side that the other one has."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from packet.imaging.geometry import Quads, following, lengths, meeting, overlap, signed_area
from packet.imaging.rank import MOVED
from packet.imaging.score import Judged

_PLAIN_SIDE = 0.9  # share of a side with an edge
_BANDS_LEFT = 0.7  # Jaccard index of two outlines that each lack a band of one page
_LEAST_BAND, _MOST_BAND = 1.02, 1.3  # of the area, with one more


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


def _with_side(quad: Quads, side: int, ends: Quads) -> Quads | None:
    """A quad with one side on the line through two points; None where its neighbours run along."""
    before, after = quad[[side - 1, side]], quad[[(side + 1) % 4, (side + 2) % 4]]
    corners = meeting(before, ends), meeting(after, ends)
    if corners[0] is None or corners[1] is None:
        return None
    moved = quad.copy()
    moved[[side, (side + 1) % 4]] = corners
    return moved
