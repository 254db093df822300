"""Items of a picture: propose, judge, choose, refine. Easy pictures do not pay for hard ones."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from packet.imaging.faint import settled
from packet.imaging.geometry import (
    Pixels,
    Quads,
    doubled,
    from_top_left,
    meeting,
    overlap,
    same_size,
    same_size_on_table,
    signed_area,
    unit_homographies,
)
from packet.imaging.lines import by_lines
from packet.imaging.propose import by_ground, by_regions
from packet.imaging.refine import move_sides, out_of_shadow, refine
from packet.imaging.score import CUT, UNSEEN, Expected, Judged, judge
from packet.imaging.view import View

SURE = 0.9
CERTAIN = 0.97
_SOFT = 0.76  # where the best item is less plain than this, the picture may be blurred
ENOUGH = 0.62
_LARGER = 0.06  # for twice the area
_BESIDE = 0.2  # how much worse than the best item another one may be
_PLAIN_WHOLE = 0.3  # how much worse than its page an opening with four plain sides may be
_MOST_ITEMS = 24
_PLAIN_SIDE = 0.9  # share of a side with an edge
_MOVED = 24  # rough quads worth moving onto their edges
_PLAIN_SHARE = 0.12  # of the picture: items that take less are looked for again
_CARD_SHAPE = float(np.log(85.60 / 53.98))  # ISO/IEC 7810, ID-1
_REST_SHARE = 0.15  # of the items: what stands out beside them may take so much
_LEAST_CUT = 0.15  # of the best item's area: less of it is a finger, a pen
_SHADOW_MM = 1.9  # that a lid's shadow reaches beyond a card
_ALIKE = 0.12  # for another item of the best one's size
_INSIDE = 0.01  # of the area may lie outside the picture, that a faint side is looked for
_LEAST_OTHER = 0.12  # of a page: what must be seen of the other one of a cut opening
_PLAIN_CUT = 0.93  # share of each side of a cut opening with an edge
_FAINT = 0.5  # share of a side with an edge, below which the side may be put elsewhere


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Found:
    """One outline in source pixels, clockwise from the top left as shown; how sure, 0 to 1.

    ``cut``: a part of the item lies outside the picture.
    """

    quad: Quads
    score: float
    shape: float
    cut: bool = False


def find_items(pixels: Pixels, view: View, expected: Expected) -> list[Found]:
    """Outlines of the items, top to bottom, then left to right; empty when none is sure."""
    if min(view.width_px, view.height_px) < 40:
        return []
    chosen = _items_on(view, expected)
    if not chosen or max(one.score for one in chosen) < _SOFT:
        chosen, view = _in_soft_picture(view, chosen, expected)
    chosen = _one_scale(view, chosen, expected)
    return reading_order([_found(pixels, view, one, expected) for one in chosen])


def _items_on(view: View, expected: Expected) -> list[Judged]:
    ranked = _rank(view, by_ground(view), expected)
    chosen = _choose(view, ranked, expected)
    if not _sure(view, chosen, ranked):
        ranked = _best_of([*ranked, *_rank(view, by_regions(view), expected)])
        chosen = _choose(view, ranked, expected)
    if not _sure(view, chosen, ranked):
        more = [*by_lines(view, expected), *(one.quad for one in ranked[:6])]
        ranked = _best_of([*ranked, *_rank(view, more, expected, faint=True)])
        chosen = _choose(view, ranked, expected)
    wider = [*_wider(view, chosen, expected), *_mended(chosen, ranked)]
    if wider:
        judged = _rank(view, wider, expected, prolong=False)
        ranked = _best_of([*ranked, *(one for one in judged if not one.cut or _plainly_cut(one))])
        chosen = _choose(view, ranked, expected)
    return chosen


def _wider(view: View, chosen: Sequence[Judged], expected: Expected) -> list[Quads]:
    """The openings that items may be one page of: no ground where the other page would be."""
    if not expected.openings:
        return []
    wider = []
    for one in chosen:
        off = view.off_ground(one.quad)
        least = 0.5 * (off + 0.5) if off > 0.6 else 0.0
        wider += [
            quad
            for quad in doubled(one.quad)
            if _adds(view, quad, one.quad) and view.off_ground(quad) >= least
        ]
    return wider


def _adds(view: View, wide: Quads, half: Quads) -> bool:
    """True where the other page is in the picture, or enough of it to be told from the table."""
    seen = abs(signed_area(wide)) * (1 - view.outside(wide[None])[0])
    seen_half = abs(signed_area(half)) * (1 - view.outside(half[None])[0])
    return bool(seen - seen_half > _LEAST_OTHER * abs(signed_area(half)))


def _plainly_cut(one: Judged) -> bool:
    """Every side that is in the picture is an edge, so is what the other page adds to it."""
    return one.cut and one.shape > 0.9 and one.worst > _PLAIN_CUT


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
                around = np.linalg.norm(np.roll(one.quad, -1, axis=0) - one.quad, axis=1).sum()
                if 0.004 * around < np.abs(quad - one.quad).max() < 0.02 * around:
                    mended.append(quad)
    return mended[:_MOVED]


def _in_soft_picture(
    view: View, chosen: list[Judged], expected: Expected
) -> tuple[list[Judged], View]:
    """The same at a third of the size, where the edges of a blurred picture are steep again."""
    if min(view.width_px, view.height_px) < 600:
        return chosen, view
    coarse = view.shrunk(3)
    found = _items_on(coarse, expected)
    best = max((one.score for one in chosen), default=ENOUGH)
    plain = max(found, key=lambda one: one.score, default=None)
    if plain is None or plain.score < max(best + 0.05, _SOFT) or plain.worst < 0.6:
        return chosen, view
    return found, coarse


def _found(pixels: Pixels, view: View, one: Judged, expected: Expected) -> Found:
    quad = refine(pixels, view, one.quad, bent=expected.perspective)
    if not expected.perspective or _is_rectangle(quad):
        quad = out_of_shadow(pixels, quad, reach_px=_SHADOW_MM * expected.px_per_mm_of(quad))
    if one.cut:
        quad = expected.completed(quad, int(np.argmin(one.seen)))
    return Found(quad=from_top_left(quad), score=one.score, shape=one.shape, cut=one.cut)


def _is_rectangle(quad: Quads) -> bool:
    """As on a scan, but for what shadows add: a photo is hardly ever that square."""
    side = np.roll(quad, -1, axis=0) - quad
    length = np.hypot(side[:, 0], side[:, 1])
    after, other = np.roll(side, -1, axis=0), np.roll(length, -1)
    cosine = (side * after).sum(axis=1) / np.maximum(length * other, 1e-9)
    return bool(
        np.abs(np.log(np.maximum(length[:2], 1e-9) / length[2:])).max() < 0.025
        and np.abs(cosine).max() < 0.025
    )


def _sure(view: View, chosen: Sequence[Judged], ranked: Sequence[Judged]) -> bool:
    """Nothing more need be looked for: every item is plain, and nothing else stands out."""
    if not chosen or any(one.cut or one.score < SURE for one in chosen):
        return False
    if any(one.score < CERTAIN and view.off_ground(one.quad) < 0.5 for one in chosen):
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
) -> list[Judged]:
    """Rough quads judged, the best of them moved onto their edges and judged again.

    ``prolong``: cut sides may be put where a wanted shape has them; ``faint``: weak ones too.
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
    rough = [one for one in rough if one.score > 0.4]
    if not rough:
        return []
    worth = _worth(rough)
    rough = [rough[k] for k in np.argsort(-worth, kind="stable")]
    best = _distinct(rough, most=_MOVED)
    moved = move_sides(view.lab, np.stack([one.quad for one in best]), reach_px=10.0, samples=32)
    moved = move_sides(view.lab, moved, reach_px=4.0, samples=32)
    again = judge(view, from_top_left(moved), expected, loose=False)
    whole = [one for one in again if not one.cut and one.outside < _INSIDE]
    if faint and whole:
        quads, edges = settled(
            view, np.stack([one.quad for one in whole]), np.stack([one.edges for one in whole])
        )
        again += judge(view, quads, expected, loose=False, known=edges)
        again.sort(key=lambda one: -one.score)
    return _distinct(again, most=_MOVED)


def _worth(judged: Sequence[Judged]) -> NDArray[np.float64]:
    """(n,) scores, a little more for the larger ones."""
    seen = np.array([abs(signed_area(one.quad)) * (1 - one.outside) for one in judged])
    score = np.array([one.score for one in judged])
    return np.asarray(score + _LARGER * np.log2(np.maximum(seen / seen.max(), 1e-6)))


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
        around = np.linalg.norm(np.roll(one.quad, -1, axis=0) - one.quad, axis=1).sum()
        if kept and np.abs(corners - one.quad).max(axis=(1, 2)).min() < 0.008 * around:
            continue
        kept.append(one)
        corners = np.concatenate([corners, one.quad[None]])
        if len(kept) >= most:
            break
    return kept


def _choose(view: View, judged: Sequence[Judged], expected: Expected) -> list[Judged]:
    """The items among the candidates: the best one, then those that lie beside it.

    Of two that share ground the larger one may score a little less: what is printed inside an
    item, and each page of an opening, has sides as plain as its own.
    """
    good = [one for one in judged if _is_item(one)]
    plain = [one.score > _SOFT or view.off_ground(one.quad) > 0.3 for one in good]
    if not any(plain):
        return []
    first = good[plain.index(True)]
    good = [
        one
        for one, is_plain in zip(good, plain, strict=True)
        if is_plain or _alike(view, first, one, expected)
    ]
    worth = _worth(good)
    top = good[int(np.argmax(worth))]
    if top.shape > 0.7 and not top.cut:
        worth += _ALIKE * np.array([_alike(view, top, one, expected) for one in good])
    if expected.openings:
        good = [_whole_opening(view, one, good, expected) for one in good]
    chosen: list[Judged] = []
    for k in np.argsort(-worth, kind="stable"):
        one = good[k]
        if chosen and not _is_another(view, one, chosen[0], expected):
            continue
        if all(overlap(one.quad, other.quad)[1] < 0.12 for other in chosen):
            chosen.append(one)
    return chosen[:_MOST_ITEMS]


def _alike(view: View, first: Judged, one: Judged, expected: Expected) -> bool:
    """True for two whole items of one size, as they lie on the table."""
    if not expected.perspective:
        return same_size(one.quad, first.quad)
    aspect, _ = expected.aspect_of(view.to_source(first.quad))
    return same_size_on_table(first.quad, one.quad, aspect=max(aspect, 1e-6))


def _is_another(view: View, one: Judged, first: Judged, expected: Expected) -> bool:
    """Good enough to lie beside the best one."""
    if one.score < first.score - _BESIDE or one.worst < 0.5:
        return False
    if not first.cut and not one.cut and one.support > 0.8 and _alike(view, first, one, expected):
        return True
    if one.cut and abs(signed_area(one.quad)) < _LEAST_CUT * abs(signed_area(first.quad)):
        return False
    least = 0.7 if one.cut and not first.cut else 0.5 * view.off_ground(first.quad)
    return view.off_ground(one.quad) > least


def _whole_opening(view: View, half: Judged, good: Sequence[Judged], expected: Expected) -> Judged:
    """The opening that a quad is one page of, else the quad itself.

    A page's sides, one of them the fold, may be plainer than those of the whole. Two cards side
    by side are told by the shape of a card.
    """
    aspect, _ = expected.aspect_of(view.to_source(half.quad))
    if abs(abs(np.log(max(aspect, 1e-6))) - _CARD_SHAPE) < 0.05:
        return half
    best = half
    for one in good:
        if one.cut and not half.cut and not _plainly_cut(one):
            continue
        if one.worst < 0.5 or one.shape < half.shape - 0.15:
            continue
        less = _BESIDE if min(one.worst, one.shape, one.support) < 0.95 else _PLAIN_WHOLE
        less += UNSEEN * one.outside + CUT * one.cut if not half.cut else 0.0
        if one.score < max(half.score - less, best.score if best is not half else 0.0):
            continue
        if _is_half(half.quad, one.quad):
            best = one
    return best


def _is_half(half: Quads, whole: Quads) -> bool:
    """True where a quad is one of the two halves of another, in the other's own plane."""
    if overlap(half, whole)[1] < 0.9:
        return False
    back = np.linalg.inv(unit_homographies(whole[None])[0])
    seen = np.column_stack([half, np.ones(4)]) @ back.T
    place = seen[:, :2] / seen[:, 2:]
    extent, middle = np.ptp(place, axis=0), place.mean(axis=0)
    across = int(np.argmin(extent))
    return bool(
        0.4 < extent[across] < 0.62
        and extent[1 - across] > 0.9
        and abs(abs(middle[across] - 0.5) - 0.25) < 0.06
    )


def _is_item(one: Judged) -> bool:
    """Good enough; a shape that only "other" explains needs all its sides to be plain."""
    if one.score < ENOUGH or one.support < 0.6 or one.shape < 0.3:
        return False
    if one.cut:
        return one.support > 0.8 and one.worst > 0.6 and one.shape > 0.6
    return one.shape > 0.6 or (one.support > 0.9 and one.worst > 0.8)


def _one_scale(view: View, chosen: Sequence[Judged], expected: Expected) -> list[Judged]:
    """Without outlines whose scale cannot be that of the best one: all lie on one table."""
    if expected.px_per_mm is not None or len(chosen) < 2:
        return list(chosen)
    largest = max(chosen, key=lambda one: (one.shape > 0.6, abs(signed_area(one.quad))))
    scales = expected.scales(view.to_source(largest.quad))
    kept = []
    for one in chosen:
        own = expected.scales(view.to_source(one.quad))
        if one is largest or any(0.75 < a / b < 1.33 for a in own for b in scales):
            kept.append(one)
    return kept
