"""Passport openings: two pages side by side are one item, though each page has plain sides."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import cv2
import numpy as np

from packet.imaging.around import is_written_between
from packet.imaging.expected import Expected
from packet.imaging.geometry import (
    Quads,
    doubled,
    overlap,
    projected,
    signed_area,
    unit_homographies,
)
from packet.imaging.score import CUT, UNSEEN, Judged
from packet.imaging.table import is_motley_around
from packet.imaging.view import View

BESIDE = 0.2  # how much worse than the best item another one may be
_PLAIN_WHOLE = 0.3  # how much worse than its page an opening with four sides may be
_FINGER, _LEAST_SEEN = 0.75, 0.88  # shares with an edge, of the side that fingers hide, and of all
_PARTNER = 0.85  # of a page, that lies where the other one of an opening would
_SHARED = 0.12  # of an item, that may lie on the next one
_ALL = 0.97  # of an item, that lies on another one
_SHAPED = 0.6  # shape, of an opening on a scan, though its tag may lie
_WANTED, _EDGE_TO_EDGE = 0.95, 0.04  # shape; of its area, that two parts leave or share
_ALMOST = 0.7  # Jaccard index of two outlines of one opening
_CARD_SHAPED = 0.99  # shape: one page of an opening has it only by chance
_LEAST_OTHER = 0.12  # of a page: what must be seen of the other one of a cut opening
_PLAIN_CUT = 0.93  # share of each side of a cut opening with an edge
_LEAST_WORST = 0.6  # of its weakest side, where its colours tell
_LEAST_HALF, _MOST_HALF = 0.1, 0.93  # of an opening's area, however tilted
_MUCH_LESS = 0.1  # in colours, that a whole stands out less than its half
_STANDS_OUT, _MORE_APART = 0.85, 0.15  # in colours: an opening, and more than one page of it


def wider(view: View, chosen: Sequence[Judged], expected: Expected) -> list[Quads]:
    """The openings that items may be one page of: no ground where the other page would be."""
    if not expected.openings:
        return []
    found = united(view, [one.quad for one in chosen])
    for one in chosen:
        if one.shape > _CARD_SHAPED and expected.is_card(view.to_source(one.quad)):
            continue
        off = view.off_ground(one.quad)
        least = 0.5 * (off + 0.5) if off > 0.6 else 0.0
        found += [
            quad
            for quad in doubled(one.quad)
            if _adds(view, quad, one.quad) and view.off_ground(quad) >= least
        ]
    return found


def united(view: View, pages: Sequence[Quads]) -> list[Quads]:
    """The outlines of two pages each that lie as the halves of one opening, whose fold is a wide
    soft shadow: what lies between them is no ground."""
    found = []
    for k, one in enumerate(pages):
        for other in pages[k + 1 :]:
            for double in doubled(one):
                if overlap(other, double)[1] < _PARTNER or overlap(one, other)[1] > _SHARED:
                    continue
                corners = np.concatenate([one, other])
                away = np.linalg.norm(corners[None] - double[:, None], axis=2)
                outer = away.argmin(axis=1)
                inner = np.setdiff1d(np.arange(8), outer)
                if len(inner) != 4:
                    continue
                between = cv2.convexHull(corners[inner].astype(np.float32))[:, 0]
                plain = min(view.off_ground(one), view.off_ground(other)) > 0.6
                if not plain or (len(between) == 4 and view.off_ground(between) > 0.5):
                    found.append(corners[outer])
    return found


def _adds(view: View, wide: Quads, half: Quads) -> bool:
    """True where the other page is in the picture, or enough of it to be told from the table."""
    seen = abs(signed_area(wide)) * (1 - view.outside(wide[None])[0])
    seen_half = abs(signed_area(half)) * (1 - view.outside(half[None])[0])
    return bool(seen - seen_half > _LEAST_OTHER * abs(signed_area(half)))


def plainly_cut(one: Judged) -> bool:
    """Every side that is in the picture is an edge, so is what the other page adds to it."""
    return one.cut and one.shape > 0.9 and one.worst > _PLAIN_CUT


def cut_openings(view: View, judged: Sequence[Judged], halves: Sequence[Judged]) -> list[Judged]:
    """Those that are whole, plainly cut off, or differ from what lies around them much more than
    the page that they continue: then the same paper goes on beyond its fold."""
    return [
        one
        for one in judged
        if not one.cut
        or plainly_cut(one)
        or any(_goes_on(view, one, half) and _is_half(half.quad, one.quad) for half in halves)
    ]


def _goes_on(view: View, one: Judged, half: Judged) -> bool:
    """True for a cut opening that stands out more than a whole page of it does."""
    if not one.cut or half.cut or one.shape < 0.9 or one.worst < _LEAST_WORST:
        return False
    apart = view.apart(one.quad)
    return apart > _STANDS_OUT and apart > view.apart(half.quad) + _MORE_APART


def whole_opening(view: View, half: Judged, good: Sequence[Judged], expected: Expected) -> Judged:
    """The opening that a quad is one page of, else the quad itself.

    A page's sides, one of them the fold, may be plainer than those of the whole; the other page
    may be as pale as the table, but has print on it. Two cards side by side are told by the shape
    of a card.
    """
    if expected.is_card(view.to_source(half.quad)):
        return half
    best = half
    for one in good:
        if one.cut and not half.cut and not plainly_cut(one) and not _goes_on(view, one, half):
            continue
        if one.worst < 0.5 or one.shape < half.shape - 0.15:
            continue
        if expected.px_per_mm is not None and one.shape < _SHAPED:
            continue
        shaped = one.shape >= (0.95 if expected.px_per_mm is None else min(half.shape, 0.95))
        plain = shaped and _has_sides(one)  # though its dpi tag may lie
        less = _PLAIN_WHOLE if plain else BESIDE
        less += UNSEEN * one.outside + CUT * one.cut if not half.cut else 0.0
        if one.score < max(half.score - less, best.score if best is not half else 0.0):
            continue
        if (
            _is_half(half.quad, one.quad)
            and (
                _is_of_two(half, one, good)
                or not _takes_in_table(view, half, one)
                or (not one.cut and is_written_between(view, one.quad, half.quad))
            )
            and not any(_cuts(one, other) for other in good)
        ):
            best = one
    return best


def joined(
    view: View, chosen: Sequence[Judged], good: Sequence[Judged], expected: Expected
) -> list[Judged]:
    """Items of which two lie edge to edge and make up a third of a wanted shape: that one in their
    place, for a fold, or a shadow's edge across a paper, parts it so, and no two papers lie so,
    but for cards."""
    if any(expected.is_card(view.to_source(one.quad)) for one in chosen):
        return list(chosen)
    for one in good:
        if one.cut or one.shape < _WANTED or one.worst < 0.5:
            continue
        parts = [part for part in chosen if overlap(part.quad, one.quad)[1] > _ALL]
        area = sum(abs(signed_area(part.quad)) for part in parts)
        if len(parts) == 2 and abs(area / abs(signed_area(one.quad)) - 1) < _EDGE_TO_EDGE:
            rest = [part for part in chosen if all(part is not other for other in parts)]
            return [replace(one, score=min(part.score for part in parts)), *rest]
    return list(chosen)


def _cuts(whole: Judged, other: Judged) -> bool:
    """A plainer item lies partly on what would be an opening: another page beside it, and no
    other outline of that opening, nor its other page, a little too large. Where one that is cut off
    ends nobody sees."""
    if other.cut or other.score <= whole.score or _is_half(other.quad, whole.quad):
        return False
    jaccard, part = overlap(whole.quad, other.quad)
    return _SHARED < part < _ALL and jaccard < _ALMOST


def _is_of_two(half: Judged, whole: Judged, good: Sequence[Judged]) -> bool:
    """The other half of a whole is as plainly a page as the one is."""
    return any(
        min(one.support, one.worst) > _PLAIN_CUT
        and one.score > half.score - BESIDE / 2
        and _is_half(one.quad, whole.quad)
        and overlap(one.quad, half.quad)[1] < _SHARED
        for one in good
    )


def _takes_in_table(view: View, half: Judged, whole: Judged) -> bool:
    """True where a whole scores less than its half, and stands out so much less from what lies
    around, that it is a paper and as much table beside it: A4 halved is of an opening's shape. But
    a plain table has no sides as plain, unless it is tiled."""
    less = view.apart(half.quad) - view.apart(whole.quad)
    if less < _MUCH_LESS and _has_sides(whole) and not is_motley_around(view, whole.quad):
        return False
    return less > 0 and whole.score < half.score - (BESIDE - less) - UNSEEN * whole.outside


def _has_sides(one: Judged) -> bool:
    """All four, though fingers may lie on one."""
    return one.worst >= _FINGER and one.support >= _LEAST_SEEN


def _is_half(half: Quads, whole: Quads) -> bool:
    """True where a quad is one of the two halves of another, in the other's own plane."""
    share = abs(signed_area(half)) / max(abs(signed_area(whole)), 1e-9)
    if not _LEAST_HALF < share < _MOST_HALF:
        return False
    if overlap(half, whole)[1] < 0.9:
        return False
    back = np.linalg.inv(unit_homographies(whole[None])[0])
    place = projected(half, back)
    extent, middle = np.ptp(place, axis=0), place.mean(axis=0)
    across = int(np.argmin(extent))
    return bool(
        0.4 < extent[across] < 0.62
        and extent[1 - across] > 0.9
        and abs(abs(middle[across] - 0.5) - 0.25) < 0.06
    )
