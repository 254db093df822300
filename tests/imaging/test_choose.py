"""Shapes in a photo, and which of several outlines is the item."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest
from evaluation.camera import tilted
from helpers import run

from packet.imaging.around import item_around, without_joins
from packet.imaging.bands import likeliest_of
from packet.imaging.choose import choose
from packet.imaging.company import is_card_of_two, looks_like_ground
from packet.imaging.expected import Expected
from packet.imaging.geometry import overlap, plane_shape, plane_shapes, signed_area
from packet.imaging.one_scale import one_scale
from packet.imaging.palette import Contrast
from packet.imaging.propose import by_ground
from packet.imaging.score import Judged
from packet.imaging.view import make_view
from packet.intake.picture import Picture

SIZE = (1600, 1200)
A4 = np.array([[-148.5, -105, 0], [148.5, -105, 0], [148.5, 105, 0], [-148.5, 105, 0]])
ID1 = (85.60, 53.98)  # ISO/IEC 7810
PLAIN = {"support": 1.0, "worst": 0.95, "shape": 0.99, "edges": np.ones(4)}


def _expected() -> Expected:
    return Expected(
        sizes_mm=(ID1, ID1[::-1], (297.0, 210.0)), px_per_mm=None, any_shape=False,
        perspective=True, openings=False, width_px=SIZE[0], height_px=SIZE[1],
    )  # fmt: skip


def _seen(tilt_deg: float, *, focal: float = 0.85, towards_deg: float = 35.0) -> np.ndarray:
    camera = tilted(
        size_px=SIZE, focal=focal, tilt_deg=tilt_deg, towards_deg=towards_deg, roll_deg=10
    )
    return camera.project(A4)


@pytest.mark.parametrize("tilt_deg", [0, 20, 40, 65])
def test_no_shape_is_seen_from_the_side(tilt_deg: int) -> None:
    (fit,) = _expected().shape_fits(_seen(tilt_deg)[None])

    assert (fit > 0.95) == (tilt_deg < 45)


@pytest.mark.parametrize("focal", [0.7, 0.78, 0.92])
@pytest.mark.parametrize("towards_deg", [35.0, 60.0])
def test_the_focal_length_is_told_by_the_corners(focal: float, towards_deg: float) -> None:
    """A4 must not be taken for Letter: 1.414 against 1.294."""
    quad = _seen(30, focal=focal, towards_deg=towards_deg)
    size = {"width_px": SIZE[0], "height_px": SIZE[1]}

    aspect, cosine = plane_shape(quad, **size)
    usual = float(plane_shapes(quad[None], **size)[0][0, 0])

    off, off_usual = (abs(np.log(one * 210 / 297)) for one in (aspect, usual))
    assert off < 0.015
    assert off <= off_usual
    assert abs(cosine) < 0.01


@pytest.mark.parametrize(("dpi", "seen"), [(50, True), (30, False)])
def test_a_page_in_half_of_a_small_photo_is_sought_by_its_kind(dpi: int, seen: bool) -> None:
    """It is found and called of low resolution, as it is where no kind is given."""
    wide, high = 297 * dpi / 25.4, 210 * dpi / 25.4
    quad = np.array([[500.0, 300.0], [500 + wide, 300.0], [500 + wide, 300 + high]])
    quad = np.append(quad, [[500.0, 300 + high]], axis=0)
    expected = replace(_expected(), sizes_mm=((297.0, 210.0), (210.0, 297.0)))

    (fit,) = expected.shape_fits(quad[None])

    assert (fit > 0.95) == seen


@pytest.mark.parametrize("towards_deg", [5.0, 35.0])
def test_a_zoomed_picture_shows_the_same_shapes(towards_deg: float) -> None:
    """A second lens, or the picture's middle alone: the focal length is half as long again."""
    quad = _seen(32, focal=1.35, towards_deg=towards_deg)

    (fit,) = _expected().shape_fits(quad[None])
    aspect, _ = plane_shape(quad, width_px=SIZE[0], height_px=SIZE[1])

    assert fit > 0.88
    if towards_deg > 30:  # else no corner tells
        assert abs(np.log(aspect * 210 / 297)) < 0.015


@pytest.mark.parametrize("band", ["title", "table", "shadow"])
def test_an_item_goes_on_over_a_band_unlike_all_around_it(band: str) -> None:
    picture = np.full((900, 1300, 3), (150, 110, 70), np.uint8)
    picture[::40] = (95, 70, 45)
    card = np.array([[300.0, 200.0], [940.0, 200.0], [940.0, 604.0], [300.0, 604.0]])
    part = card.copy()
    part[:2, 1] += 12 if band == "shadow" else 65
    cv2.fillConvexPoly(picture, part.astype(np.int32), (225, 225, 232))
    if band != "table":
        colour = (40, 90, 60) if band == "title" else (60, 45, 30)
        cv2.rectangle(picture, (300, 200), (940, int(part[0, 1])), colour, -1)
    inner = Judged(quad=part, score=0.98, **PLAIN)
    outer = Judged(quad=card, score=0.94, **PLAIN)

    (one,) = choose(make_view(picture), [inner, outer], _expected())

    assert one.quad is (card if band == "title" else part)


@pytest.mark.parametrize("cards", [1, 4])
def test_cards_beside_one_another_are_no_print_on_a_larger_one(cards: int) -> None:
    """A single plain quad may be a portrait, four of one size are not."""
    picture = np.full((900, 1300, 3), 60, np.uint8)
    outer = np.array([[180.0, 120.0], [1140.0, 120.0], [1140.0, 725.0], [180.0, 725.0]])
    cv2.fillConvexPoly(picture, outer.astype(np.int32), (200, 200, 205))
    small = np.array([[200.0, 140.0], [650.0, 140.0], [650.0, 424.0], [200.0, 424.0]])
    places = [(0, 0), (470, 0), (0, 290), (470, 290)][:cards]
    judged = [Judged(quad=small + np.array(place), score=0.99, **PLAIN) for place in places]
    around = Judged(quad=outer, score=0.85, **PLAIN)

    found = item_around(make_view(picture), judged[0], [*judged, around], _expected())

    assert found is (around if cards == 1 else judged[0])


def test_a_quick_look_at_many_quads_tells_a_card_from_parts_of_a_cloth() -> None:
    y, x = np.mgrid[0:900, 0:1300]
    checks = np.array([235, 60])[(x // 45 + y // 45) % 2].astype(np.uint8)
    picture = np.repeat(checks[..., None], 3, axis=2)
    card = np.array([[180.0, 120.0], [840.0, 90.0], [860.0, 500.0], [200.0, 530.0]])
    cv2.fillConvexPoly(picture, card.astype(np.int32), (70, 95, 150))
    parts = [card * 0.5 + np.array(place) for place in ((100, 550), (800, 580), (860, 20))]

    apart = make_view(picture).roughly_apart(np.stack([card, *parts, card + 5000.0]))

    assert apart[0] > 0.9
    assert apart[1:4].max() < 0.75
    assert apart[4] == 0.0


def test_a_plain_page_does_not_go_on_over_a_strip_without_plain_ends() -> None:
    """Of another sheet below it, on a newspaper: unlike all around, too."""
    picture = np.full((900, 1300, 3), (150, 110, 70), np.uint8)
    picture[::40] = (95, 70, 45)
    stack = np.array([[300.0, 200.0], [940.0, 200.0], [940.0, 604.0], [300.0, 604.0]])
    page = stack.copy()
    page[:2, 1] += 60
    cv2.fillConvexPoly(picture, stack.astype(np.int32), (205, 210, 214))
    cv2.fillConvexPoly(picture, page.astype(np.int32), (236, 236, 232))
    inner = Judged(quad=page, score=1.0, **PLAIN)
    ragged = {**PLAIN, "worst": 0.69, "edges": np.array([0.69, 1.0, 1.0, 1.0])}
    outer = Judged(quad=stack, score=0.95, **ragged)

    (one,) = choose(make_view(picture), [inner, outer], _expected())

    assert one.quad is page


@pytest.mark.parametrize(("score", "goes_on"), [(0.72, True), (0.68, False)])
def test_a_wanted_shape_goes_on_over_a_strip_as_white_as_the_lid(
    score: float, goes_on: bool
) -> None:
    """The machine-readable zone of a data page under a white lid: its edges are faint."""
    picture = np.full((1400, 1000, 3), 246, np.uint8)
    whole = np.array([[150.0, 200.0], [750.0, 200.0], [750.0, 1045.0], [150.0, 1045.0]])
    part = whole.copy()
    part[2:, 1] -= 110
    cv2.fillConvexPoly(picture, whole.astype(np.int32), (242, 242, 241))
    cv2.fillConvexPoly(picture, part.astype(np.int32), (226, 222, 196))
    inner = Judged(quad=part, score=0.85, support=0.98, worst=0.95, shape=0.5, edges=np.ones(4))
    edges = np.array([1.0, 0.83, 1.0, 0.89])
    outer = Judged(quad=whole, score=score, support=0.93, worst=0.83, shape=1.0, edges=edges)

    (one,) = choose(make_view(picture), [inner, outer], _expected())

    assert one.quad is (whole if goes_on else part)


@pytest.mark.parametrize("white", [True, False])
def test_a_second_card_on_a_scan_is_as_large_as_the_first(white: bool) -> None:
    """Its tag lies, so that neither has a wanted size, and a white card's sides are faint; where
    nothing differs from the lid, there is none."""
    page = np.full((1200, 1600, 3), 243.0)
    page[80:503, 100:774] = 150
    if white:
        page[600:1023, 100:774] = 228
    page += np.random.default_rng(2).normal(0, 1, page.shape)
    view = make_view(page.clip(0, 255).astype(np.uint8))
    by_ground(view)
    expected = replace(_expected(), px_per_mm=(11.0, 11.0), any_shape=True, perspective=False)
    first = np.array([[100, 80], [773, 80], [773, 502], [100, 502.0]])
    second = first + np.array([0, 520.0])
    edges = np.array([0.65, 0.9, 0.98, 0.81])
    judged = [
        Judged(quad=first, score=0.8, support=0.99, worst=0.98, shape=0.73, edges=np.ones(4)),
        Judged(quad=second, score=0.63, support=0.85, worst=0.65, shape=0.52, edges=edges),
    ]

    assert len(choose(view, judged, expected)) == 1 + white


@pytest.mark.parametrize(("size_mm", "taken"), [((297.0, 210.0), True), ((291.0, 206.0), False)])
def test_on_a_scan_of_a_true_dpi_an_exact_size_is_no_chance(
    size_mm: tuple[float, float], taken: bool
) -> None:
    """White paper under a white lid, one side of it faint."""
    view = make_view(np.full((1200, 1600, 3), 243, np.uint8))
    by_ground(view)
    expected = replace(_expected(), px_per_mm=(4.5, 4.5), perspective=False)
    wide, high = (side * 4.5 for side in size_mm)
    quad = np.array([[90, 90], [90 + wide, 90], [90 + wide, 90 + high], [90, 90 + high]])
    edges = np.array([0.65, 0.98, 1.0, 0.98])
    page = Judged(quad=quad, score=0.67, support=0.9, worst=0.65, shape=1.0, edges=edges)

    assert bool(choose(view, [page], expected)) is taken


@pytest.mark.parametrize("between", ["lid", "spine", "margin"])
def test_two_cards_of_a_row_and_the_lid_between_them_are_no_larger_item(between: str) -> None:
    """The pages of an opening leave no lid between them, and a paper goes on beyond what is printed
    on it."""
    page = np.full((1200, 1600, 3), 243, np.uint8)
    margin = 40 if between == "margin" else 0
    outer = np.array([[100, 80], [750, 80], [750, 1000], [100, 1000.0]])
    first = outer + np.array([[margin, margin], [-margin, margin], [-margin, -500], [margin, -500]])
    second = first + np.array([0, 500.0 - margin])
    if between != "lid":
        cv2.fillConvexPoly(page, outer.astype(np.int32), (150, 140, 130))
    for quad in (first, second):
        cv2.fillConvexPoly(page, quad.astype(np.int32), (90, 120, 150))
    view = make_view(page)
    by_ground(view)
    expected = replace(_expected(), any_shape=True, perspective=False)
    cards = [Judged(quad=quad, score=0.96, **PLAIN) for quad in (first, second)]
    joint = Judged(quad=outer, score=0.95, **PLAIN)

    kept = without_joins(view, [*cards, joint], expected)

    assert (joint in kept) == (between != "lid")
    assert all(card in kept for card in cards)


@pytest.mark.parametrize("portrait", [False, True])
def test_most_of_a_card_and_the_lid_beside_it_is_no_card(portrait: bool) -> None:
    """Its title left out, it ends where the next card begins, and is as large as a card; but what
    is printed on one lies wholly on it, though that is as white as the lid."""
    page = np.full((1200, 1600, 3), 243, np.uint8)
    card = np.array([[100, 80], [1128, 80], [1128, 728], [100, 728.0]])
    part = card + np.array([[0, 100], [0, 100], [0, 130], [0, 130]])
    if portrait:
        part = card + np.array([[-60, -60], [60, -60], [60, 60], [-60, 60]])
    cv2.fillConvexPoly(page, card.astype(np.int32), (90, 120, 150))
    view = make_view(page)
    by_ground(view)
    expected = replace(_expected(), any_shape=True, perspective=False)
    whole = Judged(quad=card, score=0.94, **{**PLAIN, "worst": 1.0})
    other = Judged(quad=part, score=0.95, **PLAIN)

    assert (other in without_joins(view, [whole, other], expected)) is portrait


@pytest.mark.parametrize("scores", [(0.95, 0.9), (0.9, 0.95), (0.95, 0.95)])
def test_of_two_that_cross_one_another_one_is_left(scores: tuple[float, float]) -> None:
    page = np.full((1200, 1600, 3), 243, np.uint8)
    card = np.array([[100, 80], [1128, 80], [1128, 728], [100, 728.0]])
    page[160:650, 100:1128] = (90, 120, 150)
    view = make_view(page)
    by_ground(view)
    expected = replace(_expected(), any_shape=True, perspective=False)
    quads = (card - np.array([0, 70.0]), card + np.array([0, 70.0]))
    judged = [
        Judged(quad=quad, score=score, **{**PLAIN, "worst": 1.0})
        for quad, score in zip(quads, scores, strict=True)
    ]

    assert without_joins(view, judged, expected)
    assert choose(view, judged, expected)


@pytest.mark.parametrize(("edge", "goes_on"), [(0.85, True), (0.99, False)])
def test_a_page_goes_on_beyond_the_edge_of_a_shadow(edge: float, goes_on: bool) -> None:
    """All sides of the page are plain from end to end, that of the shadow is not; half a page that
    ends as plainly is another paper."""
    picture = np.full((900, 1300, 3), 170, np.uint8)
    page = np.array([[300.0, 100.0], [800.0, 100.0], [800.0, 807.0], [300.0, 807.0]])
    cv2.fillConvexPoly(picture, page.astype(np.int32), (205, 205, 205))
    part = page.copy()
    part[2:, 1] = 454.0
    inner = Judged(quad=part, score=0.93, **{**PLAIN, "worst": edge})
    outer = Judged(quad=page, score=0.86, **{**PLAIN, "worst": 1.0})
    expected = replace(_expected(), sizes_mm=((210.0, 297.0), (210.0, 148.5)))

    (one,) = choose(make_view(picture), [inner, outer], expected)

    assert one.quad is (page if goes_on else part)


@pytest.mark.parametrize("beside", ["card", "tiles"])
def test_tiles_beside_an_opening_are_no_second_item(beside: str) -> None:
    """Where the ground is not known they are as plain as it is, but look like all around them; a
    card much farther off is one by its size on the table."""
    picture = np.full((900, 1300, 3), (120, 150, 160), np.uint8)
    picture[::90], picture[:, ::90] = 90, 90
    first = np.array([[600.0, 100.0], [1210.0, 100.0], [1210.0, 533.0], [600.0, 533.0]])
    cv2.fillConvexPoly(picture, first.astype(np.int32), (220, 222, 226))
    second = np.array([[90.0, 90.0], [450.0, 90.0], [450.0, 317.0], [90.0, 317.0]])
    if beside == "card":
        cv2.fillConvexPoly(picture, second.astype(np.int32), (60, 40, 90))
    view = make_view(picture)
    view.ground[:] = [np.zeros(view.small.shape[:2], np.uint8)]
    view.ground[0][::20] = 1
    judged = [
        Judged(quad=first, score=0.97, **PLAIN),
        Judged(quad=second, score=0.96, **{**PLAIN, "support": 0.99}),
    ]

    assert len(choose(view, judged, _expected())) == 1 + (beside == "card")


def test_of_two_cards_the_nearer_one_may_seem_twice_as_large() -> None:
    """Tilted by 33 degrees and seen from near: both have one size on the table."""
    camera = tilted(size_px=SIZE, focal=0.85, tilt_deg=33, towards_deg=0, roll_deg=0)
    wide, high = ID1
    card = np.array([[0, 0, 0], [wide, 0, 0], [wide, high, 0], [0, high, 0.0]])
    quads = [camera.project((card - [wide / 2, high / 2 + y, 0]) * 4.0) for y in (-80.0, 80.0)]
    areas = [abs(signed_area(quad)) for quad in quads]
    assert max(areas) > 2.0 * min(areas)
    judged = [Judged(quad=quad, score=0.97, **PLAIN) for quad in quads]
    view = make_view(np.zeros((SIZE[1], SIZE[0], 3), np.uint8))

    assert len(one_scale(view, judged, replace(_expected(), any_shape=True))) == 2


@pytest.mark.parametrize("bands", [(), (0,), (0, 2), (1, 3)])
def test_bands_along_head_and_foot_are_not_the_colour_of_a_page(bands: tuple[int, ...]) -> None:
    """Both of one colour, or the foot so narrow that paper shows beyond it."""
    sides = np.tile([200.0, 128.0, 124.0], (4, 1))
    sides += np.array([0.0, 1.0, -2.0, 2.0])[:, None]
    for side in bands:
        sides[side] = (70.0, 120.0, 90.0) if side < 2 else (110.0, 122.0, 100.0)

    (paper,) = likeliest_of(sides[None])

    assert np.abs(paper - [200.0, 128.0, 124.0]).max() < 3


def _banded() -> tuple[np.ndarray, np.ndarray]:
    """A page with a band along its head and another along its foot, on a motley carpet."""
    rng = np.random.default_rng(5)
    spots = cv2.resize(rng.integers(0, 2, (9, 13), np.uint8), (1300, 900), interpolation=0)
    picture = np.where(spots[..., None] > 0, (120, 90, 160), (70, 150, 150)).astype(np.uint8)
    page = np.array([[340.0, 60.0], [880.0, 76.0], [858.0, 836.0], [318.0, 820.0]])
    cv2.fillConvexPoly(picture, page.astype(np.int32), (232, 232, 228))
    along = page[3] - page[0], page[2] - page[1]
    for start, end in ((0.0, 0.08), (0.95, 1.0)):
        band = [page[0] + start * along[0], page[1] + start * along[1],
                page[1] + end * along[1], page[0] + end * along[0]]  # fmt: skip
        cv2.fillConvexPoly(picture, np.round(band).astype(np.int32), (40, 110, 60))
    noise = rng.normal(0, 2, picture.shape)
    return (cv2.GaussianBlur(picture, (0, 0), 0.7) + noise).clip(0, 255).astype(np.uint8), page


def test_a_page_is_found_with_the_bands_along_its_head_and_its_foot() -> None:
    """Without one of them A4 has the shape of Letter."""
    pixels, page = _banded()

    (item,) = run(Picture(pixels=pixels, dpi=None, source="camera"), ()).items

    assert overlap(np.array(item.corners_px), page)[0] > 0.985


def test_an_odd_paper_beside_a_card_is_kept() -> None:
    """No kind says its scale: a receipt."""
    card = np.array([[100.0, 100.0], [700.0, 100.0], [700.0, 478.0], [100.0, 478.0]])
    receipt = np.array([[800.0, 100.0], [1300.0, 100.0], [1300.0, 1100.0], [800.0, 1100.0]])
    judged = [
        Judged(quad=card, score=0.97, **PLAIN),
        Judged(quad=receipt, score=0.9, **{**PLAIN, "shape": 0.5}),
    ]
    view = make_view(np.zeros((SIZE[1], SIZE[0], 3), np.uint8))

    assert len(one_scale(view, judged, replace(_expected(), any_shape=True))) == 2


@pytest.mark.parametrize(("long", "first"), [(120.0, "card"), (420.0, "slip")])
def test_a_check_of_the_cloth_is_not_taken_before_a_card_for_its_colour(
    long: float, first: str
) -> None:
    """All around a dark check is light; a card's paper is more like the rest."""
    y, x = np.mgrid[0:900, 0:1300] // 120
    picture = np.array([230, 150, 60])[(x % 2 + y % 2)].astype(np.uint8)
    view = make_view(np.repeat(picture[..., None], 3, axis=2))
    view.ground[:] = [np.zeros(view.small.shape[:2], np.uint8)]
    card = np.array([[300.0, 100.0], [1100.0, 130.0], [1085.0, 640.0], [290.0, 600.0]])
    slip = np.array([[20.0, 440.0], [20 + long, 440.0], [20 + long, 440 + long], [20, 440 + long]])
    for quad, whole in ((card, 0.57), (slip, 0.98)):
        sides = np.full(4, whole)
        view.contrasts[quad.tobytes()] = Contrast(whole=whole, inner=sides, outer=sides)
    judged = [
        Judged(quad=slip, score=0.94, **{**PLAIN, "shape": 0.5}),
        Judged(quad=card, score=0.92, **{**PLAIN, "worst": 0.77}),
    ]

    chosen = choose(view, judged, replace(_expected(), any_shape=True))

    assert chosen[0].quad is (card if first == "card" else slip)


@pytest.mark.parametrize(("table", "items"), [("plain", 2), ("checks", 1)])
def test_on_a_plain_table_a_small_card_beside_a_page_is_no_tile(table: str, items: int) -> None:
    """A hand's shadow is so much of the border that no ground is known."""
    picture = np.full((1200, 1600, 3), (205, 203, 196), np.uint8)
    if table == "checks":
        y, x = np.mgrid[0:1200, 0:1600] // 60
        picture[(x + y) % 2 > 0] = (120, 60, 70)
    page = np.array([[100.0, 100.0], [1000.0, 100.0], [1000.0, 736.0], [100.0, 736.0]])
    card = np.array([[1100.0, 400.0], [1359.0, 400.0], [1359.0, 563.0], [1100.0, 563.0]])
    view = make_view(picture)
    view.ground[:] = [np.zeros(view.small.shape[:2], np.uint8)]
    view.ground[0][::20] = 1
    for quad, whole in ((page, 0.95), (card, 0.6)):
        sides = np.full(4, whole)
        view.contrasts[quad.tobytes()] = Contrast(whole=whole, inner=sides, outer=sides)
    judged = [
        Judged(quad=page, score=0.95, **PLAIN),
        Judged(quad=card, score=0.8, **{**PLAIN, "shape": 0.71}),
    ]

    assert len(choose(view, judged, _expected())) == items


@pytest.mark.parametrize(
    ("base", "kept"), [(600.0, True), (700.0, True), (430.0, False), (160.0, False)]
)
def test_of_two_items_that_one_edge_cuts_off_the_whole_sides_tell_the_scale(
    base: float, kept: bool
) -> None:
    """How far the second goes on was guessed: as far as a sheet of A4 would."""
    first = np.array([[100.0, 900.0], [780.0, 900.0], [780.0, 1330.0], [100.0, 1330.0]])
    second = np.array([[900.0, 900.0], [900 + base, 900.0]])
    second = np.array([*second, second[1] + [0, base / 1.414], second[0] + [0, base / 1.414]])
    seen = np.array([1.0, 0.7, 0.0, 0.7])
    judged = [
        Judged(quad=quad, score=0.9, cut=True, seen=seen, **PLAIN) for quad in (first, second)
    ]
    view = make_view(np.zeros((SIZE[1], SIZE[0], 3), np.uint8))
    expected = replace(_expected(), sizes_mm=(ID1, ID1[::-1], (297.0, 210.0)))

    assert len(one_scale(view, judged, expected)) == 1 + kept


@pytest.mark.parametrize(("long", "found"), [(620.0, 1), (200.0, 0)])
def test_a_paper_of_an_odd_shape_needs_four_sharp_sides_and_much_of_the_picture(
    long: float, found: int
) -> None:
    """Soft edges, as of a blurred photo, and a ground that is not known."""
    picture = np.full((900, 1200, 3), (150, 150, 140), np.uint8)
    slip = np.array([[300.0, 150.0], [300 + 0.5 * long, 150.0]])
    slip = np.array([*slip, slip[1] + [0, long], slip[0] + [0, long]])
    cv2.fillConvexPoly(picture, slip.astype(np.int32), (205, 205, 205))
    view = make_view(cv2.GaussianBlur(picture, (0, 0), 6))
    view.ground[:] = [np.zeros(view.small.shape[:2], np.uint8)]
    one = Judged(quad=slip, score=0.7, **{**PLAIN, "worst": 1.0, "shape": 0.5})

    assert len(choose(view, [one], replace(_expected(), any_shape=True))) == found


@pytest.mark.parametrize("opening", [True, False])
def test_a_whole_page_of_its_size_is_not_cut_off_at_a_line(opening: bool) -> None:
    """By a true scale; but it may be one page of an opening that is."""
    view = make_view(np.full((1300, 900, 3), 243, np.uint8))
    by_ground(view)
    page = np.array([[5, 5], [845, 5], [845, 1193], [5, 1193.0]])
    part = np.array([[5, 5], [890, 5], [890, 1100], [5, 1100.0]])
    if opening:
        part[2:, 1] = 1193
    expected = replace(
        _expected(), px_per_mm=(4.0, 4.0), perspective=False, sizes_mm=((210.0, 297.0),)
    )
    whole = Judged(quad=page, score=0.88, **{**PLAIN, "worst": 1.0})
    cut = Judged(quad=part, score=1.0, cut=True, **PLAIN)

    assert (cut in without_joins(view, [cut, whole], expected)) is opening


@pytest.mark.parametrize(
    ("wide", "beside", "sought"),
    [(500.0, 200, True), (500.0, 120, False), (500.0, 60, True), (900.0, 200, False)],
    ids=["paler", "nothing", "darker", "no room"],
)
def test_beside_a_card_a_second_one_is_sought_where_one_may_lie(
    wide: float, beside: int, sought: bool
) -> None:
    """Where the ground is not known the card may look like it."""
    high = wide * ID1[1] / ID1[0]
    card = np.array([[30, 30], [30 + wide, 30], [30 + wide, 30 + high], [30, 30 + high]])
    pixels = np.full((800, 1066, 3), 120, np.uint8)
    pixels[30 : 30 + round(high), 30 : 30 + round(wide)] = 230, 190, 140
    pixels[30 + round(high) + 30 : 30 + round(high) + 330, 60:560] = beside
    view = make_view(pixels)
    view.ground[:] = [np.zeros(view.small.shape[:2], np.uint8)]
    one = Judged(quad=card, score=1.0, **PLAIN)

    assert looks_like_ground(view, [one], _expected()) is sought
    assert is_card_of_two(view, [one], _expected()) is sought
