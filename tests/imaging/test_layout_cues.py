"""What an item is by its look alone: folds, dark stock, background print, sides of a card."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest
from evaluation import papers
from evaluation.ink import Leaf

from packet.imaging.expected import Expected
from packet.imaging.flat import flatten
from packet.imaging.layout_cues import (
    Recognised,
    _has_blurred_bars,
    _tops,
    has_td1_zone,
    has_zone_at_end,
    has_zone_rows,
    is_card_back,
    recognise,
)
from packet.imaging.marks import has_bar_code, has_stripe
from packet.imaging.sheet_look import (
    Look,
    background_print,
    fold_valley,
    is_cover,
    likeliest,
    look_of,
    wide_rows,
)
from packet.imaging.sizing import expected_sizes, size_item
from packet.imaging.upright import read_print
from packet.model import Kind

EVERY = tuple(Kind)


def told(paper: papers.Paper, kinds: tuple[Kind, ...] = EVERY, quarter: int = 0) -> Kind:
    """The kind of a flat drawn paper whose scale is not known."""
    return recognised(paper, kinds, quarter).sized.kind


def recognised(paper: papers.Paper, kinds: tuple[Kind, ...], quarter: int) -> Recognised:
    """What the look tells of it."""
    pixels = np.ascontiguousarray(np.rot90(paper.rgb, quarter))
    height, width = pixels.shape[:2]
    right, bottom = width - 0.5, height - 0.5
    quad = np.array([[-0.5, -0.5], [right, -0.5], [right, bottom], [-0.5, bottom]])
    expected = Expected(
        sizes_mm=expected_sizes(kinds), px_per_mm=None, any_shape=True, perspective=False,
        openings=True, width_px=width, height_px=height,
    )  # fmt: skip
    sized = size_item(quad, kinds, expected, strict=True)
    flat = flatten([pixels], quad, sized.size_mm)
    return recognise(flat.grey, quad, sized, kinds, expected)


@pytest.mark.parametrize("quarter", [0, 1])
@pytest.mark.parametrize(
    ("draw", "kind"),
    [
        (papers.page, Kind.A4_PAGE),
        (papers.opening, Kind.PASSPORT_SPREAD),
        (papers.data_opening, Kind.PASSPORT_SPREAD),
        (papers.cover, Kind.PASSPORT_COVER),
        (papers.card_front, Kind.ID_CARD_FRONT),
        (papers.card_back, Kind.ID_CARD_BACK),
    ],
)
def test_kinds_without_a_hint(draw: object, kind: Kind, quarter: int) -> None:
    paper = draw(np.random.default_rng(8))  # type: ignore[operator]
    assert told(paper, quarter=quarter) is kind


@pytest.mark.parametrize("quarter", [0, 1])
def test_one_cover_and_both_have_one_shape_and_the_fold_tells(quarter: int) -> None:
    """88 x 125 and 176 x 125 mm: 1.42 and 1.41 (ISO/IEC 7810 ID-3)."""
    for seed in range(4):
        paper = papers.cover(np.random.default_rng(seed))
        found = recognised(paper, (Kind.PASSPORT_COVER,), quarter).sized.size_mm
        assert sorted(found) == sorted(paper.size_mm)


def test_the_look_chooses_among_the_kinds_of_the_folder_only() -> None:
    paper = papers.opening(np.random.default_rng(8))
    assert told(paper, (Kind.A4_PAGE,)) is Kind.A4_PAGE
    cover = papers.cover(np.random.default_rng(8))
    assert told(cover, (Kind.PASSPORT_SPREAD, Kind.PASSPORT_COVER)) is Kind.PASSPORT_COVER
    back = papers.card_back(np.random.default_rng(8))
    assert told(back, (Kind.TAX_CARD_FRONT, Kind.TAX_CARD_BACK)) is Kind.TAX_CARD_BACK
    assert told(back, (Kind.PERMIT_FRONT,)) is Kind.PERMIT_FRONT


def test_a_fold_reaches_the_edge_and_a_rule_does_not() -> None:
    paper = np.full((700, 990), 230, np.uint8)
    fold, rule = paper.copy(), paper.copy()
    fold[:, 494:497] = 150
    rule[60:640, 494:497] = 60
    assert fold_valley(fold)[0] > 0.2
    assert fold_valley(rule)[0] == 0.0
    assert fold_valley(paper)[0] < 0.01


def test_background_print_is_told_from_plain_paper() -> None:
    rng = np.random.default_rng(4)
    plain = papers.page(rng)
    tinted = papers.opening(rng)
    values = []
    for paper in (plain, tinted):
        grey = cv2.cvtColor(paper.rgb, cv2.COLOR_RGB2GRAY)
        shrink = 1400 / max(grey.shape)
        values.append(background_print(cv2.resize(grey, None, fx=shrink, fy=shrink)))
    assert values[0] < 5
    assert values[1] > 10


def test_lines_from_side_to_side_make_a_card_s_back_though_a_reflection_breaks_them() -> None:
    """Rows of a zone with a hole in it; beside a portrait rows end in the middle (ICAO Doc 9303,
    part 5: the zone of a TD1 card is on its back)."""
    broken = np.array([[20, 300, 200, 24], [330, 302, 290, 24], [20, 340, 190, 24],
                       [350, 341, 270, 24], [20, 380, 600, 24]])  # fmt: skip
    beside = np.array([[240, 60 * row, 250, 24] for row in range(1, 6)])

    assert wide_rows(broken, 640) == 3
    assert wide_rows(beside, 640) == 0


PLAIN = Look(
    luma=190, folded=False, tint=5.0, line_height=17, text_length=8.0, across=False, zone=0.0,
    zone_across=0.0, wide_rows=0,
)  # fmt: skip


@pytest.mark.parametrize(
    ("seen", "kind"),
    [
        # 3.4 mm of type on 297, 210, 176, 125 and 105 mm (ISO 216, ISO/IEC 7810), in 1400 pixels
        ({"line_height": 16}, Kind.A4_PAGE),
        ({"line_height": 30}, Kind.OTHER),
        ({"line_height": 14, "tint": 9.0, "text_length": 4.0}, Kind.A4_PAGE),  # a form's boxes
        ({"folded": True}, Kind.A4_PAGE),  # a letter that was folded in half
        ({"folded": True, "line_height": 27, "tint": 20.0}, Kind.PASSPORT_SPREAD),
        ({"line_height": 38, "tint": 13.0, "text_length": 6.0}, Kind.PASSPORT_PAGE),
        ({"line_height": 45, "tint": 25.0, "text_length": 2.0, "across": True}, Kind.ID_CARD_FRONT),
        # zones of 44 and 30 signs, ten an inch, on 125 and 105 mm (ICAO Doc 9303, parts 4 and 5)
        ({"line_height": 38, "tint": 20.0, "text_length": 3.5, "across": True, "zone": 0.89},
         Kind.PASSPORT_PAGE),
        ({"line_height": 38, "tint": 20.0, "text_length": 3.5, "across": True, "zone": 0.868},
         Kind.ID_CARD_FRONT),  # 36 signs on 105 mm (part 6)
        ({"line_height": 38, "tint": 20.0, "text_length": 3.5, "across": True, "zone": 0.73},
         Kind.ID_CARD_FRONT),
        ({"line_height": 34, "tint": 20.0, "text_length": 3.5, "across": True, "wide_rows": 2},
         Kind.PASSPORT_PAGE),  # a zone that a reflection has broken
        ({"tint": 20.0, "text_length": 0.0, "line_height": 0.0}, Kind.PASSPORT_PAGE),
        ({"text_length": 0.0, "line_height": 0.0}, Kind.A4_PAGE),
        # stamps too blurred to be told; creases on plain paper, as strong
        ({"text_length": 0.0, "line_height": 0.0, "tint": 5.5, "marks": 60.0}, Kind.PASSPORT_PAGE),
        ({"text_length": 0.0, "line_height": 0.0, "tint": 2.0, "marks": 60.0}, Kind.A4_PAGE),
        # a card's stripe out of focus on dark stock
        ({"luma": 70, "text_length": 0.0, "line_height": 0.0, "tint": 11.0, "across": True,
          "dark": 300.0, "light": 0.2, "marks": 60.0}, Kind.ID_CARD_FRONT),
        ({"luma": 40, "text_length": 0.3}, Kind.PASSPORT_COVER),
        ({"luma": 60, "text_length": 2.5, "light": 1.8}, Kind.PASSPORT_COVER),  # grain, gold print
    ],
)  # fmt: skip
def test_what_has_the_shape_of_a_sheet(seen: dict[str, float], kind: Kind) -> None:
    assert kind in likeliest(replace(PLAIN, **seen))[0]  # type: ignore[arg-type]


def test_print_on_a_grained_cover_is_lighter_than_its_stock() -> None:
    rng = np.random.default_rng(1)
    grain = cv2.GaussianBlur(rng.normal(0, 1, (792, 1120)), (0, 0), 3)
    cover = (55 + 9 * grain / grain.std()).clip(0, 255).astype(np.uint8)
    dim = np.full((792, 1120), 70, np.uint8)
    for row in range(3):
        cv2.putText(cover, "PASSPORT", (300, 250 + 120 * row), 0, 3.0, 190, 8)
        cv2.putText(dim, "lettera", (300, 250 + 120 * row), 0, 3.0, 15, 8)

    assert is_cover(replace(look_of(cover, read_print(cover)), text_length=2.5))
    assert not is_cover(replace(look_of(dim, read_print(dim)), text_length=2.5))


def test_more_lines_than_a_card_holds_are_a_ticket() -> None:
    """Of the shape of ID-1 (1.586), in a photo; where its size is measured that decides."""
    leaf = Leaf(np.random.default_rng(3), (150.0, 95.0), 12.0, (250, 250, 250))
    for row in range(13):
        leaf.fill_line(6, 6 + 6.4 * row, 110, 3.2, (30, 30, 34))
    paper = papers._paper(leaf, "other:ticket", "other")
    assert told(paper) is Kind.OTHER
    assert told(paper, (Kind.ID_CARD_FRONT,)) is Kind.ID_CARD_FRONT


def test_a_bar_code_out_of_focus_is_a_row_of_dark_areas() -> None:
    bars = np.array([[118, 294, 306, 94], [432, 300, 56, 84], [608, 298, 146, 92]])
    portrait = np.array([[60, 140, 270, 350]])

    assert _has_blurred_bars(bars, (638, 1011))
    assert not _has_blurred_bars(np.vstack([bars, portrait]), (638, 1011))
    assert not _has_blurred_bars(bars[1:2], (638, 1011))
    assert not _has_blurred_bars(np.empty((0, 4), np.int64), (638, 1011))


@pytest.mark.parametrize("what", ["bars", "chip beside a portrait"])
def test_bars_fill_their_box(what: str) -> None:
    """Fine bars in a block, or along the rims of two things that lie apart."""
    grey = np.full((638, 1011), 225, np.uint8)
    parts = [(260, 400, 300, 720)]
    if what != "bars":
        parts = [(200, 240, 300, 420), (240, 340, 400, 440), (320, 360, 420, 720)]
    for top, bottom, left, right in parts:
        grey[top:bottom, left:right:8] = 40
    grey = cv2.GaussianBlur(grey, (0, 0), 1.0)

    assert has_bar_code(grey) is (what == "bars")


def test_a_zone_out_of_focus_is_three_rows_from_side_to_side() -> None:
    """Out of focus by half a millimetre, so that no sign is told from the next (own drawn cards;
    three lines: ICAO Doc 9303, part 5)."""
    for seed in range(6):
        for draw, back in ((papers.card_front, False), (papers.card_back, True)):
            paper = draw(np.random.default_rng(seed))
            grey = cv2.cvtColor(paper.rgb, cv2.COLOR_RGB2GRAY)
            shrink = 1120 / max(grey.shape)
            grey = cv2.resize(grey, None, fx=shrink, fy=shrink, interpolation=cv2.INTER_AREA)
            blurred = cv2.GaussianBlur(grey, (0, 0), 0.5 * 1120 / 85.6)
            assert is_card_back(blurred, read_print(blurred)) is back


def _card_with_rows(places_mm: list[float], shares: list[float]) -> np.ndarray:
    """A pale ID-1 card, 706 x 1120, with rows of dark signs from its left side over these shares
    of its width."""
    card = np.full((706, 1120), 220, np.uint8)
    for place, share in zip(places_mm, shares, strict=True):
        top = round(place * 13.08)
        for x in range(40, round(40 + 1040 * share), 30):
            card[top : top + 34, x : x + 18] = 40
    return card


def test_two_rows_from_side_to_side_are_a_title_and_three_a_zone() -> None:
    """Lines a sixth of an inch apart; a finger may lie on a third of one of the three."""
    assert not has_zone_rows(_card_with_rows([4, 8.2], [1, 1]))
    assert has_zone_rows(_card_with_rows([38, 42.2, 46.4], [1, 1, 1]))
    assert not has_zone_rows(_card_with_rows([4, 8.2, 20, 26, 32], [1, 1, 0.6, 0.6, 0.6]))
    hidden = _card_with_rows([38, 42.2, 46.4], [1, 1, 1])
    hidden[round(37 * 13.08) : round(41.5 * 13.08), 200:470] = 150
    assert has_zone_rows(hidden)


def test_three_rows_in_the_foot_or_the_head_are_the_zone_of_an_id1_card() -> None:
    """ICAO Doc 9303 part 5; text has more rows, a title of two and a line below lie apart."""
    assert has_td1_zone(_card_with_rows([38, 42.2, 46.4], [1, 1, 1]))
    assert has_td1_zone(_card_with_rows([4, 8.2, 12.4, 30], [1, 1, 1, 0.6]))
    assert not has_td1_zone(_card_with_rows([42.2, 46.4], [1, 1]))
    assert not has_td1_zone(_card_with_rows([30, 34.2, 38.4, 42.6, 46.8], [1, 1, 1, 1, 1]))
    assert not has_td1_zone(_card_with_rows([4, 8.2, 46.4], [1, 1, 1]))


@pytest.mark.parametrize("upright", [False, True])
def test_a_tilted_card_is_of_id1_standing_or_lying(upright: bool) -> None:
    """Between the shapes of ID-1 (1.586) and of a sheet (1.414) the nearer one counts."""
    wide, high = (1309, 2000) if upright else (2000, 1309)
    expected = Expected(
        sizes_mm=expected_sizes(EVERY),
        px_per_mm=None,
        any_shape=True,
        perspective=True,
        openings=True,
        width_px=2400,
        height_px=2400,
    )
    quad = np.array([[0, 0], [wide, 0], [wide, high], [0, high]], np.float64) + 100
    sized = size_item(quad, EVERY, expected)
    assert sorted(sized.size_mm) == [53.98, 85.6]
    assert (sized.size_mm[1] > sized.size_mm[0]) is upright


def test_a_fold_is_seen_beside_a_reflection() -> None:
    paper = np.full((700, 990), 200, np.uint8)
    paper[:, 488:502] = 150
    cv2.ellipse(paper, (495, 330), (180, 210), 0, 0, 360, 255, -1)
    depth, stray = fold_valley(paper)
    assert depth > 0.2
    assert stray < 0.1


def _whitened(grey: np.ndarray, middle: tuple[int, int], axes: tuple[int, int]) -> np.ndarray:
    """A lamp mirrored in it, with a soft rim."""
    lamp = np.zeros(grey.shape, np.float32)
    cv2.ellipse(lamp, middle, axes, 0, 0, 360, 300, -1)
    return np.clip(grey + cv2.GaussianBlur(lamp, (0, 0), 12), 0, 255).astype(np.uint8)


def test_rows_count_by_what_a_reflection_leaves_of_them() -> None:
    """The zone's rows; but the lines of a front lie farther apart, however much of what they lack
    the reflection hides."""
    zone = 0.7 * _card_with_rows([38, 42.2, 46.4], [1, 1, 1])
    front = 0.7 * _card_with_rows([12, 19.4, 26.8, 34.2, 41.6], [0.62] * 5)

    assert has_zone_rows(_whitened(zone, (330, 560), (200, 110)))
    assert not has_zone_rows(_whitened(front, (890, 330), (210, 300)))


def test_a_shadow_that_begins_in_the_middle_is_no_fold() -> None:
    """It has a light side only; a fold between a light and a shadowed page is darker than both."""
    step = np.where(np.arange(990) < 497, 200, 120).astype(np.float32)[None].repeat(700, axis=0)
    soft = cv2.GaussianBlur(step, (0, 0), 9)
    folded = soft.copy()
    folded[:, 490:503] -= 60

    assert fold_valley(soft.astype(np.uint8))[0] < 0.02
    depth, stray = fold_valley(cv2.GaussianBlur(folded, (0, 0), 1).astype(np.uint8))
    assert depth > 0.1
    assert stray < 0.5


@pytest.mark.parametrize("slant_deg", [-1.5, 1.0])
def test_lines_aslant_are_as_high_as_level_ones(slant_deg: float) -> None:
    page = np.full((1120, 792), 225, np.uint8)
    for y in range(120, 1000, 40):
        cv2.putText(page, "some words of a letter that has them", (70, y), cv2.FONT_HERSHEY_SIMPLEX,
                    0.9, 40, 2, cv2.LINE_AA)  # fmt: skip
    turn = cv2.getRotationMatrix2D((396, 560), slant_deg, 1.0)
    aslant = cv2.warpAffine(page, turn, (792, 1120), borderMode=cv2.BORDER_REPLICATE)

    level, leaning = (look_of(one, read_print(one)).line_height for one in (page, aslant))

    assert leaning == pytest.approx(level, rel=0.15)


def test_a_zone_as_long_as_the_item_is_none_of_an_opening() -> None:
    """44 signs, ten an inch, are 112 mm: nine tenths of a page's 125 mm, six of an opening's 176
    (ICAO Doc 9303, part 4); a shadow may look like a fold."""
    look = Look(
        luma=149.0, folded=True, tint=21.7, line_height=30.0, text_length=4.3, across=True,
        zone=0.9, zone_across=0.0, wide_rows=2,
    )  # fmt: skip
    assert Kind.PASSPORT_PAGE in likeliest(look)[0]


@pytest.mark.parametrize("high", [1, 2, 3])
def test_tops_closer_than_rows_are_those_of_one_row_askew(high: int) -> None:
    level = np.zeros(90)
    for place, ink in ((20, 0.5), (24, 0.6), (44, 0.9), (60, 0.3)):
        level[place : place + high] = ink
        level[place - 1] = level[place + high] = ink / 3

    places, inks = _tops(level)

    assert places.tolist() == [24, 44, 60]
    assert inks.tolist() == [0.6, 0.9, 0.3]


@pytest.mark.parametrize(("rows", "zone"), [
    ([20, 34, 48, 90, 98, 112], True),  # lines of small print above or below it
    ([60, 68, 76, 127, 141, 155], True),
    ([128, 142, 156], True),
    ([20, 34, 48, 62, 76, 90, 104, 118, 132, 146], False),  # a slip full of lines
    ([20, 26, 48, 90], False),
    ([40, 54], False),
])  # fmt: skip
def test_three_rows_at_an_end_far_from_the_rest_are_a_zone(rows: list[int], zone: bool) -> None:
    """Three lines a sixth of an inch apart: 13.8 of 176 rows on 53.98 mm (ICAO Doc 9303 part 5;
    ISO/IEC 7810; the pitch of lines from memory)."""
    card = np.full((176, 280), 220, np.uint8)
    for row in rows:
        card[row - 2 : row + 2, 12:268:4] = card[row - 2 : row + 2, 13:268:4] = 40
    grey = np.asarray(cv2.resize(card, (1120, 706), interpolation=cv2.INTER_NEAREST), np.uint8)

    assert has_zone_at_end(grey) is zone


@pytest.mark.parametrize(("seen", "kind"), [
    # small print and no zone: no page of a passport reads along its long side without one
    ({"line_height": 29, "tint": 20.0, "text_length": 3.5, "across": True}, Kind.ID_CARD_FRONT),
    ({"line_height": 17, "tint": 9.0, "text_length": 1.8, "across": True}, Kind.A4_PAGE),
    ({"line_height": 17, "tint": 9.0, "text_length": 1.8, "across": True, "barred": True},
     Kind.ID_CARD_FRONT),  # lines of blurred print seem narrow
    ({"line_height": 26, "text_length": 3.5}, Kind.OTHER),  # 3.9 mm of type on A5, 5.5 on A4
    ({"line_height": 22, "text_length": 3.5}, Kind.A4_PAGE),
    # a hand's shadow over a page; a page in the dark; a bar code on dark stock
    ({"luma": 70, "bright": 125.0, "line_height": 16}, Kind.A4_PAGE),
    ({"luma": 70, "bright": 90.0, "dark": 300.0, "light": 0.8, "text_length": 0.5, "barred": True,
      "tint": 20.0, "across": True, "line_height": 30}, Kind.ID_CARD_FRONT),
])  # fmt: skip
def test_small_print_bars_and_shadows_tell_cards_and_pages_apart(
    seen: dict[str, float], kind: Kind
) -> None:
    assert kind in likeliest(replace(PLAIN, **seen))[0]  # type: ignore[arg-type]


@pytest.mark.parametrize(("top", "high", "stripe"), [
    (0.1, 0.2, True), (0.0, 0.2, False), (0.3, 0.5, False), (0.3, 0.05, False)
])  # fmt: skip
def test_a_dark_band_off_head_and_foot_is_a_stripe(top: float, high: float, stripe: bool) -> None:
    """12.7 mm and more of 53.98 or 74 (ISO/IEC 7811: half an inch; from memory)."""
    areas = np.array([[0, round(700 * top), 1120, round(700 * high)]])

    assert has_stripe(areas, (700, 1120)) is stripe
    assert not has_stripe(areas * np.array([1, 1, 0.5, 1]), (700, 1120))
