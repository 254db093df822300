"""What is around a quad: a table of several colours, or the same in shadow; a lid nearly as white
as the paper on it."""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from packet.imaging.border import sides_on_border
from packet.imaging.geometry import Pixels, Quads, grown, lengths, medians
from packet.imaging.view import View, along_sides

_SAMPLES = 24  # along each side
_LEAST_PLACES = 30  # in the picture
_MOTLEY = 13.0  # mean deviation, in Lab with little lightness: of cloths 14 and more, others to 12
_TINT = np.array([0.6, 1, 1])
_DARKER, _DARKEST = 8.0, 0.4  # levels; of the table's lightness: some light comes from elsewhere
_SAME_TINT = 8.0  # levels: that light has another tint
_LEAST_OTHER = 2.0  # levels, of one paper and another
_PAPER_FROM = 80.0  # percent, of lightness
_OFF_LID, _ON_LID = 0.95, 0.3  # shares off the lid, of an item and of what is around it: shadows
_MOST_OF_SIDE = 0.7  # that must end there
_AT_EDGE_PX = 2.0  # of the view
_BESIDE_PX = np.array([-16.0, -13.0, -10.0, 10.0, 13.0, 16.0])  # of a side: beyond what means blur
_GRID = np.stack(np.meshgrid(*(np.linspace(0.1, 0.9, 9),) * 2), axis=-1).reshape(-1, 2)


def is_motley_around(view: View, quad: Quads) -> bool:
    """What lies around a quad is of several colours: cloth with checks or stripes, a rug; stone,
    wood and shadows are not."""
    return _is_motley(_around(view, quad, (1.12, 1.2)))


def is_motley_within(view: View, quad: Quads) -> bool:
    """The same of what lies within it: a paper and its print are of one colour, by and large."""
    return _is_motley(_within(view, quad))


def _is_motley(seen: NDArray[np.float32]) -> bool:
    """Of (n, 3) Lab, some of them in the picture."""
    if len(seen) < _LEAST_PLACES:
        return False
    return float(lengths((seen - np.median(seen, axis=0)) * _TINT).mean()) > _MOTLEY


def _within(view: View, quad: Quads) -> NDArray[np.float32]:
    """(n, 3) Lab at places all over a quad."""
    x, y = _GRID[:, :1], _GRID[:, 1:]
    a, b, c, d = quad
    return _seen(view, (1 - y) * ((1 - x) * a + x * b) + y * ((1 - x) * d + x * c))


def is_shadow(view: View, quad: Quads) -> bool:
    """Darker than what lies around, and of its tint: an arm's shadow reaches in from outside."""
    within, around = _within(view, quad), _around(view, quad, (1.15,))
    if min(len(within), len(around)) < _LEAST_PLACES:
        return False
    step = np.median(within, axis=0) - np.median(around, axis=0)
    lit = -step[0] < (1 - _DARKEST) * np.median(around[:, 0])
    return bool(lit and step[0] < -_DARKER and np.abs(step[1:]).max() < _SAME_TINT)


def is_other_paper(view: View, quad: Quads) -> bool:
    """Within a quad the paper has another shade than around it, if ever so little."""
    rings = np.zeros(view.lab.shape[:2], np.uint8)
    for by, ring in ((1.15, 1), (1.03, 0), (0.97, 2), (0.85, 0)):
        corners = np.round(grown(quad, by)).astype(np.int32)
        cv2.fillConvexPoly(rings, corners, ring)
    around, within = (view.lab[rings == ring].reshape(-1, 3) for ring in (1, 2))
    if not len(around) or not len(within):
        return False
    apart = _paper(around) - _paper(within)
    return float(np.linalg.norm(apart)) > _LEAST_OTHER


def _paper(seen: Pixels) -> NDArray[np.float64]:
    """The Lab of the lighter ones of (n, 3) pixels: between lines of print there is paper."""
    light = seen[:, 0] >= np.percentile(seen[:, 0], _PAPER_FROM)
    return np.asarray(np.median(seen[light], axis=0), np.float64)


def lies_on_lid(view: View, quad: Quads) -> bool:
    """All within a quad is unlike the lid, by means of many pixels, and what is around it is like
    it, but for a shadow."""
    within, around = view.off_lid(quad), view.off_lid(grown(quad, 1.2), grown(quad, 1.08))
    return within is not None and around is not None and within > _OFF_LID and around < _ON_LID


def known_sides(view: View, quads: Quads) -> NDArray[np.float64]:
    """(n, 4) the share of each side of (n, 4, 2) quads that ends paper, as is known but by its own
    edge: by the lid's maps, or because it lies at the edge of the glass, where none can be seen."""
    known = np.zeros((len(quads), 4))
    if not len(quads):
        return known
    if view.frame_px:
        wide, high = (round(side - 2 * view.frame_px) for side in (view.width_px, view.height_px))
        near, beyond = (
            sides_on_border(quads - view.frame_px, width_px=wide, height_px=high, slack_px=slack)
            for slack in (_AT_EDGE_PX, -_AT_EDGE_PX)
        )
        known = (near & ~beyond).astype(np.float64)
    return np.maximum(known, _off_lid(view, quads)) if view.lid else known


def _off_lid(view: View, quads: Quads) -> NDArray[np.float64]:
    """The share of each side along which the paper ends by a map of the lid, beyond which another
    shade lies: nearly all of it, for the lid's own light has patches that end somewhere. Print on
    paper alone has no shade."""
    points = along_sides(quads, samples=_SAMPLES, offsets=_BESIDE_PX)
    size = np.array(view.lid[0].shape[::-1])
    at = np.round((points + 0.5) * (size / (view.width_px, view.height_px)) - 0.5).astype(np.intp)
    there = ((at >= 0) & (at < size)).all(axis=(-1, -2))
    x, y = np.moveaxis(np.clip(at, 0, size - 1), -1, 0)
    half = len(_BESIDE_PX) // 2
    ends = np.zeros((len(quads), 4))
    for off_lid in (known[y, x] == 1 for known in view.lid):
        end = off_lid[..., :half].all(axis=-1) & ~off_lid[..., half:].any(axis=-1)
        ends = np.maximum(ends, (end & there).mean(axis=2))
    seen = view.colours_at(points)
    inner, outer = (part.reshape(len(quads), 4, -1, 3) for part in np.split(seen, 2, axis=3))
    shade = lengths(medians(inner, axis=2) - medians(outer, axis=2)) > _LEAST_OTHER
    return np.where((ends > _MOST_OF_SIDE) & shade, ends, 0.0)


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
