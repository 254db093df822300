"""The encoded item: true scale, tone, straightness, findings, overrides, nothing but pixels."""

from __future__ import annotations

import io
from dataclasses import replace
from pathlib import Path

import cv2
import drawing
import numpy as np
import pytest
from helpers import KINDS, codes, picture_of, run, set_tone
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from packet.imaging.encode import encode_jpeg
from packet.imaging.expected import Expected
from packet.imaging.find import Found
from packet.imaging.item import picture_page
from packet.imaging.outlines import _runs_with_print
from packet.imaging.rectify import rectify
from packet.imaging.skew import PagePrint, page_print, straightened
from packet.imaging.tone import tone_curve
from packet.intake.picture import Picture
from packet.model import ItemOverride, Kind, ScanTask
from packet.readings import Reading
from packet.units import mm_to_px


def decoded(item):
    return np.array(Image.open(io.BytesIO(item.image.data)))


@pytest.fixture(scope="module")
def card_scan():
    return picture_of(drawing.flatbed(7, ("card",), dpi=300.0, lid=238.0))


@pytest.fixture(scope="module")
def text_page():
    image, _, _ = drawing.draw_item(np.random.default_rng(5), "page")
    return cv2.resize(image, (1654, 2339), interpolation=cv2.INTER_AREA)  # A4 at 200 dpi


def test_card_at_true_scale(card_scan):
    """ID-1 at 300 dpi is 1011.0 x 637.6 pixels (ISO/IEC 7810 and 25.4 mm an inch)."""
    (item,) = run(card_scan, KINDS["card"]).items

    assert (item.image.width_px, item.image.height_px) == (1011, 638)
    assert item.dpi == pytest.approx(300, abs=1.5)
    assert item.image.format == "jpeg"
    assert decoded(item).shape == (638, 1011)
    assert decoded(item)[100, 20] > 120  # the card reaches to its edges
    assert codes(item) == []


def test_same_scan_gives_the_same_bytes(card_scan):
    first, second = (run(card_scan, KINDS["card"]).items[0] for _ in range(2))

    assert first == second


def test_warp_without_change_is_exact():
    pixels = np.random.default_rng(3).integers(0, 256, (60, 90, 3)).astype(np.uint8)
    quad = np.array([[-0.5, -0.5], [89.5, -0.5], [89.5, 59.5], [-0.5, 59.5]])

    same = rectify(pixels, quad, size_mm=(9.0, 6.0), dpi=254.0)

    assert np.array_equal(same, pixels)


def test_a_page_that_is_a_pixel_too_long_is_cut_and_not_resampled():
    """A4 at 300 dpi by a flatbed: 2480 x 3508 pixels, where 297 mm at its own dpi are 3507."""
    pixels = np.random.default_rng(3).integers(0, 255, (3508, 2480, 3), np.uint8)
    quad = np.array([[-0.5, -0.5], [2479.5, -0.5], [2479.5, 3507.5], [-0.5, 3507.5]])
    page = rectify(pixels, quad, size_mm=(210.0, 297.0), dpi=299.962)

    assert np.array_equal(page, pixels[:3507])
    inner = quad + np.array([[2, 2], [0, 2], [0, 0], [2, 0]])  # two pixels less are another outline
    assert not np.array_equal(
        rectify(pixels, inner, size_mm=(210.0, 297.0), dpi=299.962), pixels[:3507]
    )


def test_finer_source_is_averaged_not_sampled():
    """A grid of single lines at twice the resolution becomes an even grey, not a moiré."""
    pixels = np.zeros((400, 400, 3), np.uint8)
    pixels[:, ::2] = 255
    quad = np.array([[-0.5, -0.5], [399.5, -0.5], [399.5, 399.5], [-0.5, 399.5]])

    small = rectify(pixels, quad, size_mm=(20.0, 20.0), dpi=254.0)

    assert small.shape == (200, 200, 3)
    assert np.ptp(small[5:-5, 5:-5]) <= 2


def test_luma_is_that_of_bt_601():
    """Y of pure red, green, blue: 76, 150, 29 (ITU-R BT.601)."""
    for colour, luma in (((255, 0, 0), 76), ((0, 255, 0), 150), ((0, 0, 255), 29)):
        pixels = np.full((4, 4, 3), colour, np.uint8)
        assert cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY)[0, 0] == luma


def test_variance_of_laplacian_worked_value():
    """5 x 5 zeros, centre 255 -> 52020.0 (variance of the Laplacian, Pech-Pacheco et al. 2000)."""
    spot = np.zeros((5, 5), np.uint8)
    spot[2, 2] = 255

    assert cv2.Laplacian(spot, cv2.CV_64F).var() == pytest.approx(52020.0)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.integers(0, 255), min_size=1, max_size=400), st.sampled_from([240.0, 250.0]))
def test_tone_curve_never_falls(values, paper):
    table = tone_curve(np.array(values, np.uint8), paper=paper).astype(int)

    assert np.all(np.diff(table) >= 0)
    assert table[0] == 0
    assert table[255] == 255


def test_uneven_light_is_divided_out(text_page):
    ramp = np.linspace(1.0, 0.55, text_page.shape[1])[None, :, None]
    dim = (text_page * ramp).astype(np.uint8)

    grey = set_tone(dim, kind=Kind.A4_PAGE, tone="grey", dpi=200.0)

    paper = np.percentile(grey.reshape(-1, 1654)[:, 100:-100], 90, axis=0)
    assert np.ptp(cv2.blur(paper, (1, 101))) < 14
    assert np.median(paper) > 240


def test_background_print_of_a_blank_opening_stays_visible():
    image, _, _ = drawing.draw_item(np.random.default_rng(2), "blank")

    grey = set_tone(image, kind=Kind.PASSPORT_SPREAD, tone="grey", dpi=228.6)

    before = cv2.cvtColor(image, cv2.COLOR_RGB2GRAY)[300:800, 200:600]
    assert grey[300:800, 200:600].std() > 0.7 * before.std()


def test_colour_and_bilevel(card_scan):
    (colour,) = run(card_scan, KINDS["card"], tone="colour").items
    (bilevel,) = run(card_scan, KINDS["card"], tone="bilevel").items

    assert decoded(colour).shape == (638, 1011, 3)
    assert bilevel.image.format == "tiff"
    picture = Image.open(io.BytesIO(bilevel.image.data))
    assert picture.mode == "1"
    assert picture.info["compression"] == "group4"  # ITU-T T.6


def test_encoded_bytes_hold_nothing_but_the_picture():
    """JPEG markers (ITU-T T.81): no APP1..APP15 and no comment."""
    data = encode_jpeg(np.zeros((16, 16), np.uint8)).data

    assert data.startswith(b"\xff\xd8")
    assert data.endswith(b"\xff\xd9")
    head = data[: data.index(b"\xff\xda")]
    assert not any(bytes([0xFF, 0xE0 + k]) in head for k in range(1, 16))
    assert b"\xff\xfe" not in head


def test_lossless_png_carries_its_resolution(card_scan):
    (item,) = run(card_scan, KINDS["card"], lossless=True).items

    picture = Image.open(io.BytesIO(item.image.data))
    assert picture.format == "PNG"
    assert picture.info["dpi"] == pytest.approx((item.dpi, item.dpi), abs=0.1)


@pytest.mark.parametrize("angle", [-3.0, -0.7, 0.2, 1.4])
def test_skew_of_text(text_page, angle):
    """Error below 0.1 degree, the measure of the ICDAR 2013 contest (DISEC'13)."""
    height, width = text_page.shape[:2]
    turn = cv2.getRotationMatrix2D((width / 2, height / 2), -angle, 1.0)  # clockwise as seen
    turned = cv2.warpAffine(
        text_page, turn, (width, height), flags=cv2.INTER_CUBIC, borderValue=(245, 245, 245)
    )

    _, skew = straightened(page_print([turned]), width_px=width, height_px=height)

    assert skew == pytest.approx(angle, abs=0.1)


def test_sheet_fed_page_is_the_whole_picture_made_straight(text_page):
    turn = cv2.getRotationMatrix2D((827, 1170), -0.8, 1.0)
    turned = cv2.warpAffine(text_page, turn, (1654, 2339), borderValue=(245, 245, 245))
    picture = Picture(pixels=turned, dpi=(200.0, 200.0), source="pdf")

    (item,) = run(picture, KINDS["page"]).items

    assert item.kind is Kind.A4_PAGE
    assert item.size_mm == (210.0, 297.0)  # ISO 216
    assert item.skew_deg == pytest.approx(0.8, abs=0.1)
    assert (item.image.width_px, item.image.height_px) == (1654, 2339)
    assert codes(item) == []  # the picture is the page: nothing is missing
    assert min(item.margins_clear_mm) > 8


@pytest.mark.parametrize(
    ("angle", "share", "kept"),
    [(-0.74, 0.97, False), (0.6, 0.97, True), (1.0, 0.97, True), (4.0, 0.5, True)],
    ids=["against it", "with it", "nearly", "an item on the glass"],
)
def test_an_outline_of_a_whole_page_runs_with_its_print(angle, share, kept):
    """A page fed askew by 0.7 degrees: the shadow of a lid runs otherwise."""
    printed = PagePrint(points=np.zeros((0, 2), np.float32), share=0.48, skew_deg=0.7)
    turn = np.radians(angle)
    axes = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    corners = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * np.array([827, 1170]) * share**0.5
    found = Found(quad=corners @ axes + np.array([827, 1170]), score=0.82, shape=0.98)
    expected = Expected(
        sizes_mm=((210.0, 297.0),), px_per_mm=(7.87, 7.87), any_shape=False, perspective=False,
        openings=False, width_px=1654, height_px=2339,
    )  # fmt: skip

    assert _runs_with_print(found, printed, expected) is kept


def test_blurred_page_is_told_and_a_sharp_one_is_not(text_page):
    sharp = Picture(pixels=text_page, dpi=(200.0, 200.0), source="scanner")
    soft = replace(sharp, pixels=cv2.GaussianBlur(text_page, (0, 0), 0.35 * mm_to_px(1, 200)))

    assert "blurred" not in codes(run(sharp, KINDS["page"], encode=False).items[0])
    assert "blurred" in codes(run(soft, KINDS["page"], encode=False).items[0])


def test_blank_opening_is_a_note_and_never_blurred():
    picture = picture_of(drawing.flatbed(12, ("blank",), dpi=200.0, lid=30.0))

    (item,) = run(picture, KINDS["blank"], encode=False).items

    assert item.blank
    (finding,) = item.findings
    assert (finding.code, finding.severity.value) == ("blank", "note")


def test_glare_on_a_card():
    scene = drawing.photo(3, "easy", "card")
    bright = scene.pixels.copy()
    x, y = scene.corners[0].mean(axis=0).astype(int)
    cv2.circle(bright, (int(x), int(y)), 120, (255, 255, 255), -1)
    dim = (scene.pixels * 0.8).astype(np.uint8)
    cv2.circle(dim, (int(x), int(y)), 120, (255, 255, 255), -1)

    (clean,) = run(picture_of(scene), KINDS["card"], encode=False).items
    (item,) = run(replace(picture_of(scene), pixels=dim), KINDS["card"], encode=False).items

    assert "glare" not in codes(clean)
    assert "glare" in codes(item)


def test_low_resolution():
    picture = picture_of(drawing.flatbed(9, ("card",), dpi=120.0, lid=30.0))

    (item,) = run(picture, KINDS["card"]).items

    assert "low-resolution" in codes(item)
    assert item.image.width_px == pytest.approx(mm_to_px(85.6, 120.0), abs=3)


def test_given_corners_replace_all_automatic_items(card_scan):
    corners = ((100.0, 100.0), (500.0, 100.0), (500.0, 400.0), (100.0, 400.0))
    override = ItemOverride(
        scan="folder/scan.jpg", corners=corners, kind=Kind.OTHER, size_mm=(40.0, 30.0)
    )

    (item,) = run(card_scan, KINDS["card"], overrides=(override,)).items

    assert item.corners_px == corners
    assert item.size_mm == (40.0, 30.0)
    assert item.turn_deg == 0
    assert item.kind_from_user


@pytest.mark.parametrize("turn", [0, 90, 180, 270])
def test_given_turn(card_scan, turn):
    plain = run(card_scan, KINDS["card"]).items[0]
    override = ItemOverride(scan="folder/scan.jpg", turn=turn)

    (item,) = run(card_scan, KINDS["card"], overrides=(override,)).items

    assert item.turn_deg == turn
    expected = np.rot90(decoded(plain), -turn // 90)
    assert decoded(item).shape == expected.shape
    assert np.abs(decoded(item).astype(int) - expected).mean() < 3


def test_words_do_not_stretch_a_paper():
    """An opening of the size that a trusted dpi tells stays one, whatever its text is taken for."""
    picture = picture_of(drawing.flatbed(11, ("spread",), dpi=200.0, lid=238.0))
    task = ScanTask(path=Path("s.jpg"), name="s.jpg", kinds=KINDS["spread"], encode=False)
    told = Reading(kind=Kind.VISA_PAGE, turn_deg=0)
    (item,) = picture_page(task, picture, lambda request: told).items

    assert item.kind is Kind.PASSPORT_SPREAD
    assert sorted(item.size_mm) == [125.0, 176.0]
    assert item.reading == told
