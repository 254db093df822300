"""Plain pictures come out as Pillow, the other reader at hand, has them: bit for bit."""

import io
import zlib

import numpy as np
import pytest
from PIL import Image, ImageCms, ImageOps

from packet.errors import ScanError
from packet.intake.pictures import open_scan


def drawn(mode="RGB", size=(150, 101)):
    rng = np.random.default_rng(7)
    y, x = np.mgrid[: size[1], : size[0]]
    colours = np.stack([x * 255 // size[0], y * 255 // size[1], (x + y) % 256], axis=2)
    noise = rng.integers(0, 40, (*colours.shape[:2], 1))
    return Image.fromarray(np.clip(colours + noise, 0, 255).astype(np.uint8)).convert(mode)


def opened(folder, data, name="scan"):
    path = folder / name
    path.write_bytes(data)
    return next(open_scan(path)).pixels


def as_pillow(data):
    """(h, w, 3) by Pillow alone: EXIF's turn (CIPA DC-008, tag 274) by its own function."""
    with Image.open(io.BytesIO(data)) as image:
        return np.asarray(ImageOps.exif_transpose(image).convert("RGB"))


def saved(image, kind, *, turn=None, **how):
    out = io.BytesIO()
    if turn is not None:
        how["exif"] = Image.Exif()
        how["exif"][274] = turn
    image.save(out, kind, **how)
    return out.getvalue()


@pytest.mark.parametrize("turn", range(1, 9))
@pytest.mark.parametrize("kind", ["JPEG", "PNG"])
def test_every_turn(tmp_path, kind, turn):
    data = saved(drawn(), kind, turn=turn)
    pixels = opened(tmp_path, data)
    assert pixels.flags["C_CONTIGUOUS"]
    assert np.array_equal(pixels, as_pillow(data))


@pytest.mark.parametrize(
    "how",
    [{"subsampling": 0}, {"subsampling": 1}, {"subsampling": 2, "progressive": True},
     {"quality": 20}, {"quality": 98, "optimize": True}],
)  # fmt: skip
@pytest.mark.parametrize("mode", ["RGB", "L"])
def test_every_jpeg(tmp_path, mode, how):
    data = saved(drawn(mode), "JPEG", **how)
    assert np.array_equal(opened(tmp_path, data), as_pillow(data))


@pytest.mark.parametrize("mode", ["RGB", "L", "P", "1", "RGBA", "LA"])
def test_every_png(tmp_path, mode):
    data = saved(drawn(mode), "PNG")
    assert np.array_equal(opened(tmp_path, data), as_pillow(data))


def test_an_srgb_profile_and_a_gamma_change_nothing(tmp_path):
    bare = saved(drawn(), "PNG")
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    gamma = bare[:33] + png_chunk(b"gAMA", (100_000).to_bytes(4, "big")) + bare[33:]
    for data in (saved(drawn(), "PNG", icc_profile=profile), gamma):
        assert np.array_equal(opened(tmp_path, data), opened(tmp_path, bare))


def png_chunk(name, data):
    return len(data).to_bytes(4, "big") + name + data + zlib.crc32(name + data).to_bytes(4, "big")


def test_a_turn_that_follows_the_pixels_of_a_png_counts(tmp_path):
    """ISO/IEC 15948 lets eXIf stand after IDAT."""
    turned = Image.Exif()
    turned[274] = 6
    data = saved(drawn(), "PNG")
    late = data[:-12] + png_chunk(b"eXIf", turned.tobytes()[6:]) + data[-12:]
    assert opened(tmp_path, late).shape == (150, 101, 3)


def test_a_png_with_a_wrong_checksum_is_refused(tmp_path):
    data = bytearray(saved(drawn(), "PNG"))
    data[len(data) // 2] ^= 0xFF
    with pytest.raises(ScanError):
        opened(tmp_path, bytes(data))
