"""Candidates ranked: judged rough, the best of them moved onto their edges and judged again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from packet.imaging.around import stands_alone, worth_of
from packet.imaging.choose import CERTAIN, off_table
from packet.imaging.expected import EXACT, Expected
from packet.imaging.faint import settled
from packet.imaging.geometry import Quads, following, from_top_left, lengths
from packet.imaging.refine import move_sides
from packet.imaging.score import Judged, judge, side_edges
from packet.imaging.view import View

PLAINLY_APART = 0.9
_ROUGHLY_APART = 0.7  # by a few places: 232 of 234 that are plainly apart, 17 % of the others
_LEAST_ROUGH = 0.4  # score before a quad is moved onto its edges
MOVED = 24  # rough quads worth moving onto their edges
_INSIDE = 0.01  # of the area may lie outside the picture, that a faint side is looked for
_COLOURS = 0.15  # for an item of other colours than what lies around it
_LEAST_APART = 0.3  # what parts of one thing may differ, too
_TABLE_WITHIN = 0.3  # for an inner face of a side that is coloured as the table is
_PAPER_WITHOUT = 0.15  # for an outer face that is coloured as the item is
_UNEVEN = 0.04  # what the sides of an item differ in that
_UNTOLD, _TOLD = 0.75, 0.95  # where the others stand out so little it tells nothing, or all
_COLOURED = 2 * MOVED  # candidates looked at for that
_LOOKED_AT = 8 * MOVED  # rough quads whose colours are looked at
_BY_LOOK = 8  # of those moved: taken by their colours, however small they are
_BY_SCORE, _RATHER_APART = 8, 0.6  # more of them, with their colours; in these, as no check is
_STRIPE, _PALE = 0.9, 0.7  # in colours, of the inner face of a side with a stripe, and of others
_NEARLY_SIZED = 0.07  # logarithm
_OF_OWN = 0.01  # of their own scores, that certain quads keep
_FAINT = 0.5  # share of a side with an edge, below which the side may be put elsewhere


def rank(
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
        if faint:
            quads = [*quads, *_beyond_stripe(view, quads, expected)]
        if view.lid:
            quads = [*quads, *_given_size(view, quads, expected)]
    rough = judge(view, quads, expected, loose=True)
    if faint:
        wholes = [whole for one in rough[: MOVED * 3] for whole in _faint(view, one, expected)]
        rough = [*rough, *judge(view, wholes, expected, loose=True)]
        rough.sort(key=lambda one: -one.score)
    rough = [one for one in rough if one.score > max(least, _LEAST_ROUGH)]
    if faint and rough:
        rough = [*off_table(view, rough[: 2 * _COLOURED]), *rough[2 * _COLOURED :]]
    if not rough:
        return []
    worth = worth_of(rough)
    large = [rough[k] for k in np.argsort(-worth, kind="stable")]
    if faint:
        by_look = _plainly_apart(view, rough[:_LOOKED_AT])
        by_look = by_colours(view, distinct(by_look, most=_COLOURED))[:_BY_LOOK]
        coloured = by_colours(view, distinct(large, most=2 * _COLOURED), most=2 * _COLOURED)
        large = [coloured[k] for k in np.argsort(-worth_of(coloured), kind="stable")]
        small = [one for one in coloured if view.apart(one.quad) > _RATHER_APART][:_BY_SCORE]
        rough = [*large[: MOVED - _BY_LOOK], *by_look, *small, *large]
    else:
        rough = large
    best = distinct(rough, most=MOVED + _BY_SCORE if faint else MOVED)
    moved = move_sides(view, np.stack([one.quad for one in best]), reach_px=10.0, samples=32)
    moved = move_sides(view, moved, reach_px=4.0, samples=32)
    again = judge(view, from_top_left(moved), expected, loose=False)
    whole = [one for one in again if not one.cut and one.outside < _INSIDE]
    if faint and whole:
        inside = np.stack([one.quad for one in whole])
        edges = np.stack([one.edges for one in whole])
        # what a lid's map says of a side does not put it exactly
        own = side_edges(view, inside)[0] if view.lid else edges
        settled_quads, edges = settled(view, inside, own)
        again += judge(view, settled_quads, expected, loose=False, known=edges)
    again = [
        replace(one, score=CERTAIN + _OF_OWN * one.score)
        if one.score < CERTAIN and stands_alone(view, one)
        else one
        for one in again
    ]
    again.sort(key=lambda one: -one.score)
    return distinct(again, most=MOVED)


def _plainly_apart(view: View, rough: Sequence[Judged]) -> list[Judged]:
    """Those coloured otherwise than what lies around them; a few places of each rule most out."""
    likely = view.roughly_apart(np.stack([one.quad for one in rough])) > _ROUGHLY_APART
    return [
        one
        for one, may_be in zip(rough, likely, strict=True)
        if may_be and view.apart(one.quad) > PLAINLY_APART
    ]


def _beyond(view: View, quads: Sequence[Quads], expected: Expected) -> list[Quads]:
    """The whole quads of those of which one side is what the edge of the picture left."""
    source = view.to_source(np.asarray(quads))
    sides = expected.cut_sides(source)
    return [
        view.to_view(whole)
        for k in np.flatnonzero(sides >= 0)
        for whole in expected.wholes_of(source[k], int(sides[k]))
    ]


def _beyond_stripe(view: View, quads: Sequence[Quads], expected: Expected) -> list[Quads]:
    """The whole quads of those that want of a size on a scan by what lies beyond a dark stripe:
    white goes on there, under a white lid."""
    if expected.px_per_mm is None:
        return []
    source = view.to_source(np.asarray(quads))
    short = expected.short_of(source)
    wholes = []
    for k in np.flatnonzero(short >= 0).tolist():
        sides = _striped(view, quads[k])
        if len(sides) == 1 and sides[0] % 2 == short[k]:
            wholes += expected.wholes_of(source[k], int(sides[0]))
    return [view.to_view(whole) for whole in wholes]


def _given_size(view: View, quads: Sequence[Quads], expected: Expected) -> list[Quads]:
    """Rectangles of the wanted size that quads on a lid nearly have by a trusted scale: means of
    many pixels, and a guilloche beside a faint side, tell its place to a millimetre or two."""
    made = []
    for quad in view.to_source(np.asarray(quads)):
        size_mm = expected.size_of(quad, within=_NEARLY_SIZED)
        if size_mm is not None and not expected.is_size(quad, within=EXACT):
            made.append(view.to_view(expected.rectangle(quad, size_mm)))
    return made


def _striped(view: View, quad: Quads) -> NDArray[np.int64]:
    """The sides along which a quad is unlike all around it, where along others it is not."""
    inner = view.contrast(quad).inner
    pale = np.sort(inner)[2] < _PALE  # NaN last
    return np.flatnonzero(inner > _STRIPE) if pale else np.array([], np.int64)


def _faint(view: View, one: Judged, expected: Expected) -> list[Quads]:
    """The quads that one with a single weak side may stand for."""
    weak = np.flatnonzero(one.edges < _FAINT)
    if len(weak) != 1:
        return []
    wholes = expected.wholes_of(view.to_source(one.quad), int(weak[0]))
    return [view.to_view(whole) for whole in wholes]


def by_colours(view: View, ranked: Sequence[Judged], *, most: int = _COLOURED) -> list[Judged]:
    """More for those that are coloured otherwise than what lies around them, less for those that
    have some of it within, along a side, or paper without. ``most``: of the first of them."""
    first = []
    for one in ranked[:most]:
        seen = view.contrast(one.quad)
        more = _COLOURS * (seen.whole - _LEAST_APART)
        faces = _TABLE_WITHIN * uneven(seen.inner) + _PAPER_WITHOUT * uneven(seen.outer)
        more -= (1 - view.off_ground(one.quad)) * faces  # a plain ground is known already
        first.append(replace(one, score=one.score + more))
    return best_of([*first, *ranked[most:]])


def uneven(sides: NDArray[np.float64]) -> float:
    """How much less one face of one side stands out than those of the others do: the more these
    do, the more it tells."""
    known = np.sort(sides[~np.isnan(sides)])
    if len(known) < 3:
        return 0.0
    others = float(known[1:].mean())
    telling = min(1.0, max(0.0, (others - _UNTOLD) / (_TOLD - _UNTOLD)))
    return telling * max(0.0, others - float(known[0]) - _UNEVEN)


def best_of(judged: Sequence[Judged]) -> list[Judged]:
    """Best first, without near copies."""
    return distinct(sorted(judged, key=lambda one: -one.score), most=3 * MOVED)


def distinct(judged: Sequence[Judged], *, most: int) -> list[Judged]:
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
