"""Image-only PDF pages: native pixels, in every turn and mirroring, or else the page's look."""

from __future__ import annotations

import io
import shutil
import subprocess

import numpy as np
import pytest
from PIL import Image
from quadrants import quadrants, same_colours
from small_pdf import image_object, image_pages_pdf, image_pdf, page_pdf

from packet.errors import ScanError
from packet.intake.pictures import open_scan

PIXELS = np.asarray(quadrants(192, 128))  # painted 96 x 64 pt: 144 dpi
WIDE, TALL = (0, 0, 96, 64), (0, 0, 64, 96)
# ISO 32000-2, 8.3.3: matrices that lay the unit square upright, turned and mirrored
STRAIGHT = {
    "upright": (96, 0, 0, 64, 0, 0),
    "mirrored": (-96, 0, 0, 64, 96, 0),
    "flipped": (96, 0, 0, -64, 0, 64),
    "turned 180": (-96, 0, 0, -64, 96, 64),
    "turned left": (0, 96, -64, 0, 64, 0),
    "turned right": (0, -96, 64, 0, 0, 96),
    "transposed": (0, 96, 64, 0, 0, 0),
    "transversed": (0, -96, -64, 0, 64, 96),
}


def only(tmp_path, data):
    path = tmp_path / "page.pdf"
    path.write_bytes(data)
    (picture,) = open_scan(path)
    return picture


def poppler(tmp_path, dpi):
    """The pages of page.pdf as poppler shows them: another reader than ours."""
    if shutil.which("pdftoppm") is None:
        pytest.skip("poppler is not installed")
    subprocess.run(
        ["pdftoppm", "-r", str(dpi), "-cropbox", "page.pdf", "page"],
        cwd=tmp_path, check=True, capture_output=True,
    )  # fmt: skip
    pages = []
    for path in sorted(tmp_path.glob("page-*.ppm")):
        with Image.open(path) as image:
            pages.append(np.asarray(image.convert("RGB")))
    return pages


def looks_like(ours, theirs):
    """The middle colours of a 4 x 4 grid agree within what resampling changes."""
    small = [
        np.asarray(Image.fromarray(a).resize((4, 4), Image.Resampling.BOX)).astype(int)
        for a in (ours, theirs)
    ]
    return np.abs(small[0] - small[1]).max() <= 12


def test_native_pixels_are_laid_as_a_viewer_shows_them(tmp_path):
    """Eight placings times four /Rotate values, and two that are no plain quarter turns."""
    cases = [(name, turned) for name in STRAIGHT for turned in (0, 90, 180, 270)]
    cases += [("upright", -90), ("mirrored", 450)]
    pages = [
        (STRAIGHT[name], WIDE if STRAIGHT[name][0] else TALL, turned) for name, turned in cases
    ]
    (tmp_path / "page.pdf").write_bytes(image_pages_pdf(PIXELS, pages))
    shown = poppler(tmp_path, 144)
    found = list(open_scan(tmp_path / "page.pdf"))
    assert [picture.page for picture in found] == list(range(1, len(cases) + 1))
    palette = np.unique(PIXELS.reshape(-1, 3), axis=0)
    for case, picture, other in zip(cases, found, shown, strict=True):
        assert picture.native, case
        assert picture.source == "pdf"
        assert picture.dpi == pytest.approx((144, 144))
        assert np.array_equal(np.unique(picture.pixels.reshape(-1, 3), axis=0), palette)
        assert picture.pixels.shape == other.shape, case
        assert looks_like(picture.pixels, other), case


def test_native_pixels_are_exactly_those_of_the_file(tmp_path):
    rng = np.random.default_rng(7)
    pixels = rng.integers(0, 256, (128, 192, 3), dtype=np.uint8)
    picture = only(tmp_path, image_pdf(pixels, STRAIGHT["upright"], media=WIDE))
    assert np.array_equal(picture.pixels, pixels)
    turned = only(tmp_path, image_pdf(pixels, STRAIGHT["upright"], media=WIDE, page="/Rotate 90"))
    assert np.array_equal(turned.pixels, np.rot90(pixels, -1))  # /Rotate is clockwise


@pytest.mark.parametrize("unit", [1, 2, 0.5])
def test_user_unit_scales_the_page_and_its_dpi(tmp_path, unit):
    """ISO 32000-2, table 31: UserUnit in multiples of 1/72 inch."""
    data = image_pdf(PIXELS, STRAIGHT["upright"], media=WIDE, page=f"/UserUnit {unit}")
    picture = only(tmp_path, data)
    assert picture.size_mm == pytest.approx((96 * unit * 25.4 / 72, 64 * unit * 25.4 / 72))
    assert picture.dpi == pytest.approx((144 / unit, 144 / unit))


def test_a_page_of_a_metre_made_of_a_photo_says_nothing_of_its_size(tmp_path):
    """One pixel a point, as programs do that wrap a photo without a resolution."""
    pixels = np.asarray(quadrants(2048, 1536))
    data = image_pdf(pixels, (2048, 0, 0, 1536, 0, 0), media=(0, 0, 2048, 1536))
    picture = only(tmp_path, data)
    assert picture.native
    assert picture.dpi is None
    assert picture.source == "unknown"
    coarse = image_pdf(PIXELS, (595, 0, 0, 397, 0, 0), media=(0, 0, 595, 397))
    assert only(tmp_path, coarse).dpi == pytest.approx((192 * 72 / 595, 128 * 72 / 397))


def test_a_box_that_does_not_start_at_the_origin(tmp_path):
    data = image_pdf(PIXELS, (96, 0, 0, 64, 30, -200), media=(30, -200, 126, -136))
    picture = only(tmp_path, data)
    assert picture.native
    assert same_colours(picture.pixels)


def test_a_crop_box_that_hides_a_part_of_the_image_is_respected(tmp_path):
    """What the CropBox hides is not shown, so it must not come out (ISO 32000-2, 14.11.2)."""
    data = image_pdf(PIXELS, STRAIGHT["upright"], media=WIDE, page="/CropBox [48 32 96 64]")
    picture = only(tmp_path, data)
    assert not picture.native
    assert picture.size_mm == pytest.approx((48 * 25.4 / 72, 32 * 25.4 / 72), abs=0.01)
    assert np.abs(picture.pixels.astype(int) - (30, 200, 30)).max(axis=2).mean() < 10


def test_a_small_margin_around_the_image_is_no_matter(tmp_path):
    data = image_pdf(PIXELS, (93, 0, 0, 63, 1.5, 0.5), media=WIDE)
    picture = only(tmp_path, data)
    assert picture.native
    assert picture.dpi == pytest.approx((192 * 72 / 93, 128 * 72 / 63))
    assert picture.size_mm == pytest.approx((96 * 25.4 / 72, 64 * 25.4 / 72))


def test_hidden_text_of_a_scanner_does_not_hide_the_image(tmp_path):
    """Text render mode 3 paints nothing (ISO 32000-2, table 104)."""
    data = page_pdf(
        "q 96 0 0 64 0 0 cm /Im Do Q BT /F 8 Tf 3 Tr 10 10 Td (hidden) Tj ET",
        media=WIDE,
        resources="/XObject << /Im 5 0 R >> /Font << /F 6 0 R >>",
        more=[
            image_object(PIXELS),
            b"<< /Type /Font /Subtype /Type1 /BaseFont /Helvetica >>",
        ],
    )
    assert only(tmp_path, data).native


MASKED = "/SMask 6 0 R"
UNUSUAL = {
    "skewed": {"matrix": (90, 10, 5, 60, 0, 0)},
    "half the page": {"matrix": (48, 0, 0, 64, 0, 0)},
    "beyond the page": {"matrix": (120, 0, 0, 80, -12, -8)},
    "inverted": {"entries": "/Decode [1 0 1 0 1 0]"},
    "colour key": {"entries": "/Mask [200 240 0 60 0 60]"},
    "clipped": {"before": "20 20 40 30 re W n"},
    "text over it": {"after": "Q BT /F 20 Tf 5 20 Td (COPY) Tj ET q"},
    "a line over it": {"after": "Q 0 G 6 w 0 0 m 96 64 l S q"},
}


@pytest.mark.parametrize("name", UNUSUAL)
def test_an_unusual_page_looks_as_another_reader_shows_it(tmp_path, name):
    case = dict(UNUSUAL[name])
    matrix = case.pop("matrix", STRAIGHT["upright"])
    if name == "text over it":
        data = page_pdf(
            "q 96 0 0 64 0 0 cm /Im Do Q BT /F 20 Tf 5 20 Td (COPY) Tj ET",
            media=WIDE,
            resources="/XObject << /Im 5 0 R >> /Font << /F 6 0 R >>",
            more=[
                image_object(PIXELS),
                b"<< /Type /Font /Subtype /Type1 /BaseFont /Helvetica >>",
            ],
        )
    else:
        data = image_pdf(PIXELS, matrix, media=WIDE, **case)
    picture = only(tmp_path, data)
    assert looks_like(picture.pixels, poppler(tmp_path, 300)[0])
    if name != "inverted":  # whose native pixels pdfium inverts itself
        assert not picture.native
        assert picture.size_mm == pytest.approx((96 * 25.4 / 72, 64 * 25.4 / 72))


def test_a_soft_mask_is_rendered(tmp_path):
    data = page_pdf(
        "q 96 0 0 64 0 0 cm /Im Do Q",
        media=WIDE,
        resources="/XObject << /Im 5 0 R >>",
        more=[
            image_object(PIXELS, "/SMask 6 0 R"),
            image_object(np.tile(np.uint8([[0, 255]]), (2, 1))),
        ],
    )
    picture = only(tmp_path, data)
    assert not picture.native
    assert (picture.pixels[20, 20] >= 250).all()  # transparent on white paper
    assert looks_like(picture.pixels, poppler(tmp_path, 300)[0])


def test_a_page_of_two_images_is_rendered_at_300_dpi(tmp_path):
    fine = np.asarray(quadrants(768, 256))  # 96 x 32 pt: 576 dpi
    data = page_pdf(
        "q 96 0 0 34 0 30 cm /Im Do Q q 96 0 0 30 0 0 cm /Im Do Q",
        media=WIDE,
        resources="/XObject << /Im 5 0 R >>",
        more=[image_object(fine)],
    )
    picture = only(tmp_path, data)
    assert not picture.native
    assert picture.dpi == pytest.approx((300, 300), abs=0.5)


@pytest.mark.parametrize(("scale", "dpi"), [(1, 300), (4, 576), (8, 600)])
def test_one_unusual_image_is_rendered_at_its_own_resolution(tmp_path, scale, dpi):
    """Kept between 150 and 600 dpi: 144 dpi becomes 300, 1152 dpi becomes 600."""
    pixels = np.asarray(quadrants(192 * scale, 128 * scale))
    data = image_pdf(pixels, STRAIGHT["upright"], media=WIDE, before="20 20 40 30 re W n")
    picture = only(tmp_path, data)
    assert not picture.native
    assert picture.dpi == pytest.approx((dpi, dpi), abs=0.5)


def test_a_jpeg_without_its_end_is_not_shown_half_grey(tmp_path):
    buffer = io.BytesIO()
    rng = np.random.default_rng(3)
    noise = Image.fromarray(rng.integers(0, 256, (128, 192, 3), dtype=np.uint8))
    noise.save(buffer, "JPEG", quality=90)
    whole = buffer.getvalue()
    data = image_pdf(PIXELS, STRAIGHT["upright"], media=WIDE, jpeg=whole)
    assert only(tmp_path, data).native
    cut = image_pdf(PIXELS, STRAIGHT["upright"], media=WIDE, jpeg=whole[: len(whole) // 2])
    with pytest.raises(ScanError, match="cut short"):
        only(tmp_path, cut)


def test_pages_of_img2pdf_come_back_pixel_for_pixel(tmp_path):
    import img2pdf

    rng = np.random.default_rng(5)
    for mode in ("L", "RGB"):
        pixels = rng.integers(0, 256, (200, 300) + ((3,) if mode == "RGB" else ()), np.uint8)
        Image.fromarray(pixels).save(tmp_path / "p.png", dpi=(300, 300))
        (tmp_path / "p.pdf").write_bytes(img2pdf.convert(str(tmp_path / "p.png")))
        (picture,) = open_scan(tmp_path / "p.pdf")
        assert picture.native
        assert picture.dpi == pytest.approx((300, 300), abs=0.1)
        wanted = pixels if mode == "RGB" else np.repeat(pixels[:, :, None], 3, axis=2)
        assert np.array_equal(picture.pixels, wanted)


def test_group_4_page_is_native_and_upright(tmp_path):
    import img2pdf

    page = Image.new("1", (320, 200), 1)
    page.paste(0, (10, 10, 120, 60))
    page.save(tmp_path / "fax.tif", compression="group4", dpi=(200, 200))
    (tmp_path / "fax.pdf").write_bytes(img2pdf.convert(str(tmp_path / "fax.tif")))
    (picture,) = open_scan(tmp_path / "fax.pdf")
    assert picture.native
    assert np.array_equal(picture.pixels[:, :, 1] == 255, np.asarray(page))
