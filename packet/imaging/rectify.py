"""One warp from the source pixels to the upright item at true scale.

Cubic interpolation, once; where the source is at least twice as fine as the result it is first
averaged down by a whole factor, so that no detail folds back as a false pattern.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from packet.imaging.geometry import Pixels, Quads, side_lengths
from packet.model import SizeMm
from packet.units import MM_PER_INCH

TARGET_DPI = 300.0
# 0.085 mm at 300 dpi, over a whole page; a choice of this project. The scan of an A4 page by a
# flatbed is up to a pixel longer than its millimetres.
_SAME_PX = 1.001
_ROUGHLY_PX = 0.5  # of the source, for measuring: a tenth of a millimetre on a page at 130 dpi
# A page of 600 dpi is a pixel short as often as not: twice as fine, all the same. What is then
# averaged is enlarged by no more than this again, 12 pixels of an A4 page at 300 dpi.
_ALL_BUT = 0.005


def source_dpi(quad: Quads, size_mm: SizeMm) -> float:
    """Resolution that the source has on an item of this size, the lesser of its two axes."""
    width, height = side_lengths(quad)
    return min(width / size_mm[0], height / size_mm[1]) * MM_PER_INCH


def result_dpi(quad: Quads, size_mm: SizeMm) -> float:
    """300, or what the source has where that is less."""
    return min(TARGET_DPI, max(1.0, source_dpi(quad, size_mm)))


def whole_factor(times_as_fine: float) -> int:
    """By which whole number of pixels, at least one, a source so fine is averaged first."""
    return max(1, int(times_as_fine * (1 + _ALL_BUT)))


def size_px(size_mm: SizeMm, dpi: float) -> tuple[int, int]:
    """Width and height in pixels, at least one each."""
    width, height = (max(1, round(side * dpi / MM_PER_INCH)) for side in size_mm)
    return width, height


def shrunk(grey: Pixels, size: tuple[int, int]) -> Pixels:
    """(h, w) uint8 of ``size`` (width, height), for measuring only.

    By a whole factor with an area filter, the rest by linear interpolation.
    """
    factor = max(1, min(grey.shape[1] // size[0], grey.shape[0] // size[1]))
    if factor >= 2:
        height, width = grey.shape[0] // factor, grey.shape[1] // factor
        part = grey[: height * factor, : width * factor]
        grey = np.asarray(cv2.resize(part, (width, height), interpolation=cv2.INTER_AREA), np.uint8)
    return np.asarray(cv2.resize(grey, size, interpolation=cv2.INTER_LINEAR), np.uint8)


def luma(pixels: Pixels) -> Pixels:
    """(h, w) uint8 of (h, w, 3) RGB: Y of ITU-R BT.601."""
    return np.asarray(cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY), np.uint8)


def rectify(
    pixels: Pixels,
    quad: Quads,
    *,
    size_mm: SizeMm,
    dpi: float,
    rough: bool = False,
) -> Pixels:
    """(h, w, 3) uint8: the item whose corners are ``quad`` (first = top left of the result).

    The result has ``round(size_mm * dpi / 25.4)`` pixels. What lies outside the picture is left
    white: nothing is made up. (h, w) where ``pixels`` is grey. ``rough``: by linear interpolation,
    for measuring only, where a whole picture is only shrunk. A page that lies so already, but for
    a pixel, is cut and not resampled.
    """
    width, height = size_px(size_mm, dpi)
    part, shift = cut_out(pixels, quad)
    corners = quad - shift
    wide, high = side_lengths(quad)
    factor = whole_factor(min(wide / width, high / height))
    if factor >= 2:
        part, corners = _averaged(part, corners, factor)
    if rough and _fills(part, corners):
        return np.asarray(cv2.resize(part, (width, height), interpolation=cv2.INTER_LINEAR))
    wanted = _rim(width, height)
    if _is_wanted(part, width, height) and np.allclose(corners, wanted, rtol=0, atol=_SAME_PX):
        return np.ascontiguousarray(part[:height, :width])
    matrix = cv2.getPerspectiveTransform(corners.astype(np.float32), wanted.astype(np.float32))
    return np.asarray(
        cv2.warpPerspective(
            part,
            matrix,
            (width, height),
            flags=cv2.INTER_LINEAR if rough else cv2.INTER_CUBIC,
            borderMode=cv2.BORDER_CONSTANT,
            borderValue=(255, 255, 255),
        ),
        np.uint8,
    )


def _rim(width: int, height: int) -> Quads:
    """The corners of a whole picture."""
    right, bottom = width - 0.5, height - 0.5
    return np.array([[-0.5, -0.5], [right, -0.5], [right, bottom], [-0.5, bottom]])


def _fills(part: Pixels, corners: Quads) -> bool:
    """Whether the part is the item, upright and whole, as of a page on a flatbed."""
    rim = _rim(part.shape[1], part.shape[0])
    return np.allclose(corners, rim, rtol=0, atol=_ROUGHLY_PX)


def _is_wanted(part: Pixels, width: int, height: int) -> bool:
    """Whether the part has that size, or a row or column more."""
    return part.shape[0] - height in (0, 1) and part.shape[1] - width in (0, 1)


def cut_out(pixels: Pixels, quad: Quads, *, spare: int = 8) -> tuple[Pixels, NDArray[np.float64]]:
    """(the part of the picture around the quad, its top-left pixel)."""
    height, width = pixels.shape[:2]
    low = np.clip(np.floor(quad.min(axis=0)).astype(int) - spare, 0, [width - 1, height - 1])
    high = np.clip(np.ceil(quad.max(axis=0)).astype(int) + spare + 1, low + 1, [width, height])
    return pixels[low[1] : high[1], low[0] : high[0]], low.astype(np.float64)


def _averaged(part: Pixels, corners: Quads, factor: int) -> tuple[Pixels, Quads]:
    """The part shrunk by a whole factor, with the corners in its pixels."""
    height, width = part.shape[:2]
    factor = min(factor, height, width)
    whole_height, whole_width = -(-height // factor) * factor, -(-width // factor) * factor
    if (whole_height, whole_width) != (height, width):
        part = cv2.copyMakeBorder(
            part, 0, whole_height - height, 0, whole_width - width, cv2.BORDER_REPLICATE
        )
    size = (whole_width // factor, whole_height // factor)
    small = cv2.resize(part, size, interpolation=cv2.INTER_AREA)
    return np.asarray(small, np.uint8), (corners + 0.5) / factor - 0.5
