"""Picture files, page by page: what their headers say, then their pixels."""

from __future__ import annotations

import contextlib
import io
import math
import struct
from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any, BinaryIO

from packet.errors import ScanError, ScanLimitError
from packet.intake.colours import array_to_rgb, to_rgb
from packet.intake.jpeg_data import check_length, confirm, cut_short, doubt, picture_end
from packet.intake.overheard import overheard
from packet.intake.picture import Limits, Picture, Source
from packet.intake.plain import decoded, ends_plainly, is_plain, upright
from packet.intake.sniff import FileType

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray
    from PIL import Image

    Pixels = NDArray[np.uint8]

_FORMATS: dict[FileType, str] = {
    "jpeg": "JPEG",
    "png": "PNG",
    "tiff": "TIFF",
    "webp": "WEBP",
    "gif": "GIF",
    "bmp": "BMP",
    "avif": "AVIF",
    "jpeg2000": "JPEG2000",
}

# EXIF 2.32 (CIPA DC-008) and TIFF 6.0 tag numbers
_ORIENTATION, _MAKE, _MODEL = 274, 271, 272
_X_RESOLUTION, _Y_RESOLUTION, _RESOLUTION_UNIT = 282, 283, 296
_EXIF_IFD = 0x8769
_EXPOSURE_TAGS = (33434, 33437, 34855, 37386)  # ExposureTime, FNumber, ISO, FocalLength
_NEW_SUBFILE, _SUBFILE = 254, 255
_COMPRESSION, _GROUP_4 = 259, 4
_STRIPS, _STRIP_BYTES = 273, 279

_SCANNER_DPI = 100.0  # design: below this a dpi is a screen's or nothing (common practice)


def check_pixels(width: int, height: int, limits: Limits) -> None:
    """Refuse a page with no pixels or more than the limit; ScanError or ScanLimitError."""
    if width < 1 or height < 1:
        raise ScanError("holds an empty picture.", "Scan it again.")
    if max(width, height) > limits.side_pixels:
        raise ScanLimitError(
            f"is {max(width, height)} pixels long; at most {limits.side_pixels} are read.",
            "Scan it again at 300 dpi.",
        )
    if width * height > limits.page_pixels:
        raise ScanLimitError(
            f"has {width} × {height} pixels ({width * height / 1e6:.0f} megapixels); at most "
            f"{limits.page_pixels / 1e6:.0f} megapixels a page are read.",
            "Scan it again at 300 dpi.",
        )


def check_pages(count: int, limits: Limits, *, more: bool = False) -> None:
    """Refuse a file without pages or with more than the limit."""
    if count < 1:
        raise ScanError("has no pages.", "Scan it again, or save it as a plain JPEG or PDF.")
    if count > limits.pages:
        raise ScanLimitError(
            f"has {'more than ' if more else ''}{limits.pages if more else count} pages; "
            f"at most {limits.pages} are read.",
            "Split it into several files, one document in each.",
        )


# --- files that Pillow reads ---------------------------------------------------------------


def raster_pages(file: BinaryIO, kind: FileType, *, limits: Limits) -> Iterator[Picture]:
    """The pages of a picture file: all of a TIFF, else the first picture only."""
    if kind == "avif":
        _need_avif()
        check_boxes(file)
    if kind == "tiff":
        yield from _tiff_pages(file, limits)
    elif kind == "jpeg":
        yield _jpeg_page(file.read(), limits)
    else:
        yield _only_page(file, kind, limits)


def _opened(file: BinaryIO, kind: FileType) -> Image.Image:
    """The header read, nothing decoded. Pillow's own pixel limit is set aside for this one call:
    ours follows at once, and says its number."""
    from PIL import Image, UnidentifiedImageError

    if kind == "jpeg":  # as Image.open does, which first imports the readers of five formats
        from PIL.JpegImagePlugin import jpeg_factory

        try:
            return jpeg_factory(file)
        except (SyntaxError, IndexError, TypeError, struct.error):
            raise UnidentifiedImageError from None
    before, Image.MAX_IMAGE_PIXELS = Image.MAX_IMAGE_PIXELS, None
    try:
        return Image.open(file, formats=[_FORMATS[kind]])
    finally:
        Image.MAX_IMAGE_PIXELS = before


def _only_page(file: BinaryIO, kind: FileType, limits: Limits) -> Picture:
    with _opened(file, kind) as image:
        check_pixels(*image.size, limits)
        more = getattr(image, "is_animated", False)
        if kind != "png" or more or not is_plain(image):
            return _picture(image, kind, page=1, more=more)
        file.seek(0)
        data = file.read()
        stored = decoded(data) if ends_plainly(data) else None
        if stored is not None:
            return _picture(image, kind, page=1, more=False, stored=stored)
    file.seek(0)
    with _opened(file, kind) as image:
        return _picture(image, kind, page=1, more=False)


def _jpeg_page(data: bytes, limits: Limits) -> Picture:
    picture_end(data)
    picture, fingerprint, plain = _jpeg_picture(data, limits)
    if fingerprint is not None:  # the first decoded copy is gone by now
        confirm(data, fingerprint, decode=decoded if plain else _loaded)
    return picture


def _loaded(data: bytes) -> Image.Image:
    with _opened(io.BytesIO(data), "jpeg") as image:
        image.load()
        return image


def _jpeg_picture(data: bytes, limits: Limits) -> tuple[Picture, int | None, bool]:
    """(the picture, its fingerprint where it is in doubt, was it decoded without Pillow)."""
    with _opened(io.BytesIO(data), "jpeg") as image:
        check_pixels(*image.size, limits)
        check_length(data, image.size)
        progressive = bool(image.info.get("progressive"))
        if progressive:  # libjpeg holds all coefficients: as much memory again
            check_pixels(*image.size, replace(limits, page_pixels=limits.page_pixels // 2))
        more = image.format == "MPO" and _more_photos(data)
        stored = decoded(data) if is_plain(image) else None
        picture = _picture(image, "jpeg", page=1, more=more, stored=stored)
        found = doubt(image if stored is None else stored, progressive=progressive)
        return picture, found, stored is not None


def _more_photos(data: bytes) -> bool:
    """Whether an MPO holds a second photo; previews and gain maps are smaller than the first."""
    with contextlib.suppress(Exception), _opened(io.BytesIO(data), "jpeg") as image:
        size = image.size
        for frame in range(1, min(getattr(image, "n_frames", 1), 16)):
            image.seek(frame)
            if image.size == size:
                return True
    return False  # also where the further pictures are damaged: they are no pages anyway


def _tiff_pages(file: BinaryIO, limits: Limits) -> Iterator[Picture]:
    with _opened(file, "tiff") as image:
        for page, frame in enumerate(_tiff_frames(image, limits), start=1):
            image.seek(frame)
            check_pixels(*image.size, limits)
            tags = dict(image.tag_v2)  # type: ignore[attr-defined]
            with overheard() as heard:
                picture = _picture(image, "tiff", page=page, more=False)
            if tags.get(_COMPRESSION) == _GROUP_4:
                _check_group_4(file, tags, b"".join(heard))
            yield picture


def _check_group_4(file: BinaryIO, tags: Mapping[int, Any], heard: bytes) -> None:
    """Refuse damaged ITU-T T.6 data: each line is coded by the one before it, so that all after
    a fault is wrong, and libtiff goes on. No code holds 24 zero bits, which end the picture."""
    damaged = b"Fax4Decode" in heard
    at = file.tell()
    for start, length in zip(tags.get(_STRIPS, ()), tags.get(_STRIP_BYTES, ()), strict=False):
        file.seek(start)
        damaged = damaged or bytes(3) in file.read(length).rstrip(b"\0")
    file.seek(at)
    if damaged:
        raise ScanError("is damaged: its fax data do not decode.", "Scan it again.")


def _need_avif() -> None:
    from PIL import features

    if not features.check("avif"):
        raise ScanError("is an AVIF picture, which this Pillow cannot read.", "Save it as JPEG.")


def _tiff_frames(image: Image.Image, limits: Limits) -> list[int]:
    """The frames that are pages: not reduced copies and not masks (TIFF 6.0, NewSubfileType)."""
    frames = []
    frame = 0
    while True:
        tags = image.tag_v2  # type: ignore[attr-defined]
        if not (_number(tags.get(_NEW_SUBFILE)) & 5 or _number(tags.get(_SUBFILE)) == 2):
            frames.append(frame)
        frame += 1
        if frame > 2 * limits.pages or len(frames) > limits.pages:
            check_pages(limits.pages + 1, limits, more=True)
        try:
            image.seek(frame)
        except EOFError:
            break
    if not frames:
        raise ScanError("holds only a preview (a camera's raw file?).", "Save it as JPEG.")
    return frames


def _number(value: object) -> int:
    return value if isinstance(value, int) else 0


def _picture(
    image: Image.Image, kind: FileType, *, page: int, more: bool, stored: Pixels | None = None
) -> Picture:
    """``stored``: the pixels, where they have been decoded without the image's help."""
    from PIL.Image import Image as AnyImage

    # a PNG file would first be decoded, lest something follow its pixels
    tags = image.getexif() if stored is None else AnyImage.getexif(image)
    stored_turn = tags.get(_ORIENTATION)
    dpi = _dpi(image, kind, tags)
    camera = _source(tags, dpi)
    if stored is None:
        image.load()
        # Pillow turns a TIFF while loading it and then drops the tag: ask again.
        turn = image.getexif().get(_ORIENTATION)
        pixels = to_rgb(image, turn if isinstance(turn, int) else 1)
    else:
        pixels = array_to_rgb(stored, "RGB", image.info.get("icc_profile"))
        pixels = upright(pixels, stored_turn if isinstance(stored_turn, int) else 1)
    if dpi is not None and stored_turn in (5, 6, 7, 8):
        dpi = (dpi[1], dpi[0])
    return Picture(pixels=pixels, dpi=dpi, source=camera, page=page, more_pictures=more)


def _source(tags: Any, dpi: tuple[float, float] | None) -> Source:
    """What made the picture. A flatbed driver too writes Make and Model, but no exposure."""
    exposure = tags.get_ifd(_EXIF_IFD)
    if any(tag in exposure or tag in tags for tag in _EXPOSURE_TAGS):
        return "camera"
    if dpi is not None and min(dpi) >= _SCANNER_DPI:
        return "scanner"
    return "camera" if _MAKE in tags or _MODEL in tags else "unknown"


def _dpi(image: Image.Image, kind: FileType, tags: Any) -> tuple[float, float] | None:
    """Stored pixels per inch (x, y), None where the file gives none or only an aspect."""
    info = image.info
    if kind == "jpeg" and info.get("jfif_unit") in (1, 2):
        per_inch = 1.0 if info["jfif_unit"] == 1 else 2.54
        x, y = info["jfif_density"]
        found = _sane_dpi(x, y, per_inch)
        if found is not None:
            return found
    if kind in ("png", "bmp", "jpeg2000") and "dpi" in info:
        x, y = info["dpi"]
        return _sane_dpi(x, y, 1.0)
    unit = tags.get(_RESOLUTION_UNIT, 2)  # TIFF 6.0: inch is the default; 1 is no unit
    if unit not in (2, 3):
        return None
    x, y = tags.get(_X_RESOLUTION), tags.get(_Y_RESOLUTION)
    return _sane_dpi(x, y if y is not None else x, 1.0 if unit == 2 else 2.54)


def _sane_dpi(x: Any, y: Any, per_inch: float) -> tuple[float, float] | None:
    try:
        pair = (float(x) * per_inch, float(y) * per_inch)
    except (TypeError, ValueError, ZeroDivisionError):
        return None
    if all(math.isfinite(value) and 10 <= value <= 20_000 for value in pair):
        return pair
    return None


def check_boxes(file: BinaryIO) -> None:
    """Refuse a file whose boxes (ISO/IEC 14496-12, 4.2) end after the file does."""
    size = file.seek(0, io.SEEK_END)
    at = 0
    while at + 8 <= size:
        file.seek(at)
        head = file.read(16)
        length = int.from_bytes(head[:4], "big")
        if length == 1:
            length = int.from_bytes(head[8:16], "big")
        at = size if length == 0 else at + max(length, 8)
    file.seek(0)
    if at > size:
        raise cut_short()


# --- HEIF ----------------------------------------------------------------------------------


def heif_pages(file: BinaryIO, *, limits: Limits) -> Iterator[Picture]:
    """The primary picture of a HEIF file; its turn (irot, imir) is the decoder's."""
    import numpy as np
    import pillow_heif
    from PIL import Image

    pillow_heif.options.DECODE_THREADS = 1  # each thread would take address space of its own
    pillow_heif.options.THUMBNAILS = False
    pillow_heif.options.DEPTH_IMAGES = False
    pillow_heif.options.AUX_IMAGES = False
    check_boxes(file)
    heif = pillow_heif.open_heif(file, convert_hdr_to_8bit=True)
    first = heif[heif.primary_index]
    info: dict[str, Any] = first.info
    if not info.get("primary"):
        raise ScanError("has lost its main picture.", "Open it on the phone and save it as JPEG.")
    check_pixels(*first.size, limits)
    tags = Image.Exif()
    if info.get("exif"):
        tags.load(info["exif"])
    array, mode = np.asarray(first), first.mode
    if array.dtype != np.uint8:  # grey of 10 or 12 bits, which the decoder scales to 16
        array, mode = (array >> 8).astype(np.uint8), "L"
    pixels = array_to_rgb(array, mode, info.get("icc_profile"))
    yield Picture(
        pixels=pixels,
        dpi=_sane_dpi(tags.get(_X_RESOLUTION), tags.get(_Y_RESOLUTION), 1.0),
        source="camera",
        more_pictures=len(heif) > 1,
    )
