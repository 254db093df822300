"""What a found item is and how it is held, from its look alone; no word of it is read."""

from __future__ import annotations

import cv2
import numpy as np

from packet.imaging.geometry import Pixels, Quads
from packet.imaging.rectify import rectify, result_dpi
from packet.imaging.sizing import Sized
from packet.imaging.upright import ANALYSIS_PX, upright_turn
from packet.model import Turn
from packet.units import MM_PER_INCH


def analysis_picture(pixels: Pixels, quad: Quads, sized: Sized) -> Pixels:
    """The item as shown, (h, w, 3) RGB, its long side at most 1400 pixels."""
    dpi = min(result_dpi(quad, sized.size_mm), ANALYSIS_PX * MM_PER_INCH / max(sized.size_mm))
    return rectify(pixels, quad, size_mm=sized.size_mm, dpi=dpi)


def held_upright(pixels: Pixels, quad: Quads, sized: Sized) -> tuple[Quads, Sized, Turn | None]:
    """Outline and size of the item held upright, where its print says which way that is.

    ``quad``: from the top left as shown. The turn is clockwise, None when the print is silent;
    outline and size are then as they were.
    """
    seen = analysis_picture(pixels, quad, sized)
    turn = upright_turn(cv2.cvtColor(seen, cv2.COLOR_RGB2GRAY))
    if not turn:
        return quad, sized, turn
    return np.roll(quad, turn // 90, axis=0), sized.turned() if turn % 180 else sized, turn
