"""Pixels to bytes, once: JPEG, PNG or Group 4 TIFF with nothing in them but the picture."""

from __future__ import annotations

import hashlib
import io
from collections.abc import Sequence
from typing import Literal

import cv2

from packet.imaging.geometry import Pixels
from packet.imaging.view import halved
from packet.model import EncodedImage

GREY_QUALITY = 80
COLOUR_QUALITY = 88
PREVIEW_QUALITY = 70
PREVIEW_MOST_PX = 1272  # 900 and a half octave


def encode_jpeg(image: Pixels) -> EncodedImage:
    """(h, w) grey or (h, w, 3) RGB uint8 as baseline JPEG (ITU-T T.81)."""
    return _packed(_jpeg(image, GREY_QUALITY if image.ndim == 2 else COLOUR_QUALITY), image, "jpeg")


def encode_png(image: Pixels, *, dpi: float) -> EncodedImage:
    """Without loss, the resolution set in its pHYs chunk; (h, w) grey or (h, w, 3) RGB."""
    from PIL import Image

    out = io.BytesIO()
    Image.fromarray(image).save(out, "PNG", dpi=(dpi, dpi), compress_level=4)
    return _packed(out.getvalue(), image, "png")


def encode_bilevel(image: Pixels) -> EncodedImage:
    """(h, w) of 0 and 255 as TIFF with CCITT Group 4 (ITU-T T.6)."""
    from PIL import Image

    out = io.BytesIO()
    Image.fromarray(image).convert("1", dither=Image.Dither.NONE).save(
        out, "TIFF", compression="group4"
    )
    return _packed(out.getvalue(), image, "tiff")


def preview_jpeg(pixels: Pixels, smaller: Sequence[Pixels] = ()) -> bytes:
    """A small JPEG of an RGB picture, 640 to 1270 pixels on its long side where it has them.

    By halves alone: averaging pairs is ten times as quick as other factors. The last pixels of the
    far edges may fall away. ``smaller``: halves of the picture that have been made.
    """
    for half in smaller:
        if max(half.shape[:2]) > PREVIEW_MOST_PX // 2:
            pixels = half
    while max(pixels.shape[:2]) > PREVIEW_MOST_PX and min(pixels.shape[:2]) > 1:
        pixels = halved(pixels)
    return _jpeg(pixels, PREVIEW_QUALITY)


def _jpeg(image: Pixels, quality: int) -> bytes:
    if image.ndim == 3:
        image = cv2.cvtColor(image, cv2.COLOR_RGB2BGR)
    done, data = cv2.imencode(".jpg", image, [cv2.IMWRITE_JPEG_QUALITY, quality])
    if not done:
        raise ValueError("the picture could not be encoded as JPEG")
    return data.tobytes()


def _packed(data: bytes, image: Pixels, form: Literal["jpeg", "png", "tiff"]) -> EncodedImage:
    return EncodedImage(
        data=data,
        format=form,
        width_px=int(image.shape[1]),
        height_px=int(image.shape[0]),
        digest=hashlib.sha256(data).hexdigest(),
    )
