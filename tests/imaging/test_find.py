"""Finding items: drawn scenes whose outlines are known."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import cv2
import drawing
import numpy as np
import pytest
import small_packet
from evaluation import papers
from helpers import KINDS, angle_deg, codes, corner_error_mm, jaccard, picture_of, run
from hypothesis import given
from hypothesis import strategies as st

from packet.imaging import find
from packet.imaging.choose import choose
from packet.imaging.expected import Expected
from packet.imaging.geometry import common_area, overlap
from packet.imaging.item import picture_page
from packet.imaging.openings import united
from packet.imaging.page_parts import is_part_of_page
from packet.imaging.propose import by_ground
from packet.imaging.score import Judged
from packet.imaging.sizing import Sized
from packet.imaging.skew import page_print
from packet.imaging.verdicts import size_findings
from packet.imaging.view import make_view
from packet.intake.picture import Picture
from packet.model import Kind, ScanTask

PHOTOS = [
    *(("easy", kind, seed) for seed, kind in enumerate(("card", "spread"))),
    *(("normal", kind, seed) for seed, kind in enumerate(("blank", "page", "card"), 10)),
]


def test_jaccard_of_shifted_squares():
    """Two 100 x 100 squares one pixel apart in x: 99/101 (SmartDoc measure, worked value)."""
    square = np.array([[0.0, 0.0], [100, 0], [100, 100], [0, 100]])

    index, _ = overlap(square, square + np.array([1, 0]))

    assert index == pytest.approx(99 / 101)


@given(
    sides=st.tuples(*[st.floats(20.0, 900.0)] * 2),
    angle=st.floats(0.0, 6.3),
    share=st.floats(-0.9, 0.9),
    play=st.sampled_from([0.0, 1e-9, 1e-6, 1e-4]),
    seed=st.integers(0, 999),
)
def test_ground_that_two_outlines_share(sides, angle, share, play, seed):
    """One moved along its own side: their other sides lie on one another, or nearly so."""
    (wide, high), rng = sides, np.random.default_rng(seed)
    turn = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    one = np.array([[0, 0], [wide, 0], [wide, high], [0, high]]) @ turn + rng.uniform(0, 2000, 2)
    other = one + share * (one[1] - one[0]) + rng.uniform(-play, play, (4, 2))
    other = np.roll(other, int(rng.integers(4)), axis=0)

    found = [common_area(a, b) for a, b in ((one, other), (other, one), (one[::-1], other))]

    assert found == pytest.approx([(1 - abs(share)) * wide * high] * 3, rel=1e-4)


@pytest.mark.parametrize("lid", [250.0, 150.0, 30.0])
def test_card_on_the_glass(lid):
    scene = drawing.flatbed(int(lid), ("card",), dpi=200.0, lid=lid)

    (item,) = run(picture_of(scene), KINDS["card"], encode=False).items

    assert jaccard(item, scene.corners[0]) > 0.985
    assert item.size_mm == (85.60, 53.98)  # ISO/IEC 7810
    assert item.measured_mm == pytest.approx((85.60, 53.98), abs=0.6)
    assert item.skew_deg == pytest.approx(angle_deg(scene.corners[0]), abs=0.1)
    assert "size-mismatch" not in codes(item)
    assert "cut-off" not in codes(item)


@pytest.mark.parametrize(("level", "kind", "seed"), PHOTOS)
def test_photo(level, kind, seed):
    scene = drawing.photo(seed, level, kind, width=1344, height=1008)

    (item,) = run(picture_of(scene), KINDS[kind], encode=False).items

    assert jaccard(item, scene.corners[0]) > 0.985
    assert corner_error_mm(item, scene.corners[0], scene.sizes_mm[0]) < 0.3
    assert item.size_mm == pytest.approx(scene.sizes_mm[0], abs=0.3)
    assert abs(item.skew_deg - angle_deg(scene.corners[0])) < 0.1


def test_items_on_one_glass_are_separated_and_numbered_from_the_top():
    scene = drawing.flatbed(4, ("card", "card", "card"), dpi=150.0, lid=150.0)

    items = run(picture_of(scene), KINDS["card"], encode=False).items

    assert [item.item for item in items] == [1, 2, 3]
    for item, corners in zip(items, scene.corners, strict=True):
        assert jaccard(item, corners) > 0.985


def test_an_opening_is_one_item():
    scene = drawing.flatbed(8, ("spread",), dpi=150.0, lid=238.0)

    (item,) = run(picture_of(scene), KINDS["spread"], encode=False).items

    assert item.kind is Kind.PASSPORT_SPREAD
    assert jaccard(item, scene.corners[0]) > 0.98


@pytest.mark.parametrize(("between", "count"), [("fold", 1), ("table", 0)])
def test_two_pages_with_a_wide_soft_fold_between_are_one_opening(between, count):
    """Pages of 83 x 125 mm, 10 mm of fold or table between them, at 6 pixels a millimetre."""
    scene = np.full((1000, 1400, 3), (95, 120, 90), np.uint8)
    scene[120:870, 170:1226] = (225, 228, 236)
    scene[120:870, 668:728] = (105, 107, 111) if between == "fold" else (95, 120, 90)
    view = make_view(scene)
    left, right, both = (
        view.to_view(np.array([[x0, 120.0], [x1, 120], [x1, 870], [x0, 870]]))
        for x0, x1 in ((170.0, 668.0), (728.0, 1226.0), (170.0, 1226.0))
    )

    by_ground(view)  # what the ground looks like
    found = united(view, [left, right])

    assert len(found) == count
    assert all(overlap(quad, both)[0] > 0.999 for quad in found)


def test_turning_the_picture_turns_the_corners_and_nothing_else():
    """A file's own turn (EXIF tag 274) is applied before: the outline goes with the pixels."""
    scene = drawing.flatbed(11, ("card",), dpi=200.0, lid=30.0)
    picture = picture_of(scene)
    height = picture.height_px
    turned = replace(picture, pixels=np.ascontiguousarray(np.rot90(picture.pixels, -1)))

    (plain,) = run(picture, KINDS["card"], encode=False).items
    (other,) = run(turned, KINDS["card"], encode=False).items

    moved = np.array([[height - 1 - y, x] for x, y in plain.corners_px])
    assert overlap(moved, np.array(other.corners_px))[0] > 0.998
    assert sorted(other.size_mm) == sorted(plain.size_mm)  # turned or not, by its own cues


def test_odd_size_is_measured_by_the_scanner():
    """A kind without a size of its own takes the scan's."""
    scene = drawing.flatbed(3, ("card",), dpi=200.0, lid=30.0)

    (item,) = run(picture_of(scene), (Kind.OTHER,), encode=False).items

    assert item.kind is Kind.OTHER
    assert item.size_mm == pytest.approx((85.60, 53.98), abs=0.3)


@pytest.mark.parametrize("photo", [False, True])
def test_a_paper_like_its_lid_is_an_item_on_a_scan_where_all_its_sides_are_edges(photo):
    """Of no wanted shape, so that it scores little; in a photo that may be a part of the table."""
    lid = np.random.default_rng(4).normal(234, 1, (800, 600, 3))
    view = make_view(np.clip(lid, 0, 255).astype(np.uint8))
    by_ground(view)
    assert view.ground
    quad = np.array([[150, 200], [450, 200], [450, 600], [150, 600]]) - 0.5
    expected = Expected(
        sizes_mm=(), px_per_mm=None if photo else (4.0, 4.0), any_shape=True, perspective=photo,
        openings=False, width_px=600, height_px=800,
    )  # fmt: skip
    whole = Judged(quad=quad, score=0.75, support=1.0, worst=1.0, shape=0.5)
    part = replace(whole, support=0.95, worst=0.8)

    assert len(choose(view, [whole], expected)) == (0 if photo else 1)
    assert choose(view, [part], expected) == []


@pytest.mark.parametrize("print_around", [False, True])
def test_a_ticket_under_a_white_lid_is_no_part_of_a_page(print_around):
    """122 x 80 mm at 200 dpi, a little brighter than the lid; with print around, it is a box."""
    picture = np.full((2339, 1701, 3), 230, np.float32)
    shadow = np.zeros(picture.shape[:2], np.float32)
    shadow[746:1378, 400:1362] = 15
    picture -= cv2.GaussianBlur(shadow, (0, 0), 5)[..., None]
    picture[740:1370, 396:1357] = 247
    words = [(500, y) for y in range(820, 1300, 40)]
    words += [(200, y) for y in range(200, 640, 40)] if print_around else []
    for left, y in words:
        for word in range(10):
            picture[y : y + 14, left + 70 * word : left + 70 * word + 50 : 4] = 40
    noise = np.random.default_rng(4).normal(0, 1, picture.shape)
    pixels = np.clip(cv2.GaussianBlur(picture, (0, 0), 0.6) + noise, 0, 255).astype(np.uint8)

    (item,) = run(Picture(pixels=pixels, dpi=(200.0, 200.0), source="scanner"), ()).items

    ticket = np.array([[396, 740], [1357, 740], [1357, 1370], [396, 1370]]) - 0.5
    assert (jaccard(item, ticket) > 0.97) is not print_around


def test_a_dark_cover_on_a_dark_glass_is_no_page():
    """Its print alone is seen; it is not said to be a page of the size of the glass."""
    pixels = np.full((2339, 1654, 3), 28, np.uint8)
    cv2.putText(pixels, "PASSPORT", (400, 1100), cv2.FONT_HERSHEY_SIMPLEX, 3.0, (165,) * 3, 12)
    cv2.circle(pixels, (700, 1450), 200, (160,) * 3, 10)
    noise = np.random.default_rng(3).normal(0, 1.5, pixels.shape)
    pixels = (pixels + noise).clip(0, 255).astype(np.uint8)

    (item,) = run(Picture(pixels=pixels, dpi=(200.0, 200.0), source="scanner"), ()).items

    assert "not-found" in codes(item)


@pytest.mark.parametrize("lid", [30, 182])
def test_a_card_goes_on_beyond_its_stripe_whatever_the_tag_says(lid):
    """The stripe is darker than the lid or of its colour, the card lighter: no side of one kind.
    A back as ISO/IEC 7811-2 describes it; the tag says 240 dpi of a scan of 160."""
    rng = np.random.default_rng(5)
    page = rng.normal(lid, 1.5, (900, 700))
    card = rng.normal(215, 2.0, (339, 539))
    card[28:108] = rng.normal(30, 2.0, (80, 539))
    for row in range(140, 310, 24):
        card[row : row + 9, 40 : 300 + row // 2 : 3] = 40
    page[200:539, 80:619] = card
    pixels = np.repeat(cv2.GaussianBlur(page, (0, 0), 0.8)[..., None], 3, axis=2)
    pixels = pixels.clip(0, 255).astype(np.uint8)
    picture = Picture(pixels=pixels, dpi=(240.0, 240.0), source="scanner")
    whole = np.array([[80, 200], [619, 200], [619, 539], [80, 539]]) - 0.5

    (item,) = run(picture, ()).items

    assert overlap(np.array(item.corners_px), whole)[0] > 0.98
    assert item.kind is Kind.ID_CARD_BACK


@pytest.mark.parametrize("kinds", [(), (Kind.ID_CARD_FRONT, Kind.ID_CARD_BACK)])
def test_a_white_card_goes_on_beyond_its_stripe_under_a_white_lid(kinds):
    """A back as ISO/IEC 7811-2 describes it; beyond the stripe a step of some levels alone."""
    rng = np.random.default_rng(5)
    high, wide = 638, 1011  # ISO/IEC 7810, ID-1, at 300 dpi
    card = np.full((high, wide), 236.0)
    card[50:200] = 40
    for row in range(260, 600, 40):
        card[row : row + 14, 60 : 600 + row // 2 : 4] = 60
    page = np.full((1700, 1500), 240.0)
    shadow = np.zeros_like(page)
    shadow[412 : 412 + high, 205 : 205 + wide] = 18
    page -= cv2.GaussianBlur(shadow, (0, 0), 7)
    page[400 : 400 + high, 200 : 200 + wide] = card
    turn = cv2.getRotationMatrix2D((705.0, 719.0), -6.0, 1.0)
    page = cv2.warpAffine(page, turn, page.shape[::-1], borderValue=240.0)
    page = cv2.GaussianBlur(page, (0, 0), 0.7) + rng.normal(0, 1.8, page.shape)
    pixels = np.repeat(page[..., None], 3, axis=2).clip(0, 255).astype(np.uint8)
    corners = np.array([[200, 400], [1211, 400], [1211, 1038], [200, 1038]]) - 0.5
    whole = corners @ turn[:, :2].T + turn[:, 2]

    (item,) = run(Picture(pixels=pixels, dpi=(300.0, 300.0), source="scanner"), kinds).items

    assert overlap(np.array(item.corners_px), whole)[0] > 0.99
    assert item.kind is Kind.ID_CARD_BACK


def test_cut_item_is_prolonged_and_said_so():
    scene = drawing.flatbed(21, ("card",), dpi=200.0, lid=30.0, skew=0.0)
    right = int(scene.corners[0][1][0] - 12 * 200 / 25.4)  # 12 mm of the card are lost
    picture = replace(picture_of(scene), pixels=np.ascontiguousarray(scene.pixels[:, :right]))

    (item,) = run(picture, KINDS["card"], encode=False).items

    assert "cut-off" in codes(item)
    assert item.size_mm == (85.60, 53.98)
    assert jaccard(item, scene.corners[0]) > 0.97


def test_wrong_scanner_resolution_is_a_size_mismatch():
    """Measured and nominal differ by more than 2 % (FADGI 2023, three-star scale tolerance)."""
    scene = drawing.flatbed(5, ("card",), dpi=200.0, lid=30.0)
    picture = replace(picture_of(scene), dpi=(208.0, 208.0))  # says 208, is 200: 4 % small

    (item,) = run(picture, (Kind.ID_CARD_FRONT,), encode=False).items

    (finding,) = [one for one in item.findings if one.code == "size-mismatch"]
    assert finding.measured == pytest.approx(3.85, abs=0.5)
    assert finding.limit == 2.0
    assert f"it differs by {finding.measured:.2f} %, more than 2 %" in finding.message
    assert "give kind or size_mm" in finding.remedy
    assert item.size_mm == (85.60, 53.98)


def test_a_size_that_was_given_is_not_asked_for_again():
    sized = Sized(kind=Kind.OTHER, size_mm=(100.0, 60.0), measured_mm=(110.0, 66.0), basis="given")

    (finding,) = size_findings(sized, subject="x/a.png#1.1", flat=True)

    assert "give" not in finding.remedy.replace("given", "")
    assert '"size-mismatch" under accept' in finding.remedy


@pytest.mark.parametrize("shape", [(1, 1), (1, 20000), (20000, 1), (40, 40), (900, 1200)])
@pytest.mark.parametrize("level", [0, 255])
def test_nothing_there(shape, level):
    scene = drawing.Scene(
        pixels=np.full((*shape, 3), level, np.uint8),
        corners=(),
        sizes_mm=(),
        dpi=None,
        source="camera",
    )

    (item,) = run(picture_of(scene), KINDS["card"]).items

    assert "not-found" in codes(item)
    assert len(item.corners_px) == 4


def test_noise_is_no_item():
    pixels = np.random.default_rng(1).integers(0, 256, (700, 1000, 3)).astype(np.uint8)
    scene = drawing.Scene(pixels=pixels, corners=(), sizes_mm=(), dpi=None, source="camera")

    (item,) = run(picture_of(scene), KINDS["card"], encode=False).items

    assert "not-found" in codes(item)


def test_a_written_page_that_fills_the_picture_is_not_searched_for_faint_items(monkeypatch):
    def no_lines(*_, **__):
        raise AssertionError

    monkeypatch.setattr(find, "by_lines", no_lines)
    page = np.asarray(small_packet.page(5, dpi=150, lines=46).convert("RGB"))
    picture = Picture(pixels=page, dpi=(150.0, 150.0), source="scanner")
    (item,) = picture_page(
        ScanTask(path=Path("x"), name="x", kinds=(), encode=False, small=True), picture
    ).items
    assert item.kind is Kind.A4_PAGE
    assert item.size_mm == (210.0, 297.0)
    assert page_print([page]).share > 0.5


def test_an_empty_page_is_hardly_written_on():
    page = np.asarray(small_packet.page(5, dpi=150, lines=3).convert("RGB"))
    assert page_print([page]).share < 0.3


@pytest.mark.parametrize("lid", [16, 205])
def test_a_written_page_fed_askew_is_found_and_made_straight(lid):
    """At 150 dpi on a strip of its own width: wedges of the rollers are seen beside it."""
    page = np.asarray(small_packet.page(5, dpi=150, lines=46).convert("RGB"))
    height, width = page.shape[:2]
    turn = cv2.getRotationMatrix2D((width / 2, height / 2), 2.6, 1.0)
    pixels = cv2.warpAffine(
        page, turn, (width, height), flags=cv2.INTER_CUBIC, borderValue=(lid, lid, lid)
    )
    picture = Picture(pixels=pixels, dpi=(150.0, 150.0), source="scanner")

    (item,) = run(picture, KINDS["page"], encode=False).items

    assert item.skew_deg == pytest.approx(-2.6, abs=0.1)


def test_a_white_card_under_a_white_lid_is_found_by_its_print_beside_a_plain_one():
    """ID-1 at 200 dpi; the white card is five levels lighter than the lid."""
    pixels = np.full((1400, 1100, 3), 232, np.uint8)
    wide, high = 85.6 * 200 / 25.4, 53.98 * 200 / 25.4
    places = {"blue": (120.0, 150.0), "white": (300.0, 800.0)}
    corners = {
        name: np.array([[x, y], [x + wide, y], [x + wide, y + high], [x, y + high]])
        for name, (x, y) in places.items()
    }
    for name, colour in (("blue", (120, 150, 210)), ("white", (237, 237, 237))):
        fixed = np.round(corners[name] * 16).astype(np.int32)
        cv2.fillConvexPoly(pixels, fixed, colour, cv2.LINE_AA, 4)
        x, y = places[name]
        for row in range(9):
            at = (round(x + 30), round(y + 50 + 40 * row))
            cv2.putText(pixels, "cognome nome data rilascio 1234", at, 0, 1.0, (60, 60, 70), 2)
    soft = cv2.GaussianBlur(pixels, (0, 0), 0.8) + 0.0
    soft += np.random.default_rng(4).normal(0, 1.0, soft.shape)
    picture = Picture(
        pixels=soft.clip(0, 255).astype(np.uint8), dpi=(200.0, 200.0), source="scanner"
    )

    blue, white = run(picture, KINDS["card"], encode=False).items

    assert jaccard(blue, corners["blue"]) > 0.99
    assert jaccard(white, corners["white"]) > 0.97


@pytest.mark.parametrize("seed", [0, 2, 12])
def test_a_portrait_on_a_page_that_fills_the_photo_is_no_card(seed):
    """A data page from so near that none of its sides is seen: the whole picture, and said so."""
    rgb = papers.data_opening(np.random.default_rng(seed)).rgb
    inset = 40
    wide = rgb.shape[1] - 2 * inset
    near = rgb[-inset - wide * 4 // 3 : -inset, inset:-inset]
    pixels = cv2.resize(near, (1200, 1600), interpolation=cv2.INTER_AREA)
    light = np.linspace(0.8, 0.95, 1600)[:, None, None]
    noise = np.random.default_rng(seed).normal(0, 2, pixels.shape)
    pixels = (pixels * light + noise).clip(0, 255).astype(np.uint8)

    (item,) = run(Picture(pixels=pixels, dpi=None, source="camera"), ()).items

    assert "not-found" in codes(item)
    assert np.ptp(np.array(item.corners_px), axis=0).prod() > 0.95 * 1200 * 1600


@pytest.mark.parametrize("askew_deg", [0.0, 7.0])
def test_what_print_goes_on_around_is_no_part_of_it_where_that_lies_askew(askew_deg):
    """All that is printed on one page stands straight on it; a sheet on a newspaper does not."""
    page = np.full((2000, 2000, 3), 214, np.uint8)
    draw = np.random.default_rng(8)
    for y in range(20, 2000, 24):
        words = " ".join(
            "".join(draw.choice(list("abdeghilmnoprstu"), draw.integers(2, 9))) for _ in range(34)
        )
        cv2.putText(page, words, (10, y), cv2.FONT_HERSHEY_SIMPLEX, 0.5, (70, 70, 70), 1, 16)
    turn = cv2.getRotationMatrix2D((1000, 1000), askew_deg, 1.0)
    pixels = cv2.warpAffine(page, turn, (2000, 2000), flags=cv2.INTER_AREA)[400:1600, 200:1800]
    corners = np.array([[420.0, 380.0], [980.0, 380.0], [980.0, 777.0], [420.0, 777.0]])
    pixels = np.ascontiguousarray(pixels)
    cv2.fillConvexPoly(pixels, corners.astype(np.int32), (236, 236, 228), 16)
    view = make_view(cv2.GaussianBlur(pixels, (0, 0), 0.8))
    expected = Expected(
        sizes_mm=((176.0, 125.0),), px_per_mm=None, any_shape=True, perspective=True,
        openings=True, width_px=1600, height_px=1200,
    )  # fmt: skip
    found = find.Found(quad=corners, score=0.94, shape=1.0, off_ground=0.0)

    part = is_part_of_page(view, [found], expected, plausible=False)

    assert part == (askew_deg == 0.0)
