"""What lies along the two faces of a quad's sides: paper within, and something else without.

A line in a form, a fold or the gap between two lines of print has paper on both faces; a seam of a
table has table on both. The side of an item has neither.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from packet.imaging.geometry import Quads, following, lengths, medians
from packet.imaging.view import View, along_sides, sample

_SAMPLES = 24
_PLACES = np.array([0.025, 0.04, 0.055, 0.07])  # of the shorter side, off the side
_LIGHT = 0.6  # what a difference in lightness counts against one in colour: shadows
_SAME = 8.0
_ITSELF = np.diag(np.full(4, np.inf, np.float32))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bands:
    """(n, 4) shares per side; sides outside the picture have the mean of the others.

    ``goes_on``: of the outer band that has the colour of the inner one. ``strange``: of the inner
    band that has not the colour of the whole item.
    """

    goes_on: NDArray[np.float64]
    strange: NDArray[np.float64]


def bands(view: View, quads: Quads) -> Bands:
    """The bands of (n, 4, 2) quads in view pixels."""
    scale = np.array(view.small.shape[1::-1]) / np.array([view.width_px, view.height_px])
    quads = (quads + 0.5) * scale - 0.5
    length = lengths(following(quads) - quads)
    short = np.minimum(length[:, 0] + length[:, 2], length[:, 1] + length[:, 3]) / 2
    unit = along_sides(quads, samples=_SAMPLES, offsets=np.array([0.0, 1.0]))
    middle, outward = unit[..., :1, :], unit[..., 1:, :] - unit[..., :1, :]
    places = np.concatenate([-_PLACES, _PLACES]) * short[:, None]
    points = middle + outward * places[:, None, None, :, None]
    limits = np.array(view.small.shape[1::-1]) - 1
    there = np.all((points >= 0) & (points <= limits), axis=-1)
    colour = sample(view.small, points) * np.array([_LIGHT, 1, 1], np.float32)
    count = len(_PLACES)
    inner, outer = colour[..., :count, :], colour[..., count:, :]
    inner = inner.reshape(*inner.shape[:2], -1, 3)  # (n, 4, samples x places, 3)
    outer = outer.reshape(inner.shape)
    in_there, out_there = (part.reshape(*inner.shape[:3]) for part in np.split(there, 2, axis=3))
    own = medians(inner, axis=2)  # (n, 4, 3)
    tint = np.array([0.4, 1, 1], np.float32)  # the light differs more between sides
    strange = [
        _share(lengths((inner - whole[:, None, None]) * tint) > _SAME, in_there)
        for whole in (medians(own, axis=1), likeliest_of(own))
    ]
    fewer = (strange[1].sum(axis=1) < strange[0].sum(axis=1))[:, None]
    return Bands(
        goes_on=_share(lengths(outer - own[:, :, None]) < _SAME, out_there),
        strange=np.where(fewer, strange[1], strange[0]),
    )


def likeliest_of(sides: NDArray[Any]) -> NDArray[Any]:
    """(n, channels) the colour of that side, of (n, 4, channels), to which another one is nearest:
    bands along two sides, a page's head and foot, are not its paper."""
    apart = lengths(sides[:, :, None] - sides[:, None]) + _ITSELF
    nearest = apart.min(axis=2).argmin(axis=1)[:, None, None]
    found: NDArray[Any] = np.take_along_axis(sides, nearest, axis=1)
    return found[:, 0]


def _share(hit: NDArray[np.bool_], there: NDArray[np.bool_]) -> NDArray[np.float64]:
    """(n, 4) shares of what is there; where little is, the mean of the other sides."""
    count = there.sum(axis=2)
    share = (hit & there).sum(axis=2) / np.maximum(count, 1)
    seen = count > 0.15 * there.shape[2]
    mean = (share * seen).sum(axis=1, keepdims=True) / np.maximum(seen.sum(axis=1), 1)[:, None]
    return np.asarray(np.where(seen, share, mean), np.float64)
