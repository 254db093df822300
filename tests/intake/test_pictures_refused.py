"""What is no scan, too large, locked or cut short is refused with one sentence and a remedy."""

from __future__ import annotations

import io
import os
import struct
import tracemalloc
import zlib

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, TiffImagePlugin
from quadrants import quadrants

from packet.errors import ScanError, ScanLimitError
from packet.intake.picture import Limits
from packet.intake.pictures import open_scan
from packet.intake.sniff import file_type


def refusal(path, **options):
    with pytest.raises(ScanError) as caught:
        list(open_scan(path, **options))
    error = caught.value
    assert error.what
    assert error.what.endswith(".")
    assert error.remedy.endswith(".")
    assert str(path.parent) not in str(error)
    return error


def encoded(image, kind, **options):
    buffer = io.BytesIO()
    image.save(buffer, kind, **options)
    return buffer.getvalue()


@pytest.mark.parametrize(
    "data", [b"", b"only text\n", b"PK\x03\x04 a zip", b"\x89PN", b"\xff\xd8", bytes(5000)]
)
def test_what_is_no_picture_is_not_a_scan(tmp_path, data):
    path = tmp_path / "holiday.jpg"
    path.write_bytes(data)
    assert refusal(path).code == "not-a-scan"


def test_the_name_does_not_matter(tmp_path):
    path = tmp_path / "really.pdf.txt"
    path.write_bytes(encoded(quadrants(), "PNG"))
    assert next(open_scan(path)).width_px == 96


def test_a_folder_and_a_missing_file(tmp_path):
    assert refusal(tmp_path).code == "not-a-scan"
    assert "cannot be opened" in refusal(tmp_path / "gone.jpg").what


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes here")
def test_a_pipe_is_refused_and_never_waited_for(tmp_path):
    os.mkfifo(tmp_path / "pipe.jpg")
    assert "regular file" in refusal(tmp_path / "pipe.jpg").what


def test_a_name_that_no_file_can_have(tmp_path):
    assert "cannot be opened" in refusal(tmp_path / "a\0b.jpg").what


def test_raw_files_of_cameras_are_no_scans(tmp_path):
    """TIFF 6.0, NewSubfileType 1: only a reduced copy; the real picture lies elsewhere."""
    tags = TiffImagePlugin.ImageFileDirectory_v2()
    tags[254] = 1
    quadrants(32, 32).save(tmp_path / "raw.dng", "TIFF", tiffinfo=tags)
    assert "preview" in refusal(tmp_path / "raw.dng").what
    (tmp_path / "raw.cr2").write_bytes(b"II*\0\x10\0\0\0CR\x02\0" + bytes(2000))
    assert refusal(tmp_path / "raw.cr2").code == "not-a-scan"


def test_file_bytes_limit(tmp_path):
    path = tmp_path / "big.jpg"
    with path.open("wb") as file:
        file.write(b"\xff\xd8\xff")
        file.truncate(3_000_000)
    error = refusal(path, limits=Limits(file_bytes=2_000_000))
    assert isinstance(error, ScanLimitError)
    assert "3 MB" in error.what
    assert "2 MB" in error.what


def png_header(width, height):
    """A PNG that says it is huge and holds a few bytes (PNG specification, 11.2.2)."""

    def chunk(name, data):
        return (
            struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))
        )

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    body = zlib.compress(bytes(100_000))
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", body) + chunk(b"IEND", b"")


def test_a_decompression_bomb_is_refused_before_it_is_decoded(tmp_path):
    path = tmp_path / "bomb.png"
    path.write_bytes(png_header(30_000, 30_000))
    tracemalloc.start()
    error = refusal(path)
    assert tracemalloc.get_traced_memory()[1] < 20_000_000
    tracemalloc.stop()
    assert isinstance(error, ScanLimitError)
    assert "30000 × 30000 pixels (900 megapixels)" in error.what
    assert "120 megapixels" in error.what
    assert Image.MAX_IMAGE_PIXELS is not None


def test_a_side_that_nothing_can_warp(tmp_path):
    (tmp_path / "strip.png").write_bytes(png_header(40_000, 10))
    assert "40000 pixels long; at most 32000" in refusal(tmp_path / "strip.png").what


def test_page_limit(tmp_path):
    pages = [Image.new("1", (8, 8)) for _ in range(6)]
    pages[0].save(tmp_path / "many.tif", save_all=True, append_images=pages[1:])
    error = refusal(tmp_path / "many.tif", limits=Limits(pages=5))
    assert isinstance(error, ScanLimitError)
    assert "at most 5" in error.what
    assert len(list(open_scan(tmp_path / "many.tif", limits=Limits(pages=6)))) == 6


def test_nothing_is_decoded_before_it_is_asked_for(tmp_path):
    pages = [Image.new("1", (8, 8)) for _ in range(3)]
    pages[0].save(tmp_path / "lazy.tif", save_all=True, append_images=pages[1:])
    scan = open_scan(tmp_path / "lazy.tif")
    assert next(scan).page == 1
    scan.close()


def test_messages_hold_nothing_from_the_file(tmp_path):
    data = encoded(quadrants(), "PNG").replace(b"IDAT", b"SECR")
    (tmp_path / "odd.png").write_bytes(data)
    assert "SECR" not in str(refusal(tmp_path / "odd.png"))


# --- cut short -----------------------------------------------------------------------------


def drawn():
    """A textured page: no flat end that a decoder could invent."""
    rows, columns = np.mgrid[0:120, 0:160]
    pattern = (rows * 7 + columns * 13 + (rows * columns) % 31 * 5) % 256
    return Image.fromarray(np.dstack([pattern, 255 - pattern, pattern // 2]).astype(np.uint8))


def white_below():
    """The same with an empty margin at its end, as scans have."""
    image = drawn()
    image.paste((255, 255, 255), (0, 80, 160, 120))
    return image


FILES = {
    "jpeg": encoded(drawn(), "JPEG", quality=85),
    "jpeg, white below": encoded(white_below(), "JPEG", quality=85),
    "jpeg, progressive": encoded(drawn(), "JPEG", quality=85, progressive=True),
    "jpeg, grey": encoded(drawn().convert("L"), "JPEG", quality=85),
    "jpeg, optimised": encoded(white_below(), "JPEG", quality=85, optimize=True),
    "png": encoded(drawn(), "PNG"),
    "png, palette": encoded(drawn().convert("P"), "PNG"),
}


@pytest.fixture(scope="module")
def whole(tmp_path_factory):
    folder = tmp_path_factory.mktemp("cut")
    pictures = {}
    for kind, data in FILES.items():
        (folder / "whole").write_bytes(data)
        pictures[kind] = next(open_scan(folder / "whole")).pixels
    return folder, pictures


@pytest.mark.parametrize("kind", FILES)
@given(part=st.floats(0, 1, exclude_max=True))
@settings(max_examples=60, deadline=None, derandomize=True)
def test_any_truncation_is_refused_or_changes_nothing(whole, kind, part):
    folder, pictures = whole
    data = FILES[kind]
    path = folder / "cut"
    path.write_bytes(data[: int(len(data) * part)])
    try:
        found = next(open_scan(path)).pixels
    except ScanError:
        return
    assert np.array_equal(found, pictures[kind])


@pytest.mark.parametrize("kind", [name for name in FILES if name.startswith("jpeg")])
@pytest.mark.parametrize("part", [0.3, 0.6, 0.9])
def test_a_jpeg_closed_after_the_cut_is_refused_too(tmp_path, kind, part):
    """Some programs end a partial copy with the end marker; decoders then fill with grey."""
    data = FILES[kind]
    (tmp_path / "cut.jpg").write_bytes(data[: int(len(data) * part)] + b"\xff\xd9")
    assert "cut short" in refusal(tmp_path / "cut.jpg").what


@pytest.mark.parametrize("kind", FILES)
def test_bytes_after_the_end_do_no_harm(tmp_path, whole, kind):
    (tmp_path / "tail").write_bytes(FILES[kind] + b"tail of a motion photo" * 50)
    assert np.array_equal(next(open_scan(tmp_path / "tail")).pixels, whole[1][kind])


@pytest.mark.parametrize("kind", ["TIFF", "WEBP", "GIF", "BMP", "AVIF", "JPEG2000"])
def test_half_a_file_is_refused(tmp_path, kind):
    data = encoded(drawn(), kind)
    (tmp_path / "half").write_bytes(data[: len(data) // 2])
    refusal(tmp_path / "half")


@pytest.mark.parametrize("value", [0x00, 0x55, 0xFF])
def test_damaged_group_4_is_not_a_page_of_streaks(tmp_path, value):
    """ITU-T T.6 has no resynchronisation: libtiff goes on after a bad code and reports success."""
    rng = np.random.default_rng(11)
    blocks = Image.fromarray(rng.random((60, 80)) > 0.6).resize((640, 480))
    blocks.save(tmp_path / "page.tif", compression="group4")
    assert next(open_scan(tmp_path / "page.tif")).width_px == 640
    data = bytearray((tmp_path / "page.tif").read_bytes())
    middle = len(data) // 2
    data[middle : middle + 40] = bytes([value]) * 40
    (tmp_path / "page.tif").write_bytes(data)
    assert "damaged" in refusal(tmp_path / "page.tif").what


def test_half_a_heic_is_refused(tmp_path):
    import pillow_heif

    pillow_heif.from_pillow(drawn()).save(tmp_path / "whole.heic", quality=60)
    data = (tmp_path / "whole.heic").read_bytes()
    (tmp_path / "half.heic").write_bytes(data[: len(data) * 2 // 3])
    assert "cut short" in refusal(tmp_path / "half.heic").what


@given(st.binary(max_size=64))
@settings(max_examples=300, deadline=None, derandomize=True)
def test_any_first_bytes_have_a_type_or_none(head):
    assert file_type(head) in {
        None,
        "jpeg",
        "png",
        "tiff",
        "webp",
        "gif",
        "bmp",
        "heif",
        "avif",
        "jpeg2000",
        "pdf",
    }
