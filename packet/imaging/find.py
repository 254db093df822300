"""Items of a picture: propose, judge, choose, refine. Easy pictures do not pay for hard ones."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from packet.imaging.beside import around_print, as_large
from packet.imaging.choose import (
    ENOUGH,
    FITS,
    ON_GROUND,
    SOFT,
    choose,
    is_card_of_two,
    is_plain,
    item_around,
    may_be_print,
    off_table,
    one_scale,
    worth_of,
)
from packet.imaging.cut import whole_by_look
from packet.imaging.faint import settled
from packet.imaging.geometry import (
    Pixels,
    Quads,
    following,
    from_top_left,
    lengths,
    meeting,
    overlap,
    signed_area,
)
from packet.imaging.lines import by_lines
from packet.imaging.openings import CARD_SHAPE, cut_openings, wider
from packet.imaging.propose import by_ground, by_regions
from packet.imaging.refine import move_sides, out_of_shadow, refine
from packet.imaging.score import ODD_SHAPE, Expected, Judged, judge
from packet.imaging.skew import ink_of, straight_by_text
from packet.imaging.view import View

SURE = 0.9
CERTAIN = 0.97
_NEARLY_CERTAIN = 0.93  # with colours that differ plainly from what lies around
_PLAINLY_APART = 0.9
_PLAIN_SCORE = 0.85  # with colours that differ, off the ground
_TABLE_SEEN = 0.1  # unevenness of the inner faces: along one of them there is table
_PLAIN_SIDE = 0.9  # share of a side with an edge
_LEAST_ROUGH = 0.4  # score before a quad is moved onto its edges
_NO_RIVAL = 0.3  # by so much less, rough, no quad beats an item that is found
_MOVED = 24  # rough quads worth moving onto their edges
_PLAIN_SHARE = 0.12  # of the picture: items that take less are looked for again
_REST_SHARE = 0.05  # of the items: what stands out beside them; mostly nothing does
_SHADOW_MM = 1.9  # that a lid's shadow reaches beyond a card
_LONG_SHADOW_MM = 4.2  # beyond a passport
_INSIDE = 0.01  # of the area may lie outside the picture, that a faint side is looked for
_COLOURS = 0.15  # for an item of other colours than what lies around it
_LEAST_APART = 0.3  # what parts of one thing may differ, too
_TABLE_WITHIN = 0.3  # for an inner face of a side that is coloured as the table is
_PAPER_WITHOUT = 0.15  # for an outer face that is coloured as the item is
_UNEVEN = 0.04  # what the sides of an item differ in that
_UNTOLD, _TOLD = 0.75, 0.95  # where the others stand out so little it tells nothing, or all
_COLOURED = 2 * _MOVED  # candidates looked at for that
_BY_LOOK = 8  # of those moved: taken by their colours, however small they are
_LEAST_SOFT_PX = 600  # of the shorter side, that a third of it shows anything
_FAINT = 0.5  # share of a side with an edge, below which the side may be put elsewhere


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Found:
    """One outline in source pixels, clockwise from the top left as shown; how sure, 0 to 1.

    ``cut``: a part of the item lies outside the picture. ``off_ground``: the share of it that does
    not look like what lies along the picture's edges.
    """

    quad: Quads
    score: float
    shape: float
    cut: bool = False
    off_ground: float = 1.0


def find_items(
    pixels: Pixels, view: View, expected: Expected, *, page: bool = False
) -> list[Found]:
    """Outlines of the items, top to bottom, then left to right; empty when none is sure.

    ``page``: the picture itself is very likely a page, so that it is not searched for faint items
    where nothing stands out.
    """
    if min(view.width_px, view.height_px) < 40:
        return []
    chosen, hard = _items_on(view, expected, page=page)
    if not (page and not chosen) and max((one.score for one in chosen), default=0.0) < SOFT:
        chosen, view = _in_soft_picture(view, chosen, expected)
    elif hard and expected.perspective and may_be_print(view, chosen):
        chosen, view = _around_print_in_soft_picture(view, chosen, expected)
    chosen = one_scale(view, chosen, expected)
    found = [_found(pixels, view, one, expected) for one in chosen]
    if expected.perspective and hard:
        found = _straight(view, found, expected)
    return reading_order(found)


def _straight(view: View, found: Sequence[Found], expected: Expected) -> list[Found]:
    """Pages as their print has them; cards are stiff, and their guilloches no lines of print."""
    ink = ink_of(np.ascontiguousarray(view.lab[..., 0]))
    aspects = [max(expected.aspect_of(one.quad)[0], 1e-6) for one in found]
    return [
        one
        if abs(abs(np.log(aspect)) - CARD_SHAPE) < 0.05
        else replace(
            one,
            quad=view.to_source(straight_by_text(ink, view.to_view(one.quad), aspect=aspect)),
        )
        for one, aspect in zip(found, aspects, strict=True)
    ]


def _items_on(view: View, expected: Expected, *, page: bool = False) -> tuple[list[Judged], bool]:
    """(the items, were all rounds needed)."""
    plain, others = by_ground(view)
    ranked = _rank(view, plain, expected)
    chosen = choose(view, ranked, expected)
    sure = all(one.score >= CERTAIN for one in chosen) and _sure(view, chosen, ranked)
    if not sure:
        ranked = _best_of([*ranked, *_rank(view, others(), expected)])
        chosen = choose(view, ranked, expected)
        sure = _sure(view, chosen, ranked)
    if not sure or any(view.off_ground(one.quad) < ON_GROUND for one in chosen):
        ranked = _best_of([*ranked, *_rank(view, by_regions(view), expected)])
        chosen = choose(view, ranked, expected)
        sure = _sure(view, chosen, ranked) and not is_card_of_two(view, chosen, expected)
    hard = not sure and not (page and not chosen)
    if hard:
        lines, every = by_lines(view, expected)
        more = [*lines, *(one.quad for one in ranked[:6])]
        ranked = _best_of([*ranked, *_rank(view, more, expected, faint=True)])
        ranked = _by_colours(view, ranked)
        chosen = choose(view, ranked, expected)
        beside = as_large(view, chosen, every, expected)
        if beside:
            judged = _rank(view, beside, expected, prolong=False, faint=True)
            ranked = _best_of([*ranked, *_by_colours(view, judged)])
            chosen = choose(view, ranked, expected)
    around = [] if expected.perspective else around_print(view, chosen, expected)
    if around:
        ranked = _best_of([*ranked, *_by_colours(view, _distinct(around, most=_MOVED))])
        chosen = choose(view, ranked, expected)
    more = [*wider(view, chosen, expected), *_mended(chosen, ranked)]
    if more:
        least = min((one.score for one in chosen), default=0.0) - _NO_RIVAL
        judged = _rank(view, more, expected, prolong=False, least=least)
        judged = cut_openings(view, judged, chosen)
        if judged:
            ranked = _best_of([*ranked, *(_by_colours(view, judged) if hard else judged)])
            chosen = choose(view, ranked, expected)
    return chosen, hard


def _by_colours(view: View, ranked: Sequence[Judged]) -> list[Judged]:
    """More for those that are coloured otherwise than what lies around them, less for those that
    have some of it within, along a side, or paper without."""
    first = []
    for one in ranked[:_COLOURED]:
        seen = view.contrast(one.quad)
        more = _COLOURS * (seen.whole - _LEAST_APART)
        faces = _TABLE_WITHIN * _uneven(seen.inner) + _PAPER_WITHOUT * _uneven(seen.outer)
        more -= (1 - view.off_ground(one.quad)) * faces  # a plain ground is known already
        first.append(replace(one, score=one.score + more))
    return _best_of([*first, *ranked[_COLOURED:]])


def _uneven(sides: NDArray[np.float64]) -> float:
    """How much less one face of one side stands out than those of the others do: the more these
    do, the more it tells."""
    known = np.sort(sides[~np.isnan(sides)])
    if len(known) < 3:
        return 0.0
    others = float(known[1:].mean())
    telling = min(1.0, max(0.0, (others - _UNTOLD) / (_TOLD - _UNTOLD)))
    return telling * max(0.0, others - float(known[0]) - _UNEVEN)


def _mended(chosen: Sequence[Judged], ranked: Sequence[Judged]) -> list[Quads]:
    """Items whose weakest side is put where another candidate has a plain one close by."""
    mended: list[Quads] = []
    for one in chosen:
        side = int(np.argmin(one.edges))
        if one.cut or one.edges[side] >= _PLAIN_SIDE:
            continue
        sides = np.stack([one.quad, np.roll(one.quad, -1, axis=0)], axis=1)  # (4, 2 ends, 2)
        for other in ranked:
            for k in np.flatnonzero(other.edges >= _PLAIN_SIDE):
                ends = other.quad[[k, (k + 1) % 4]]
                corners = meeting(sides[side - 1], ends), meeting(sides[(side + 1) % 4], ends)
                if corners[0] is None or corners[1] is None:
                    continue
                quad = one.quad.copy()
                quad[[side, (side + 1) % 4]] = corners
                around = lengths(following(one.quad) - one.quad).sum()
                if 0.004 * around < np.abs(quad - one.quad).max() < 0.02 * around:
                    mended.append(quad)
    return mended[:_MOVED]


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
    """The item that a single quad is only printed on, where a third of the size shows one."""
    found, coarse = _on_soft(view, expected)
    inner = replace(chosen[0], quad=coarse.to_view(view.to_source(chosen[0].quad)))
    outer = item_around(coarse, inner, found, expected)
    return (chosen, view) if outer is inner else (found, coarse)


def _found(pixels: Pixels, view: View, one: Judged, expected: Expected) -> Found:
    plain = one.score >= CERTAIN and not one.cut
    quad = refine(pixels, view, one.quad, bent=expected.perspective, settled=plain)
    scale = expected.px_per_mm_of(quad)
    quad = out_of_shadow(pixels, quad, reach_px=_LONG_SHADOW_MM * scale, dark=True)
    if not expected.perspective or _is_rectangle(quad):
        quad = out_of_shadow(pixels, quad, reach_px=_SHADOW_MM * scale)
        quad = out_of_shadow(pixels, quad, reach_px=_SHADOW_MM * scale, dark=True)
    if one.cut:
        side = int(np.argmin(one.seen))
        levels = view.levels or (pixels,)
        whole = whole_by_look(view, levels, quad, side, expected) if expected.perspective else None
        quad = expected.completed(quad, side) if whole is None else whole
    return Found(
        quad=from_top_left(quad),
        score=min(1.0, one.score),
        shape=one.shape,
        cut=one.cut,
        off_ground=view.off_ground(one.quad),
    )


def _is_rectangle(quad: Quads) -> bool:
    """As on a scan, but for what shadows add: a photo is hardly ever that square."""
    side = following(quad) - quad
    length = lengths(side)
    after, other = following(side), np.roll(length, -1)
    cosine = (side * after).sum(axis=1) / np.maximum(length * other, 1e-9)
    return bool(
        np.abs(np.log(np.maximum(length[:2], 1e-9) / length[2:])).max() < 0.025
        and np.abs(cosine).max() < 0.025
    )


def _sure(view: View, chosen: Sequence[Judged], ranked: Sequence[Judged]) -> bool:
    """Nothing more need be looked for: every item is plain, and nothing else stands out."""
    if not chosen or not all(_beyond_doubt(view, one, len(chosen)) for one in chosen):
        return False
    for one in ranked:
        plain = one.score > 0.72 and one.worst > 0.6 and view.off_ground(one.quad) > 0.4
        if plain and all(overlap(one.quad, other.quad)[1] < 0.12 for other in chosen):
            return any(one is other for other in chosen)
    area = sum(abs(signed_area(one.quad)) for one in chosen)
    picture = view.width_px * view.height_px
    return area > _PLAIN_SHARE * picture and view.unexplained(
        [one.quad for one in chosen]
    ) < _REST_SHARE * (area / picture)


def _beyond_doubt(view: View, one: Judged, count: int) -> bool:
    """Plain by its sides and, unless these are certain, off the ground, with no table along one
    of them; or by its colours, which are of use where fingers hide a side, or no kind has the size
    of the only one of ``count``."""
    if one.cut or one.score >= CERTAIN:
        return not one.cut
    seen, off_ground = view.contrast(one.quad), view.off_ground(one.quad)
    if _uneven(seen.inner) > _TABLE_SEEN:
        return False
    if one.score >= SURE and off_ground >= 0.5:
        return True
    if one.score >= _NEARLY_CERTAIN:
        return seen.whole > _PLAINLY_APART
    fits = one.shape > FITS and one.worst > 0.7
    odd = count == 1 and abs(one.shape - ODD_SHAPE) < 0.02 and one.worst > 0.95
    plain = one.score > _PLAIN_SCORE and (fits or odd) and off_ground > 0.6
    return plain and seen.whole > (0.7 if off_ground > 0.7 else _PLAINLY_APART)


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


def _rank(
    view: View,
    quads: Sequence[Quads],
    expected: Expected,
    *,
    prolong: bool = True,
    faint: bool = False,
    least: float = _LEAST_ROUGH,
) -> list[Judged]:
    """Rough quads judged, the best of them moved onto their edges and judged again.

    ``prolong``: cut sides may be put where a wanted shape has them; ``faint``: weak ones too;
    ``least``: of the rough score.
    """
    if not len(quads):
        return []
    if prolong:
        quads = [*quads, *_beyond(view, quads, expected)]
    rough = judge(view, quads, expected, loose=True)
    if faint:
        wholes = [whole for one in rough[: _MOVED * 3] for whole in _faint(view, one, expected)]
        rough = [*rough, *judge(view, wholes, expected, loose=True)]
        rough.sort(key=lambda one: -one.score)
    rough = [one for one in rough if one.score > max(least, _LEAST_ROUGH)]
    if not rough:
        return []
    if faint:
        rough = [*off_table(view, rough[: 2 * _COLOURED]), *rough[2 * _COLOURED :]]
    worth = worth_of(rough)
    large = [rough[k] for k in np.argsort(-worth, kind="stable")]
    if faint:
        by_look = _by_colours(view, _distinct(rough, most=_COLOURED))[:_BY_LOOK]
        by_look = [one for one in by_look if view.apart(one.quad) > _PLAINLY_APART]
        large = _by_colours(view, _distinct(large, most=_COLOURED))
        rough = [*large[: _MOVED - _BY_LOOK], *by_look, *large]
    else:
        rough = large
    best = _distinct(rough, most=_MOVED)
    moved = move_sides(view, np.stack([one.quad for one in best]), reach_px=10.0, samples=32)
    moved = move_sides(view, moved, reach_px=4.0, samples=32)
    again = judge(view, from_top_left(moved), expected, loose=False)
    whole = [one for one in again if not one.cut and one.outside < _INSIDE]
    if faint and whole:
        settled_quads, edges = settled(
            view, np.stack([one.quad for one in whole]), np.stack([one.edges for one in whole])
        )
        again += judge(view, settled_quads, expected, loose=False, known=edges)
        again.sort(key=lambda one: -one.score)
    return _distinct(again, most=_MOVED)


def _beyond(view: View, quads: Sequence[Quads], expected: Expected) -> list[Quads]:
    """The whole quads of those of which one side is what the edge of the picture left."""
    source = view.to_source(np.asarray(quads))
    sides = expected.cut_sides(source)
    return [
        view.to_view(whole)
        for k in np.flatnonzero(sides >= 0)
        for whole in expected.wholes_of(source[k], int(sides[k]))
    ]


def _faint(view: View, one: Judged, expected: Expected) -> list[Quads]:
    """The quads that one with a single weak side may stand for."""
    weak = np.flatnonzero(one.edges < _FAINT)
    if len(weak) != 1:
        return []
    wholes = expected.wholes_of(view.to_source(one.quad), int(weak[0]))
    return [view.to_view(whole) for whole in wholes]


def _best_of(judged: Sequence[Judged]) -> list[Judged]:
    """Best first, without near copies."""
    return _distinct(sorted(judged, key=lambda one: -one.score), most=3 * _MOVED)


def _distinct(judged: Sequence[Judged], *, most: int) -> list[Judged]:
    """Without near copies of a better one."""
    kept: list[Judged] = []
    corners = np.zeros((0, 4, 2))
    for one in judged:
        around = lengths(following(one.quad) - one.quad).sum()
        if kept and np.abs(corners - one.quad).max(axis=(1, 2)).min() < 0.008 * around:
            continue
        kept.append(one)
        corners = np.concatenate([corners, one.quad[None]])
        if len(kept) >= most:
            break
    return kept
