"""What goes on around a quad: the item that it is only printed on, the ground, another item."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import cv2
import numpy as np
from numpy.typing import NDArray

from packet.imaging.expected import EXACT, Expected
from packet.imaging.geometry import (
    Quads,
    common_area,
    following,
    grown,
    overlap,
    same_size,
    same_size_on_table,
    signed_area,
)
from packet.imaging.marks import find_marks
from packet.imaging.score import Judged
from packet.imaging.table import is_other_paper
from packet.imaging.view import View

SOFT = 0.76  # where the best item is less plain than this, the picture may be blurred
_LARGER = 0.06  # for twice the area
FITS = 0.95  # of the shape
ALL_PLAIN = 0.97  # share with an edge, of each side
_TWIN_WORST = 0.7  # share with an edge, of the weakest side of a second one of an item's size
_ON_LID_WORST = 0.9  # the same, of an item on a lid, however faint its sides
_OFF_LID, OWN_SHADOW = 0.9, 1.1  # share between an item and a print on it; of what is printed
_JOINED_WORST, JOINED_LESS = 0.85, 0.15  # of each of two that a quad joins; than its score
_MOSTLY, _NOT_ALL, _NO_MARGIN = 0.6, 0.95, 0.97  # of each, that lies on it; of it, on their hull
_GAP_SHARE, _GAP_OFF = 0.02, 0.5  # of it, between them; of that, off the ground
_OFF_GROUND, _ON_GROUND = 0.9, 0.3  # of a paper, and of a ring around it
_SEEN_WORST, _ALL_OFF, _ALL_GROUND = 0.85, 0.97, 0.08  # of it; of a ring around it
_WRITTEN_SCORE, _WRITTEN_WORST = 0.65, 0.75  # of a paper as pale as the table; each side's edge
_IN_IT, _LEAST_WRITTEN, _DENSER = 0.95, 150, 6.0  # of it; points of ink; times as many as around
_SOME_LETTERS, _LONGEST_PX, _LEAST_AREA = 40, 24, 4  # of a letter's ink
_ITEM_APART = 0.8  # in colours: what is more unlike all around it is an item itself
_LEAST_BEYOND = 0.1  # of the picture, around it
RING_APART = 0.7  # in colours, of what is around a print on an item and what is around the item


def worth_of(judged: Sequence[Judged]) -> NDArray[np.float64]:
    """(n,) scores, a little more for the larger ones."""
    seen = np.array([abs(signed_area(one.quad)) * (1 - one.outside) for one in judged])
    score = np.array([one.score for one in judged])
    return np.asarray(score + _LARGER * np.log2(np.maximum(seen / seen.max(), 1e-6)))


def alike(view: View, first: Judged, one: Judged, expected: Expected) -> bool:
    """True for two whole items of one size, as they lie on the table."""
    if not expected.perspective:
        return same_size(one.quad, first.quad)
    aspect, _ = expected.aspect_of(view.to_source(first.quad))
    return same_size_on_table(first.quad, one.quad, aspect=max(aspect, 1e-6))


def is_plain(one: Judged) -> bool:
    """Four sides and the shape are beyond doubt, though within looks like without: white paper
    on a white table."""
    return not one.cut and one.support > 0.93 and one.worst > 0.85 and one.shape > FITS


def three_sides(one: Judged) -> bool:
    """All sides are seen, or three are and fingers lie on the fourth."""
    return one.worst > 0.6 or (one.shape > FITS and float(np.sort(one.edges)[1]) > 0.8)


def item_around(view: View, inner: Judged, good: Sequence[Judged], expected: Expected) -> Judged:
    """The item that a quad is only printed on (a card's portrait), else the quad itself.

    What lies between the two is then neither table nor, by its size, may the quad be an item; nor
    are there several of them.
    """
    if _lies_on_ground(view, inner):
        return inner
    may_be_portrait = view.apart(inner.quad) < _ITEM_APART
    around = []
    for one in good:
        if one.cut or one.shape < 0.9 or not three_sides(one):
            continue
        plain = one.score >= SOFT or (view.lid and one.worst > _ON_LID_WORST)
        if not (plain or (one.score > _WRITTEN_SCORE and one.worst > _WRITTEN_WORST)):
            continue
        if not may_be_printed_on(inner, one):
            continue
        if expected.fits_on(view.to_source(one.quad), view.to_source(inner.quad)):
            continue
        if any(_is_twin(view, inner, other, one, expected) for other in good):
            continue
        own = plain and _is_no_table_between(view, one.quad, inner.quad)
        if own or (may_be_portrait and is_written_between(view, one.quad, inner.quad)):
            around.append(one)
    return around[int(np.argmax(worth_of(around)))] if around else inner


def may_be_printed_on(
    inner: Judged, outer: Judged, *, least: float = 0.04, most: float = 0.6
) -> bool:
    """A quad lies on another one, and its area is such a share of that one's."""
    part = abs(signed_area(inner.quad)) / max(abs(signed_area(outer.quad)), 1e-9)
    return least < part < most and overlap(inner.quad, outer.quad)[1] >= 0.95


def _lies_on_ground(view: View, one: Judged) -> bool:
    """A paper of a wanted shape, all sides plain, with the ground all around it."""
    plain = one.shape > FITS and one.worst > ALL_PLAIN and not one.cut
    off = view.off_ground(one.quad)
    return plain and off > _OFF_GROUND and _off_around(view, one) < _ON_GROUND


def stands_alone(view: View, one: Judged) -> bool:
    """All of it off a ground that is known, nothing but that ground around it, and of a wanted
    shape with four sides: whatever is printed along these, it is an item."""
    if one.cut or one.shape < FITS or one.worst < _SEEN_WORST or not view.ground:
        return False
    return view.off_ground(one.quad) > _ALL_OFF and _off_around(view, one) < _ALL_GROUND


def _off_around(view: View, one: Judged) -> float:
    """The share of a ring around a quad, off its own shadow, that does not look like the ground."""
    return view.off_ground(grown(one.quad, OWN_SHADOW + 0.05), grown(one.quad, OWN_SHADOW - 0.05))


def _is_no_table_between(view: View, outer: Quads, inner: Quads) -> bool:
    """What lies between two quads is unlike what is around the larger one."""
    if view.apart(outer, inner) > RING_APART:
        return True
    off_lid = view.off_lid(outer, grown(inner, OWN_SHADOW))
    return off_lid is not None and off_lid > _OFF_LID and is_other_paper(view, outer)


def is_written_between(view: View, outer: Quads, inner: Quads) -> bool:
    """Print lies between two quads, and hardly any around the larger one: a card as pale as the
    table, of which its portrait stands out."""
    on_it = ink_within(view.ink, grown(outer, _IN_IT))
    on_it &= ~ink_within(view.ink, grown(inner, OWN_SHADOW))
    there = abs(signed_area(outer)) - abs(signed_area(inner))
    return _is_written(view, on_it, there, [outer])


def is_written_beside(view: View, quad: Quads, others: Sequence[Quads]) -> bool:
    """Print lies on a quad, and hardly any on what is neither that nor one of the others: a sheet
    as pale as the table that it lies on."""
    on_it = ink_within(view.ink, grown(quad, _IN_IT))
    return _is_written(view, on_it, abs(signed_area(quad)), [quad, *others])


def _is_written(view: View, on_it: NDArray[np.bool_], area: float, items: Sequence[Quads]) -> bool:
    """Print of signs lies on an area, and much more of it than on what is none of the items."""
    picture = view.width_px * view.height_px
    rest = picture - OWN_SHADOW**2 * sum(abs(signed_area(one)) for one in items)
    if on_it.sum() < _LEAST_WRITTEN or rest < _LEAST_BEYOND * picture:
        return False
    denser = on_it.sum() / area > _DENSER * ink_off(view, items).sum() / rest
    return bool(denser) and letters_in(view, on_it) > _SOME_LETTERS


def letters_in(view: View, some: NDArray[np.bool_]) -> int:
    """How many marks as small as signs some of the ink makes; grain makes lines and dots."""
    marks = np.zeros((view.height_px, view.width_px), np.uint8)
    columns, rows = view.ink[some].astype(np.int64).T
    marks[rows, columns] = 1
    boxes = find_marks(marks).boxes[1:]
    small = (boxes[:, 2:4].max(axis=1) < _LONGEST_PX) & (boxes[:, 4] > _LEAST_AREA)
    return int(small.sum())


def ink_off(view: View, quads: Sequence[Quads]) -> NDArray[np.bool_]:
    """(n,) which points of the view's print lie on none of the quads, nor on their shadows."""
    free = np.ones(len(view.ink), bool)
    for quad in quads:
        free &= ~ink_within(view.ink, grown(quad, OWN_SHADOW))
    return free


def ink_within(ink: NDArray[np.float32], quad: Quads) -> NDArray[np.bool_]:
    """(n,) which of (n, 2) points lie within a quad, clockwise."""
    side = following(quad) - quad
    gap = ink[:, None] - quad
    return np.asarray(np.all(side[:, 0] * gap[..., 1] - side[:, 1] * gap[..., 0] > 0, axis=1))


def _is_twin(view: View, one: Judged, other: Judged, outer: Judged, expected: Expected) -> bool:
    """Another one of its size beside it, as plain, on what would be their item."""
    return (
        other.score > SOFT
        and other.worst > _TWIN_WORST
        and other.shape > FITS
        and overlap(one.quad, other.quad)[1] < 0.12
        and overlap(other.quad, outer.quad)[1] > 0.9
        and alike(view, one, other, expected)
    )


def is_all_plain(one: Judged) -> bool:
    """Each side from end to end, of a wanted shape: so none is where a shadow or a line ends that
    lies across a part of it."""
    return one.worst > ALL_PLAIN and one.shape > FITS


def without_joins(view: View, good: Sequence[Judged], expected: Expected) -> list[Judged]:
    """Without quads that are but two whole items and the ground between them, or one less a band
    and the ground on its other side: cards in a row have sides in line. A paper goes on beyond what
    is printed on it; the pages of an opening leave no ground free. In a photo the ground must be
    known: all of a table of several colours looks like it. What the picture cuts is none either,
    where by a true scale a whole item has its size."""
    whole = [
        one
        for one in good
        if one.worst > _JOINED_WORST
        and not one.cut
        and not (expected.perspective and view.off_ground(one.quad) < _GAP_OFF)
    ]
    pairs = [
        (one, other)
        for one, other in combinations(whole, 2)
        if overlap(one.quad, other.quad)[1] < 0.12
        and (_is_item_beside(one, other) or alike(view, one, other, expected))
    ]
    items = [one for one in whole if is_all_plain(one)]
    sized = [one for one in items if expected.is_size(view.to_source(one.quad), within=EXACT)]
    kept = [
        one
        for one in good
        if not any(_joins(view, one, *pair) for pair in pairs)
        and not any(_crosses(view, one, item) for item in items)
        and not (one.cut and any(_is_most_of(item, one) for item in sized))
    ]
    return kept or list(good)


def _is_item_beside(one: Judged, other: Judged) -> bool:
    """One of two has a wanted shape, and all sides of both are plain."""
    return min(one.worst, other.worst) > ALL_PLAIN and max(one.shape, other.shape) > FITS


def _joins(view: View, one: Judged, first: Judged, second: Judged) -> bool:
    """It is what two others, one about as good, and the ground between them make up; pages of an
    opening leave none free."""
    if one is first or one is second or max(first.score, second.score) < one.score - JOINED_LESS:
        return False
    parts = (first.quad, second.quad)
    if min(_share_on(part, one.quad) for part in parts) < _MOSTLY:
        return False
    hull = cv2.convexHull(np.concatenate(parts).astype(np.float32))[:, 0]
    area = abs(signed_area(one.quad))
    within = common_area(hull.astype(np.float64), one.quad) / area
    between = cv2.contourArea(hull) - sum(abs(signed_area(part)) for part in parts)
    if within < _NO_MARGIN or between < _GAP_SHARE * area:
        return False
    return _rest_is_ground(view, one.quad, *parts)


def _crosses(view: View, one: Judged, item: Judged) -> bool:
    """It is the most of an item that is about as good, or better if it is all plain itself, and
    ground."""
    least = one.score if is_all_plain(one) else one.score - JOINED_LESS
    if one is item or item.score < least:
        return False
    return _is_most_of(item, one) and _rest_is_ground(view, one.quad, item.quad)


def _is_most_of(item: Judged, one: Judged) -> bool:
    """The most of an item lies on another quad, but not all of it."""
    return _MOSTLY < _share_on(item.quad, one.quad) < _NOT_ALL


def _share_on(part: Quads, quad: Quads) -> float:
    """The share of a part that lies on a quad."""
    return common_area(part, quad) / max(abs(signed_area(part)), 1e-9)


def _rest_is_ground(view: View, quad: Quads, *parts: Quads) -> bool:
    """Enough of it lies on none of the parts, and looks like the ground."""
    area = abs(signed_area(quad))
    rest = area - sum(common_area(quad, part) for part in parts)
    return rest > _GAP_SHARE * area and view.off_ground(quad, *parts) < _GAP_OFF
