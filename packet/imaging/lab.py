"""RGB to CIE L*a*b* in 8 bits, without the tables that OpenCV makes when it is first asked.

Those take as long as half a photo, and a worker that reads one changed scan needs them once. Here
OpenCV's own whole numbers (imgproc, ``color_lab.cpp``: sRGB, D65) are worked out by its general
functions: the same values, a third as fast, so for the first pictures of a process alone.
"""

from __future__ import annotations

from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

from packet.imaging.geometry import Pixels

_FIRST_PIXELS = 2_300_000  # a page of A4 as it is looked at, or three photos
_GAMMA = 2040  # 255 in steps of an eighth
_ONE = 1 << 15  # of the cube roots
# RGB to X/Xn, Y/Yn, Z/Zn in 4096ths (ITU-R BT.709 primaries, white of D65)
_TO_XYZ = np.array([[1777, 1541, 778], [871, 2929, 296], [73, 448, 3575]])
# What is halfway is rounded up there, here to the even one: so nothing may be halfway. L* never is,
# the others go by 4 and 8 in 2**15. All sums stay within the 24 bits of single precision.
_NOT_HALFWAY = 2 / _ONE
_LIGHTNESS, _LESS = 296, (16 * 255 * _ONE + 50) // 100
_ROOTS_IN_SINGLE_PRECISION = {49: 9454, 628: 22126}  # the two that come out otherwise there

_seen = [0]


def lab_of(rgb: Pixels) -> Pixels:
    """(h, w, 3) uint8 L*, a*, b* of (h, w, 3) RGB, as ``cv2.COLOR_RGB2LAB`` has it."""
    rgb = np.ascontiguousarray(rgb)
    _seen[0] += rgb.shape[0] * rgb.shape[1]
    if _seen[0] > _FIRST_PIXELS:
        return np.asarray(cv2.cvtColor(rgb, cv2.COLOR_RGB2LAB), np.uint8)
    return worked_out(rgb)


def worked_out(rgb: Pixels) -> Pixels:
    """The same without OpenCV's tables."""
    gamma, roots = _tables()
    to_places = np.hstack([_TO_XYZ / 4096, np.full((3, 1), 0.5)]).astype(np.float32)
    places = cv2.transform(cv2.LUT(rgb, gamma), to_places)  # exact: below 2**24 in all
    fxyz = roots.take(places.astype(np.intp), mode="clip")
    to_lab = np.array(
        [
            [0, _LIGHTNESS / _ONE, 0, -_LESS / _ONE],
            [500 / _ONE, -500 / _ONE, 0, 128 + _NOT_HALFWAY],
            [0, 200 / _ONE, -200 / _ONE, 128 + _NOT_HALFWAY],
        ]
    )
    return np.asarray(cv2.convertScaleAbs(cv2.transform(fxyz, to_lab)), np.uint8)


@cache
def _tables() -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Linear light of the 256 values (IEC 61966-2-1), and f(t) of CIE 15 of its 3072 steps."""
    value = np.arange(256) / 255
    linear = np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)
    light = np.arange(3 * _GAMMA // 2 + 12) / _GAMMA
    roots = np.where(light < 216 / 24389, light * 841 / 108 + 16 / 116, np.cbrt(light))
    roots = np.rint(_ONE * roots)
    for place, root in _ROOTS_IN_SINGLE_PRECISION.items():
        roots[place] = root
    return np.rint(_GAMMA * linear).astype(np.float32), roots.astype(np.float32)
