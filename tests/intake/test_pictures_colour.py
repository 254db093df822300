"""Every colour mode comes out as the right sRGB, and dpi and origin are read as stored."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image, ImageCms, TiffImagePlugin
from quadrants import UPRIGHT, quadrants, same_colours

from packet.intake.pictures import open_scan


def only(path):
    (picture,) = open_scan(path)
    return picture


@pytest.mark.parametrize(
    ("name", "convert", "options"),
    [
        ("rgb.jpg", "RGB", {"quality": 95}),
        ("progressive.jpg", "RGB", {"quality": 95, "progressive": True}),
        ("palette.png", "P", {}),
        ("rgba.png", "RGBA", {}),
        ("rgb.bmp", "RGB", {}),
        ("palette.gif", "P", {}),
        ("lossy.webp", "RGB", {"quality": 95}),
        ("lzw.tif", "RGB", {"compression": "tiff_lzw"}),
        ("jpeg.tif", "RGB", {"compression": "jpeg", "quality": 95}),
        ("deflate.tif", "RGB", {"compression": "tiff_adobe_deflate"}),
        ("plain.jp2", "RGB", {}),
        ("plain.avif", "RGB", {"quality": 95}),
    ],
)
def test_colours_survive_each_format(tmp_path, name, convert, options):
    image = quadrants().quantize(8) if convert == "P" else quadrants().convert(convert)
    image.save(tmp_path / name, **options)
    picture = only(tmp_path / name)
    assert picture.pixels.shape == (64, 96, 3)
    assert same_colours(picture.pixels)


@pytest.mark.parametrize(
    "name", ["cmyk.jpg", "cmyk.tif"]
)  # a JPEG of four inks is stored inverted by convention (Adobe Technical Note 5116)
def test_cmyk_is_shown_as_its_inks_look(tmp_path, name):
    inks = np.zeros((32, 64, 4), np.uint8)
    inks[:, 32:] = (0, 255, 255, 0)  # magenta and yellow make red
    Image.fromarray(inks, "CMYK").save(tmp_path / name)
    pixels = only(tmp_path / name).pixels
    assert (pixels[16, 8] >= 250).all()  # no ink is white paper
    red, green, blue = pixels[16, 56]
    assert red > 200
    assert max(green, blue) < 60


def test_grey_has_three_equal_channels(tmp_path):
    Image.fromarray(np.arange(0, 256, 4, np.uint8)[None].repeat(16, 0)).save(tmp_path / "g.png")
    pixels = only(tmp_path / "g.png").pixels
    assert (pixels[:, :, 0] == pixels[:, :, 1]).all()
    assert (pixels[0, :, 2] == np.arange(0, 256, 4)).all()


def test_16_bit_grey_is_scaled_not_clipped(tmp_path):
    """PNG specification 13.12: output = floor(input * 255 / 65535 + 0.5)."""
    values = np.array([[0, 1, 128, 129, 257, 32768, 65407, 65535]], np.uint16).repeat(8, 0)
    wanted = np.floor(values.astype(float) * 255 / 65535 + 0.5).astype(np.uint8)
    for name in ("deep.png", "deep.tif"):
        Image.fromarray(values).save(tmp_path / name)
        assert (only(tmp_path / name).pixels[:, :, 1] == wanted).all(), name


def tag(path, number):
    with Image.open(path) as image:
        return image.tag_v2[number]


def test_16_bit_grey_where_white_is_zero(tmp_path):
    """TIFF 6.0, PhotometricInterpretation 0: 0 is white, the largest value black."""
    values = np.array([[0, 65535]], np.uint16).repeat(8, 0).repeat(8, 1)
    tags = TiffImagePlugin.ImageFileDirectory_v2()
    tags[262] = 0
    Image.fromarray(values).save(tmp_path / "inverted.tif", tiffinfo=tags)
    assert tag(tmp_path / "inverted.tif", 262) == 0
    assert only(tmp_path / "inverted.tif").pixels[0, 0, 0] == 255


def test_bilevel_group_4(tmp_path):
    bits = Image.new("1", (64, 32), 1)
    bits.paste(0, (0, 0, 32, 32))
    bits.save(tmp_path / "fax.tif", compression="group4", dpi=(300, 300))
    picture = only(tmp_path / "fax.tif")
    assert picture.pixels[5, 5].tolist() == [0, 0, 0]
    assert picture.pixels[5, 60].tolist() == [255, 255, 255]
    assert picture.dpi == (300, 300)
    assert picture.source == "scanner"


@pytest.mark.parametrize("mode", ["RGBA", "LA", "PA", "tRNS", "tRNS-grey", "gif"])
def test_what_is_transparent_lies_on_white(tmp_path, mode):
    path = tmp_path / "clear.png"
    if mode == "tRNS":  # palette entry 0 is transparent
        image = Image.new("P", (16, 16), 0)
        image.putpalette([10, 20, 30] * 256)
        image.save(path, transparency=0)
    elif mode == "tRNS-grey":
        Image.new("L", (16, 16), 40).save(path, transparency=40)
    elif mode == "gif":
        path = tmp_path / "clear.gif"
        Image.new("P", (16, 16), 0).save(path, transparency=0)
    else:
        alpha = Image.new("RGBA", (16, 16), (10, 20, 30, 0))
        alpha.convert("LA" if mode == "LA" else "RGBA").save(path)
    assert (only(path).pixels == 255).all()


def test_half_transparent_is_mixed_with_white(tmp_path):
    Image.new("RGBA", (16, 16), (0, 100, 200, 128)).save(tmp_path / "half.png")
    # alpha compositing, PNG specification 13.16: value * a + 255 * (1 - a)
    wanted = [round(value * 128 / 255 + 255 * 127 / 255) for value in (0, 100, 200)]
    assert only(tmp_path / "half.png").pixels[3, 3].tolist() == wanted


def profile(swap=False):
    """A profile as bytes: Lab's own for a broken fit, or sRGB's."""
    space = ImageCms.createProfile("LAB" if swap else "sRGB")
    return ImageCms.ImageCmsProfile(space).tobytes()


@pytest.mark.parametrize("icc", [b"", b"nonsense", profile(), profile(swap=True)])
def test_a_useless_profile_is_set_aside(tmp_path, icc):
    quadrants().save(tmp_path / "p.jpg", icc_profile=icc, quality=95, subsampling=0)
    assert same_colours(only(tmp_path / "p.jpg").pixels)


def test_a_profile_is_applied(tmp_path):
    """A linear-light grey profile: 0.2140 linear is 50 % sRGB (IEC 61966-2-1), so 55 -> 128."""
    data = gamma_grey_profile(1.0)
    Image.new("L", (16, 16), 55).save(tmp_path / "linear.png", icc_profile=data)
    pixels = only(tmp_path / "linear.png").pixels
    assert abs(int(pixels[8, 8, 0]) - 128) <= 2


def gamma_grey_profile(gamma):
    """The smallest ICC.1 version 2 grey profile: white point and one tone curve."""
    import struct

    def s15(value):
        return struct.pack(">i", round(value * 65536))

    white = b"XYZ \0\0\0\0" + s15(0.9642) + s15(1.0) + s15(0.8249)
    curve = b"curv\0\0\0\0" + struct.pack(">IH", 1, round(gamma * 256)) + b"\0\0"
    text = b"desc\0\0\0\0" + struct.pack(">I", 5) + b"grey\0" + bytes(8 + 2 + 1 + 67)
    text += bytes(-len(text) % 4)
    tags, body, at = b"", b"", 128 + 4 + 3 * 12
    for name, data in ((b"wtpt", white), (b"kTRC", curve), (b"desc", text)):
        tags += name + struct.pack(">II", at + len(body), len(data))
        body += data
    head = struct.pack(">I4sI4s4s4s", 0, b"lcms", 0x02100000, b"mntr", b"GRAY", b"XYZ ")
    head += struct.pack(">6H", 2026, 1, 1, 0, 0, 0) + b"acsp" + bytes(28)
    head += s15(0.9642) + s15(1.0) + s15(0.8249)
    whole = head.ljust(128, b"\0") + struct.pack(">I", 3) + tags + body
    return struct.pack(">I", len(whole)) + whole[4:]


# --- resolution, origin, further pictures ---------------------------------------------------


def test_tiff_resolution_units(tmp_path):
    """TIFF 6.0, ResolutionUnit: 1 none, 2 inch, 3 centimetre (1 inch = 2.54 cm)."""
    for unit, wanted in ((1, None), (2, (118, 118)), (3, (299.72, 299.72))):
        tags = TiffImagePlugin.ImageFileDirectory_v2()
        tags[282], tags[283], tags[296] = 118.0, 118.0, unit
        quadrants().save(tmp_path / "r.tif", tiffinfo=tags)
        found = only(tmp_path / "r.tif").dpi
        assert found == (pytest.approx(wanted) if wanted else None)


@pytest.mark.parametrize(("unit", "wanted"), [(0, None), (1, (120, 120)), (2, (304.8, 304.8))])
def test_jfif_density_units(tmp_path, unit, wanted):
    """JFIF 1.02 (ITU-T T.871): units 0 is an aspect ratio, 1 dots per inch, 2 per centimetre."""
    buffer = io.BytesIO()
    quadrants().save(buffer, "JPEG")
    data = bytearray(buffer.getvalue())
    assert data[6:11] == b"JFIF\0"
    data[13] = unit
    data[14:18] = (120).to_bytes(2, "big") * 2
    (tmp_path / "density.jpg").write_bytes(data)
    assert only(tmp_path / "density.jpg").dpi == (pytest.approx(wanted) if wanted else None)


def test_png_resolution_is_per_metre(tmp_path):
    """PNG specification, pHYs: pixels per metre; 11811 is 300 dpi."""
    quadrants().save(tmp_path / "d.png", dpi=(300, 300))
    assert only(tmp_path / "d.png").dpi == pytest.approx((300, 300), abs=0.02)


def with_exif(path, exposure, dpi):
    exif = Image.Exif()
    exif[271], exif[272] = "Maker", "Model"
    if exposure:
        exif.get_ifd(0x8769)[33434] = 0.01
    quadrants().save(path, exif=exif, dpi=dpi)


def test_a_flatbed_may_name_its_maker_but_only_a_camera_exposes(tmp_path):
    with_exif(tmp_path / "photo.jpg", True, (300, 300))
    with_exif(tmp_path / "flatbed.jpg", False, (300, 300))
    with_exif(tmp_path / "phone.jpg", False, (72, 72))
    quadrants().save(tmp_path / "screen.png", dpi=(96, 96))
    found = [only(path).source for path in sorted(tmp_path.iterdir())]
    assert found == ["scanner", "camera", "camera", "unknown"]


def test_a_multi_page_tiff_is_several_pages(tmp_path):
    pages = [Image.new("L", (40, 30 + number), 50 * number) for number in range(1, 5)]
    pages[0].save(tmp_path / "m.tif", save_all=True, append_images=pages[1:])
    found = list(open_scan(tmp_path / "m.tif"))
    assert [picture.page for picture in found] == [1, 2, 3, 4]
    assert [picture.height_px for picture in found] == [31, 32, 33, 34]
    assert [int(picture.pixels[5, 5, 0]) for picture in found] == [50, 100, 150, 200]
    assert not any(picture.more_pictures for picture in found)


def test_a_reduced_copy_in_a_tiff_is_no_page(tmp_path):
    """TIFF 6.0, NewSubfileType bit 0: a reduced-resolution version of another image."""
    page, preview = quadrants(), quadrants(32, 32)
    tags = TiffImagePlugin.ImageFileDirectory_v2()
    tags[254] = 1
    preview.encoderinfo = {"tiffinfo": tags}
    page.save(tmp_path / "p.tif", save_all=True, append_images=[preview])
    with Image.open(tmp_path / "p.tif") as image:
        assert image.n_frames == 2
    assert [p.width_px for p in open_scan(tmp_path / "p.tif")] == [96]


@pytest.mark.parametrize("name", ["a.gif", "a.png", "a.webp"])
def test_only_the_first_picture_of_an_animation_is_a_page(tmp_path, name):
    other = Image.new("RGB", (96, 64), (1, 2, 3))
    quadrants().save(tmp_path / name, save_all=True, append_images=[other], duration=100)
    picture = only(tmp_path / name)
    assert picture.more_pictures
    assert same_colours(picture.pixels, tolerance=20)


def test_mpo_first_picture_only(tmp_path):
    quadrants().save(tmp_path / "s.mpo", save_all=True, append_images=[Image.new("RGB", (96, 64))])
    picture = only(tmp_path / "s.mpo")
    assert picture.more_pictures
    assert same_colours(picture.pixels, tolerance=25)


def test_a_damaged_second_picture_does_not_cost_the_first(tmp_path):
    quadrants().save(tmp_path / "s.mpo", save_all=True, append_images=[Image.new("RGB", (96, 64))])
    data = (tmp_path / "s.mpo").read_bytes()
    second = data.rindex(b"\xff\xd8\xff")
    (tmp_path / "d.mpo").write_bytes(data[:second] + bytes(len(data) - second))
    assert same_colours(only(tmp_path / "d.mpo").pixels, tolerance=25)


def test_a_small_second_picture_in_an_mpo_is_a_preview_or_gain_map(tmp_path):
    quadrants().save(tmp_path / "s.mpo", save_all=True, append_images=[Image.new("RGB", (32, 32))])
    assert not only(tmp_path / "s.mpo").more_pictures


def test_heic_with_several_pictures(tmp_path):
    import pillow_heif

    heif = pillow_heif.from_pillow(quadrants(128, 64))
    heif.add_from_pillow(Image.new("RGB", (64, 64)))
    heif.save(tmp_path / "burst.heic", quality=90, chroma=444)
    picture = only(tmp_path / "burst.heic")
    assert picture.more_pictures
    assert same_colours(picture.pixels, UPRIGHT)
