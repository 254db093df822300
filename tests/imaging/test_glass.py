"""A4 (ISO 216) on a glass of 216 x 297 mm, as home scanners have it."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from drawing import flatbed
from evaluation.levels import picture
from evaluation.measure import page_jaccard, quad_of
from helpers import KINDS, codes, jaccard, run

from packet.imaging.expected import Expected
from packet.imaging.find import Found
from packet.imaging.outlines import _is_item_on_glass
from packet.intake.picture import Picture
from packet.model import Kind

DPI = 150.0
MM = DPI / 25.4
GLASS_MM = (216.0, 297.4)
LIDS = {"grey": 214, "white": 246, "black": 24}


def _scan(
    lid: int, *, at_mm: float = 3.0, skew_deg: float = 0.0, rule_mm: float | None = None
) -> tuple[Picture, np.ndarray]:
    """A page with some lines ``at_mm`` from the left edge of the glass, and its outline."""
    wide, high = (round(side * MM) for side in GLASS_MM)
    pixels = np.full((high, wide, 3), lid, np.float32)
    x, y = at_mm * MM - 0.5, 0.2 * MM - 0.5
    corners = np.array([[x, y], [x + 210 * MM, y], [x + 210 * MM, y + 297 * MM], [x, y + 297 * MM]])
    turn = cv2.getRotationMatrix2D((wide / 2, high / 2), -skew_deg, 1.0)
    corners = corners @ turn[:, :2].T + turn[:, 2]
    fixed = np.round(corners * 16).astype(np.int32)
    cv2.fillConvexPoly(pixels, fixed, (236, 234, 228), cv2.LINE_AA, 4)
    ends = [(40.0 + 9 * k, 150.0 + (k * 37) % 30) for k in range(20)]
    ends += [] if rule_mm is None else [(rule_mm, 208.0)]
    for y_mm, to_mm in ends:
        line = np.array([[2.0 if to_mm > 200 else 25.0, y_mm], [to_mm, y_mm]]) * MM + (x, y)
        (x0, y0), (x1, y1) = line @ turn[:, :2].T + turn[:, 2]
        cv2.line(pixels, (round(x0), round(y0)), (round(x1), round(y1)), (50, 50, 55), 4)
    pixels = cv2.GaussianBlur(pixels, (0, 0), 0.7)
    pixels += np.random.default_rng(7).normal(0, 1.0, pixels.shape)
    picture = Picture(pixels=pixels.clip(0, 255).astype(np.uint8), dpi=(DPI, DPI), source="scanner")
    return picture, corners


@pytest.mark.parametrize("skew_deg", [0.0, 0.4])
@pytest.mark.parametrize("lid", LIDS)
def test_the_strips_of_lid_beside_a_page_are_left_out(lid, skew_deg):
    picture, corners = _scan(LIDS[lid], skew_deg=skew_deg)

    (item,) = run(picture, KINDS["page"], encode=False).items

    assert jaccard(item, corners) > 0.995
    assert item.size_mm == (210.0, 297.0)
    assert item.skew_deg == pytest.approx(skew_deg, abs=0.05)
    assert not {"cut-off", "size-mismatch", "not-found"} & set(codes(item))


def test_a_page_in_the_corner_of_the_glass_shows_one_side():
    picture, corners = _scan(LIDS["grey"], at_mm=0.0)

    (item,) = run(picture, KINDS["page"], encode=False).items

    assert jaccard(item, corners) > 0.995
    assert item.size_mm == (210.0, 297.0)


def test_a_line_printed_across_a_page_is_not_its_end():
    picture, corners = _scan(LIDS["grey"], rule_mm=272.0)

    (item,) = run(picture, KINDS["page"], encode=False).items

    assert jaccard(item, corners) > 0.995


def test_a_block_printed_on_a_page_is_no_item():
    picture, corners = _scan(LIDS["grey"])
    pixels = picture.pixels.copy()
    pixels[round(12 * MM) : round(32 * MM), round(20 * MM) : round(62 * MM)] = (70, 80, 160)

    (item,) = run(
        Picture(pixels=pixels, dpi=picture.dpi, source="scanner"), KINDS["page"], encode=False
    ).items

    assert jaccard(item, corners) > 0.995


def test_a_page_pushed_over_the_edge_of_the_glass_is_still_cut_off():
    picture, _ = _scan(LIDS["grey"])
    shifted = np.full_like(picture.pixels, LIDS["grey"])
    shifted[: -round(12 * MM)] = picture.pixels[round(12 * MM) :]

    (item,) = run(
        Picture(pixels=shifted, dpi=picture.dpi, source="scanner"), KINDS["page"], encode=False
    ).items

    assert "cut-off" in codes(item)


@pytest.mark.parametrize("lid", ["grey", "black"])
def test_a_page_pushed_over_two_edges_is_cut_off_and_its_other_sides_are_found(lid):
    picture, corners = _scan(LIDS[lid], skew_deg=0.3)
    by = np.array([round(15 * MM), round(12 * MM)])  # to the left and up, then past the edge
    pixels = np.full_like(picture.pixels, LIDS[lid])
    pixels[: -by[1], : -by[0]] = picture.pixels[by[1] :, by[0] :]

    (item,) = run(
        Picture(pixels=pixels, dpi=picture.dpi, source="scanner"), KINDS["page"], encode=False
    ).items

    assert jaccard(item, corners - by) > 0.99
    assert "cut-off" in codes(item)


def test_a_page_like_its_lid_is_found_by_its_own_shadow_and_a_printed_frame_is_no_page():
    """Paper and lid of one shade: its ends are thin dark lines that run to the edges of the
    picture; a frame on a page that fills the glass ends before them."""
    picture = _untold(rule_mm=None)
    high, wide = picture.pixels.shape[:2]
    y, x = round(11 * MM), wide - round(14 * MM)
    framed = picture.pixels.copy()
    framed[y - 3 : y, round(12 * MM) : x] = framed[y : high - 200, x : x + 3] = 190
    shadowed = picture.pixels.copy()
    shadowed[:y], shadowed[:, x:] = 235, 235
    shadowed[y - 3 : y, :x] = shadowed[y:, x : x + 3] = 190

    for pixels, pushed in ((shadowed, True), (framed, False)):
        (item,) = run(
            Picture(pixels=pixels, dpi=picture.dpi, source="scanner"), KINDS["page"], encode=False
        ).items
        assert ("cut-off" in codes(item)) is pushed
        assert item.size_mm == (210.0, 297.0)
        if pushed:
            left, bottom = x - 210 * MM, y + 297 * MM
            corners = np.array([[left, y], [x, y], [x, bottom], [left, bottom]])
            assert jaccard(item, corners) > 0.99


def _untold(*, rule_mm: float | None) -> Picture:
    """A page of the colour of the lid."""
    picture, _ = _scan(235, at_mm=3.0, rule_mm=rule_mm)
    flat = picture.pixels.copy()
    flat[flat > 220] = 235
    return Picture(pixels=flat, dpi=picture.dpi, source="scanner")


def test_a_page_that_cannot_be_told_from_the_lid_is_its_size_around_the_print():
    picture = _untold(rule_mm=None)

    (item,) = run(picture, KINDS["page"], encode=False).items

    assert item.size_mm == (210.0, 297.0)
    assert item.measured_mm == pytest.approx((210.0, 297.0), abs=0.1)  # not squeezed


def test_print_wider_than_a_page_stays_whole_and_is_not_squeezed():
    picture = _untold(rule_mm=None)
    picture.pixels[600:606, 6:-6] = 60

    (item,) = run(picture, KINDS["page"], encode=False).items

    assert item.size_mm == pytest.approx(GLASS_MM, abs=0.1)


@pytest.mark.parametrize("side", range(4))
@pytest.mark.parametrize(
    ("past_mm", "cut"), [(-0.6, False), (-0.2, False), (0.3, False), (2, True)]
)
def test_a_page_whose_side_lies_at_the_edge_of_the_picture(
    side: int, past_mm: float, cut: bool
) -> None:
    """Its own size, by a dpi that is right, says whether anything of it lies outside."""
    scene = flatbed(5, ("page",), lid=30.0, skew=0.0, dpi=150.0)
    quad, (high, wide) = scene.corners[0], scene.pixels.shape[:2]
    rooms = [quad[:, 0].min(), quad[:, 1].min(), wide - 1 - quad[:, 0].max(),
             high - 1 - quad[:, 1].max()]  # fmt: skip
    away = round(rooms[side] + past_mm * 150 / 25.4)
    left, top, right, bottom = (away if k == side else 0 for k in range(4))
    pixels = np.ascontiguousarray(scene.pixels[top : high - bottom, left : wide - right])
    [item] = run(Picture(pixels=pixels, dpi=scene.dpi, source="scanner"), tuple(Kind)).items
    assert item.kind is Kind.A4_PAGE
    assert ("cut-off" in codes(item)) is cut


@pytest.mark.parametrize(
    ("wide_mm", "off_ground", "item"),
    [(85.60, 0.97, True), (88.5, 0.97, False), (85.60, 0.2, False)],
)
def test_a_card_on_a_picture_as_large_as_a_larger_card_is_the_card(wide_mm, off_ground, item):
    """Cut to little more than ID-1 (85.60 x 53.98 mm), as large as ID-2 (ISO/IEC 7810)."""
    wide, high = wide_mm * 200 / 25.4, 53.98 * 200 / 25.4
    card = np.array([[70.0, 80], [70 + wide, 80], [70 + wide, 80 + high], [70, 80 + high]])
    expected = Expected(
        sizes_mm=((85.60, 53.98), (105.0, 74.0)), px_per_mm=(200 / 25.4, 200 / 25.4),
        any_shape=True, perspective=False, openings=True, width_px=835, height_px=596,
    )  # fmt: skip
    found = Found(quad=card, score=1.0, shape=0.93, off_ground=off_ground)

    assert _is_item_on_glass(found, expected) == item


def test_a_frame_printed_on_a_page_that_fills_the_scan_is_no_page_cut_off() -> None:
    """A form of A4 (ISO 216) at 200 dpi with a frame some millimetres within, of which one side is
    so near the edge that it seems to lie outside; letter paper goes on about so far."""
    drawn = picture("easy", 4621)
    pixels = cv2.imdecode(np.frombuffer(drawn.data, np.uint8), cv2.IMREAD_COLOR)
    scan = Picture(
        pixels=np.ascontiguousarray(pixels[..., ::-1]), dpi=(200.0, 200.0), source="scanner"
    )

    (item,) = run(scan, tuple(Kind), encode=False).items

    assert sorted(item.size_mm) == [210.0, 297.0]
    assert page_jaccard(drawn.items[0], quad_of(item)) > 0.99
