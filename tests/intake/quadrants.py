"""A drawn picture that looks different in every turn and mirroring, and how to recognise it."""

from __future__ import annotations

import numpy as np
from PIL import Image

RED, GREEN, BLUE, YELLOW = (220, 30, 30), (30, 200, 30), (30, 30, 220), (230, 220, 40)
UPRIGHT = (RED, GREEN, BLUE, YELLOW)  # top left, top right, bottom left, bottom right


def quadrants(width=96, height=64):
    """An RGB image of four flat colours; sides are multiples of 32 so that JPEG keeps them."""
    pixels = np.empty((height, width, 3), np.uint8)
    half_w, half_h = width // 2, height // 2
    pixels[:half_h, :half_w], pixels[:half_h, half_w:] = RED, GREEN
    pixels[half_h:, :half_w], pixels[half_h:, half_w:] = BLUE, YELLOW
    return Image.fromarray(pixels)


def corners(pixels):
    """The colours in the middle of the four quadrants, as ``UPRIGHT`` orders them."""
    height, width = pixels.shape[:2]
    at = [(height // 4, width // 4), (height // 4, 3 * width // 4)]
    at += [(3 * height // 4, width // 4), (3 * height // 4, 3 * width // 4)]
    return [tuple(int(value) for value in pixels[row, column]) for row, column in at]


def same_colours(pixels, wanted=UPRIGHT, tolerance=12):
    """Whether the four quadrants have the wanted colours."""
    return all(
        abs(a - b) <= tolerance
        for found, due in zip(corners(pixels), wanted, strict=True)
        for a, b in zip(found, due, strict=True)
    )


# The stored picture for each value of tag 274, from the words of CIPA DC-008 and TIFF 6.0
# (section 8, Orientation): "the 0th row represents the visual ... of the image, and the 0th
# column represents the visual ...". Written as row and column of the upright picture.
STORED_FROM_UPRIGHT = {
    1: lambda upright: upright,  # row 0 top, column 0 left
    2: lambda upright: upright[:, ::-1],  # top, right
    3: lambda upright: upright[::-1, ::-1],  # bottom, right
    4: lambda upright: upright[::-1],  # bottom, left
    5: lambda upright: upright.transpose(1, 0, 2),  # left, top
    6: lambda upright: upright[:, ::-1].transpose(1, 0, 2),  # right, top
    7: lambda upright: upright[::-1, ::-1].transpose(1, 0, 2),  # right, bottom
    8: lambda upright: upright[::-1].transpose(1, 0, 2),  # left, bottom
}
