"""Room for another item: where on the table of a single one could a second lie, and does anything
there look so?

Both sides of a card are often laid on one table, and a second item may stand out little there. To
look for it among all regions and lines of a picture takes long; that there is no room for it, or
one colour all over, is soon seen.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from packet.imaging.geometry import (
    Quads,
    grown,
    overlap,
    projected,
    unit_homographies,
    whole_picture,
)
from packet.imaging.view import View
from packet.rules.sizes import card_size_mm

_CARD_MM = card_size_mm("id-1")
_SMALL: NDArray[np.float64] = np.array([_CARD_MM[0] / _CARD_MM[1], 1.0])
_SHARES = (0.44, 0.26)  # of the short side of an opening, and of a sheet, that a card's has
_STEP = 0.1  # of its long side, from one place to the next; more in a large picture
_MOST = 600  # middles of places
_TURNS_DEG = (0.0, 45.0, 90.0, 135.0)
_OUTSIDE = 0.02  # of the long side of the picture: so far a corner may lie outside it
_MOST_LIKELY = 3  # places
_AS_WELL = 0.02  # in colours
_NEARER = (  # shares of the long side, and degrees, by which places are shifted and turned
    (0.05, (-30.0, -20.0, -10.0, 0.0, 10.0, 20.0, 30.0)),
    (0.02, (-6.0, -3.0, 0.0, 3.0, 6.0)),
)
_GROWN = 1.06  # of the item, whose shadow is no other one
_SHARED = 0.12  # of a place, that may lie on the item
_LIKE_TABLE = 0.45  # in colours, of a place within a tenth of a card's length of where one lies
_SMALL_LIKE_TABLE = 0.35  # within a third of it: a small item is sought in coarser steps
_COARSEST = 0.35  # of its long side, of such a step
_WITHIN = (np.stack(np.meshgrid(*(np.arange(8) + 0.5,) * 2), axis=-1).reshape(-1, 2) / 8) - 0.5


def may_hold_another(view: View, one: Quads, *, aspect: float, card: bool) -> bool:
    """Whether any place in a photo that a second item would have room at looks unlike what is
    around it. ``one``: (4, 2) view pixels, the first one, whose width is ``aspect`` of its height;
    a ``card``: then the second is as large, else it has a card's shape and may be much smaller."""
    short, size = min(aspect, 1.0), np.array([aspect, 1.0])
    sizes: list[NDArray[np.float64]] = (
        [size] if card else [share * short * _SMALL for share in _SHARES]
    )
    least = _LIKE_TABLE if card else _SMALL_LIKE_TABLE
    for wanted in sizes:
        places = _places(view, one, aspect=aspect, size=wanted)
        if places is None:
            return True
        if len(places) and view.roughly_apart(places, grown(one, _GROWN)).max() > least:
            return True
    return False


def likely_places(view: View, card: Quads, *, aspect: float) -> list[Quads]:
    """Places for a second card, as large as the first one, that look least like what is around
    them: a few that share no ground, each shifted and turned to where it looks so most. On a
    patterned table its sides may be no plainer than many others, but its size is known."""
    size = np.array([aspect, 1.0])
    places = _places(view, card, aspect=aspect, size=size)
    if places is None or not len(places):
        return []
    without, there = grown(card, _GROWN), unit_homographies(card[None])[0]
    found: list[Quads] = []
    for k in np.argsort(-view.roughly_apart(places, without), kind="stable").tolist():
        if any(overlap(places[k], one)[1] > _SHARED for one in found):
            continue
        place = places[k]
        for share, turns_deg in _NEARER:
            near = _about(place, there, size, step=share * float(size.max()), turns_deg=turns_deg)
            place = _amid(near, view.roughly_apart(near.reshape(-1, 4, 2), without))
        found.append(place)
        if len(found) == _MOST_LIKELY:
            break
    return found


def _amid(near: Quads, apart: NDArray[np.float64]) -> Quads:
    """The middle of those of (turns, shifts, 4, 2) places that look unlike the table as well as
    the best one does, of the turn that has most of them."""
    known = np.where(np.isnan(near).any(axis=(2, 3)), -1.0, apart.reshape(near.shape[:2]))
    well = known > known.max() - _AS_WELL
    turn = int(np.argmax(well.sum(axis=1)))
    return np.asarray(near[turn, well[turn]].mean(axis=0), np.float64)


def _about(
    place: Quads,
    there: NDArray[np.float64],
    size: NDArray[np.float64],
    *,
    step: float,
    turns_deg: Sequence[float],
) -> Quads:
    """(turns, shifts, 4, 2) a place turned, and shifted by up to two steps each way, in the plane
    that ``there`` maps onto the view."""
    flat = projected(place, np.linalg.inv(there)) * size
    middle = flat.mean(axis=0)
    shifts = np.stack(np.meshgrid(*(np.arange(-2, 3) * step,) * 2), axis=-1).reshape(-1, 1, 2)
    made = [(flat - middle) @ axes + middle + shifts for axes in _turned(turns_deg)]
    seen = projected((np.stack(made) / size).reshape(-1, 2), there)
    return seen.reshape(len(made), -1, 4, 2)


def _places(view: View, one: Quads, *, aspect: float, size: NDArray[np.float64]) -> Quads | None:
    """(n, 4, 2) in the plane of an item, of a size in its heights, in the picture and off the
    item; None where a corner of the picture lies beyond the horizon of that plane, or the item is
    so small there that places would lie too far apart."""
    there = unit_homographies(one[None])[0]
    own = np.array([aspect, 1.0])
    picture = whole_picture(view.width_px, view.height_px)
    flat = projected(picture, np.linalg.inv(there)) * own
    if np.isnan(flat).any():
        return None
    low, high = flat.min(axis=0), flat.max(axis=0)
    if max((-low).max(), (high - own).max()) < (1 - 2 * _OUTSIDE) * size.min():
        return np.zeros((0, 4, 2))  # beside no side is it as wide as the smaller side
    step = max(_STEP * float(size.max()), float(np.prod(high - low) / _MOST) ** 0.5)
    if step > _COARSEST * size.max():
        return None
    across, down = (np.arange(a, b, step) for a, b in zip(low, high, strict=True))
    middles = np.stack(np.meshgrid(across, down), axis=-1).reshape(-1, 1, 2)
    corners = np.array([[-0.5, -0.5], [0.5, -0.5], [0.5, 0.5], [-0.5, 0.5]])
    places = []
    for axes in _turned(_TURNS_DEG):
        within = (middles + (_WITHIN * size) @ axes) / own
        free = ((within > 0) & (within < 1)).all(axis=2).mean(axis=1) <= _SHARED
        places.append((middles[free] + (corners * size) @ axes) / own)
    flat_places = np.concatenate(places)
    seen = projected(flat_places.reshape(-1, 2), there).reshape(-1, 4, 2)
    slack = _OUTSIDE * max(view.width_px, view.height_px)
    limits = np.array([view.width_px, view.height_px]) + slack
    return seen[((seen > -slack) & (seen < limits)).all(axis=(1, 2))]


def _turned(turns_deg: Sequence[float]) -> NDArray[np.float64]:
    """(n, 2, 2) what rows of x, y are multiplied by to be turned so."""
    turns = np.radians(np.array(turns_deg))
    cosine, sine = np.cos(turns), np.sin(turns)
    return np.stack([cosine, sine, -sine, cosine], axis=-1).reshape(-1, 2, 2)
