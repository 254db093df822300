"""Items as pale as what they lie on: told by the print on them, and by what is on the rest."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest
from test_company import A4, ID1, ID2, PLAIN, SIZE, box, expected_of, seen_as

from packet.imaging.around import is_written_beside, is_written_between, item_around
from packet.imaging.choose import choose
from packet.imaging.company import has_print_beside
from packet.imaging.expected import Expected
from packet.imaging.find import Found
from packet.imaging.openings import whole_opening
from packet.imaging.page_parts import is_part_of_page
from packet.imaging.score import Judged
from packet.imaging.soft_picture import is_second_card
from packet.imaging.view import View, make_view

CARD, PORTRAIT = box(300.0, 250.0, 1000.0, 705.0), box(360.0, 400.0, 330.0, 430.0)


def desk(*written: np.ndarray, everywhere: bool = False) -> View:
    """A white desk with lines of print on some places of it."""
    pixels = np.full((SIZE[1], SIZE[0], 3), 226, np.uint8)
    places = [box(20.0, 20.0, 1560.0, 1160.0)] if everywhere else written
    for quad in places:
        (left, top), (right, low) = quad[0], quad[2]
        for y in range(int(top) + 60, int(low) - 20, 46):
            cv2.putText(pixels, "text and text " * 9, (int(left) + 20, y), 0, 0.8, (40, 40, 40), 2)
            pixels[:, int(right) - 10 :] = 226
    view = make_view(pixels)
    view.ground[:] = [np.zeros(view.small.shape[:2], np.uint8)]
    return view


def test_what_is_written_around_a_portrait_is_a_card_as_pale_as_the_desk() -> None:
    view = desk(box(700.0, 250.0, 600.0, 705.0))
    card, portrait = view.to_view(CARD), view.to_view(PORTRAIT)
    inner = Judged(quad=portrait, score=1.0, **PLAIN)
    outer = Judged(quad=card, score=0.7, **PLAIN)
    seen_as(view, card, 0.4)
    seen_as(view, portrait, 0.6)

    assert is_written_between(view, card, portrait)
    assert item_around(view, inner, [inner, outer], expected_of(ID2)) is outer
    weak = replace(outer, worst=0.7)
    assert item_around(view, inner, [inner, weak], expected_of(ID2)) is inner
    seen_as(view, portrait, 0.93)  # a card, on a page of a newspaper
    assert item_around(view, inner, [inner, outer], expected_of(ID2)) is inner


@pytest.mark.parametrize("everywhere", [True, False])
def test_a_box_on_a_page_full_of_print_or_on_a_bare_desk_is_not_around_it(everywhere: bool) -> None:
    view = desk(everywhere=everywhere)

    assert not is_written_between(view, view.to_view(CARD), view.to_view(PORTRAIT))


def test_a_white_sheet_beside_a_card_is_where_the_print_is() -> None:
    """On a white desk no colour tells it; what is as large there, and bare, is none."""
    sheet, bare = box(700.0, 60.0, 760.0, 1075.0), box(60.0, 700.0, 500.0, 354.0)
    view = desk(sheet)
    sheet, bare, card = (view.to_view(one) for one in (sheet, bare, box(60.0, 100.0, 310.0, 195.0)))

    assert is_written_beside(view, sheet, [card])
    assert not is_written_beside(view, bare, [card])
    first = Judged(quad=card, score=1.0, **PLAIN)
    page = Judged(quad=sheet, score=0.9, **{**PLAIN, "worst": 1.0})
    seen_as(view, card, 0.95)
    seen_as(view, sheet, 0.3)
    assert len(choose(view, [first, page], expected_of(ID1, A4))) == 2
    seen_as(view, bare, 0.3)
    other = Judged(quad=bare, score=0.9, **{**PLAIN, "worst": 1.0})
    assert len(choose(view, [first, other], expected_of(ID1, A4))) == 1


@pytest.mark.parametrize(
    ("known", "photo", "score", "sought"),
    [
        (False, True, 0.9, True),
        (True, True, 0.9, False),
        (False, False, 0.9, False),
        (False, True, 0.98, False),
    ],
)
def test_more_is_looked_for_where_print_lies_beside_an_item_on_a_ground_that_is_not_known(
    known: bool, photo: bool, score: float, sought: bool
) -> None:
    """Nor beside a certain one, and not where the table's pattern looks like print."""
    sheet = box(700.0, 60.0, 760.0, 1075.0)
    view, pattern = desk(sheet), desk(everywhere=True)
    if known:
        view.ground[:] = [np.ones(view.small.shape[:2], np.uint8)]
    quad = view.to_view(box(60.0, 100.0, 500.0, 315.0))
    one = Judged(quad=quad, score=score, **PLAIN)
    expected = replace(expected_of(ID1), perspective=photo)

    assert has_print_beside(view, [one], expected) is sought
    assert not has_print_beside(desk(), [one], expected)
    assert not has_print_beside(pattern, [one], expected)


@pytest.mark.parametrize(("share", "taken"), [(0.13, True), (0.34, False)])
def test_a_portrait_on_a_card_that_looks_like_the_table_is_no_second_item(
    share: float, taken: bool
) -> None:
    """It has the shape of letter paper, which cannot lie so small beside a card."""
    view = make_view(np.full((SIZE[1], SIZE[0], 3), 128, np.uint8))
    view.ground[:] = [np.ones(view.small.shape[:2], np.uint8)]
    card = box(100.0, 200.0, 793.0, 500.0)
    high = (share * 793.0 * 500.0 * 279.4 / 215.9) ** 0.5
    portrait = box(1100.0, 200.0, high * 215.9 / 279.4, high)
    for quad in (card, portrait):
        seen_as(view, quad, 0.95)
    judged = [Judged(quad=card, score=1.0, **PLAIN), Judged(quad=portrait, score=0.97, **PLAIN)]

    found = choose(view, judged, expected_of(ID1, (215.9, 279.4)))

    assert (len(found) == 1) is taken


@pytest.mark.parametrize(("side_px", "items"), [(150.0, 0), (420.0, 1)])
def test_small_squares_on_a_ground_that_is_not_known_are_no_items(
    side_px: float, items: int
) -> None:
    """Checks of a cloth near its edge, where no other ones lie around them that tell; a paper of no
    kind's shape takes more of a photo."""
    view = make_view(np.full((SIZE[1], SIZE[0], 3), 128, np.uint8))
    view.ground[:] = [np.zeros(view.small.shape[:2], np.uint8)]
    check = Judged(quad=box(100.0, 100.0, side_px, side_px), score=0.96, **{
        **PLAIN, "shape": 0.5, "worst": 1.0
    })  # fmt: skip
    seen_as(view, check.quad, 1.0)

    assert len(choose(view, [check], replace(expected_of(ID1), any_shape=True))) == items


@pytest.mark.parametrize(("base_mm", "items"), [(53.98, 2), (57.0, 1)])
def test_what_the_glass_cuts_is_a_second_card_by_its_size(base_mm: float, items: int) -> None:
    """As white as the lid, but three plain sides, one as long as a card's (ISO/IEC 7810)."""
    scale = 10.0
    view = make_view(np.full((SIZE[1], SIZE[0], 3), 235, np.uint8))
    view.ground[:] = [np.zeros(view.small.shape[:2], np.uint8)]
    view.ground[0][:, view.small.shape[1] // 2 :] = 1
    view.ground[0][::2] = 0
    expected = Expected(
        sizes_mm=(ID1, ID1[::-1]), px_per_mm=(scale, scale), any_shape=False, perspective=False,
        openings=False, width_px=SIZE[0], height_px=SIZE[1],
    )  # fmt: skip
    first = Judged(quad=box(60.0, 100.0, 539.8, 856.0), score=1.0, **PLAIN)
    seen = np.array([0.7, 0.0, 0.7, 1.0])
    quad = box(1000.0, 300.0, 856.0 * base_mm / 53.98, base_mm * scale)
    cut = Judged(quad=quad, score=0.83, cut=True, outside=0.3, seen=seen, **PLAIN)
    for one in (first, cut):
        seen_as(view, one.quad, 0.5)

    assert len(choose(view, [first, cut], expected)) == items


@pytest.mark.parametrize(("apart", "size_mm", "taken"), [
    (0.9, ID1, True), (0.8, ID1, False), (0.9, ID2, False)
])  # fmt: skip
def test_a_blurred_second_card_is_as_large_as_the_first_and_unlike_all_around_it(
    apart: float, size_mm: tuple[float, float], taken: bool
) -> None:
    view, scale = make_view(np.full((SIZE[1], SIZE[0], 3), 128, np.uint8)), 6.0
    first = Judged(quad=box(100.0, 100.0, *(scale * side for side in ID1)), score=1.0, **PLAIN)
    quad = box(700.0, 500.0, *(scale * side for side in size_mm))
    second = Judged(quad=quad, score=0.9, **PLAIN)
    seen_as(view, quad, apart)

    assert is_second_card(view, first, second, expected_of(ID1, ID2)) is taken


@pytest.mark.parametrize(("apart", "part"), [(1.0, False), (0.9, True)])
def test_a_cut_sheet_with_no_colour_of_the_cloth_is_no_part_of_a_page(
    apart: float, part: bool
) -> None:
    """A pattern in rows looks like some lines of text."""
    pixels = np.full((900, 1200, 3), (226, 222, 214), np.uint8)
    for y in range(60, 840, 34):
        cv2.putText(pixels, "lines of text that go on " * 2, (30, y), 0, 0.5, (40, 40, 50), 1)
    for y in range(60, 840, 52):
        cv2.putText(pixels, "mm nn mm nn mm nn mm", (760, y), 0, 0.6, (40, 40, 50), 1)
    view = make_view(pixels)
    sheet = box(-100.0, 30.0, 750.0, 840.0)
    seen_as(view, view.to_view(sheet), apart)
    found = [Found(quad=sheet, score=0.97, shape=1.0, cut=True, off_ground=0.0)]
    expected = replace(expected_of(A4), width_px=1200, height_px=900)

    assert is_part_of_page(view, found, expected, plausible=False) is part


@pytest.mark.parametrize(("shape", "items"), [(0.5, 2), (0.99, 1)])
def test_beside_a_paper_of_an_odd_shape_a_card_may_have_any_size(shape: float, items: int) -> None:
    """Of that no scale is known; beside letter paper a card is larger."""
    view = make_view(np.full((SIZE[1], SIZE[0], 3), 128, np.uint8))
    view.ground[:] = [np.ones(view.small.shape[:2], np.uint8)]
    high = 620.0 * (1.8 if shape < 0.9 else 279.4 / 215.9)
    odd = Judged(quad=box(60.0, 20.0, 620.0, high), score=0.9, **{
        **PLAIN, "shape": shape, "worst": 1.0
    })  # fmt: skip
    card = Judged(quad=box(900.0, 300.0, 130.0, 82.0), score=1.0, **PLAIN)
    for one in (odd, card):
        seen_as(view, one.quad, 0.98)
    expected = replace(expected_of(ID1, (215.9, 279.4)), any_shape=True)

    assert len(choose(view, [odd, card], expected)) == items


@pytest.mark.parametrize(("written", "whole"), [(True, True), (False, False)])
def test_the_pale_page_of_an_opening_is_known_by_its_print(written: bool, whole: bool) -> None:
    """One page stands out of a bed sheet, the other one is as white as that."""
    page, other = box(400.0, 600.0, 700.0, 497.0), box(400.0, 103.0, 700.0, 497.0)
    view = desk(other) if written else desk()
    opening = np.array([other[0], other[1], page[2], page[3]])
    half = Judged(quad=view.to_view(page), score=1.03, **PLAIN)
    one = Judged(quad=view.to_view(opening), score=0.8, **{**PLAIN, "worst": 0.79})
    seen_as(view, half.quad, 0.97)
    seen_as(view, one.quad, 0.72)
    expected = replace(expected_of((176.0, 125.0), (125.0, 88.0)), openings=True)

    assert (whole_opening(view, half, [half, one], expected) is one) is whole
