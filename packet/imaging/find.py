"""Items of a picture: propose, judge, choose, refine. Easy pictures do not pay for hard ones."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from packet.imaging.around import FITS, SOFT, is_plain, item_around
from packet.imaging.beside import (
    are_two_sides,
    around_print,
    as_large,
    beside_card,
    has_free_print,
    made_as_large,
    placed_beside,
    with_all_print,
)
from packet.imaging.choose import (
    CERTAIN,
    ENOUGH,
    choose,
    is_striking,
)
from packet.imaging.company import (
    has_print_beside,
    is_card_of_two,
    may_be_print,
    may_have_company,
)
from packet.imaging.exact import exact_outline
from packet.imaging.expected import ODD_SHAPE, Expected
from packet.imaging.geometry import (
    Pixels,
    Quads,
    from_top_left,
    overlap,
    signed_area,
)
from packet.imaging.lines import by_lines
from packet.imaging.one_scale import one_scale
from packet.imaging.openings import cut_openings, wider
from packet.imaging.parted import parted, parted_sides
from packet.imaging.propose import by_ground, by_regions, within_colours
from packet.imaging.rank import MOVED, PLAINLY_APART, best_of, by_colours, distinct, rank, uneven
from packet.imaging.score import Judged, judge
from packet.imaging.skew import straight_by_text
from packet.imaging.soft_picture import is_pale_beside, is_paper_of, is_second_card, may_be_soft
from packet.imaging.square import is_square, stands_square
from packet.imaging.two_outlines import mended, with_bands, with_title
from packet.imaging.view import View, rim_of

SURE = 0.9
_NEARLY_CERTAIN = 0.93  # with colours that differ plainly from what lies around
_PLAIN_SCORE = 0.85  # with colours that differ, off the ground
_TABLE_SEEN = 0.1  # unevenness of the inner faces: along one of them there is table
_NO_RIVAL = 0.3  # by so much less, rough, no quad beats an item that is found
_NO_RIVAL_SETTLED = 0.2  # that is certain
_PLAIN_SHARE = 0.12  # of the picture: items that take less are looked for again
_ALL_OFF = 0.9  # off the ground, of an item beside which only the light changes
_REST_SHARE = 0.05  # of the items: what stands out beside them; mostly nothing does
_MOST_LIGHT = 0.3  # of them: what may be the light on the table
_WHITE_LID = 150  # L, of 255: on a darker one white paper stands out
_LEAST_SOFT_PX = 600  # of the shorter side, that a third of it shows anything


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Found:
    """One outline in source pixels, clockwise from the top left as shown; how sure, 0 to 1.

    ``cut``: a part of the item lies outside the picture, as far as can be told.
    ``off_ground``: the share of it that does not look like what lies along the picture's edges.
    """

    quad: Quads
    score: float
    shape: float
    cut: bool = False
    off_ground: float = 1.0


def find_items(
    pixels: Pixels, view: View, expected: Expected, wanted: Expected, *, page: bool = False
) -> list[Found]:
    """Outlines of the items, top to bottom, then left to right; empty when none is sure.

    ``expected``: whatever may lie there; ``wanted``: what is said to, which tells how far an item
    that is cut off goes on.
    ``page``: the picture itself is very likely a page, so that it is not searched for faint items
    where nothing stands out.
    """
    if min(view.width_px, view.height_px) < 40:
        return []
    chosen, hard = _items_on(view, expected, page=page)
    if not (page and not chosen) and may_be_soft(view, chosen, expected):
        chosen, view = _in_soft_picture(view, chosen, expected)
    elif hard and expected.perspective and may_be_print(view, chosen):
        chosen, view = _around_print_in_soft_picture(view, chosen, expected)
    chosen = one_scale(view, chosen, expected)
    found = [_found(pixels, view, one, beside_card(view, one, chosen, wanted)) for one in chosen]
    if expected.perspective and hard:
        found = _straight(view, found, expected)
    return reading_order(found)


def _straight(view: View, found: Sequence[Found], expected: Expected) -> list[Found]:
    """Pages as their print has them; cards are stiff, and their guilloches no lines of print."""
    ink = view.ink
    return [
        one
        if expected.is_card(one.quad) or is_square(one.quad)
        else _by_print(view, ink, one, expected)
        for one in found
    ]


def _by_print(view: View, ink: NDArray[np.float32], one: Found, expected: Expected) -> Found:
    aspect = max(expected.aspect_of(one.quad)[0], 1e-6)
    quad = straight_by_text(ink, view.to_view(one.quad), aspect=aspect)
    return replace(one, quad=view.to_source(quad))


def _items_on(view: View, expected: Expected, *, page: bool = False) -> tuple[list[Judged], bool]:
    """(the items, were all rounds needed)."""
    rough, others = by_ground(view)
    ranked = rank(view, rough, expected)
    chosen = choose(view, ranked, expected)
    sure = settled = _settled_at_once(view, chosen, ranked, expected)
    if not sure:
        more = others()
        rough = [*rough, *more]
        ranked = best_of([*ranked, *rank(view, more, expected)])
        chosen = choose(view, ranked, expected)
        sure = _sure(view, chosen, ranked, every=True)
    if not sure or may_have_company(view, chosen, expected):
        more = by_regions(view)
        rough = [*rough, *more]
        ranked = best_of([*ranked, *rank(view, more, expected)])
        chosen = choose(view, ranked, expected)
        sure = _sure(view, chosen, ranked) and not is_card_of_two(view, chosen, expected)
        sure = sure and not has_print_beside(view, chosen, expected)
    if not sure:
        ranked, chosen, sure = _with_second(view, ranked, chosen, expected)
    hard = not sure and not (page and not chosen)
    if hard:
        ranked, chosen = _between_lines(view, rough, ranked, expected)
    around = [] if expected.perspective else around_print(view, chosen, expected)
    if around:
        around = distinct(around, most=MOVED)
        if around[0].score < SOFT:  # of faint sides: put onto them
            quads = [one.quad for one in around]
            around = [*rank(view, quads, expected, prolong=False, faint=True), *around]
        ranked = best_of([*ranked, *by_colours(view, around)])
        chosen = choose(view, ranked, expected)
    more = [
        *wider(view, chosen, expected),
        *mended(chosen, ranked),
        *(with_bands(chosen, ranked) if hard else ()),
        *(with_title(view, chosen, expected) if hard and not view.lid else ()),
    ]
    if more:
        rival = _NO_RIVAL_SETTLED if settled else _NO_RIVAL
        least = min((one.score for one in chosen), default=0.0) - rival
        judged = rank(view, more, expected, prolong=False, least=least)
        judged = cut_openings(view, judged, chosen)
        if judged:
            ranked = best_of([*ranked, *(by_colours(view, judged) if hard else judged)])
            chosen = choose(view, ranked, expected)
    if not settled and _may_be_scan(chosen, expected):
        chosen = with_all_print(view, chosen, ranked)
    return chosen, hard


def _with_second(
    view: View, ranked: list[Judged], chosen: list[Judged], expected: Expected
) -> tuple[list[Judged], list[Judged], bool]:
    """(the candidates, the items, are these beyond doubt) with a second card where colours show one
    beside a plain one: to look for it between lines takes long."""
    if not (len(chosen) == 1 and _beyond_doubt(view, chosen[0], 1)):
        return ranked, chosen, False
    beside = placed_beside(view, chosen, expected)
    if not beside:
        return ranked, chosen, False
    judged = rank(view, beside, expected, prolong=False, faint=True)
    both = best_of([*ranked, *by_colours(view, judged)])
    two = choose(view, both, expected)
    if not (are_two_sides(view, two, expected) and _are_plain(view, two, both)):
        return both, chosen, False
    return both, two, True


def _between_lines(
    view: View, rough: Sequence[Quads], ranked: Sequence[Judged], expected: Expected
) -> tuple[list[Judged], list[Judged]]:
    """(the candidates and those that straight lines, colours and items of one size add; the items
    among them)."""
    lines, every = by_lines(view, expected)
    more = [*lines, *(one.quad for one in ranked[:6])]
    ranked = best_of([*ranked, *rank(view, more, expected, faint=True)])
    ranked = by_colours(view, ranked)
    chosen = choose(view, ranked, expected)
    if expected.perspective and not view.lid and _are_doubtful(view, chosen):
        rough = [*rough, *within_colours(view)]
        ranked = best_of([*ranked, *by_colours(view, _by_look(view, rough, expected))])
        chosen = choose(view, ranked, expected)
    sought = (made(view, chosen, every, expected) for made in (as_large, made_as_large))
    beside = [quad for quads in sought for quad in quads]
    beside += placed_beside(view, chosen, expected)
    if beside:
        judged = rank(view, beside, expected, prolong=False, faint=True)
        ranked = best_of([*ranked, *by_colours(view, judged)])
        chosen = choose(view, ranked, expected)
    return ranked, chosen


def _settled_at_once(
    view: View, chosen: Sequence[Judged], ranked: Sequence[Judged], expected: Expected
) -> bool:
    """Every item is certain, and nothing else stands out; on what may be a scan, no print either:
    it may be that of a white card on a white lid."""
    if not (all(one.score >= CERTAIN for one in chosen) and _sure(view, chosen, ranked)):
        return False
    white = float(np.median(rim_of(view.small)[:, 0])) > _WHITE_LID
    return not (white and _may_be_scan(chosen, expected) and has_free_print(view, chosen))


def _may_be_scan(chosen: Sequence[Judged], expected: Expected) -> bool:
    """By a true scale, or because no camera says that it took the picture, and all in it stands
    square."""
    square = not expected.camera and all(stands_square(one.quad) for one in chosen)
    return not expected.perspective or square


def _by_look(view: View, rough: Sequence[Quads], expected: Expected) -> list[Judged]:
    """Rough quads where colours part best; those that edges show there, too, first."""
    quads = parted(view, rough)
    moved = rank(view, quads, expected, faint=True)
    judged = [
        judge(view, some, expected, loose=False, known=parted_sides(view, some))
        for some in ([one.quad for one in moved], quads)
    ]
    return distinct([*best_of([*moved, *judged[0]]), *judged[1]], most=2 * MOVED)


def _are_doubtful(view: View, chosen: Sequence[Judged]) -> bool:
    """Nothing is found, or what is neither has plain sides nor colours unlike those around it."""
    return not chosen or any(
        one.score < SURE and view.apart(one.quad) < PLAINLY_APART for one in chosen
    )


def _on_soft(view: View, expected: Expected) -> tuple[list[Judged], View]:
    """The items at a third of the size, where the edges of a blurred picture are steep again, and
    that view; none in a small picture."""
    if min(view.width_px, view.height_px) < _LEAST_SOFT_PX:
        return [], view
    coarse = view.shrunk(3)
    return _items_on(coarse, expected)[0], coarse


def _in_soft_picture(
    view: View, chosen: list[Judged], expected: Expected
) -> tuple[list[Judged], View]:
    """What is found at a third of the size, where it is plainer."""
    found, coarse = _on_soft(view, expected)
    best = max((one.score for one in chosen), default=ENOUGH)
    plain = max(found, key=lambda one: one.score, default=None)
    if plain is None or plain.worst < 0.6:
        return chosen, view
    if plain.score < max(best + 0.05, SOFT) and (chosen or not is_plain(plain)):
        return chosen, view
    return found, coarse


def _around_print_in_soft_picture(
    view: View, chosen: list[Judged], expected: Expected
) -> tuple[list[Judged], View]:
    """The item that a single quad is only printed on, where a third of the size shows one; or with
    one beside it that is pale on a pale table."""
    found, coarse = _on_soft(view, expected)
    inner = replace(chosen[0], quad=coarse.to_view(view.to_source(chosen[0].quad)))
    outer = item_around(coarse, inner, found, expected)
    if outer is not inner or any(is_paper_of(coarse, inner, one, expected) for one in found):
        return found, coarse
    beside = [
        replace(one, quad=view.to_view(coarse.to_source(one.quad)))
        for one in found
        if is_pale_beside(coarse, inner, one, expected)
        or is_second_card(coarse, inner, one, expected)
    ]
    return [*chosen, *beside], view


def _found(pixels: Pixels, view: View, one: Judged, expected: Expected) -> Found:
    quad, cut = exact_outline(pixels, view, one, expected, settled=one.score >= CERTAIN)
    return Found(
        quad=from_top_left(quad),
        score=min(1.0, one.score),
        shape=one.shape,
        cut=cut,
        off_ground=view.off_ground(one.quad),
    )


def _sure(
    view: View, chosen: Sequence[Judged], ranked: Sequence[Judged], *, every: bool = False
) -> bool:
    """Nothing more need be looked for: every item is plain, and nothing else stands out. ``every``:
    all quads around what does were ranked; beside items that are certain, what gave none is the
    light on the table."""
    if not _are_plain(view, chosen, ranked):
        return False
    area = sum(abs(signed_area(one.quad)) for one in chosen)
    picture = view.width_px * view.height_px
    if area <= _PLAIN_SHARE * picture:
        return False
    light = every and _nothing_beside(view, chosen, ranked)
    most = (_MOST_LIGHT if light else _REST_SHARE) * (area / picture)
    return view.unexplained([one.quad for one in chosen]) < most


def _are_plain(view: View, chosen: Sequence[Judged], ranked: Sequence[Judged]) -> bool:
    """Every item is beyond doubt, and no candidate beside them is plain."""
    if not chosen or not all(_beyond_doubt(view, one, len(chosen)) for one in chosen):
        return False
    for one in ranked:
        plain = one.score > 0.72 and one.worst > 0.6 and view.off_ground(one.quad) > 0.4
        if plain and all(overlap(one.quad, other.quad)[1] < 0.12 for other in chosen):
            return any(one is other for other in chosen)
    return True


def _nothing_beside(view: View, chosen: Sequence[Judged], ranked: Sequence[Judged]) -> bool:
    """Certain items, all of them off a ground that is known, and no candidate beside them."""
    return all(
        one.score >= CERTAIN and view.off_ground(one.quad) > _ALL_OFF for one in chosen
    ) and all(any(overlap(one.quad, other.quad)[1] > 0.5 for other in chosen) for one in ranked)


def _beyond_doubt(view: View, one: Judged, count: int) -> bool:
    """Plain by its sides and, unless these are certain, off the ground, with no table along one
    of them; or by its colours, which are of use where fingers hide a side, or no kind has the size
    of the only one of ``count``."""
    if one.cut or one.score >= CERTAIN:
        return not one.cut
    seen, off_ground = view.contrast(one.quad), view.off_ground(one.quad)
    if uneven(seen.inner) > _TABLE_SEEN:
        return False
    if (one.score >= SURE and off_ground >= 0.5) or is_striking(view, one):
        return True
    if one.score >= _NEARLY_CERTAIN:
        return seen.whole > PLAINLY_APART
    fits = one.shape > FITS and one.worst > 0.7
    odd = count == 1 and abs(one.shape - ODD_SHAPE) < 0.02 and one.worst > 0.95
    plain = one.score > _PLAIN_SCORE and (fits or odd) and off_ground > 0.6
    return plain and seen.whole > (0.7 if off_ground > 0.7 else PLAINLY_APART)


def reading_order(found: Sequence[Found]) -> list[Found]:
    """Rows from top to bottom, each from left to right.

    Two items are in one row when the middle of the one lies within the height of the other.
    """
    rest = sorted(found, key=lambda one: float(one.quad[:, 1].min()))
    ordered: list[Found] = []
    while rest:
        first = rest[0]
        low, high = float(first.quad[:, 1].min()), float(first.quad[:, 1].max())
        row = [one for one in rest if low <= float(one.quad[:, 1].mean()) <= high]
        row = row or [first]
        row.sort(key=lambda one: float(one.quad[:, 0].mean()))
        ordered += row
        rest = [one for one in rest if not any(one is taken for taken in row)]
    return ordered
