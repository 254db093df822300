"""Items of a picture: propose, judge, choose, refine. Easy pictures do not pay for hard ones."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from packet.imaging.geometry import Quads, from_top_left, overlap, signed_area
from packet.imaging.propose import by_lines, by_regions
from packet.imaging.refine import move_sides, refine
from packet.imaging.score import Expected, Judged, judge
from packet.imaging.view import View

SURE = 0.86
ENOUGH = 0.62
_SAME = 0.9
_MOST_ITEMS = 24


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Found:
    """One outline in source pixels, clockwise from the top left as shown; how sure, 0 to 1."""

    quad: Quads
    score: float
    shape: float


def find_items(pixels: NDArray[np.uint8], view: View, expected: Expected) -> list[Found]:
    """Outlines of the items, top to bottom, then left to right; empty when none is sure."""
    if min(view.width_px, view.height_px) < 40:
        return []
    chosen = _choose(_rank(view, by_regions(view), expected))
    if not chosen or min(one.score for one in chosen) < SURE:
        more = _rank(view, [*by_lines(view), *(one.quad for one in chosen)], expected)
        chosen = _choose(more)
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
    rough = _distinct(judge(view, quads, expected, loose=True), most=40)
    moved = [move_sides(view.lab, one.quad, reach_px=7.0) for one in rough if one.score > 0.4]
    moved = [from_top_left(quad) for quad in moved]
    return _distinct(judge(view, moved, expected, loose=False), most=40)


def _distinct(judged: Sequence[Judged], *, most: int) -> list[Judged]:
    """Without near copies of a better one."""
    kept: list[Judged] = []
    for one in judged:
        if all(overlap(one.quad, other.quad)[0] < 0.95 for other in kept):
            kept.append(one)
            if len(kept) >= most:
                break
    return kept


def _choose(judged: Sequence[Judged]) -> list[Judged]:
    """The items among the candidates: no two overlap, outer ones beat what is printed inside."""
    good = [one for one in judged if one.score >= ENOUGH and one.support >= 0.55]
    good.sort(key=lambda one: -_worth(one, good))
    chosen: list[Judged] = []
    for one in good:
        if all(overlap(one.quad, other.quad)[1] < 0.12 for other in chosen):
            chosen.append(one)
    chosen = chosen[:_MOST_ITEMS]
    return _without_specks(chosen)


def _worth(one: Judged, among: Sequence[Judged]) -> float:
    """The score, raised for an outline that holds another good one inside."""
    area = abs(signed_area(one.quad))
    holds = any(
        other is not one
        and abs(signed_area(other.quad)) < 0.9 * area
        and overlap(one.quad, other.quad)[1] > 0.95
        for other in among
    )
    return one.score + (0.08 if holds else 0.0)


def _without_specks(chosen: Sequence[Judged]) -> list[Judged]:
    """Small doubtful outlines beside a large good one are no items."""
    if not chosen:
        return []
    largest = max(abs(signed_area(one.quad)) for one in chosen)
    return [
        one for one in chosen if abs(signed_area(one.quad)) > 0.12 * largest or one.score > SURE
    ]
