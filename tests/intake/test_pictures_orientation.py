"""Pictures come out upright: EXIF orientation of CIPA DC-008 / TIFF 6.0 tag 274, all values."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image
from quadrants import STORED_FROM_UPRIGHT, quadrants, same_colours

from packet.intake.pictures import open_scan

WRITERS = {
    "jpeg": {"quality": 95, "subsampling": 0},
    "png": {},
    "tiff": {"compression": "tiff_lzw"},
    "webp": {"lossless": True},
}


def save_turned(path, kind, value, **more):
    stored = STORED_FROM_UPRIGHT[value](np.asarray(quadrants()))
    exif = Image.Exif()
    exif[274] = value
    image = Image.fromarray(np.ascontiguousarray(stored))
    image.save(path, kind.upper(), exif=exif, **WRITERS[kind], **more)


@pytest.mark.parametrize("kind", WRITERS)
@pytest.mark.parametrize("value", range(1, 9))
def test_every_orientation_comes_out_upright(tmp_path, kind, value):
    path = tmp_path / "turned"
    save_turned(path, kind, value)
    (picture,) = open_scan(path)
    assert (picture.width_px, picture.height_px) == (96, 64)
    assert same_colours(picture.pixels)
    assert picture.pixels.flags.c_contiguous
    assert picture.pixels.dtype == np.uint8


@pytest.mark.parametrize("value", range(1, 9))
def test_many_bands_make_the_same_picture(tmp_path, monkeypatch, value):
    path = tmp_path / "turned.png"
    save_turned(path, "png", value)
    (whole,) = open_scan(path)
    monkeypatch.setattr("packet.intake.colours._BAND_PIXELS", 700)
    (banded,) = open_scan(path)
    assert np.array_equal(whole.pixels, banded.pixels)


@pytest.mark.parametrize(("value", "dpi"), [(1, (300, 150)), (3, (300, 150)), (6, (150, 300))])
@pytest.mark.parametrize("kind", ["jpeg", "tiff"])
def test_dpi_is_turned_with_the_picture(tmp_path, kind, value, dpi):
    path = tmp_path / "turned"
    save_turned(path, kind, value, dpi=(300, 150))
    (picture,) = open_scan(path)
    assert picture.dpi == pytest.approx(dpi, abs=0.5)
    assert picture.source == "scanner"


@pytest.mark.parametrize("value", [0, 9, 200])
def test_an_orientation_that_means_nothing_leaves_the_picture(tmp_path, value):
    exif = Image.Exif()
    exif[274] = value
    quadrants().save(tmp_path / "odd.jpg", exif=exif, quality=95, subsampling=0)
    (picture,) = open_scan(tmp_path / "odd.jpg")
    assert same_colours(picture.pixels)


def test_heic_is_not_turned_twice(tmp_path):
    """ISO/IEC 23008-12: the turn is irot/imir; an EXIF orientation beside it is not applied."""
    import pillow_heif

    heif = pillow_heif.from_pillow(quadrants(128, 64))
    exif = Image.Exif()
    exif[274] = 6
    heif.save(tmp_path / "phone.heic", quality=90, exif=exif.tobytes(), chroma=444)
    (picture,) = open_scan(tmp_path / "phone.heic")
    assert picture.source == "camera"
    # pillow-heif writes the turn as irot, so that every reader shows 64 x 128
    assert (picture.width_px, picture.height_px) == (64, 128)


@pytest.mark.parametrize(
    "name", ["avif__rot0mir1.avif", "avif__rot3mir0.avif", "avif__hopper.avif"]
)
def test_avif_turn_is_applied_once(corpus_path, name):
    (picture,) = open_scan(corpus_path(f"1-images/pillow/{name}"))
    wanted = (128, 128) if "hopper" in name else (640, 427)
    assert (picture.width_px, picture.height_px) == wanted


def scene(path):
    """A picture as 64 x 64 grey values, 0 to 1: what the corpus compares by."""
    (picture,) = open_scan(path)
    small = Image.fromarray(picture.pixels).convert("L").resize((64, 64), Image.Resampling.BOX)
    return np.asarray(small) / 255.0


@pytest.mark.parametrize(
    "names",
    [
        [f"Landscape_{value}.jpg" for value in (2, 3, 4, 6, 7)],
        [f"Portrait_{value}.jpg" for value in (0, 4, 5, 7, 8)],
    ],
    ids=["landscape", "portrait"],
)
def test_photographs_of_one_scene_agree_in_all_turns(corpus_path, names):
    """exif-orientation-examples (MIT): one scene per value; expected.json gives RMSE <= 0.017."""
    first, *others = (scene(corpus_path(f"1-images/orient/{name}")) for name in names)
    for other in others:
        assert np.sqrt(np.mean((first - other) ** 2)) <= 0.03
