"""What the table around a quad is like: of several colours, or the same in shadow."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from packet.imaging.geometry import Quads, grown, lengths
from packet.imaging.view import View

_SAMPLES = 24  # along each side
_LEAST_PLACES = 30  # in the picture
_MOTLEY = 13.0  # mean deviation, in Lab with little lightness: of cloths 14 and more, others to 12
_TINT = np.array([0.6, 1, 1])
_DARKER, _DARKEST = 8.0, 0.4  # levels; of the table's lightness: some light comes from elsewhere
_SAME_TINT = 8.0  # levels: that light has another tint
_GRID = np.stack(np.meshgrid(*(np.linspace(0.1, 0.9, 9),) * 2), axis=-1).reshape(-1, 2)


def is_motley_around(view: View, quad: Quads) -> bool:
    """What lies around a quad is of several colours: cloth with checks or stripes, a rug; stone,
    wood and shadows are not."""
    seen = _around(view, quad, (1.12, 1.2))
    if len(seen) < _LEAST_PLACES:
        return False
    return float(lengths((seen - np.median(seen, axis=0)) * _TINT).mean()) > _MOTLEY


def is_shadow(view: View, quad: Quads) -> bool:
    """Darker than what lies around, and of its tint: an arm's shadow reaches in from outside."""
    x, y = _GRID[:, :1], _GRID[:, 1:]
    a, b, c, d = quad
    within = _seen(view, (1 - y) * ((1 - x) * a + x * b) + y * ((1 - x) * d + x * c))
    around = _around(view, quad, (1.15,))
    if min(len(within), len(around)) < _LEAST_PLACES:
        return False
    step = np.median(within, axis=0) - np.median(around, axis=0)
    lit = -step[0] < (1 - _DARKEST) * np.median(around[:, 0])
    return bool(lit and step[0] < -_DARKER and np.abs(step[1:]).max() < _SAME_TINT)


def _around(view: View, quad: Quads, sizes: Sequence[float]) -> NDArray[np.float32]:
    """(n, 3) Lab along the outlines of a quad made larger by factors."""
    start = np.stack([grown(quad, by) for by in sizes])[..., None, :]
    side = np.roll(start, -1, axis=1) - start
    steps = np.linspace(0, 1, _SAMPLES, endpoint=False)[:, None]
    return _seen(view, (start + steps * side).reshape(-1, 2))


def _seen(view: View, points: NDArray[np.float64]) -> NDArray[np.float32]:
    """(n, 3) Lab of those of (m, 2) places that are in the picture."""
    inside = ((points >= 0) & (points <= (view.width_px - 1, view.height_px - 1))).all(axis=1)
    if not inside.any():
        return np.zeros((0, 3), np.float32)
    return np.asarray(view.colours_at(points[inside][None])[0], np.float32)
