"""What a quad lacks of its item: a band along one side, what lies beyond a shadow or near the edge
of the picture, the other parts of a card; and what it has too much: a strip of the table."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from packet.imaging.around import (
    ALL_PLAIN,
    FITS,
    JOINED_LESS,
    RING_APART,
    SOFT,
    alike,
    is_all_plain,
    three_sides,
    worth_of,
)
from packet.imaging.expected import Expected
from packet.imaging.geometry import (
    Quads,
    common_area,
    common_part,
    following,
    lengths,
    overlap,
    signed_area,
    whole_picture,
)
from packet.imaging.score import Judged
from packet.imaging.table import is_motley_around
from packet.imaging.view import View

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
_COVERED_LESS = 0.3  # the same, of one that is unlike what is around, more than the quad: fingers
_RATHER_ENDED = 0.75  # share of an added side with an edge
_STRIP_LESS, _STRIP_FACE = 0.035, 0.08  # in colours: of all, and along the side
_STRIP_WORST, _STRIP_SCORE = 0.7, 0.05  # share with an edge of each side; less than its score
_ON_IT = 0.97  # of a quad, that lies on a larger one
_LEAST_BUT_BAND, _MOST_BUT_BAND = 0.6, 0.94  # of an item without it; its shadow is narrower
_MOST_BUT_SHADOW = 0.97  # the same, where its side is plain and the quad's is not, or colours tell
_PLAIN_BEYOND, _WEAK_WITHIN = 0.95, 0.75  # shares with an edge
_PLAIN_END, _NEAR_EDGE, _MOST_OF_CUT = 0.85, 0.06, 0.6  # share with an edge; of the long side
_SEEN_SIDE = 0.15  # of a side, that lies in the picture
_SAME_SIDE = 0.008  # of what a quad is around
_PARTS_LESS, _PARTS_APART = 0.35, 0.55  # score, and in colours off a cloth, of what parts lie on
_MOST_OF_WHOLE, _MOSTLY_ON = 0.75, 0.93  # its area; of a part, that lies on it
_LEAST_PART = 0.4  # of what a shadow parts


def with_band(view: View, inner: Judged, good: Sequence[Judged]) -> Judged:
    """The item of which a quad lacks a band along one side, or two (a title, a stripe, what lies
    beyond a finger): about as good, and along those sides unlike all around it, or ended by plain
    edges, where no kind has the quad's own shape, or all of it is less like what is around. Wide
    bands (a portrait and a title) need only be rather unlike that, where a side of the quad is not
    plain; a band on a cloth as unlike it as all the rest of the item is. Or the one of which all
    sides are plain where a shadow's edge is the quad's last one. Of what the picture cuts, too, on
    the same side."""
    best = inner
    for one in good:
        larger = _seen_px(one) > _seen_px(best)
        if larger and _is_as_good(one, inner, best) and _has_band(view, inner, one):
            best = one
    return best if best is inner else replace(best, score=max(inner.score, best.score))


def _seen_px(one: Judged) -> float:
    """The area of it that lies in the picture."""
    return abs(signed_area(one.quad)) * (1 - one.outside)


def _is_as_good(one: Judged, inner: Judged, best: Judged) -> bool:
    """About as good, of a wanted shape or of a better one than the quad."""
    if one.worst < BAND_WORST or not _is_cut_as(one, inner):
        return False
    if one.shape < min(FITS, inner.shape + _BETTER_SHAPE):
        return False
    less = _SHAPED_LESS if _is_shaped(one, inner) else ABOUT_AS_GOOD
    return one.score >= max(inner.score, best.score) - less


def _is_shaped(one: Judged, inner: Judged) -> bool:
    """Of a wanted shape, where the quad has none."""
    return one.shape > inner.shape + _BETTER_SHAPE


def _has_band(view: View, inner: Judged, one: Judged) -> bool:
    """What it adds to a quad is its own: a band along one side, or two."""
    jaccard, part = _overlap_seen(view, inner, one) if one.cut else overlap(inner.quad, one.quad)
    if not (part > _ON_IT and _LEAST_PART < jaccard < _MOST_BUT_SHADOW):
        return False
    sides = _added_sides(inner.quad, one.quad)
    sides = sides[one.seen[sides] > _SEEN_SIDE]
    unlike = view.apart(one.quad) > max(_BAND_APART, view.apart(inner.quad) + _BAND_MORE)
    narrow = jaccard > _MOST_BUT_BAND and not unlike and not _is_plainer(one, inner, sides)
    if narrow or len(sides) not in (1, 2):
        return False
    if len(sides) == 1 and is_all_plain(one) and inner.worst < _BAND_EDGE:
        return True
    less = _COVERED_LESS if unlike else _BAND_LESS
    weaker = inner.shape >= FITS and one.worst < inner.worst - less
    if weaker or jaccard < _LEAST_BUT_BAND:
        return False
    if one.edges[sides].min() > _BAND_EDGE and _is_own(view, inner, one):
        return True
    wide = inner.worst < _BAND_EDGE and jaccard < _WITHOUT_WIDE_BAND
    return _is_band_apart(view, inner, one, sides, wide=wide)


def without_strip(view: View, outer: Judged, good: Sequence[Judged]) -> Judged:
    """The item that a quad is, but for a narrow strip of the table along one side (grain, a dark
    line): about as good, more unlike what is around it, along that side above all."""
    best, apart = outer, view.apart(outer.quad) + _STRIP_LESS
    for one in good:
        if one.cut or outer.cut or one.worst < _STRIP_WORST or one.shape < FITS:
            continue
        if one.score < outer.score - _STRIP_SCORE:
            continue
        jaccard, part = overlap(one.quad, outer.quad)
        sides = _added_sides(one.quad, outer.quad)
        if part < _ON_IT or jaccard < _MOST_BUT_BAND or len(sides) != 1:
            continue
        if view.apart(one.quad) < apart:
            continue
        own = _side_on(one.quad, outer.quad, int(sides[0]))
        within = view.contrast(one.quad).inner[own]
        if within > view.contrast(outer.quad).inner[sides[0]] + _STRIP_FACE:
            best, apart = one, view.apart(one.quad)
    return best if best is outer else replace(best, score=max(best.score, outer.score))


def cut_beyond(view: View, inner: Judged, good: Sequence[Judged]) -> Judged:
    """The item that the edge of the picture cuts, of which a quad is what lies off that edge: its
    last side, close to the edge and less plain than the others, is then no side of it, and what
    lies beyond looks no more like the table."""
    side = int(np.argmin(inner.edges))
    if inner.cut or inner.edges[side] > _PLAIN_END or not _is_near_edge(view, inner.quad, side):
        return inner
    for one in good:
        plain = one.cut and one.worst > ALL_PLAIN and one.shape > FITS
        if not plain or one.score < inner.score - JOINED_LESS:
            continue
        jaccard, part = overlap(inner.quad, one.quad)
        added = _added_sides(inner.quad, one.quad)
        if part < _ON_IT or jaccard < _MOST_OF_CUT or len(added) != 1:
            continue
        goes_on = _side_on(inner.quad, one.quad, int(added[0])) == side
        if goes_on and view.apart(one.quad) > view.apart(inner.quad) - _HARDLY_LIKER:
            return replace(one, score=max(inner.score, one.score))
    return inner


def _is_near_edge(view: View, quad: Quads, side: int) -> bool:
    """Both ends of a side lie close to one edge of the picture."""
    ends = quad[[side, (side + 1) % 4]]
    size = np.array([view.width_px, view.height_px])
    off = np.maximum(ends, 0).max(axis=0), np.maximum(size - 1 - ends, 0).max(axis=0)
    return bool(min(off[0].min(), off[1].min()) < _NEAR_EDGE * size.max())


def _is_cut_as(one: Judged, other: Judged) -> bool:
    """Both are whole, or the same side of both lies outside the picture."""
    if one.cut != other.cut:
        return False
    side = int(np.argmin(one.seen))
    return not one.cut or int(np.argmin(other.seen)) == _side_on(other.quad, one.quad, side)


def _overlap_seen(view: View, inner: Judged, one: Judged) -> tuple[float, float]:
    """As ``overlap``, of what lies in the picture: how far a cut item goes on is a guess."""
    picture = whole_picture(view.width_px, view.height_px)
    within, seen = (common_part(each.quad, picture) for each in (inner, one))
    if not (len(within) and len(seen)):
        return 0.0, 0.0
    areas = common_area(within, within), common_area(seen, seen)
    common = common_area(within, seen)
    return common / max(sum(areas) - common, 1e-9), common / max(min(areas), 1e-9)


def _side_on(quad: Quads, like: Quads, side: int) -> int:
    """The side of a quad that is that side of another one, which nearly has its place: turned by
    half a quarter, two of them may begin at different corners."""
    off = [float(np.abs(np.roll(quad, -turn, axis=0) - like).max()) for turn in range(4)]
    return (side + int(np.argmin(off))) % 4


def _is_plainer(one: Judged, inner: Judged, sides: NDArray[np.int64]) -> bool:
    """A single side of it lies farther out, and is plain where that of the quad is not: so it is
    no shadow's edge."""
    if len(sides) != 1 or one.edges[sides[0]] < _PLAIN_BEYOND:
        return False
    return bool(inner.edges[_side_on(inner.quad, one.quad, int(sides[0]))] < _WEAK_WITHIN)


def _is_band_apart(
    view: View, inner: Judged, one: Judged, sides: NDArray[np.int64], *, wide: bool
) -> bool:
    """A band is unlike what is around the item; a wide one rather so, where the item with it is no
    more like that than without; on a table of several colours as much as all the rest of it is."""
    faces = view.contrast(one.quad).inner
    least, apart = faces[sides].min(), view.apart(one.quad)
    if least > _BAND_APART:
        return True
    if wide and least > _BAND_RATHER_APART and apart > view.apart(inner.quad) - _HARDLY_LIKER:
        return True
    others = np.delete(faces, sides)
    others = others[~np.isnan(others)]
    if not len(others):
        return False
    as_rest = least > max(_BAND_RATHER_APART, others.mean() - _HARDLY_LIKER)
    seen = as_rest and one.edges[sides].min() > _RATHER_ENDED
    return bool(seen and apart >= view.apart(inner.quad) and is_motley_around(view, one.quad))


def _is_own(view: View, inner: Judged, one: Judged) -> bool:
    """A band that plain edges end is an item's own where the item is more unlike what is around it
    with the band than without. Where that gives it a wanted shape it may be less so, for the
    band may look like the table; but not by much on one of several colours."""
    more = view.apart(one.quad) - view.apart(inner.quad)
    shaped = _is_shaped(one, inner)
    if shaped and more < -_BAND_OF_TABLE:
        return not is_motley_around(view, one.quad)
    return shaped or more > _BAND_MORE


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
