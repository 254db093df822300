"""Items of one size on one table: where one is found, the others are sought by its size.

Among hundreds of quads between lines few have the size that one plain item says, in its plane.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import islice

import cv2
import numpy as np
from numpy.typing import NDArray

from packet.imaging.around import alike, is_plain, may_be_printed_on
from packet.imaging.expected import Expected
from packet.imaging.geometry import (
    Quads,
    following,
    grown,
    lengths,
    overlap,
    projected,
    side_lengths,
    size_misses,
    unit_homographies,
)
from packet.imaging.room import likely_places
from packet.imaging.score import Judged, judge
from packet.imaging.view import View
from packet.rules.sizes import card_size_mm

_MOST = 60  # quads, of one size
_LEAST_SHAPE = 0.7  # of the item that says the size
_LEAST_SCORE, _LEAST_SCORE_ON_SCAN = 0.8, 0.76  # where a tag that lies costs some
_LOOKED_AT = 4000  # quads whose colours are looked at
_ABOUT = 0.1  # logarithm, of the sides of quads not yet moved onto their edges
_NEARLY = 0.5  # the same, of quads of which one corner may be right
_AS_APART = 0.6
_GROWN = 1.06  # of an item, whose own edge is no print
_GAP = 0.25  # of the short side, between parts of the print on one item
_WIDER = 0.1  # of the short side, that print (its shadow too) may seem wider than the item
_MOST_SPARE = 0.5  # of the long side, that print leaves free
_PLAY = 0.08  # of the short side, that print may lie off the middle
_LEAST_INK, _MOST_BLOCKS = 150, 8  # points; blocks of print
_CELL_PX = 6
_ROUGH_PX, _FINE_PX = 8.0, 2.0
_FOLLOWED = 4
_TURNS_DEG = (-1.0, 0.0, 1.0)  # of the print against its item
_AS_LONG = 0.04  # logarithm
_CARD_MM = card_size_mm("id-1")
_PART_OF = 0.12  # of the smaller of two quads, that the other may cover


def as_large(
    view: View, chosen: Sequence[Judged], quads: Quads | Sequence[Quads], expected: Expected
) -> list[Quads]:
    """The first of any quads (view pixels, the likeliest first) that are as large as the largest
    plain item, on the table, and lie on no item. In a photo they must differ in colours from
    what lies around them about as much as that item does: squares of a cloth are alike, too."""
    first = _plainest(chosen)
    if first is None or not len(quads):
        return []
    every = np.asarray(quads, np.float64)
    alike = every[_misses(view, first, every, expected) < _ABOUT]
    return _free_and_apart(view, chosen, first, alike[: 4 * _MOST], expected)


def made_as_large(
    view: View, chosen: Sequence[Judged], quads: Quads | Sequence[Quads], expected: Expected
) -> list[Quads]:
    """The same for quads that are nearly as large as the only card of a photo, given its size in
    its plane: each corner kept in turn, with the side after it. Fingers and reflections hide one
    corner of a card, seldom three."""
    first = _plainest(chosen)
    if first is None or not len(quads) or len(chosen) != 1 or not expected.perspective:
        return []
    if not expected.is_card(view.to_source(first.quad)):
        return []
    every = np.asarray(quads, np.float64)
    misses = _misses(view, first, every, expected)
    near = every[(misses >= _ABOUT) & (misses < _NEARLY)][:_LOOKED_AT]
    near = near[np.argsort(-view.roughly_apart(near), kind="stable")[:_MOST]]
    made = _given_size(first.quad, near, aspect=_aspect(view, first, expected))
    return _free_and_apart(view, chosen, first, made, expected)


def placed_beside(view: View, chosen: Sequence[Judged], expected: Expected) -> list[Quads]:
    """The same for places anywhere on the table of the only card of a photo, by their colours
    alone: on a patterned one the sides of a second card may be lost among others."""
    first = _plainest(chosen)
    if first is None or len(chosen) != 1 or not expected.perspective:
        return []
    if not expected.is_card(view.to_source(first.quad)):
        return []
    places = likely_places(view, first.quad, aspect=_aspect(view, first, expected))
    return _free_and_apart(view, chosen, first, np.array(places).reshape(-1, 4, 2), expected)


def are_two_sides(view: View, chosen: Sequence[Judged], expected: Expected) -> bool:
    """Two whole cards of one size in a photo: both sides of one card, and seldom a third item."""
    if len(chosen) != 2 or not expected.perspective or any(one.cut for one in chosen):
        return False
    cards = all(expected.is_card(view.to_source(one.quad)) for one in chosen)
    return cards and alike(view, chosen[0], chosen[1], expected)


def beside_card(view: View, one: Judged, chosen: Sequence[Judged], expected: Expected) -> Expected:
    """What is expected of an item that is cut off beside a whole card of a photo: the sizes that
    have a side as long as the whole one that is seen, by the card's own size in its plane; all
    where none has."""
    cards = [
        other for other in chosen if not other.cut and expected.is_card(view.to_source(other.quad))
    ]
    if not (one.cut and expected.perspective and cards):
        return expected
    card = max(cards, key=lambda other: other.score)
    aspect = _aspect(view, card, expected)
    high_mm = min(_CARD_MM) if aspect > 1 else max(_CARD_MM)
    there = np.linalg.inv(unit_homographies(card.quad[None])[0])
    flat_mm = projected(one.quad, there) * np.array([aspect, 1.0]) * high_mm
    base_mm = lengths(following(flat_mm) - flat_mm)[(int(np.argmin(one.seen)) + 2) % 4]
    off = np.abs(np.log(np.maximum(base_mm, 1e-9)) - np.log(expected.sizes_mm))
    kept = [
        size
        for size, near in zip(expected.sizes_mm, off.min(axis=1) < _AS_LONG, strict=True)
        if near
    ]
    return replace(expected, sizes_mm=tuple(kept)) if kept else expected


def _plainest(chosen: Sequence[Judged]) -> Judged | None:
    """The whole item that says the size."""
    plain = [
        one
        for one in chosen
        if one.shape > _LEAST_SHAPE and one.score > _LEAST_SCORE and not one.cut
    ]
    return max(plain, key=lambda one: one.score, default=None)


def _aspect(view: View, one: Judged, expected: Expected) -> float:
    return max(expected.aspect_of(view.to_source(one.quad))[0], 1e-6)


def _misses(view: View, first: Judged, quads: Quads, expected: Expected) -> NDArray[np.float64]:
    aspect = _aspect(view, first, expected) if expected.perspective else None
    return size_misses(first.quad, quads, aspect=aspect)


def _free_and_apart(
    view: View, chosen: Sequence[Judged], first: Judged, quads: Quads, expected: Expected
) -> list[Quads]:
    """Those that lie on no item and, in a photo, are unlike what is around them."""
    least = _AS_APART * view.apart(first.quad) if expected.perspective else 0.0
    return [
        quad
        for quad in quads
        if all(overlap(quad, one.quad)[1] < _PART_OF for one in chosen)
        and (not least or view.apart(quad) > least)
    ][:_MOST]


def _given_size(one: Quads, quads: Quads, *, aspect: float) -> Quads:
    """(4 n, 4, 2) of (n, 4, 2) quads, view pixels, as large in the plane of one as that is."""
    there = unit_homographies(one[None])[0]
    flat = projected(quads.reshape(-1, 2), np.linalg.inv(there)).reshape(quads.shape)
    flat = flat * np.array([aspect, 1.0])
    side = following(flat) - flat
    long = lengths(side)[..., None]
    lying = long > np.roll(long, 1, axis=1)  # longer than the side before it
    own = np.sort([aspect, 1.0])
    wide, high = np.where(lying, own[1], own[0]), np.where(lying, own[0], own[1])
    across = side / np.maximum(long, 1e-9)
    down = np.stack([-across[..., 1], across[..., 0]], axis=-1)
    corners = [flat, flat + wide * across, flat + wide * across + high * down, flat + high * down]
    made = np.stack(corners, axis=2) / np.array([aspect, 1.0])
    seen = projected(made.reshape(-1, 2), there).reshape(-1, 4, 2)
    return seen[~np.isnan(seen).any(axis=(1, 2))]


def around_print(view: View, chosen: Sequence[Judged], expected: Expected) -> list[Judged]:
    """Quads as large as the plainest item of a scan around print that lies on none: a white card
    on a white lid, beside others that are seen plainly. Best first, some for each block of print.
    """
    plain = [one for one in chosen if one.score > _LEAST_SCORE_ON_SCAN and not one.cut]
    if not plain:
        return []
    size = np.sort(side_lengths(max(plain, key=lambda one: one.score).quad))
    found: list[Judged] = []
    blocks = _blocks(_free_print(view, chosen), view, gap_px=_GAP * float(size[0]))
    for block in islice(blocks, _MOST_BLOCKS):
        middle, extent, angle = cv2.minAreaRect(block)
        spare = np.sort(size) - np.sort(extent)
        if spare.min() < -_WIDER * size[0] or spare.max() > _MOST_SPARE * size[1]:
            continue
        wide, high = size[::-1] if extent[0] >= extent[1] else size
        corners = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * np.array([wide, high]) / 2
        play = np.maximum((np.array([wide, high]) - extent) / 2, _PLAY * size[0])
        rough = _placed(corners, np.array(middle), np.radians(angle), play, _ROUGH_PX)
        best = judge(view, rough, expected, loose=True)[:_FOLLOWED]
        for one in best:
            near = one.quad.mean(axis=0)
            side = one.quad[1] - one.quad[0]
            turn = float(np.arctan2(side[1], side[0]))
            fine = _placed(corners, near, turn, np.full(2, _ROUGH_PX / 2), _FINE_PX)
            found += judge(view, fine, expected, loose=False)[:_FOLLOWED]
    return sorted(found, key=lambda one: -one.score)


def has_free_print(view: View, chosen: Sequence[Judged]) -> bool:
    """There is a block of print on a scan that lies on no item."""
    short = min(min(side_lengths(one.quad)) for one in chosen)
    return any(True for _ in _blocks(_free_print(view, chosen), view, gap_px=_GAP * short))


def with_all_print(view: View, chosen: Sequence[Judged], ranked: Sequence[Judged]) -> list[Judged]:
    """The items of a scan; where the only one leaves print beside it, the plain outline that has
    both on it instead: a portrait has plainer sides than the white card that it is printed on."""
    if len(chosen) != 1 or not has_free_print(view, chosen):
        return list(chosen)
    outer = (
        one
        for one in ranked
        if is_plain(one) and may_be_printed_on(chosen[0], one) and not has_free_print(view, [one])
    )
    return list(islice(outer, 1)) or list(chosen)


def _free_print(view: View, chosen: Sequence[Judged]) -> NDArray[np.float32]:
    """Ink that lies on none of the items."""
    points = view.ink
    free = np.ones((view.height_px, view.width_px), np.uint8)
    for one in chosen:
        cv2.fillConvexPoly(free, np.round(grown(one.quad, _GROWN)).astype(np.int32), 0)
    places = points.astype(int)
    return np.asarray(points[free[places[:, 1], places[:, 0]] == 1], np.float32)


def _blocks(
    points: NDArray[np.float32], view: View, *, gap_px: float
) -> Iterator[NDArray[np.float32]]:
    """Points that lie no farther than a gap from each other; specks are left out."""
    cells = np.zeros([-(-side // _CELL_PX) for side in (view.height_px, view.width_px)], np.uint8)
    places = (points // _CELL_PX).astype(int)
    cells[places[:, 1], places[:, 0]] = 1
    side = max(1, round(gap_px / _CELL_PX)) | 1
    count, labels = cv2.connectedComponents(cv2.dilate(cells, np.ones((side, side), np.uint8)))
    owner = labels[places[:, 1], places[:, 0]]
    for label in range(1, count):
        if np.count_nonzero(owner == label) > _LEAST_INK:
            yield points[owner == label]


def _placed(
    corners: Quads, middle: NDArray[np.float64], turn: float, play: NDArray[np.float64], step: float
) -> list[Quads]:
    """An item (corners about its middle) about a place, turned and shifted in steps of pixels."""
    placed = []
    for angle in turn + np.radians(np.array(_TURNS_DEG)) * step / _ROUGH_PX:
        axes = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
        across, down = (np.arange(-round(one / step), round(one / step) + 1) * step for one in play)
        placed += [middle + (corners + np.array([x, y])) @ axes for x in across for y in down]
    return placed
