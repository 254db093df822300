"""Which of the judged candidates are the items: the best one, then those that lie beside it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from packet.imaging.around import (
    FITS,
    RING_APART,
    SOFT,
    alike,
    is_plain,
    is_written_beside,
    item_around,
    without_joins,
    worth_of,
)
from packet.imaging.expected import EXACT, Expected
from packet.imaging.geometry import overlap, signed_area, size_misses
from packet.imaging.holder import card_in_holder
from packet.imaging.lacking import (
    ABOUT_AS_GOOD,
    BAND_WORST,
    cut_beyond,
    parts_as_one,
    with_band,
    without_strip,
)
from packet.imaging.lattice import squares_of_many
from packet.imaging.one_scale import has_scale_of
from packet.imaging.openings import BESIDE, joined, whole_opening
from packet.imaging.score import Judged
from packet.imaging.table import is_motley_around, is_motley_within, is_shadow, lies_on_lid
from packet.imaging.view import View

CERTAIN, ENOUGH = 0.97, 0.62
_MOST_ITEMS = 24
_LEAST_CUT_SHARE = 0.04  # of a photo: less at its edge is a check of the cloth, unless off
_NO_GROUND = 0.1  # the ground by this share
_LEAST_CUT = 0.15  # of the best item's area: less of it is a finger, a pen
_ALIKE = 0.12  # for another item of the best one's size
_SIZED = 0.05  # for one of a wanted size by a true scale
_ALIKE_LOOK, UNLIKE = 0.6, 0.9  # in colours, of a part of the table, and of an item on it
_PRINTED_ON = 0.9  # of a rival, that lies on what is of one colour where the table is of several
_LESS_THAN_CUT = 0.15  # score
_LITTLE, _MOST_OF_CUT = 0.12, 0.5  # of the smaller one, on it; Jaccard index
_FINGER = 0.2  # of the best one's area
_ODD, _REACHES = 0.6, 0.02  # shape that no kind has; of such a quad, that lies on the best one
_MUCH, _RATHER_UNLIKE = 0.15, 0.5  # of the picture; in colours
_PLAIN_SCORE, _STRIPED, _STRIKING = 0.85, 0.7, 0.97  # the last in colours
_OF_CLOTH = 1.5  # times what colours are more alike than those of a part of the table
_HARDLY_LESS = 0.03  # score, of one that scores about as well
_LEAST_SHARE = 0.05  # of what looks like the table, of an item in its place
_NO_PRINT = 0.25  # of it, of one that may not be printed on it
_QUITE = 0.8  # in colours, of one more unlike what is around it than the first one is
_MORE, _RATHER, _QUITE_UNLIKE = 0.1, 0.15, 0.95  # in colours: more; of an odd shape
ON_GROUND = 0.3  # off the ground, of a quad: the ground is not known, a second item may look so
_CUT_OFF_GROUND = 0.7  # of another item, that is cut off
_NO_CHANCE = 0.004  # logarithm, of both sides
_CUT_WORST = 0.9  # share with an edge, of each side of a cut item that is known by its size
_VOUCHED = 0.4  # score of a second card of which one side is hidden
_AS_APART = 0.8  # as the first one
_THREE_SIDES, _AS_EXACT = 0.97, 0.01  # share with an edge; logarithm, of sides as long as another's


def choose(view: View, judged: Sequence[Judged], expected: Expected) -> list[Judged]:
    """The items among the candidates: the best one, then those that lie beside it.

    Of two that share ground the larger one may score a little less: what is printed inside an
    item, and each page of an opening, has sides as plain as its own.
    """
    items = off_table(view, [one for one in judged if _is_item(view, one, expected)])
    plain = [
        one.score > SOFT
        or is_plain(one)
        or view.off_ground(one.quad) > ON_GROUND
        or (not expected.perspective and (is_whole(one) or _has_size(view, one, expected)))
        or (expected.perspective and (is_off_cloth(view, one) or is_whole_paper(view, one)))
        for one in items
    ]
    if not any(plain):
        return []
    first = items[plain.index(True)]
    good = [
        one
        for one, beyond_doubt in zip(items, plain, strict=True)
        if beyond_doubt or alike(view, first, one, expected)
    ]
    good = without_joins(view, good, expected)
    worth = _unlike_first(view, good, worth_of(good)) + _SIZED * _of_true_size(view, good, expected)
    top = good[int(np.argmax(worth))]
    if top.shape > 0.7 and not top.cut:
        worth += _ALIKE * np.array([alike(view, top, one, expected) for one in good])
    if expected.openings:
        good = [whole_opening(view, one, good, expected) for one in good]
    chosen: list[Judged] = []
    for k in np.argsort(-worth, kind="stable"):
        one = good[k] if chosen else item_around(view, good[k], good, expected)
        one = card_in_holder(view, with_band(view, one, good), good, expected)
        if expected.perspective:
            one = without_strip(view, cut_beyond(view, one, good), good)
        if chosen and not _is_another(view, one, chosen[0], expected):
            continue
        if all(overlap(one.quad, other.quad)[1] < 0.12 for other in chosen):
            chosen.append(one)
    if len(chosen) > 1:
        chosen = parts_as_one(view, chosen, items, expected)
    if expected.openings and len(chosen) > 1:
        chosen = joined(view, chosen, good, expected)
    return [*chosen, *_vouched_for(view, chosen, judged, expected)][:_MOST_ITEMS]


def _of_true_size(view: View, good: Sequence[Judged], expected: Expected) -> NDArray[np.bool_]:
    """(n,) those that a true scale gives a wanted size, with four plain sides: up to the side of
    the next card an outline is larger, and as plain."""
    return np.array(
        [
            one.worst > _CUT_WORST and expected.is_size(view.to_source(one.quad), within=EXACT)
            for one in good
        ]
    )


def _vouched_for(
    view: View, chosen: Sequence[Judged], judged: Sequence[Judged], expected: Expected
) -> list[Judged]:
    """Items as large as the best one: in a photo a second card, unlike all around it, of which
    fingers, a reflection or the picture's edge hide one side; on a scan what is as white as the
    lid."""
    if not chosen or chosen[0].cut or (expected.perspective and len(chosen) > 1):
        return []
    cards = expected.is_card(view.to_source(chosen[0].quad))
    if expected.perspective and not cards:
        return []
    more: list[Judged] = []
    for one in judged:
        if (
            one.score > _VOUCHED
            and float(np.sort(one.edges)[1]) > BAND_WORST
            and alike(view, chosen[0], one, expected)
            and all(overlap(one.quad, other.quad)[1] < 0.12 for other in (*chosen, *more))
            and _may_be_second(view, one, chosen[0], expected, cards=cards)
        ):
            more.append(one)
    return more[:1] if expected.perspective else more


def _may_be_second(
    view: View, one: Judged, first: Judged, expected: Expected, *, cards: bool
) -> bool:
    """In a photo of a wanted shape, and as unlike what is around it as the first one is; on a scan
    whole and, of cards, off the ground, however little, or as large to some tenths of a millimetre
    and with three sides beyond doubt, though the fourth is as white as the lid."""
    if expected.perspective:
        least = max(RING_APART, _AS_APART * view.apart(first.quad))
        return one.shape > FITS and view.apart(one.quad) > least
    if one.cut:
        return False
    if cards and one.worst > BAND_WORST and view.off_ground(one.quad) > ON_GROUND:
        return True
    plain = float(np.sort(one.edges)[1]) > _THREE_SIDES
    return plain and float(size_misses(first.quad, one.quad[None])[0]) < _AS_EXACT


def _unlike_first(
    view: View, good: Sequence[Judged], worth: NDArray[np.float64]
) -> NDArray[np.float64]:
    """The same, but a part of the table is not taken before the likeliest item that scores about
    as well and looks like nothing around it; such an item may be cut off. One that scores as well
    need only differ more than that part does; on a table of several colours any whole item much
    more, but an odd one only where it is large, for checks differ so, too; and there all are worth
    the less, the more they look like the table. Before what the picture cuts, and is more like the
    table, a whole item goes that lies elsewhere."""
    first = int(np.argmax(worth))
    best = good[first]
    least = best.score - (_LESS_THAN_CUT if best.cut else ABOUT_AS_GOOD)
    rivals = [
        k
        for k in np.argsort(-worth, kind="stable").tolist()
        if k != first and good[k].score >= least and good[k].worst >= 0.5
    ]
    differs = view.apart(best.quad) if len(good) > 1 else 1.0
    if differs > _ALIKE_LOOK + _RATHER:
        return worth
    motley = is_motley_around(view, best.quad)
    paper = motley and not is_motley_within(view, best.quad)
    for k in rivals:
        one = good[k]
        share = abs(signed_area(one.quad)) / max(abs(signed_area(best.quad)), 1e-9)
        if share < _LEAST_SHARE:
            continue
        if paper and share < _NO_PRINT and overlap(one.quad, best.quad)[1] > _PRINTED_ON:
            continue
        fits = one.shape >= FITS
        scores = one.score > best.score - _HARDLY_LESS
        as_good = scores and fits and not one.cut and share > _NO_PRINT
        apart = view.apart(one.quad)
        whole = fits and _is_whole_beside_cut(one, best)
        before_cut = whole and apart > max(UNLIKE, differs + _RATHER)
        if one.score < best.score - ABOUT_AS_GOOD and not before_cut:
            continue
        if (
            before_cut
            or (as_good and apart > max(_ALIKE_LOOK, differs + _MORE))
            or (fits and apart > UNLIKE and differs <= _ALIKE_LOOK)
            or (
                apart > max(_ALIKE_LOOK, differs + 2 * _RATHER)
                and not one.cut
                and (fits or (one.worst > 0.8 and apart > _QUITE_UNLIKE and share > _NO_PRINT))
                and motley
            )
        ):
            worth = worth.copy()
            worth[k] = worth[first] + 1e-6
            return worth
    if differs < _ALIKE_LOOK and motley:
        all_apart = np.array([view.apart(one.quad) for one in good], np.float64)
        less = _OF_CLOTH * np.maximum(_ALIKE_LOOK - all_apart, 0.0)
        less[first] *= not paper
        return np.asarray(worth - less)
    return worth


def _is_whole_beside_cut(one: Judged, best: Judged) -> bool:
    """A whole quad, where the best one is cut by the picture, that is not printed on it: it lies
    beside it, or is most of it."""
    jaccard, part = overlap(one.quad, best.quad)
    return best.cut and not one.cut and (part < _LITTLE or jaccard > _MOST_OF_CUT)


def is_off_cloth(view: View, one: Judged) -> bool:
    """Of a wanted shape, with four sides, and unlike all around it, which is of several colours:
    there a single check has sides as plain as those of an item are."""
    shaped = not one.cut and one.shape >= FITS and one.worst > BAND_WORST
    return shaped and view.apart(one.quad) > UNLIKE and is_motley_around(view, one.quad)


def is_striking(view: View, one: Judged) -> bool:
    """Of a wanted shape, with four sides, and with no colour of what is around it: a stripe as dark
    as some of the table hides a part of two sides, and the rest is plain."""
    fits = not one.cut and one.shape >= FITS and one.worst > _STRIPED
    return fits and one.score > _PLAIN_SCORE and view.apart(one.quad) > _STRIKING


def is_whole(one: Judged) -> bool:
    """All of each side is an edge: on a scan a paper of any shape."""
    return not one.cut and one.support > 0.98 and one.worst > 0.97


def is_whole_paper(view: View, one: Judged) -> bool:
    """In a photo four sides beyond doubt around much of the picture, of another colour than what
    is around: a paper of an odd shape, however soft its edges are."""
    share = abs(signed_area(one.quad)) / (view.width_px * view.height_px)
    return is_whole(one) and share > _MUCH and view.apart(one.quad) > _RATHER_UNLIKE


def _has_size(view: View, one: Judged, expected: Expected) -> bool:
    """On a scan of a true dpi as large as a wanted paper, to some tenths of a millimetre: so well
    no lines of print meet by chance, though a side of white paper under a white lid is faint. What
    the picture cuts has that of its base alone, and its three sides are plain."""
    if one.worst < (_CUT_WORST if one.cut else BAND_WORST) or one.shape < FITS:
        return False
    within = EXACT if one.cut else _NO_CHANCE
    return expected.is_size(view.to_source(one.quad), within=within)


def _has_about_size(view: View, one: Judged, expected: Expected) -> bool:
    """On a scan of a true dpi three plain sides of a wanted size."""
    plain = one.worst > _CUT_WORST and one.shape >= FITS
    return plain and expected.is_size(view.to_source(one.quad), within=2 * EXACT)


def _is_another(view: View, one: Judged, first: Judged, expected: Expected) -> bool:
    """Good enough to lie beside the best one."""
    if one.worst < 0.5:
        return False
    may_be_tile = _may_be_tile(view, one, first, expected)
    same = (
        not (first.cut or one.cut)
        and alike(view, first, one, expected)
        and ((one.support > 0.8 and not one.outside) or view.apart(one.quad) > RING_APART)
        and not (may_be_tile and one.shape < FITS)
    )
    finger = expected.perspective and (
        _is_finger(one, first) or _is_print(view, one, first, expected)
    )
    if same or (not finger and is_whole(one) and lies_on_lid(view, one.quad)):
        return True
    if finger or one.score < min(first.score, CERTAIN) - BESIDE:
        return False
    if expected.px_per_mm is not None and is_plain(one):  # white, under a white lid
        return True
    if not may_be_tile and _is_off_ground(view, one, first, expected):
        return True
    return expected.perspective and _is_written_sheet(view, one, first, expected)


def _is_finger(one: Judged, first: Judged) -> bool:
    """What is much smaller, of an odd shape, and reaches over the best one's edge."""
    smaller = abs(signed_area(one.quad)) < _FINGER * abs(signed_area(first.quad))
    return smaller and one.shape < _ODD and overlap(one.quad, first.quad)[1] > _REACHES


def _is_print(view: View, one: Judged, first: Judged, expected: Expected) -> bool:
    """What is much smaller, of a wanted shape, and cannot have that size beside the best one: a
    portrait on a card that looks like the table."""
    smaller = abs(signed_area(one.quad)) < _FINGER * abs(signed_area(first.quad))
    shaped = one.shape >= FITS and not one.cut and not first.cut
    known = smaller and shaped and bool(expected.scales(view.to_source(first.quad)))
    return known and not has_scale_of(view, one, first, expected)


def _is_written_sheet(view: View, one: Judged, first: Judged, expected: Expected) -> bool:
    """Four plain sides of a wanted shape and size beside the best one, all around print that ends
    there: white paper on a white table."""
    plain = is_plain(one) and one.score > SOFT and not first.cut
    plain = plain and has_scale_of(view, one, first, expected)
    return plain and is_written_beside(view, one.quad, [first.quad])


def _may_be_tile(view: View, one: Judged, first: Judged, expected: Expected) -> bool:
    """As plain as the best one is a tile, or a few checks, beside it on a ground that is not known;
    but less unlike what is around than that one is. What is rather unlike it is none where all
    around is of one colour."""
    if not expected.perspective or view.off_ground(first.quad) >= ON_GROUND:
        return False
    apart = view.apart(one.quad)
    if apart > _RATHER_UNLIKE and not is_motley_around(view, one.quad):
        return False
    return apart < min(RING_APART, _AS_APART * view.apart(first.quad))


def _is_off_ground(view: View, one: Judged, first: Judged, expected: Expected) -> bool:
    """As the best one is; in a photo, though it looks like the ground, whole, unlike all around it
    and of a size that fits. What is cut off, also no small part beside it, nor a shadow; or by a
    true scale about as large as a wanted size."""
    off_ground = view.off_ground(one.quad)
    if one.cut and off_ground > ON_GROUND and _has_about_size(view, one, expected):
        return True
    if not one.cut:
        of_first = view.off_ground(first.quad)
        if off_ground > 0.5 * of_first or not expected.perspective:
            return off_ground > 0.5 * of_first
        least = min(UNLIKE, max(_QUITE, view.apart(first.quad)))
        unlike = one.shape >= FITS and one.worst > _STRIPED and view.apart(one.quad) > least
        return unlike and has_scale_of(view, one, first, expected)
    if abs(signed_area(one.quad)) < _LEAST_CUT * abs(signed_area(first.quad)):
        return False
    least = 0.5 * view.off_ground(first.quad) if first.cut else _CUT_OFF_GROUND
    return off_ground > least and not (expected.perspective and is_shadow(view, one.quad))


def _is_item(view: View, one: Judged, expected: Expected) -> bool:
    """Good enough; a shape that only "other" explains needs all its sides to be plain, or in a
    photo fairly plain ones, and to look like nothing around it."""
    if one.score < ENOUGH or one.support < 0.6 or one.shape < 0.3:
        return False
    if one.cut:
        plain = one.support > 0.8 and one.worst > 0.6 and one.shape > 0.6
        return plain and not (expected.perspective and _is_check(view, one))
    if one.shape > 0.6:
        return True
    if expected.perspective and _is_check(view, one):
        return False
    if one.support > 0.9 and one.worst > 0.8:
        return True
    fair = expected.perspective and one.support > 0.9 and one.worst > 0.7
    return fair and view.apart(one.quad) > _QUITE_UNLIKE


def _is_check(view: View, one: Judged) -> bool:
    """What is small and may be of the table: cut by the edge of the picture, or of an odd shape."""
    seen = abs(signed_area(one.quad)) * (1 - one.outside)
    small = seen < _LEAST_CUT_SHARE * view.width_px * view.height_px
    return small and view.off_ground(one.quad) < _NO_GROUND


def off_table(view: View, good: Sequence[Judged]) -> list[Judged]:
    """Without squares of a chequered table, where no ground is known that tells them apart."""
    doubtful = [k for k, one in enumerate(good) if view.off_ground(one.quad) < ON_GROUND]
    squares = squares_of_many(view, [good[k].quad for k in doubtful])
    table = {k for k, is_table in zip(doubtful, squares, strict=True) if is_table}
    return [one for k, one in enumerate(good) if k not in table]
