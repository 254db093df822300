"""What goes on around a quad: the item that it is only printed on, the band that it lacks, the card
that several are parts of."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
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
    lengths,
    overlap,
    same_size,
    same_size_on_table,
    signed_area,
)
from packet.imaging.score import Judged
from packet.imaging.table import is_motley_around, is_other_paper
from packet.imaging.view import View

SOFT = 0.76  # where the best item is less plain than this, the picture may be blurred
_LARGER = 0.06  # for twice the area
FITS = 0.95  # of the shape
_BAND_EDGE = 0.9  # share of the sides beyond a band, where the stripe looks like the lid
_BETTER_SHAPE = 0.2  # that a kind has, than that of a part: all a tag that lies leaves
ABOUT_AS_GOOD = 0.1
_SHAPED_LESS = 0.15  # the same, of what has a wanted shape where the quad has none
BAND_WORST, _BAND_APART = 0.5, 0.85  # share of a side with an edge; in colours
_WITHOUT_WIDE_BAND = 0.78  # of an item
_BAND_RATHER_APART, _HARDLY_LIKER = 0.65, 0.03  # in colours, of a band; of all of an item with it
_BAND_MORE = 0.05  # in colours, that an item with its band is more unlike what is around it
_BAND_OF_TABLE = 0.12  # the same, less: then the band looks like what is around
_BAND_LESS = 0.15  # share less that its weakest side may have, where the quad has a wanted shape
_ON_IT = 0.97  # of a quad, that lies on a larger one
_LEAST_PART, _ALL_PLAIN = 0.4, 0.97  # of what a shadow parts; share with an edge, of each side
_LEAST_BUT_BAND, _MOST_BUT_BAND = 0.6, 0.94  # of an item without it; its shadow is narrower
_SAME_SIDE = 0.008  # of what a quad is around
_TWIN_WORST = 0.7  # share with an edge, of the weakest side of a second one of an item's size
_ON_LID_WORST = 0.9  # the same, of an item on a lid, however faint its sides
_PARTS_LESS, _PARTS_APART = 0.35, 0.55  # score, and in colours off a cloth, of what parts lie on
_MOST_OF_WHOLE, _MOSTLY_ON = 0.75, 0.93  # its area; of a part, that lies on it
_OFF_LID, _OWN_SHADOW = 0.9, 1.1  # share between an item and a print on it; of what is printed
_JOINED_WORST, _JOINED_LESS = 0.85, 0.15  # of each of two that a quad joins; than its score
_MOSTLY, _NOT_ALL, _NO_MARGIN = 0.6, 0.95, 0.97  # of each, that lies on it; of it, on their hull
_GAP_SHARE, _GAP_OFF = 0.02, 0.5  # of it, between them; of that, off the ground
_OFF_GROUND, _ON_GROUND = 0.9, 0.3  # of a paper, and of a ring around it
_SEEN_WORST, _ALL_OFF, _ALL_GROUND = 0.85, 0.97, 0.08  # of it; of a ring around it
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
    around = []
    for one in good:
        if one.cut or one.shape < 0.9 or not three_sides(one):
            continue
        if one.score < SOFT and not (view.lid and one.worst > _ON_LID_WORST):
            continue
        if not may_be_printed_on(inner, one):
            continue
        if expected.fits_on(view.to_source(one.quad), view.to_source(inner.quad)):
            continue
        if _is_no_table_between(view, one.quad, inner.quad) and not any(
            _is_twin(view, inner, other, one, expected) for other in good
        ):
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
    plain = one.shape > FITS and one.worst > _ALL_PLAIN and not one.cut
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
    return view.off_ground(grown(one.quad, _OWN_SHADOW + 0.05), grown(one.quad, _OWN_SHADOW - 0.05))


def _is_no_table_between(view: View, outer: Quads, inner: Quads) -> bool:
    """What lies between two quads is unlike what is around the larger one."""
    if view.apart(outer, inner) > RING_APART:
        return True
    off_lid = view.off_lid(outer, grown(inner, _OWN_SHADOW))
    return off_lid is not None and off_lid > _OFF_LID and is_other_paper(view, outer)


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


def with_band(view: View, inner: Judged, good: Sequence[Judged]) -> Judged:
    """The item of which a quad lacks a band along one side, or two (a title, a stripe, what lies
    beyond a finger): about as good, and along those sides unlike all around it, or ended by plain
    edges, where no kind has the quad's own shape, or all of it is less like what is around. Wide
    bands (a portrait and a title) need only be rather unlike that, where a side of the quad is not
    plain. Or the one of which all sides are plain where a shadow's edge is the quad's last one."""
    best = inner
    for one in good:
        if one.cut or one.worst < BAND_WORST:
            continue
        if one.shape < min(FITS, inner.shape + _BETTER_SHAPE):
            continue
        shaped = one.shape > inner.shape + _BETTER_SHAPE
        less = _SHAPED_LESS if shaped else ABOUT_AS_GOOD
        if one.score < max(inner.score, best.score) - less:
            continue
        jaccard, part = overlap(inner.quad, one.quad)
        larger = abs(signed_area(one.quad)) > abs(signed_area(best.quad))
        if not (larger and part > _ON_IT and _LEAST_PART < jaccard < _MOST_BUT_BAND):
            continue
        sides = _added_sides(inner.quad, one.quad)
        if len(sides) == 1 and _is_all_plain(one) and inner.worst < _BAND_EDGE:
            best = one
            continue
        if len(sides) not in (1, 2) or jaccard < _LEAST_BUT_BAND:
            continue
        if inner.shape >= FITS and one.worst < inner.worst - _BAND_LESS:
            continue
        ended = one.edges[sides].min() > _BAND_EDGE and _is_own(view, inner, one, shaped=shaped)
        wide = inner.worst < _BAND_EDGE and jaccard < _WITHOUT_WIDE_BAND
        if ended or _is_band_apart(view, inner, one, sides, wide=wide):
            best = one
    return best if best is inner else replace(best, score=max(inner.score, best.score))


def _is_band_apart(
    view: View, inner: Judged, one: Judged, sides: NDArray[np.int64], *, wide: bool
) -> bool:
    """A band is unlike what is around the item; a wide one rather so, where the item with it is no
    more like that than without."""
    least = view.contrast(one.quad).inner[sides].min()
    if least > _BAND_APART or not wide:
        return bool(least > _BAND_APART)
    no_less = view.apart(one.quad) > view.apart(inner.quad) - _HARDLY_LIKER
    return bool(least > _BAND_RATHER_APART and no_less)


def _is_own(view: View, inner: Judged, one: Judged, *, shaped: bool) -> bool:
    """A band that plain edges end is an item's own where the item is more unlike what is around it
    with the band than without. Where that gives it a wanted shape (``shaped``) it may be less so,
    for the band may look like the table; but not by much on one of several colours."""
    more = view.apart(one.quad) - view.apart(inner.quad)
    if shaped and more < -_BAND_OF_TABLE:
        return not is_motley_around(view, one.quad)
    return shaped or more > _BAND_MORE


def _is_all_plain(one: Judged) -> bool:
    """Each side from end to end, of a wanted shape: so none is where a shadow or a line ends that
    lies across a part of it."""
    return one.worst > _ALL_PLAIN and one.shape > FITS


def _added_sides(inner: Quads, outer: Quads) -> NDArray[np.int64]:
    """The sides of an outer quad that no side of an inner one lies on."""
    around = following(outer) - outer
    long = lengths(around)
    outward = np.stack([around[:, 1], -around[:, 0]], axis=-1) / np.maximum(long, 1e-9)[:, None]
    depth = np.einsum("nk,nmk->nm", outward, outer[:, None] - inner)  # of each corner, off a side
    return np.flatnonzero(np.sort(depth, axis=1)[:, 1] > _SAME_SIDE * long.sum())


def parts_as_one(
    view: View, chosen: Sequence[Judged], good: Sequence[Judged], expected: Expected
) -> list[Judged]:
    """The items, but where several are only parts of what a wanted shape takes in (a portrait, the
    text beside it), that one: fingers or a reflection hide a side of it, and theirs are plainer.

    They are of different sizes, and none that a paper would have beside such a one.
    """
    around = []
    for one in good:
        if one.cut or one.shape < FITS or not three_sides(one):
            continue
        parts = [part for part in chosen if _is_part(part, one)]
        if (
            len(parts) > 1
            and one.score > max(part.score for part in parts) - _PARTS_LESS
            and not any(alike(view, parts[0], other, expected) for other in parts[1:])
            and not any(
                expected.fits_on(view.to_source(one.quad), view.to_source(part.quad))
                for part in parts
            )
            and view.apart(one.quad)
            > (RING_APART if is_motley_around(view, one.quad) else _PARTS_APART)
        ):
            around.append(one)
    if not around:
        return list(chosen)
    whole = with_band(view, around[int(np.argmax(worth_of(around)))], around)
    rest = [one for one in chosen if overlap(one.quad, whole.quad)[1] < 0.12]
    return [replace(whole, score=max(whole.score, SOFT)), *rest]  # as plain as its parts make it


def _is_part(part: Judged, whole: Judged) -> bool:
    """It lies on a larger one."""
    smaller = abs(signed_area(part.quad)) < _MOST_OF_WHOLE * abs(signed_area(whole.quad))
    return smaller and overlap(part.quad, whole.quad)[1] > _MOSTLY_ON


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
    items = [one for one in whole if _is_all_plain(one)]
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
    return min(one.worst, other.worst) > _ALL_PLAIN and max(one.shape, other.shape) > FITS


def _joins(view: View, one: Judged, first: Judged, second: Judged) -> bool:
    """It is what two others, one about as good, and the ground between them make up; pages of an
    opening leave none free."""
    if one is first or one is second or max(first.score, second.score) < one.score - _JOINED_LESS:
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
    least = one.score if _is_all_plain(one) else one.score - _JOINED_LESS
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
