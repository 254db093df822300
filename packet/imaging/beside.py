"""Items of one size on one table: where one is found, the others are sought by its size.

Among hundreds of quads between lines few have the size that one plain item says, in its plane.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from packet.imaging.geometry import (
    Quads,
    overlap,
    size_misses,
)
from packet.imaging.score import Expected, Judged
from packet.imaging.view import View

_MOST = 60  # quads, of one size
_LEAST_SHAPE = 0.7  # of the item that says the size
_LEAST_SCORE = 0.8
_ABOUT = 0.1  # logarithm, of the sides of quads not yet moved onto their edges
_AS_APART = 0.6
_PART_OF = 0.12  # of the smaller of two quads, that the other may cover


def as_large(
    view: View, chosen: Sequence[Judged], quads: Quads | Sequence[Quads], expected: Expected
) -> list[Quads]:
    """The first of any quads (view pixels, the likeliest first) that are as large as the largest
    plain item, on the table, and lie on no item. In a photo they must differ in colours from
    what lies around them about as much as that item does: squares of a cloth are alike, too."""
    plain = [
        one
        for one in chosen
        if one.shape > _LEAST_SHAPE and one.score > _LEAST_SCORE and not one.cut
    ]
    if not plain or not len(quads):
        return []
    first = max(plain, key=lambda one: one.score)
    every = np.asarray(quads, np.float64)
    aspect = None
    if expected.perspective:
        aspect = max(expected.aspect_of(view.to_source(first.quad))[0], 1e-6)
    alike = size_misses(first.quad, every, aspect=aspect) < _ABOUT
    least = _AS_APART * view.apart(first.quad) if expected.perspective else 0.0
    return [
        quad
        for quad in every[alike][: 4 * _MOST]
        if all(overlap(quad, one.quad)[1] < _PART_OF for one in chosen)
        and (not least or view.apart(quad) > least)
    ][:_MOST]
