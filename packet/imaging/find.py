"""Items of a picture: propose, judge, choose, refine. Easy pictures do not pay for hard ones."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from packet.imaging.geometry import Pixels, Quads, doubled, from_top_left, overlap, signed_area
from packet.imaging.propose import by_lines, by_regions
from packet.imaging.refine import move_sides, refine
from packet.imaging.score import Expected, Judged, judge
from packet.imaging.view import View

SURE = 0.86
ENOUGH = 0.62
_SAME = 0.9
_MOST_ITEMS = 24
_MOVED = 36  # rough quads worth moving onto their edges


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Found:
    """One outline in source pixels, clockwise from the top left as shown; how sure, 0 to 1."""

    quad: Quads
    score: float
    shape: float


def find_items(pixels: Pixels, view: View, expected: Expected) -> list[Found]:
    """Outlines of the items, top to bottom, then left to right; empty when none is sure."""
    if min(view.width_px, view.height_px) < 40:
        return []
    ranked = _rank(view, by_regions(view), expected)
    chosen = _choose(ranked, expected)
    if not chosen or min(one.score for one in chosen) < SURE:
        more = [*by_lines(view), *(one.quad for one in ranked)]
        ranked = _rank(view, more, expected)
        chosen = _choose(ranked, expected)
    if expected.openings and chosen:
        wider = [quad for one in chosen for quad in doubled(one.quad)]
        chosen = _choose([*ranked, *_rank(view, wider, expected)], expected)
    chosen = _one_scale(view, chosen, expected)
    found = [
        Found(quad=from_top_left(refine(pixels, view, one.quad)), score=one.score, shape=one.shape)
        for one in chosen
    ]
    return reading_order(found)


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


def _rank(view: View, quads: Sequence[Quads], expected: Expected) -> list[Judged]:
    """Rough quads judged, the best of them moved onto their edges and judged again."""
    rough = _distinct(judge(view, quads, expected, loose=True), most=_MOVED)
    moved = []
    for one in rough:
        if one.score > 0.35:
            quad = move_sides(view.lab, one.quad, reach_px=12.0, samples=40)
            quad = move_sides(view.lab, quad, reach_px=5.0, samples=40)
            moved.append(from_top_left(quad))
    return _distinct(judge(view, moved, expected, loose=False), most=_MOVED)


def _distinct(judged: Sequence[Judged], *, most: int) -> list[Judged]:
    """Without near copies of a better one."""
    kept: list[Judged] = []
    for one in judged:
        if all(overlap(one.quad, other.quad)[0] < 0.95 for other in kept):
            kept.append(one)
            if len(kept) >= most:
                break
    return kept


def _choose(judged: Sequence[Judged], expected: Expected) -> list[Judged]:
    """The items among the candidates: no two overlap, outer ones beat what is printed inside."""
    good = [one for one in judged if _is_item(one)]
    good = [
        one for one in good if not any(_swallows(other, one, expected.openings) for other in good)
    ]
    good.sort(key=lambda one: -one.score)
    chosen: list[Judged] = []
    for one in good:
        if all(overlap(one.quad, other.quad)[1] < 0.12 for other in chosen):
            chosen.append(one)
    return chosen[:_MOST_ITEMS]


def _is_item(one: Judged) -> bool:
    """Good enough; a shape that only "other" explains needs all its sides to be plain."""
    if one.score < ENOUGH or one.support < 0.6 or one.shape < 0.3:
        return False
    if one.cut:
        return one.support > 0.85 and one.worst > 0.7
    return one.shape > 0.6 or (one.support > 0.9 and one.worst > 0.8)


def _swallows(outer: Judged, inner: Judged, openings: bool) -> bool:
    """True where ``inner`` is only something printed in ``outer``, or one page of an opening.

    The larger one may score a little less for that, an opening much less than its page; but not
    where it is hardly larger: then both mean the same item and the score alone decides.
    """
    if outer is inner or (outer.cut and not inner.cut):
        return False
    share = abs(signed_area(inner.quad)) / abs(signed_area(outer.quad))
    if share > 0.9 or overlap(outer.quad, inner.quad)[1] < 0.95:
        return False
    if openings and 0.38 < share < 0.62:
        return outer.score > inner.score - 0.2
    return outer.score > inner.score - (0.08 if share < 0.75 else 0.0)


def _one_scale(view: View, chosen: Sequence[Judged], expected: Expected) -> list[Judged]:
    """Without outlines whose scale cannot be that of the best one: all lie on one table."""
    if expected.px_per_mm is not None or len(chosen) < 2:
        return list(chosen)
    largest = max(chosen, key=lambda one: (one.shape > 0.6, abs(signed_area(one.quad))))
    scales = expected.scales(expected.completed(view.to_source(largest.quad)))
    kept = []
    for one in chosen:
        own = expected.scales(expected.completed(view.to_source(one.quad)))
        if one is largest or any(0.6 < a / b < 1.6 for a in own for b in scales):
            kept.append(one)
    return kept
