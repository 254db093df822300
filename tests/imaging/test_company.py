"""What items in one picture tell of one another, and what only seems to be one."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest
from evaluation.camera import tilted
from helpers import run

from packet.imaging.around import FITS, stands_alone, without_joins
from packet.imaging.beside import are_two_sides, beside_card
from packet.imaging.choose import CERTAIN, _unlike_first, choose
from packet.imaging.expected import Expected
from packet.imaging.find import Found
from packet.imaging.flush import _is_plain
from packet.imaging.geometry import overlap
from packet.imaging.holder import card_in_holder
from packet.imaging.openings import whole_opening
from packet.imaging.page_parts import is_part_of_page
from packet.imaging.palette import Contrast
from packet.imaging.propose import by_ground
from packet.imaging.rank import rank
from packet.imaging.score import Judged
from packet.imaging.sheet_look import dark_marks, is_cover, look_of, marks_of
from packet.imaging.soft_picture import is_pale_beside
from packet.imaging.upright import read_print
from packet.imaging.view import View, make_view
from packet.intake.picture import Picture
from packet.model import Kind

SIZE = (1600, 1200)
ID1, ID2, ID3, A4 = (
    (85.60, 53.98),
    (105.0, 74.0),
    (125.0, 88.0),
    (297.0, 210.0),
)  # ISO/IEC 7810; ISO 216
PLAIN = {"support": 1.0, "worst": 0.95, "shape": 0.99, "edges": np.ones(4)}


def expected_of(*sizes: tuple[float, float]) -> Expected:
    either = [*sizes, *(size[::-1] for size in sizes)]
    return Expected(
        sizes_mm=tuple(either), px_per_mm=None, any_shape=False, perspective=True, openings=False,
        width_px=SIZE[0], height_px=SIZE[1],
    )  # fmt: skip


def on_table(size_mm: tuple[float, float], at_mm: tuple[float, float]) -> np.ndarray:
    """A paper that lies on a table seen from 24 degrees aside, (4, 2) pixels."""
    camera = tilted(size_px=SIZE, focal=0.85, tilt_deg=24, towards_deg=35.0, roll_deg=5)
    camera = replace(camera, place=np.array([0.0, 0.0, 500.0]))
    half = np.array(size_mm) / 2
    flat = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * half + np.array(at_mm)
    return camera.project(np.column_stack([flat, np.zeros(4)]))


def box(x: float, y: float, wide: float, high: float) -> np.ndarray:
    return np.array([[x, y], [x + wide, y], [x + wide, y + high], [x, y + high]])


def seen_as(view: View, quad: np.ndarray, whole: float) -> None:
    sides = np.full(4, whole)
    view.contrasts[quad.tobytes()] = Contrast(whole=whole, inner=sides, outer=sides)


def empty_view() -> View:
    view = make_view(np.zeros((SIZE[1], SIZE[0], 3), np.uint8))
    view.ground[:] = [np.zeros(view.small.shape[:2], np.uint8)]
    return view


@pytest.mark.parametrize(("size_mm", "off_px"), [(ID1, 3.0), (ID2, 4.0)])
def test_of_two_cards_the_better_seen_one_tells_the_shape_of_both(
    size_mm: tuple[float, float], off_px: float
) -> None:
    """A corner is off by a millimetre or two: the card seems to have another shape by itself."""
    expected = expected_of(ID1, ID2)
    good, bad = on_table(size_mm, (-60.0, 0.0)), on_table(size_mm, (60.0, 0.0))
    bad = bad + np.array([[0, -off_px], [0, 0], [0, 0], [0, 0]])

    for one, other in ((good, bad), (bad, good)):
        aspect, _ = expected.beside(other).aspect_of(one)
        assert abs(np.log(aspect * size_mm[1] / size_mm[0])) < 0.035
    alone, _ = expected.aspect_of(bad)
    assert abs(np.log(alone * size_mm[1] / size_mm[0])) > 0.05


@pytest.mark.parametrize(("beside", "by_itself"), [(ID1, False), (A4, True)])
def test_a_card_is_not_measured_by_the_plane_of_a_much_larger_paper(
    beside: tuple[float, float], by_itself: bool
) -> None:
    """A paper may be curled, though its corners are right."""
    expected = expected_of(ID1, ID2, A4)
    card, other = on_table(ID1, (-160.0, 0.0)), on_table(beside, (60.0, 0.0))
    card = card + np.array([[0, -3.0], [0, 0], [0, 0], [0, 0]])

    alone, _ = expected.aspect_of(card)

    assert (expected.beside(other).aspect_of(card)[0] == alone) is by_itself


@pytest.mark.parametrize(
    ("base_mm", "kept"),
    [
        (53.98, {ID1}),
        (85.60, {ID1, ID3}),
        (74.0, {ID2}),
        (210.0, {A4}),
        (120.0, {ID1, ID2, ID3, A4}),
    ],
)
def test_what_is_cut_beside_a_whole_card_has_a_side_as_long_as_is_seen(
    base_mm: float, kept: set[tuple[float, float]]
) -> None:
    """A card, or a page of a passport, whose sides differ by 2.4 mm (ISO/IEC 7810)."""
    whole = Judged(quad=on_table(ID1, (-60.0, 0.0)), score=0.97, **PLAIN)
    quad = on_table((base_mm, 30.0), (60.0, 0.0))
    cut = Judged(quad=quad, score=0.9, cut=True, seen=np.array([1.0, 1.0, 0.0, 1.0]), **PLAIN)
    expected = expected_of(ID1, ID2, ID3, A4)

    sizes = beside_card(empty_view(), cut, [whole, cut], expected).sizes_mm

    assert {max(size, size[::-1]) for size in sizes} == kept
    assert beside_card(empty_view(), whole, [whole, cut], expected) is expected
    page = Judged(quad=on_table(ID3, (-60.0, 0.0)), score=0.97, **PLAIN)
    assert beside_card(empty_view(), cut, [page, cut], expected) is expected


def test_two_sides_of_a_card_are_two_cards_of_one_size() -> None:
    cards = [Judged(quad=on_table(ID1, (x, 0.0)), score=0.97, **PLAIN) for x in (-60.0, 60.0)]
    page = Judged(quad=on_table(A4, (0.0, 0.0)), score=0.97, **PLAIN)
    view, expected = empty_view(), expected_of(ID1, ID2, A4)

    assert are_two_sides(view, cards, expected)
    assert not are_two_sides(view, [cards[0], page], expected)
    assert not are_two_sides(view, [cards[0], replace(cards[1], cut=True)], expected)
    assert not are_two_sides(view, cards[:1], expected)


@pytest.mark.parametrize(("over", "items"), [(True, 1), (False, 2)])
def test_a_finger_over_the_edge_of_a_page_is_no_second_item(over: bool, items: int) -> None:
    """It is long and narrow, off the ground, and reaches some millimetres over the page."""
    page = box(200.0, 300.0, 848.0, 600.0)
    finger = box(1020.0 if over else 1100.0, 500.0, 330.0, 70.0)
    view = empty_view()
    view.ground[:] = [np.ones(view.small.shape[:2], np.uint8)]
    for quad in (page, finger):
        seen_as(view, quad, 0.95)
    judged = [
        Judged(quad=page, score=0.95, **PLAIN),
        Judged(quad=finger, score=0.9, **{**PLAIN, "shape": 0.5, "worst": 1.0}),
    ]

    found = choose(view, judged, replace(expected_of(A4), any_shape=True))

    assert len(found) == items


@pytest.mark.parametrize(
    ("size_mm", "apart", "items"), [(ID1, 1.0, 2), (ID1, 0.8, 1), ((84.0, 59.4), 1.0, 1)]
)
def test_what_is_unlike_all_around_it_and_has_the_scale_of_a_page_needs_no_known_ground(
    size_mm: tuple[float, float], apart: float, items: int
) -> None:
    """A card beside a sheet on a carpet of many colours; a slip of A4's shape is none."""
    page, card = on_table(A4, (-80.0, 0.0)), on_table(size_mm, (130.0, 0.0))
    view = empty_view()
    rng = np.random.default_rng(1)
    view.small[:] = rng.integers(20, 230, view.small.shape)
    seen_as(view, page, 0.95)
    seen_as(view, card, apart)
    judged = [Judged(quad=page, score=1.0, **PLAIN), Judged(quad=card, score=0.96, **PLAIN)]

    assert len(choose(view, judged, expected_of(ID1, A4))) == items


@pytest.mark.parametrize(
    ("where", "cut", "first"),
    [
        ("beside", True, "card"),
        ("most", True, "card"),
        ("on", True, "other"),
        ("beside", False, "other"),
    ],
)
def test_a_whole_card_goes_before_what_is_cut_and_more_like_the_table(
    where: str, cut: bool, first: str
) -> None:
    """A grid on a mat makes plain sides, but looks like the rest of it. A box printed on a page
    that is cut is not taken before the page."""
    view = empty_view()
    other = box(600.0, 100.0, 1000.0, 900.0)
    card = {
        "beside": box(60.0, 200.0, 400.0, 252.0),
        "most": box(700.0, 150.0, 880.0, 555.0),
        "on": box(700.0, 200.0, 400.0, 252.0),
    }[where]
    seen_as(view, other, 0.7)
    seen_as(view, card, 0.93)
    good = [
        Judged(quad=other, score=0.86, cut=cut, **PLAIN),
        Judged(quad=card, score=0.74, **PLAIN),
    ]

    worth = _unlike_first(view, good, np.array([0.86, 0.74]))

    assert bool(worth[1] > worth[0]) is (first == "card")


def test_two_pages_that_touch_are_an_opening_though_it_was_found_too_large() -> None:
    """Some ground around the opening lies within its outline, none between the pages."""
    ground = np.full((1200, 1600, 3), 60, np.uint8)
    first, second = box(200.0, 200.0, 550.0, 780.0), box(750.0, 200.0, 550.0, 780.0)
    for quad in (first, second):
        cv2.fillConvexPoly(ground, quad.astype(np.int32), (205, 200, 190))
    view = make_view(ground)
    by_ground(view)
    whole = Judged(quad=box(194.0, 195.0, 1112.0, 790.0), score=0.9, **PLAIN)
    pages = [Judged(quad=quad, score=0.96, **PLAIN) for quad in (first, second)]

    assert whole in without_joins(view, [*pages, whole], expected_of((176.0, 125.0)))


@pytest.mark.parametrize(("edge", "alone"), [("stripes", True), ("table", False)])
def test_what_stands_alone_on_a_known_ground_is_an_item(edge: str, alone: bool) -> None:
    pixels = np.full((1200, 1600, 3), (110, 45, 40), np.uint8)
    card = box(400.0, 300.0, 800.0, 504.0)
    cv2.fillConvexPoly(pixels, card.astype(np.int32), (220, 235, 235))
    for x in range(300, 1300, 90):
        cv2.line(pixels, (x, 803), (x + 200, 300), (240, 205, 205), 30)
    pixels[:300] = pixels[804:] = (110, 45, 40)
    pixels[:, :400] = pixels[:, 1200:] = (110, 45, 40)
    view = make_view(pixels)
    by_ground(view)
    quad = view.to_view(card if edge == "stripes" else box(340.0, 300.0, 860.0, 542.0))

    assert stands_alone(view, Judged(quad=quad, score=0.7, **PLAIN)) is alone
    odd = Judged(quad=quad, score=0.7, **{**PLAIN, "shape": FITS - 0.1})
    assert not stands_alone(view, odd)


def test_a_striped_card_on_a_plain_table_is_certain() -> None:
    """Slanting stripes and a title of another colour: none of its sides looks like the next."""
    pixels = np.full((1200, 1600, 3), (110, 45, 40), np.uint8)
    card = box(420.0, 330.0, 760.0, 479.0)
    left, top, right, low = 420, 330, 1180, 809
    for x in range(left - 300, right, 80):
        corners = np.array([[x, low], [x + 40, low], [x + 340, top], [x + 300, top]])
        cv2.fillConvexPoly(pixels, corners, (215, 250, 240))
        cv2.fillConvexPoly(pixels, corners + np.array([40, 0]), (250, 215, 205))
    pixels[:, :left] = pixels[:, right:] = (110, 45, 40)
    pixels[:top] = pixels[low:] = (110, 45, 40)
    pixels[top : top + 70, left:right] = (30, 40, 100)
    noise = np.random.default_rng(2).normal(0, 2, pixels.shape)
    pixels = np.clip(cv2.GaussianBlur(pixels, (0, 0), 0.8) + noise, 0, 255).astype(np.uint8)
    view = make_view(pixels)
    by_ground(view)

    best = rank(view, [view.to_view(card)], expected_of(ID1))[0]

    assert best.score >= CERTAIN
    assert overlap(view.to_source(best.quad), card)[0] > 0.98


def test_a_coloured_table_on_a_page_that_fills_the_scan_is_no_item() -> None:
    """Fed through a scanner: no edge of the paper is seen; print goes on around the table."""
    pixels = np.full((2338, 1654, 3), (252, 240, 190), np.uint8)  # A4 at 200 dpi
    for row in range(14):
        shade = (225, 225, 232) if row % 2 else (250, 238, 195)
        cv2.rectangle(pixels, (160, 500 + 50 * row), (1500, 550 + 50 * row), shade, -1)
        cv2.rectangle(pixels, (160, 500 + 50 * row), (1500, 550 + 50 * row), (40, 40, 60), 2)
        cv2.putText(pixels, "some words", (180, 535 + 50 * row), 0, 0.8, (30, 30, 40), 2)
    for y in (200, 240, 280, 1300, 1340, 1380, 1420):
        cv2.putText(pixels, "lines of text that go on and on, of a page " * 2, (160, y), 0, 0.75,
                    (30, 30, 40), 2)  # fmt: skip
    picture = Picture(pixels=pixels, dpi=(200.0, 200.0), source="scanner")

    (item,) = run(picture, tuple(Kind), encode=False).items

    assert item.kind in {Kind.A4_PAGE, Kind.FORM_PAGE}
    assert item.size_mm == (210.0, 297.0)


@pytest.mark.parametrize(("turn_deg", "part"), [(0.0, True), (17.0, False), (45.0, False)])
def test_a_turned_paper_is_no_part_of_a_page_that_fills_the_photo(
    turn_deg: float, part: bool
) -> None:
    """Print on a page that fills a photo runs along its sides, and so does what is on it."""
    pixels = np.full((900, 1200, 3), (226, 222, 214), np.uint8)
    for y in range(40, 890, 26):
        cv2.putText(pixels, "lines of text that go on " * 5, (30, y), 0, 0.5, (40, 40, 50), 1)
    quad = cv2.boxPoints(((600.0, 450.0), (480.0, 340.0), turn_deg))
    cv2.fillConvexPoly(pixels, quad.astype(np.int32), (226, 222, 214))
    cv2.polylines(pixels, [quad.astype(np.int32)], True, (90, 90, 90), 2)
    expected = replace(expected_of(A4), width_px=1200, height_px=900)
    found = [Found(quad=quad.astype(np.float64), score=0.85, shape=0.99, off_ground=0.0)]

    assert is_part_of_page(make_view(pixels), found, expected, plausible=False) is part


@pytest.mark.parametrize(("tilt", "photo"), [(0.0, False), (2.0, False), (70.0, True)])
def test_what_is_certain_and_seen_tilted_lies_on_no_glass(tilt: float, photo: bool) -> None:
    """Corners of one on a glass are found to a pixel or two."""
    quad = box(300.0, 300.0, 400.0, 252.0) + np.array([[tilt, 0], [-tilt, 0], [0, 0], [0, 0]])
    found = [Found(quad=quad, score=0.98, shape=0.99)]

    assert _is_plain(found, expected_of(ID1)) is photo


@pytest.mark.parametrize(("worst", "larger"), [(0.7, True), (0.88, False), (0.98, False)])
def test_a_larger_card_is_no_holder_of_one_of_less_plain_sides(worst: float, larger: bool) -> None:
    """An ID-2 card without its title and a margin has the shape of ID-1."""
    outer = box(200.0, 200.0, 1050.0, 740.0)
    inner = box(264.0, 270.0, 976.0, 616.0)
    holder = Judged(quad=outer, score=0.86, **{**PLAIN, "worst": 0.92, "shape": 1.0})
    card = Judged(quad=inner, score=0.91, **{**PLAIN, "worst": worst})

    kept = card_in_holder(empty_view(), holder, [holder, card], expected_of(ID1, ID2))

    assert (kept is holder) is larger


@pytest.mark.parametrize(
    ("size_mm", "x_mm", "table", "taken"),
    [
        ((176.0, 125.0), 40.0, "plain", True),
        ((60.0, 43.0), 40.0, "plain", False),
        ((176.0, 125.0), 40.0, "tiles", False),
        ((176.0, 125.0), -60.0, "plain", False),  # the card lies on it
    ],
)
def test_beside_a_card_a_pale_paper_has_a_size_that_fits_to_it(
    size_mm: tuple[float, float], x_mm: float, table: str, taken: bool
) -> None:
    pixels = np.full((SIZE[1], SIZE[0], 3), 200, np.uint8)
    if table == "tiles":
        y, x = np.mgrid[0 : SIZE[1], 0 : SIZE[0]] // 50
        pixels[(x + y) % 2 > 0] = (90, 110, 160)
    view, expected = make_view(pixels), expected_of(ID1, (176.0, 125.0))
    card = Judged(quad=on_table(ID1, (-120.0, 0.0)), score=1.0, **PLAIN)
    paper = Judged(quad=on_table(size_mm, (x_mm, 0.0)), score=0.84, **PLAIN)

    assert is_pale_beside(view, card, paper, expected) is taken


def blurred(pixels: np.ndarray, sigma: float) -> np.ndarray:
    return np.asarray(cv2.GaussianBlur(pixels, (0, 0), sigma), np.uint8)


def test_stamps_past_reading_are_no_lines_but_marks() -> None:
    """A blank sheet has none, though a finger lies over its edge."""
    sheet = np.full((990, 1400), 200, np.uint8)
    cv2.ellipse(sheet, (0, 500), (160, 60), 0, 0, 360, 120, -1)
    page = np.full((990, 1400), 200, np.uint8)
    for x, y in ((450, 420), (900, 600), (700, 400)):
        cv2.circle(page, (x, y), 120, 110, 14)
        cv2.rectangle(page, (x - 60, y - 30), (x + 60, y + 30), 120, 10)

    assert marks_of(blurred(sheet, 8)) < 15
    assert marks_of(blurred(page, 14)) > 30


@pytest.mark.parametrize(("seen", "cover"), [("emblem", True), ("shadow", True), ("stripe", False)])
def test_a_blurred_dark_card_is_no_cover(seen: str, cover: bool) -> None:
    """Its stripe and barcode are darker than the stock; an emblem is lighter, a shadow no mark."""
    stock = np.full((990, 1400), 68, np.uint8)
    if seen == "emblem":
        cv2.circle(stock, (1050, 500), 130, 190, 20)
    elif seen == "shadow":
        stock[:, 620:] = 42
    else:
        cv2.rectangle(stock, (0, 120), (1400, 300), 18, -1)
        for x in range(200, 1200, 60):
            cv2.rectangle(stock, (x, 520), (x + 30, 700), 30, -1)
    taken = blurred(stock, 14)

    look = replace(look_of(taken, read_print(taken)), text_length=0.1)

    assert (dark_marks(taken) > 150) is (seen == "stripe") or seen == "emblem"
    assert is_cover(look) is cover


@pytest.mark.parametrize(("left", "whole"), [(350.0, True), (150.0, False)])
def test_a_page_found_a_little_too_large_is_still_the_other_one_of_its_opening(
    left: float, whole: bool
) -> None:
    """Pages bow; what goes on far beyond the opening lies beside it."""
    first = Judged(quad=box(400.0, 100.0, 700.0, 497.0), score=0.97, **PLAIN)
    other = Judged(quad=box(left, 597.0, 1100.0 - left, 497.0), score=0.94, **PLAIN)
    opening = Judged(quad=box(400.0, 100.0, 700.0, 994.0), score=0.87, **PLAIN)
    view = empty_view()
    for one, apart in ((first, 0.6), (other, 0.7), (opening, 0.82)):
        seen_as(view, one.quad, apart)
    expected = replace(expected_of((176.0, 125.0), (125.0, 88.0)), openings=True)

    found = whole_opening(view, first, [first, other, opening], expected)

    assert (found is opening) is whole
