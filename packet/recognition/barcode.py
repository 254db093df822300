"""The tax code from the Code 39 bars on the back of the card (ISO/IEC 16388).

zxing-cpp finds and decodes the bars. Where it sees none, the picture is smoothed along the bars,
enlarged and sharpened by an unsharp mask, and it looks once more. Code 39 has no check digit of
its own in use here: python-stdnum judges the code's shape, date and check letter (Finance Ministry
decree of 23 December 1976).
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from packet.readings import CodeRead, ReadState
from packet.recognition.tax_code_text import is_code

Pixels = NDArray[np.uint8]

_ALONG = 9  # pixels averaged along the bars: noise goes, bars stay
_LARGER = 2
_SIGMA, _AMOUNT = 4.0, 1.5  # of the unsharp mask, pixels of the enlarged picture
_MOST_PX = 4_000_000  # a larger picture is not enlarged: its bars are wide enough


def read_bars(pixels: Pixels) -> tuple[CodeRead, ...]:
    """Tax codes in the bars of an item, (H, W, 3) RGB or (H, W) grey uint8, in any turn.

    A code whose check letter does not fit is not given: other cards bear bars too.
    """
    colour = pixels.ndim == 3
    grey = np.asarray(cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY) if colour else pixels, np.uint8)
    found = _decoded(np.ascontiguousarray(grey))
    if not found:
        found = _decoded(sharpened(grey))
    state = ReadState.READ if len(found) == 1 else ReadState.UNSURE
    return tuple(CodeRead(value=code, source="barcode", state=state) for code in sorted(found))


def sharpened(grey: Pixels) -> Pixels:
    """Smoothed along the bars, enlarged, and its edges made steeper; only ever looked at."""
    across = np.abs(cv2.Sobel(grey, cv2.CV_16S, 1, 0)).mean()
    down = np.abs(cv2.Sobel(grey, cv2.CV_16S, 0, 1)).mean()
    smooth = cv2.blur(grey, (1, _ALONG) if across > down else (_ALONG, 1))
    if smooth.size * _LARGER**2 <= _MOST_PX:
        smooth = cv2.resize(smooth, None, fx=_LARGER, fy=_LARGER, interpolation=cv2.INTER_CUBIC)
    soft = cv2.GaussianBlur(smooth, (0, 0), _SIGMA)
    return np.asarray(cv2.addWeighted(smooth, 1 + _AMOUNT, soft, -_AMOUNT, 0), np.uint8)


def _decoded(grey: Pixels) -> set[str]:
    import zxingcpp

    formats = zxingcpp.barcode_formats_from_str("Code39")
    seen = zxingcpp.read_barcodes(grey, formats=formats)
    return {code for one in seen if is_code(code := one.text.strip("* ").upper())}
