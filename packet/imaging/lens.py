"""The focal length of a photo's lens, by the print of an item that is cut off.

Three sides of a page fix its plane only for a lens that is known; by a wrong one the hidden side
stands askew, and lines of print that run along it fan out. At the right focal length they are
parallel, and their rows the sharpest (Postl's criterion, as for skew).
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from packet.imaging.border import ended
from packet.imaging.geometry import Pixels, Quads, plane_shapes, projected, unit_homographies
from packet.imaging.skew import ink_points, sharpness

_FOCALS = np.exp(np.linspace(np.log(0.62), np.log(1.06), 14))  # phones' main cameras, in long sides
_BETWEEN = 8  # steps between two of them
_DEPTH = 0.5  # of the base: how deep the plane is laid out
_BASE_PX = 1400
_RIM = 0.03  # of what is seen, left out: the sides are no print
_LEAST_POINTS = 4000
_LEAST_CLEAR, _CLEAR = 0.3, 2.5  # of chance; times what half of the other focal lengths give
_STEEPEST = 0.7  # cosine, of 45 degrees: nobody holds a camera so over a table
_NEAR_TOP = 0.85  # of the sharpest: what is less has no say


def focal_by_print(
    levels: Sequence[Pixels], quad: Quads, side: int, *, size_px: tuple[int, int]
) -> float | None:
    """Focal length in long sides of the picture; None where the print does not tell.

    ``quad``: the seen part (source pixels) of an item, of which ``side`` lies outside the picture.
    ``levels``: the picture, ``size_px`` wide and high, and any halves of it.
    """
    ink = ink_points(levels, scattered=True)
    within = projected(ink, np.linalg.inv(unit_homographies(quad[None])[0]))
    ink = ink[np.all((within > _RIM) & (within < 1 - _RIM), axis=1)]
    if len(ink) < _LEAST_POINTS:
        return None

    chance = 2.0 * len(ink)  # what as many points without rows give

    def clear(focal: float) -> float:
        """How much sharper than by chance the rows of print along the base are; NaN for a plane
        that no camera over a table sees so."""
        half = ended(quad, side, depth=_DEPTH, size_px=size_px, focal=focal)
        if half is None:
            return 0.0
        if _tilt_cosine(half, focal, size_px) < _STEEPEST:
            return math.nan
        size = np.array([1.0, _DEPTH] if side % 2 == 0 else [_DEPTH, 1.0]) * _BASE_PX
        flat = projected(ink, np.linalg.inv(unit_homographies(half[None])[0])) * size
        flat = flat[~np.isnan(flat).any(axis=1)].astype(np.float32)
        found = sharpness(flat[:, side % 2], flat[:, 1 - side % 2], 0.0)
        return max(found / chance - 1.0, 0.0)

    rough = np.array([clear(focal) for focal in _FOCALS.tolist()])
    if np.isnan(rough).all():
        return None
    top = int(np.nanargmax(rough))
    least = max(_LEAST_CLEAR, _CLEAR * float(np.nanmedian(rough)))
    if top in (0, len(rough) - 1) or rough[top] < least or np.isnan(rough[top - 1 : top + 2]).any():
        return None
    places = top - 1 + np.arange(1, 2 * _BETWEEN) / _BETWEEN
    fine = np.exp(np.interp(places, np.arange(len(rough)), np.log(_FOCALS)))
    found = np.nan_to_num(np.array([clear(focal) for focal in fine.tolist()]))
    return float(np.average(fine, weights=np.maximum(found - _NEAR_TOP * found.max(), 0.0)))


def _tilt_cosine(quad: Quads, focal: float, size_px: tuple[int, int]) -> float:
    """Of the plane of a quad against the picture."""
    wide, high = size_px
    tilts = plane_shapes(quad[None], width_px=wide, height_px=high, focals=(focal,))[2]
    return float(tilts[0, 0])
