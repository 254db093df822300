"""A decoded Pillow image of any mode to upright 8-bit sRGB, band by band.

Bands keep memory low: beside the decoded image there is the result and nothing else of its size.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, Any

from packet.errors import ScanError
from packet.intake.plain import upright

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray
    from PIL import Image, ImageCms

    Pixels = NDArray[np.uint8]

_BAND_PIXELS = 1 << 21
_PHOTOMETRIC, _BITS = 262, 258  # TIFF 6.0 tag numbers


def to_rgb(image: Image.Image, orientation: int = 1) -> Pixels:
    """A loaded Pillow image as upright (H, W, 3) sRGB; ``orientation`` as EXIF counts it."""
    import numpy as np

    width, height = image.size
    swap = orientation in (5, 6, 7, 8)
    out = np.empty((width, height, 3) if swap else (height, width, 3), dtype=np.uint8)
    convert = _converter(image)
    for top, bottom in _bands(width, height):
        band = convert(image.crop((0, top, width, bottom)))
        _part(out, orientation, top, bottom)[...] = upright(band, orientation)
    return out


def array_to_rgb(array: NDArray[Any], mode: str, profile: bytes | None) -> Pixels:
    """An (H, W, channels) uint8 array of a Pillow mode as (H, W, 3) sRGB."""
    import numpy as np
    from PIL import Image

    height, width = array.shape[:2]
    convert = _Converter(mode, profile)
    if mode == "RGB" and convert.transform is None:
        return np.ascontiguousarray(array)
    out = np.empty((height, width, 3), dtype=np.uint8)
    for top, bottom in _bands(width, height):
        out[top:bottom] = convert(Image.fromarray(array[top:bottom]))
    return out


def _bands(width: int, height: int) -> Iterator[tuple[int, int]]:
    rows = max(1, _BAND_PIXELS // width)
    for top in range(0, height, rows):
        yield top, min(height, top + rows)


def _part(out: Pixels, orientation: int, top: int, bottom: int) -> Pixels:
    """Where stored rows ``top`` to ``bottom`` lie in the upright picture."""
    axis = 1 if orientation in (5, 6, 7, 8) else 0
    length = out.shape[axis]
    if orientation in (3, 4, 6, 7):  # stored row 0 is the last one upright
        top, bottom = length - bottom, length - top
    return out[:, top:bottom] if axis else out[top:bottom]


class _Converter:
    """Band of one mode -> (h, w, 3) sRGB array, transparent parts over white."""

    def __init__(self, mode: str, profile: bytes | None) -> None:
        self.mode = mode
        self.transform = _transform(profile, mode)

    def __call__(self, band: Image.Image) -> Pixels:
        import numpy as np

        alpha = None
        if band.mode in ("RGBA", "LA"):
            alpha = np.asarray(band.getchannel("A"))
            band = band.convert("RGB" if band.mode == "RGBA" else "L")
        if self.transform is not None:
            from PIL import ImageCms

            band = ImageCms.applyTransform(band, self.transform)  # type: ignore[assignment]
        colour = np.asarray(band if band.mode == "RGB" else band.convert("RGB"))
        return colour if alpha is None else _over_white(colour, alpha)


def _over_white(colour: Pixels, alpha: Pixels) -> Pixels:
    import numpy as np

    if alpha.min() == 255:
        return colour
    weight = alpha[:, :, None].astype(np.uint16)
    mixed = colour.astype(np.uint16) * weight + 255 * (255 - weight)
    return ((mixed + 127) // 255).astype(np.uint8)


def _converter(image: Image.Image) -> Callable[[Image.Image], Pixels]:
    mode, profile = image.mode, image.info.get("icc_profile")
    if mode in ("I;16", "I;16L", "I;16B", "I;16N", "I"):
        return _deep_grey(image)
    if mode == "F":
        raise ScanError("holds measurements (floating point), not a picture.", "Save it as PNG.")
    if mode in ("P", "PA", "1", "L", "RGB") and (
        mode == "PA" or image.info.get("transparency") is not None
    ):
        inner = _Converter("RGB", profile)
        return lambda band: inner(band.convert("RGBA"))
    if mode == "P":
        inner = _Converter("RGB", profile)
        return lambda band: inner(band.convert("RGB"))
    if mode in ("RGBX", "RGBa", "La"):
        final = {"RGBX": "RGB", "RGBa": "RGBA", "La": "LA"}[mode]
        inner = _Converter(final, profile)
        return lambda band: inner(band.convert(final))
    return _Converter("L" if mode == "1" else mode, profile)


def _deep_grey(image: Image.Image) -> Callable[[Image.Image], Pixels]:
    """16-bit grey scaled to 8 bit; the number of bits is the file's (TIFF 6.0 tag 258)."""
    import numpy as np

    tags = getattr(image, "tag_v2", {})
    bits = tags.get(_BITS, (16,))
    bits = bits[0] if isinstance(bits, tuple) else bits
    if bits not in (10, 12, 14, 16):
        raise ScanError(f"holds grey values of {bits} bits, not a picture.", "Save it as PNG.")
    inverted = tags.get(_PHOTOMETRIC) == 0
    clear = image.info.get("transparency")

    def convert(band: Image.Image) -> Pixels:
        values = np.asarray(band).astype(np.uint32)
        grey = ((values * 255 + (1 << bits) // 2) // ((1 << bits) - 1)).clip(0, 255)
        grey = 255 - grey if inverted else grey
        if isinstance(clear, int):
            grey = np.where(values == clear, 255, grey)
        return np.repeat(grey.astype(np.uint8)[:, :, None], 3, axis=2)

    return convert


def _transform(profile: bytes | None, mode: str) -> ImageCms.ImageCmsTransform | None:
    """The way from the picture's profile to sRGB; None without one, or with a broken one."""
    from PIL import ImageCms

    mode = {"RGBA": "RGB", "LA": "L"}.get(mode, mode)
    if mode == "LAB":
        return ImageCms.buildTransform(
            ImageCms.createProfile("LAB"), ImageCms.createProfile("sRGB"), "LAB", "RGB"
        )
    if not profile or mode not in ("L", "RGB", "CMYK"):
        return None
    try:
        source = ImageCms.ImageCmsProfile(io.BytesIO(profile))
        if mode == "RGB" and "srgb" in ImageCms.getProfileDescription(source).lower():
            return None
        return ImageCms.buildTransform(source, ImageCms.createProfile("sRGB"), mode, "RGB")
    except (ImageCms.PyCMSError, OSError, ValueError, TypeError):
        return None
