"""White paper on white glass, patterned tables, print: where no single step or colour tells."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest
from helpers import KINDS, jaccard, run

from packet.imaging.beside import as_large, made_as_large
from packet.imaging.choose import choose
from packet.imaging.company import is_card_of_two
from packet.imaging.expected import Expected
from packet.imaging.faint import settled
from packet.imaging.find import _around_print_in_soft_picture, _sure
from packet.imaging.geometry import overlap, same_size_on_table, sides_on
from packet.imaging.lattice import squares_of_many
from packet.imaging.openings import cut_openings, joined, whole_opening
from packet.imaging.palette import codes_of, contrast
from packet.imaging.propose import by_ground
from packet.imaging.score import Judged
from packet.imaging.skew import ink_of, straight_by_text
from packet.imaging.soft_picture import may_be_soft
from packet.imaging.view import View, make_view
from packet.intake.picture import Picture
from packet.model import Kind

PAGE = np.array([[100.0, 80.0], [500.0, 80.0], [500.0, 360.0], [100.0, 360.0]])
CARD = np.array([[180.0, 120.0], [1060.0, 90.0], [1080.0, 640.0], [200.0, 676.0]])
EDGES = np.array([[1.0, 0.0, 1.0, 1.0]])
LYING_CARDS = Expected(
    sizes_mm=((85.60, 53.98),), px_per_mm=None, any_shape=True, perspective=True, openings=False,
    width_px=1300, height_px=900,
)  # fmt: skip
"""What a photo of ``_on_gingham`` may show: cards (ISO/IEC 7810, ID-1) as they lie there."""


def _noisy(picture: np.ndarray) -> np.ndarray:
    noise = np.random.default_rng(3).normal(0, 1.2, picture.shape)
    return np.clip(picture.astype(np.float32) + noise, 0, 255).astype(np.uint8)


def _gingham(height: int, width: int, check: int = 70) -> np.ndarray:
    y, x = np.mgrid[0:height, 0:width]
    along, across = (x + 0.6 * y) // check % 2, (y - 0.6 * x) // check % 2
    grey = np.array([235, 140, 60])[(along + across).astype(int)]
    return np.repeat(grey[..., None], 3, axis=2).astype(np.uint8)


def _on_gingham(*quads: np.ndarray, portrait: bool = True) -> np.ndarray:
    """Blue cards, the first with a portrait of plain sides."""
    picture = _gingham(900, 1300)
    for quad in quads:
        cv2.fillConvexPoly(picture, np.round(quad).astype(np.int32), (70, 95, 150), cv2.LINE_AA)
    if portrait:
        cv2.rectangle(picture, (780, 220), (980, 480), (225, 205, 200), -1, cv2.LINE_AA)
    return cv2.GaussianBlur(picture, (0, 0), 1.0)


def test_a_step_of_two_levels_is_found_along_the_whole_side() -> None:
    glass = np.full((440, 600, 3), 246, np.uint8)
    glass[80:361, 100:501] = 243
    rough = PAGE.copy()
    rough[1:3, 0] += [3.0, 5.0]

    quads, edges = settled(make_view(_noisy(glass)), rough[None], EDGES)

    assert np.abs(quads[0] - PAGE).max() < 2
    assert edges[0, 1] > 0.8


@pytest.mark.parametrize("what", ["nothing", "a line", "uneven light"])
def test_what_is_no_step_is_not_taken_for_a_side(what: str) -> None:
    glass = np.full((440, 600, 3), 240, np.uint8)
    if what == "a line":
        glass[:, 503:505] = 225
    if what == "uneven light":
        glass[:] = np.linspace(250, 190, 600).astype(np.uint8)[None, :, None]

    _, edges = settled(make_view(_noisy(glass)), PAGE[None], EDGES)

    assert not len(edges) or edges[0, 1] < 0.5


def test_paper_and_patterned_table_have_other_colours() -> None:
    codes = codes_of(cv2.cvtColor(_on_gingham(CARD, portrait=False), cv2.COLOR_RGB2LAB))
    aside = CARD + np.array([[0, 0], [160, 0], [160, 0], [0, 0]])
    on_table = CARD * 0.25 + np.array([60, 720])

    assert contrast(codes, CARD).whole > 0.95
    assert contrast(codes, aside).whole < 0.8
    assert contrast(codes, on_table).whole < 0.4
    assert contrast(codes, CARD, CARD * 0.5 + CARD.mean(axis=0) * 0.5).whole > 0.95


def test_table_within_a_side_and_paper_without_one_are_seen_there() -> None:
    codes = codes_of(cv2.cvtColor(_on_gingham(CARD, portrait=False), cv2.COLOR_RGB2LAB))
    wide = CARD + np.array([[0, 0], [110, 0], [110, 0], [0, 0]])
    narrow = CARD - np.array([[0, 0], [200, 0], [200, 0], [0, 0]])

    right, too_wide, too_narrow = (contrast(codes, quad) for quad in (CARD, wide, narrow))

    assert min(right.inner.min(), right.outer.min()) > 0.95
    assert too_wide.inner[1] < too_wide.inner[[0, 2, 3]].min() - 0.25
    assert too_narrow.outer[1] < too_narrow.outer[[0, 2, 3]].min() - 0.6


def test_a_card_is_not_taken_for_the_portrait_on_it() -> None:
    picture = Picture(pixels=_on_gingham(CARD), dpi=None, source="camera")

    (item,) = run(picture, (), encode=False).items

    assert jaccard(item, CARD) > 0.97


@pytest.mark.parametrize("score", [0.95, 0.88])
def test_a_part_of_the_table_is_not_taken_for_its_size(score) -> None:
    card = CARD * 0.3 + np.array([700.0, 300.0])
    part = np.array([[40.0, 40.0], [640.0, 40.0], [640.0, 860.0], [40.0, 860.0]])
    plain = {"support": 1.0, "worst": 0.95, "shape": 0.99}
    judged = [Judged(quad=card, score=score, **plain), Judged(quad=part, score=0.92, **plain)]
    judged.sort(key=lambda one: -one.score)

    first, *_ = choose(make_view(_on_gingham(card, portrait=False)), judged, LYING_CARDS)

    assert first.quad is card


def test_what_differs_from_a_cloth_of_several_colours_is_no_worse_than_a_check_of_it() -> None:
    """Its sides are blurred, those of a check are sharp; a check differs from those beside it."""
    card = CARD * 0.8 + np.array([100.0, 60.0])
    check = np.array([[40.0, 40.0], [110.0, 40.0], [110.0, 110.0], [40.0, 110.0]])
    judged = [
        Judged(quad=check, score=0.94, support=1.0, worst=1.0, shape=0.5),
        Judged(quad=card, score=0.72, support=0.8, worst=0.6, shape=0.97),
    ]
    view = make_view(_on_gingham(card, portrait=False))

    first, *_ = choose(view, judged, LYING_CARDS)

    assert first.quad is card
    assert not may_be_soft(view, [first], LYING_CARDS)


def test_a_check_that_the_picture_cuts_is_no_item_beside_an_odd_paper() -> None:
    """A receipt of which a finger covers a corner has sides less plain than a check has."""
    paper = CARD * 0.8 + np.array([100.0, 60.0])
    check = np.array([[-0.5, 40.0], [70.0, 40.0], [70.0, 110.0], [-0.5, 110.0]])
    judged = [
        Judged(quad=check, score=0.93, support=1.0, worst=1.0, shape=0.99, cut=True),
        Judged(quad=paper, score=0.87, support=0.91, worst=0.75, shape=0.5),
    ]

    found = choose(make_view(_on_gingham(paper, portrait=False)), judged, LYING_CARDS)

    assert [one.quad is paper for one in found] == [True]


def _differ(monkeypatch: pytest.MonkeyPatch, *quads: tuple[np.ndarray, float]) -> None:
    """Each of these quads differs so much from what lies around it."""
    by_quad = {id(quad): apart for quad, apart in quads}
    monkeypatch.setattr(View, "apart", lambda _, quad, *__: by_quad[id(quad)])


@pytest.mark.parametrize("check_differs", [0.98, 0.5])
def test_of_two_that_score_alike_the_one_unlike_its_surroundings_is_first(
    check_differs: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Not a check, which is a small part of what it would stand for."""
    card = CARD * 0.8 + np.array([100.0, 60.0])
    part = np.array([[40.0, 40.0], [1240.0, 40.0], [1240.0, 800.0], [40.0, 800.0]])
    check = np.array([[40.0, 40.0], [110.0, 40.0], [110.0, 110.0], [40.0, 110.0]])
    _differ(monkeypatch, (card, 0.77), (part, 0.63), (check, check_differs))
    judged = [
        Judged(quad=check, score=0.97, support=1.0, worst=1.0, shape=0.6),
        Judged(quad=card, score=0.94, support=0.97, worst=0.92, shape=1.0),
        Judged(quad=part, score=0.935, support=0.95, worst=0.9, shape=0.99),
    ]
    view = make_view(_on_gingham(card, portrait=False))

    first, *_ = choose(view, judged, LYING_CARDS)

    assert first.quad is card


def test_a_part_of_a_cloth_is_not_taken_before_a_paper_that_scores_less(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """What has the colours of a cloth's other parts has plainer sides than a card in shadow."""
    card = CARD * 0.6 + np.array([100.0, 60.0])
    part = np.array([[160.0, 90.0], [1140.0, 90.0], [1140.0, 760.0], [160.0, 760.0]])
    _differ(monkeypatch, (card, 0.8), (part, 0.4))
    judged = [
        Judged(quad=part, score=0.88, support=0.95, worst=0.9, shape=0.99),
        Judged(quad=card, score=0.765, support=0.8, worst=0.6, shape=1.0),
    ]

    first, *_ = choose(make_view(_on_gingham(card, portrait=False)), judged, LYING_CARDS)

    assert first.quad is card


def test_two_cards_on_a_patterned_table_are_two() -> None:
    first = CARD * 0.62 + np.array([180, 0])
    second = first[:, :] + np.array([20.0, 385.0])
    picture = Picture(pixels=_on_gingham(first, second, portrait=False), dpi=None, source="camera")

    items = run(picture, KINDS["card"], encode=False).items

    assert [jaccard(item, quad) > 0.95 for item, quad in zip(items, (first, second), strict=True)]
    assert len(items) == 2


@pytest.mark.parametrize(
    ("paper", "sought"), [("two cards", True), ("card", False), ("page", False)]
)
def test_a_single_card_on_a_patterned_table_may_be_one_of_two(paper: str, sought: bool) -> None:
    """Of a page mostly one is taken at a time; on a plain table a second card stands out."""
    page = np.array([[400.0, 60.0], [1000.0, 60.0], [1000.0, 909.0], [400.0, 909.0]]) * 0.9
    first = CARD * 0.62 + np.array([180, 0])
    quad = page if paper == "page" else first
    others = [first + np.array([20.0, 385.0])] if paper == "two cards" else []
    view = make_view(_on_gingham(quad, *others, portrait=False))
    expected = Expected(
        sizes_mm=((210.0, 297.0), (85.6, 53.98)), px_per_mm=None, any_shape=True,
        perspective=True, openings=True, width_px=1300, height_px=900,
    )  # fmt: skip
    by_ground(view)
    one = Judged(quad=view.to_view(quad), score=0.99, support=1.0, worst=1.0, shape=1.0)

    assert is_card_of_two(view, [one], expected) is sought
    assert not is_card_of_two(view, [one, one], expected)


def test_quads_as_large_as_a_plain_item_are_told_from_others() -> None:
    card = np.array([[100.0, 100.0], [356.8, 100.0], [356.8, 261.9], [100.0, 261.9]])
    beside, onto = card + np.array([20, 200]), card + np.array([60, 40])
    larger = (card - card[0]) * 1.3 + [400, 100]
    view = make_view(np.full((600, 800, 3), 200, np.uint8))
    sizes = ((85.60, 53.98), (53.98, 85.60))  # ISO/IEC 7810
    expected = Expected(
        sizes_mm=sizes, px_per_mm=None, any_shape=False, perspective=True, openings=False,
        width_px=800, height_px=600,
    )  # fmt: skip
    plain = Judged(quad=card, score=0.95, support=1.0, worst=0.95, shape=1.0)

    def found(one: Judged) -> list[np.ndarray]:
        return as_large(view, [one], np.stack([larger, onto, beside]), expected)

    assert [quad.tolist() for quad in found(plain)] == [beside.tolist()]
    assert found(replace(plain, cut=True)) == []


def test_squares_of_a_cloth_are_not_as_large_as_a_card() -> None:
    card, bare = CARD * 0.6, CARD * 0.6 + np.array([0.0, 400.0])
    view = make_view(_on_gingham(card))
    expected = Expected(
        sizes_mm=((85.60, 53.98),), px_per_mm=None, any_shape=False, perspective=True,
        openings=False, width_px=1300, height_px=900,
    )  # fmt: skip
    plain = Judged(quad=card, score=0.95, support=1.0, worst=0.95, shape=1.0)

    assert as_large(view, [plain], bare[None], expected) == []


def test_a_second_card_of_which_fingers_hide_one_side_is_found_by_the_size_of_the_first() -> None:
    first = np.array([[150, 120], [578, 120], [578, 390], [150, 390.0]])
    second = np.array([[700, 480], [1128, 450], [1147, 719], [719, 749.0]])
    rough = second + np.array([[0, 0], [0, 0], [-90, 20], [0, 0.0]])
    view = make_view(_on_gingham(first, second, portrait=False))
    expected = Expected(
        sizes_mm=((85.60, 53.98), (53.98, 85.60)), px_per_mm=None, any_shape=False,
        perspective=True, openings=False, width_px=1300, height_px=900,
    )  # fmt: skip
    plain = Judged(quad=first, score=0.95, support=1.0, worst=0.95, shape=1.0)

    proposed = made_as_large(view, [plain], rough[None], expected)
    best = max(proposed, key=lambda quad: overlap(quad, second)[0])
    assert overlap(best, second)[0] > 0.97

    hidden = Judged(
        quad=best, score=0.5, support=0.7, worst=0.0, shape=0.99, edges=np.array([1, 0.7, 0, 0.9])
    )
    assert [one.quad is best for one in choose(view, [plain, hidden], expected)] == [False, True]
    bare = replace(hidden, quad=second + np.array([0.0, -370.0]))
    assert len(choose(view, [plain, bare], expected)) == 1


@pytest.mark.parametrize("second", ["text", "card"])
def test_parts_of_a_card_of_which_fingers_hide_a_side_are_that_card(second: str) -> None:
    """A portrait and the text beside it; two cards that happen to lie in such a quad are cards."""
    card = CARD * 0.9 + np.array([60.0, 40.0])
    portrait = np.array([[260.0, 200.0], [420.0, 195.0], [424.0, 420.0], [264.0, 424.0]])
    text = np.array([[480.0, 195.0], [900.0, 180.0], [912.0, 480.0], [490.0, 490.0]])
    if second == "card":
        text = portrait + np.array([320.0, 0.0])
    expected = Expected(
        sizes_mm=((85.60, 53.98), (53.98, 85.60)), px_per_mm=None, any_shape=True,
        perspective=True, openings=False, width_px=1300, height_px=900,
    )  # fmt: skip
    plain = {"support": 0.97, "worst": 0.94}
    judged = [
        Judged(quad=portrait, score=0.98, shape=0.97, **plain),
        Judged(quad=text, score=0.97, shape=0.97, **plain),
        Judged(
            quad=card, score=0.69, support=0.75, worst=0.0, shape=1.0,
            edges=np.array([1.0, 0.0, 1.0, 1.0]),
        ),
    ]  # fmt: skip
    view = make_view(_on_gingham(card, portrait=False))

    found = choose(view, judged, expected)

    wanted = [card] if second == "text" else [portrait, text]
    assert [id(one.quad) for one in found] == [id(quad) for quad in wanted]


@pytest.mark.parametrize("gap", [0.0, 60.0])
def test_two_items_edge_to_edge_that_make_up_a_third_are_that_one(gap: float) -> None:
    """A shadow's edge across an opening; two papers lie apart."""
    left = np.array([[100.0, 120.0], [700.0, 120.0], [700.0, 700.0], [100.0, 700.0]])
    right = np.array([[700.0 + gap, 120], [920 + gap, 120], [920 + gap, 700], [700 + gap, 700]])
    whole = np.array([left[0], right[1], right[2], left[3]])
    expected = Expected(
        sizes_mm=((176.0, 125.0), (125.0, 88.0)), px_per_mm=None, any_shape=True,
        perspective=True, openings=True, width_px=1300, height_px=900,
    )  # fmt: skip
    plain = {"support": 1.0, "worst": 0.96, "shape": 0.98}
    parts = [Judged(quad=left, score=1.0, **plain), Judged(quad=right, score=0.95, **plain)]
    third = Judged(quad=whole, score=0.77, support=0.95, worst=0.8, shape=1.0)
    view = make_view(_on_gingham(whole, portrait=False))

    found = joined(view, parts, [*parts, third], expected)

    assert [one.quad is whole for one in found] == ([True] if gap == 0 else [False, False])


@pytest.mark.parametrize("second_page", [False, True])
def test_a_page_that_goes_on_to_the_edge_of_the_picture_is_half_an_opening(second_page) -> None:
    half = np.array([[400.0, 100.0], [900.0, 100.0], [900.0, 800.0], [400.0, 800.0]])
    whole = half + np.array([[0.0, 0.0], [500.0, 0.0], [500.0, 0.0], [0.0, 0.0]])
    picture = _on_gingham(whole if second_page else half, portrait=False)[:, :1200]
    plain = {"support": 1.0, "shape": 0.97}
    page = Judged(quad=half, score=0.98, worst=1.0, **plain)
    opening = Judged(quad=whole, score=0.8, worst=0.73, cut=True, outside=0.2, **plain)

    kept = cut_openings(make_view(picture), [opening], [page])

    assert kept == ([opening] if second_page else [])


@pytest.mark.parametrize("paper", ["page", "opening"])
def test_a_paper_and_as_much_table_are_no_opening(paper) -> None:
    half = np.array([[250.0, 150.0], [650.0, 150.0], [650.0, 720.0], [250.0, 720.0]])
    whole = half + np.array([[0.0, 0.0], [400.0, 0.0], [400.0, 0.0], [0.0, 0.0]])
    picture = _on_gingham(half if paper == "page" else whole, portrait=False)
    view = make_view(picture)
    expected = Expected(
        sizes_mm=((210.0, 297.0), (176.0, 125.0)), px_per_mm=None, any_shape=True,
        perspective=True, openings=True, width_px=1300, height_px=900,
    )  # fmt: skip
    plain = {"support": 1.0, "worst": 0.96, "shape": 0.98}
    one = Judged(quad=half, score=0.99, **plain)
    other = Judged(quad=whole, score=0.81, **plain)

    taken = whole_opening(view, one, [one, other], expected)

    assert taken is (one if paper == "page" else other)


@pytest.mark.parametrize("beside", [False, True])
def test_another_outline_of_an_opening_does_not_speak_against_it(beside: bool) -> None:
    """One end on a line of print and a little plainer; but a page that lies half on it does."""
    half = np.array([[250.0, 150.0], [650.0, 150.0], [650.0, 720.0], [250.0, 720.0]])
    whole = half + np.array([[0.0, 0.0], [400.0, 0.0], [400.0, 0.0], [0.0, 0.0]])
    third = whole + np.array([[60.0, 0.0], [50.0, 0.0], [50.0, 0.0], [60.0, 0.0]])
    if beside:
        third = half + np.array([600.0, 0.0])
    view = make_view(_on_gingham(whole, portrait=False))
    expected = Expected(
        sizes_mm=((210.0, 297.0), (176.0, 125.0)), px_per_mm=None, any_shape=True,
        perspective=True, openings=True, width_px=1300, height_px=900,
    )  # fmt: skip
    plain = {"support": 1.0, "worst": 0.96, "shape": 0.98}
    one = Judged(quad=half, score=0.95, **plain)
    other = Judged(quad=whole, score=0.87, **plain)
    odd = Judged(quad=third, score=0.88, **plain)

    taken = whole_opening(view, one, [one, odd, other], expected)

    assert taken is (one if beside else other)


@pytest.mark.parametrize("card", [False, True])
def test_a_portrait_on_a_blurred_card_is_not_taken_for_it(card: bool) -> None:
    picture = np.full((1800, 1400, 3), (200, 192, 182), np.uint8)
    outline = np.array([[420.0, 170.0], [1110.0, 230.0], [1000.0, 1400.0], [330.0, 1300.0]])
    portrait = np.array([[470.0, 240.0], [840.0, 270.0], [800.0, 640.0], [430.0, 610.0]])
    if card:
        cv2.fillConvexPoly(picture, outline.astype(np.int32), (150, 172, 158), cv2.LINE_AA)
    cv2.fillConvexPoly(picture, portrait.astype(np.int32), (235, 175, 175), cv2.LINE_AA)
    view = make_view(_noisy(cv2.GaussianBlur(picture, (0, 0), 12)))
    expected = Expected(
        sizes_mm=((85.6, 53.98), (53.98, 85.6), (105.0, 74.0), (74.0, 105.0)), px_per_mm=None,
        any_shape=True, perspective=True, openings=True, width_px=1400, height_px=1800,
    )  # fmt: skip
    frame = Judged(quad=view.to_view(portrait), score=1.0, support=1.0, worst=1.0, shape=1.0)

    (one,), coarse = _around_print_in_soft_picture(view, [frame], expected)

    assert overlap(coarse.to_source(one.quad), outline if card else portrait)[0] > 0.9


@pytest.mark.parametrize("portrait", [False, True])
def test_a_portrait_beside_a_plain_card_is_followed_up(portrait) -> None:
    """It may be all that is seen of a card of the table's own colour: a tenth of the first one."""
    table = np.full((900, 1200, 3), (176, 180, 172), np.uint8)
    dark = np.array([[40.0, 480.0], [520.0, 480.0], [520.0, 785.0], [40.0, 785.0]])
    cv2.fillConvexPoly(table, dark.astype(np.int32), (80, 40, 40))
    if portrait:
        cv2.rectangle(table, (545, 210), (640, 330), (70, 80, 120), -1)
    view = make_view(_noisy(table))
    by_ground(view)
    plain = [Judged(quad=dark, score=0.99, support=1.0, worst=1.0, shape=1.0)]

    assert _sure(view, plain, plain) is not portrait


def test_sizes_are_compared_on_the_table_however_tilted() -> None:
    """Two ID-1 cards (ISO/IEC 7810) through one camera, the second turned by 30 degrees."""
    tilted = np.array([[0.9, 0.1, 40.0], [-0.05, 0.7, 60.0], [0.0001, 0.0022, 1.0]])
    card = np.array([[0.0, 0.0], [85.60, 0.0], [85.60, 53.98], [0.0, 53.98]])
    angle = np.deg2rad(30)
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])

    def seen(flat: np.ndarray) -> np.ndarray:
        points = np.column_stack([flat, np.ones(4)]) @ tilted.T
        return points[:, :2] / points[:, 2:]

    first, second = seen(card), seen(card @ turn.T + [130, 20])
    larger = seen(card * 1.2 + [10, 90])

    assert same_size_on_table(first, second, aspect=85.60 / 53.98)
    assert not same_size_on_table(first, larger, aspect=85.60 / 53.98)
    assert sides_on(first, larger, aspect=85.60 / 53.98) == pytest.approx(
        (1.2 * 85.60 / 53.98, 1.2)
    )


def _printed(height: int, width: int, box: tuple[int, int, int, int]) -> np.ndarray:
    """White, with lines of short dark strokes within (left, top, right, bottom)."""
    picture = np.full((height, width, 3), 245, np.uint8)
    rng = np.random.default_rng(5)
    left, top, right, bottom = box
    for y in range(top, bottom, 34):
        x = left
        while x < right - 40:
            stroke = int(rng.integers(8, 30))
            cv2.rectangle(picture, (x, y), (x + stroke, y + 12), (40, 40, 40), -1)
            x += stroke + int(rng.integers(6, 16))
    return picture


def _a4_scan(pixels: np.ndarray) -> Picture:
    return Picture(pixels=pixels, dpi=(150.0, 150.0), source="scanner")


@pytest.mark.parametrize("kinds", [(), (Kind.OTHER,)])
def test_an_odd_size_on_a_whole_glass_is_an_item(kinds) -> None:
    """A till receipt of 60 x 160 mm in the middle of an A4 glass under a grey lid."""
    glass = np.full((1754, 1240, 3), 150, np.uint8)
    glass[400:1345, 450:804] = _printed(945, 354, (30, 40, 330, 800))

    (item,) = run(_a4_scan(_noisy(glass)), kinds, encode=False).items

    assert item.size_mm == pytest.approx((354 / 150 * 25.4, 945 / 150 * 25.4), abs=0.5)


@pytest.mark.parametrize("kinds", [(), (Kind.OTHER,)])
def test_a_kind_without_sizes_is_found_no_worse_for_being_told(kinds) -> None:
    """A blank A5 sheet under a lid six levels darker, in a scan that names no resolution."""
    glass = np.full((1754, 1240, 3), 241, np.uint8)
    sheet = np.array([[230, 350], [1095, 270], [1210, 1500], [345, 1580]])
    cv2.fillConvexPoly(glass, sheet, (247, 247, 247))
    scan = Picture(pixels=_noisy(glass), dpi=None, source="unknown")

    (item,) = run(scan, kinds, encode=False).items

    assert jaccard(item, sheet) > 0.99


def test_a_box_printed_on_a_page_is_no_item() -> None:
    page = _printed(1754, 1240, (120, 150, 1120, 1600))
    page[600:1500, 200:1040] = 240
    cv2.rectangle(page, (200, 600), (1040, 1500), (60, 60, 60), 3)

    (item,) = run(_a4_scan(_noisy(page)), (), encode=False).items

    assert item.size_mm == pytest.approx((210, 297), abs=1)  # ISO 216


def test_pages_are_straightened_by_their_print_and_not_by_their_guilloche() -> None:
    """A page whose quad stands 0.4 degrees askew of its lines; waves have no lines at all."""
    page = cv2.cvtColor(_printed(1400, 1000, (60, 60, 940, 1340)), cv2.COLOR_RGB2GRAY)
    square = np.array([[0.0, 0.0], [1000.0, 0.0], [1000.0, 1400.0], [0.0, 1400.0]])
    angle = np.deg2rad(0.4)
    turn = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    askew = (square - [500, 700]) @ turn + [500, 700]
    y, x = np.mgrid[0:1400, 0:1000]
    waves = (np.sin(y / 5 + 3 * np.sin(x / 60 + y / 400)) > 0.8).astype(np.uint8)

    straight = straight_by_text(ink_of(page), askew, aspect=1000 / 1400)
    same = straight_by_text(ink_of(255 - 200 * waves), askew, aspect=1000 / 1400)

    assert np.abs(straight - square).max() < 0.7  # 0.05 degrees
    assert np.array_equal(same, askew)


def _chequered(*quads: np.ndarray, check: float = 150.0) -> tuple[np.ndarray, np.ndarray]:
    """A chequered cloth seen slantwise, papers on it, and the way from the cloth to the picture."""
    y, x = np.mgrid[0:1300, 0:1700]
    odd = ((x // check + y // check) % 2)[..., None]
    cloth = (odd * (200, 120, 205) + (1 - odd) * (150, 230, 130)).astype(np.uint8)
    seen = np.array([[-90.0, -60.0], [1350.0, 20.0], [1500.0, 1000.0], [-200.0, 960.0]], np.float32)
    way = cv2.getPerspectiveTransform(
        np.array([[0.0, 0.0], [1700.0, 0.0], [1700.0, 1300.0], [0.0, 1300.0]], np.float32), seen
    )
    picture = cv2.warpPerspective(cloth, way, (1300, 900), borderMode=cv2.BORDER_REFLECT)
    for quad in quads:
        cv2.fillConvexPoly(picture, np.round(quad).astype(np.int32), (90, 110, 170), cv2.LINE_AA)
    return _noisy(cv2.GaussianBlur(picture, (0, 0), 1.0)), way


def test_squares_of_a_chequered_cloth_are_no_items() -> None:
    card = CARD * 0.7 + np.array([200.0, 150.0])
    picture, way = _chequered(card)
    squares = [
        cv2.perspectiveTransform(
            np.array([[[x, y], [x + 150, y], [x + 150, y + 150], [x, y + 150]]], float), way
        )[0]
        for x, y in ((300.0, 300.0), (1200.0, 750.0), (450.0, 900.0))
    ]

    assert squares_of_many(make_view(picture), [*squares, card]) == [True, True, True, False]
    (item,) = run(Picture(pixels=picture, dpi=None, source="camera"), (), encode=False).items
    assert jaccard(item, card) > 0.97


def test_white_paper_on_white_is_no_square_of_many() -> None:
    glass = np.full((440, 600, 3), 246, np.uint8)
    glass[80:361, 100:501] = 243

    assert squares_of_many(make_view(_noisy(glass)), [PAGE]) == [False]


@pytest.mark.parametrize(
    ("what", "alone"), [("light", True), ("a candidate", False), ("much light", False)]
)
def test_light_on_the_table_is_nothing_that_stands_out(what: str, alone: bool) -> None:
    """All quads around what stands out were ranked, and none of them is one."""
    view = make_view(np.full((900, 1200, 3), (176, 180, 172), np.uint8))
    dark = np.array([[40.0, 480.0], [520.0, 480.0], [520.0, 785.0], [40.0, 785.0]])
    ground = np.zeros(view.small.shape[:2], np.uint8)
    cv2.fillConvexPoly(ground, (dark / 2).astype(np.int32), 1)
    high = 200 if what == "much light" else 40
    ground[20 : 20 + high, 300:500] = 1
    view.ground[:] = [ground]
    card = Judged(quad=dark, score=0.99, support=1.0, worst=1.0, shape=1.0)
    patch = np.array([[600.0, 40.0], [1000.0, 40.0], [1000.0, 160.0], [600.0, 160.0]])
    beside = [Judged(quad=patch, score=0.5, support=0.5, worst=0.2, shape=0.5)]
    ranked = [card, *(beside if what == "a candidate" else [])]

    assert not _sure(view, [card], ranked)
    assert _sure(view, [card], ranked, every=True) is alone
