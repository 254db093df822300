"""Is there more to be looked for beside what was found: does it look like the ground, may it be one
of two cards, or only printed on one?"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from packet.imaging.around import ink_off, letters_in
from packet.imaging.choose import CERTAIN, ON_GROUND, UNLIKE, is_striking
from packet.imaging.expected import Expected
from packet.imaging.geometry import signed_area
from packet.imaging.room import may_hold_another
from packet.imaging.score import Judged
from packet.imaging.table import is_motley_around
from packet.imaging.view import View

_ALL_OFF = 0.7  # of a card, off the ground: else in part like it
_NO_ROOM = 0.42  # of the picture: of two such cards one would be cut off
_MUCH_PRINT = 600  # points of ink
_CELL_PX, _ALL_OVER = 40, 0.6  # of the table, that has ink
_MANY_LETTERS = 100
_PRINT_SHARE = 0.2  # of the picture: a single item that takes less may be a print on one


def may_have_company(view: View, chosen: Sequence[Judged], expected: Expected) -> bool:
    """There may be more items than what stands out of the ground: these look like it, or print lies
    beside them."""
    ground = looks_like_ground(view, chosen, expected)
    return ground or has_print_beside(view, chosen, expected)


def looks_like_ground(view: View, chosen: Sequence[Judged], expected: Expected) -> bool:
    """An item that does, mostly, says nothing of the rest of the picture; nor does a single card
    that does in part, not being certain, for its other side may lie beside it; nor any beside which
    something may."""
    off_ground = [view.off_ground(one.quad) for one in chosen]
    if any(one < ON_GROUND for one in off_ground):
        return len(chosen) > 1 or not _is_alone(view, chosen[0], expected)
    if len(chosen) != 1 or not expected.is_card(view.to_source(chosen[0].quad)):
        return False
    if off_ground[0] < _ALL_OFF and chosen[0].score < CERTAIN:
        return not _is_alone(view, chosen[0], expected)
    return is_card_of_two(view, chosen, expected)


def is_card_of_two(view: View, chosen: Sequence[Judged], expected: Expected) -> bool:
    """A single card in a photo, beside which there is something, or on a ground that is not known
    there may be: both sides are often laid on one table, and the other one may look like it."""
    if len(chosen) != 1 or not expected.perspective or chosen[0].cut:
        return False
    if not expected.is_card(view.to_source(chosen[0].quad)):
        return False
    if view.off_ground(chosen[0].quad) < ON_GROUND:
        return not _is_alone(view, chosen[0], expected)
    return _has_company(view, chosen[0], expected)


def _is_alone(view: View, one: Judged, expected: Expected) -> bool:
    """A certain item, in a photo unlike all around it, beside which there is room for no second
    one, or nothing that could be one; on a scan a card that takes most of it."""
    if one.cut or (one.score < CERTAIN and not is_striking(view, one)):
        return False
    if not expected.perspective:
        share = abs(signed_area(one.quad)) / (view.width_px * view.height_px)
        return share > _NO_ROOM and expected.is_card(view.to_source(one.quad))
    return view.apart(one.quad) >= UNLIKE and not _has_company(view, one, expected)


def _has_company(view: View, one: Judged, expected: Expected) -> bool:
    """Beside an item of a photo there is a place that a second one may lie at."""
    source = view.to_source(one.quad)
    aspect = max(expected.aspect_of(source)[0], 1e-6)
    return may_hold_another(view, one.quad, aspect=aspect, card=expected.is_card(source))


def has_print_beside(view: View, chosen: Sequence[Judged], expected: Expected) -> bool:
    """In a photo, on a ground that is not known well, there is print that lies on no item, none of
    them being certain: that of a sheet as pale as the table. What is all over it is its pattern."""
    known = all(view.off_ground(one.quad) >= _ALL_OFF or one.score >= CERTAIN for one in chosen)
    if known or not expected.perspective:
        return False
    if any(is_motley_around(view, one.quad) for one in chosen):
        return False
    free = ink_off(view, [one.quad for one in chosen])
    if free.sum() < _MUCH_PRINT:
        return False
    cells = np.unique((view.ink[free] // _CELL_PX).astype(np.int64), axis=0)
    left = view.width_px * view.height_px - sum(abs(signed_area(one.quad)) for one in chosen)
    return len(cells) < _ALL_OVER * left / _CELL_PX**2 and letters_in(view, free) > _MANY_LETTERS


def may_be_print(view: View, chosen: Sequence[Judged]) -> bool:
    """A single item, small in the picture: a portrait's frame is plain where the blurred edges of
    its card are not."""
    most = _PRINT_SHARE * view.width_px * view.height_px
    return len(chosen) == 1 and not chosen[0].cut and abs(signed_area(chosen[0].quad)) < most
