"""What a quad lacks of its item, or has too much: titles, strips of the table, a cut end."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from test_company import A4, ID1, ID2, PLAIN, SIZE, box, empty_view, expected_of, on_table, seen_as

from packet.imaging.geometry import from_top_left, overlap
from packet.imaging.lacking import _added_sides, cut_beyond, with_band, without_strip
from packet.imaging.palette import Contrast
from packet.imaging.rank import rank
from packet.imaging.score import Judged
from packet.imaging.two_outlines import with_title
from packet.imaging.view import View, make_view

TITLE = 0.14  # of the height of an ID-2 card: the rest is 105 x 63.6 mm, nearly the shape of ID-1


def judged(quad: np.ndarray, score: float, **given: object) -> Judged:
    return Judged(quad=quad, score=score, **{**PLAIN, **given})


def faces(view: View, quad: np.ndarray, whole: float, *inner: float) -> None:
    sides = np.array(inner)
    view.contrasts[quad.tobytes()] = Contrast(whole=whole, inner=sides, outer=np.full(4, whole))


@pytest.mark.parametrize("side", range(4))
def test_what_a_card_is_without_its_title_is_made_deeper_by_it(side: int) -> None:
    """Seen tilted, whichever way up; the title's depth follows from the shape of ID-2 (105 x 74
    mm, ISO/IEC 7810)."""
    whole = np.roll(on_table(ID2, (0.0, 0.0)), side, axis=0)
    top = side % 4
    rest = whole.copy()
    before, after = (-top) % 4, (1 - top) % 4
    other = [(3 - top) % 4, (2 - top) % 4]
    for corner, beyond in zip((before, after), other, strict=True):
        rest[corner] += TITLE * (rest[beyond] - rest[corner])
    view, expected = empty_view(), expected_of(ID1, ID2)

    made = with_title(view, [judged(rest, 0.95)], expected)

    assert max(overlap(one, whole)[0] for one in made) > 0.98
    assert not with_title(view, [judged(rest, 0.95, cut=True)], expected)
    assert not with_title(view, [judged(rest, 0.95)], replace(expected, perspective=False))


@pytest.mark.parametrize(("side", "taken"), [(3, True), (1, False), (None, False)])
def test_a_title_is_added_to_what_the_picture_cuts_on_the_same_side(
    side: int | None, taken: bool
) -> None:
    seen = np.ones(4)
    seen[3] = 0.0
    inner = judged(box(0.0, 300.0, 900.0, 500.0), 1.02, cut=True, seen=seen)
    other = np.ones(4)
    if side is not None:
        other[side] = 0.0
    outer = judged(box(0.0, 200.0, 900.0, 600.0), 1.0, cut=side is not None, seen=other)
    view = empty_view()
    seen_as(view, inner.quad, 0.96)
    seen_as(view, outer.quad, 0.97)

    best = with_band(view, inner, [inner, outer])

    assert (overlap(best.quad, outer.quad)[0] > 0.99) is taken


@pytest.mark.parametrize(
    ("inner_edge", "outer_edge", "taken"),
    [(0.67, 1.0, True), (0.9, 1.0, False), (0.67, 0.9, False)],
)
def test_a_narrow_band_is_the_items_where_its_end_is_plain_and_the_quads_is_not(
    inner_edge: float, outer_edge: float, taken: bool
) -> None:
    """A shadow beside an item ends softly, the item itself does not."""
    inner = judged(
        box(350.0, 300.0, 850.0, 560.0), 0.84, worst=inner_edge,
        edges=np.array([0.8, 1.0, 1.0, inner_edge]),
    )  # fmt: skip
    outer = judged(
        box(300.0, 300.0, 900.0, 560.0), 0.8, worst=0.8, edges=np.array([0.8, 1.0, 1.0, outer_edge])
    )
    view = empty_view()
    seen_as(view, inner.quad, 0.64)
    seen_as(view, outer.quad, 0.71)

    assert (with_band(view, inner, [inner, outer]).quad is outer.quad) is taken


@pytest.mark.parametrize(
    ("apart", "face", "taken"), [(0.94, 1.0, True), (0.89, 1.0, False), (0.94, 0.9, False)]
)
def test_a_strip_that_looks_like_the_table_is_not_the_items(
    apart: float, face: float, taken: bool
) -> None:
    """A line of the grain beside a page is as plain as its edge."""
    outer = judged(box(300.0, 270.0, 900.0, 630.0), 1.0)
    inner = judged(box(300.0, 300.0, 900.0, 600.0), 0.99)
    view = empty_view()
    faces(view, outer.quad, 0.88, 0.89, 0.99, 0.95, 0.98)
    faces(view, inner.quad, apart, face, 0.99, 0.95, 0.98)

    best = without_strip(view, outer, [outer, inner])

    assert (best.quad is inner.quad) is taken
    wide = judged(box(300.0, 360.0, 900.0, 540.0), 0.99)  # as a title is, and no strip
    faces(view, wide.quad, 0.97, 1.0, 0.99, 0.95, 0.98)
    assert without_strip(view, outer, [outer, wide]) is outer


@pytest.mark.parametrize(
    ("right_px", "edge", "cut"),
    [(1560.0, 0.78, True), (1560.0, 0.98, False), (1300.0, 0.78, False)],
)
def test_an_opening_goes_on_to_the_edge_of_the_picture(
    right_px: float, edge: float, cut: bool
) -> None:
    """What is seen of it has the shape of a letter page by chance."""
    inner = judged(
        box(300.0, 200.0, right_px - 300.0, 900.0), 1.06, worst=edge,
        edges=np.array([1.0, edge, 1.0, 1.0]),
    )  # fmt: skip
    seen = np.array([0.9, 0.0, 0.9, 1.0])
    whole = judged(box(300.0, 200.0, 1450.0, 900.0), 0.99, cut=True, seen=seen, worst=1.0)
    view = empty_view()

    best = cut_beyond(view, inner, [inner, whole])

    assert (best.quad is whole.quad) is cut


def test_where_all_is_a_chequered_table_nothing_is_left_to_be_ranked() -> None:
    y, x = np.mgrid[0 : SIZE[1], 0 : SIZE[0]] // 120
    pixels = np.full((SIZE[1], SIZE[0], 3), 235, np.uint8)
    pixels[(x + y) % 2 > 0] = (90, 30, 40)
    view = make_view(pixels)
    view.ground[:] = [np.zeros(view.small.shape[:2], np.uint8)]
    checks = [view.to_view(box(120.0 * k, 120.0 * j, 119.0, 119.0)) for k in (3, 5) for j in (3, 5)]

    expected = replace(expected_of(A4), any_shape=True)

    assert rank(view, checks, expected, prolong=False, faint=True) == []


def turned(quad: np.ndarray, angle_deg: float) -> np.ndarray:
    """About the middle of the picture, clockwise from the top left as it is then shown."""
    angle = np.radians(angle_deg)
    way = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    middle = np.array(SIZE) / 2
    return from_top_left((quad - middle) @ way + middle)


@pytest.mark.parametrize("angle_deg", [0.0, 45.2, 90.0])
def test_sides_are_told_from_one_another_though_two_quads_begin_at_different_corners(
    angle_deg: float,
) -> None:
    """A strip of the table along one side, of items that stand at about half a quarter turn."""
    outer = judged(turned(box(350.0, 270.0, 900.0, 630.0), angle_deg - 0.6), 1.0)
    inner = judged(turned(box(350.0, 300.0, 900.0, 600.0), angle_deg), 0.99)
    view = empty_view()
    sides = [0.99, 0.99, 0.99, 0.99]
    strip = int(_added_sides(inner.quad, outer.quad)[0])
    faces(view, inner.quad, 0.95, *sides)
    sides[strip] = 0.85
    faces(view, outer.quad, 0.88, *sides)

    assert without_strip(view, outer, [outer, inner]).quad is inner.quad


@pytest.mark.parametrize("order", [(0, 1), (1, 0)])
def test_of_what_the_picture_cuts_the_largest_with_its_bands_is_the_item(
    order: tuple[int, int],
) -> None:
    seen = np.array([1.0, 1.0, 1.0, 0.0])
    inner = judged(box(0.0, 300.0, 900.0, 500.0), 1.0, cut=True, seen=seen)
    larger = [
        judged(box(0.0, 200.0, 900.0, 600.0), 1.0, cut=True, seen=seen),
        judged(box(0.0, 250.0, 900.0, 550.0), 0.97, cut=True, seen=seen),
    ]
    view = empty_view()
    for one in (inner, *larger):
        seen_as(view, one.quad, 0.96)

    best = with_band(view, inner, [inner, *(larger[k] for k in order)])

    assert best.quad is larger[0].quad


@pytest.mark.parametrize(("rest", "taken"), [(0.72, True), (np.nan, True), (0.99, False)])
def test_on_a_cloth_a_band_is_as_unlike_it_as_all_the_rest_of_the_item(
    rest: float, taken: bool
) -> None:
    """White paper on gingham, of which some is white, too; a side outside the picture tells
    nothing."""
    y, x = np.mgrid[0 : SIZE[1], 0 : SIZE[0]] // 40
    pixels = np.full((SIZE[1], SIZE[0], 3), 235, np.uint8)
    pixels[(x + y) % 2 > 0] = (150, 20, 40)
    view = make_view(pixels)
    inner = judged(box(300.0, 360.0, 900.0, 540.0), 0.95, worst=0.95)
    outer = judged(box(300.0, 300.0, 900.0, 600.0), 0.93, edges=np.array([0.8, 1.0, 1.0, 1.0]))
    faces(view, inner.quad, 0.7, 0.7, 0.7, 0.7, 0.7)
    faces(view, outer.quad, 0.7, 0.7, rest, 0.72, 0.99 if rest == 0.99 else 0.72)

    assert (with_band(view, inner, [inner, outer]).quad is outer.quad) is taken
    weak = replace(outer, edges=np.array([0.7, 1.0, 1.0, 1.0]))
    assert with_band(view, inner, [inner, weak]) is inner


@pytest.mark.parametrize(("more", "taken"), [(0.08, True), (0.0, False)])
def test_fingers_may_hide_a_side_of_what_is_less_like_the_table_than_its_part(
    more: float, taken: bool
) -> None:
    inner = judged(box(300.0, 300.0, 900.0, 560.0), 1.0, worst=1.0)
    outer = judged(
        box(300.0, 300.0, 980.0, 560.0), 0.98, worst=0.75, edges=np.array([1.0, 0.75, 1.0, 1.0])
    )
    view = empty_view()
    faces(view, inner.quad, 0.9, 0.9, 0.9, 0.9, 0.9)
    faces(view, outer.quad, 0.9 + more, 0.99, 0.99, 0.99, 0.99)

    assert (with_band(view, inner, [inner, outer]).quad is outer.quad) is taken


def test_what_is_added_up_to_the_edge_of_the_picture_is_no_table() -> None:
    edges, seen = np.array([1.0, 0.8, 1.0, 1.0]), np.array([0.9, 0.0, 0.9, 1.0])
    inner = judged(box(300.0, 200.0, 1260.0, 900.0), 1.0, worst=0.8, edges=edges)
    whole = judged(box(300.0, 200.0, 1450.0, 900.0), 0.95, cut=True, seen=seen, worst=1.0)
    view = empty_view()
    seen_as(view, inner.quad, 0.98)
    seen_as(view, whole.quad, 0.7)

    assert cut_beyond(view, inner, [inner, whole]) is inner
