"""A small map of an opening's ink, by which the same page taken twice is known again."""

from __future__ import annotations

import cv2
import numpy as np

from packet.imaging.geometry import Pixels
from packet.imaging.rectify import shrunk
from packet.imaging.upright import ink_contrast
from packet.model import FINGERPRINT_SIZE, Kind

_BOOKLET = {Kind.PASSPORT_SPREAD, Kind.PASSPORT_PAGE, Kind.VISA_PAGE}
_FINER = 3
_INK = 38  # of 200; background print lies below


def fingerprint(grey: Pixels, *, kind: Kind) -> bytes:
    """One bit for each half millimetre of an opening, 1 = ink; b"" for other kinds.

    ``grey``: the toned item (h, w). Its long side runs along x; the rim, and on an opening the
    fold, are left out. Rows from the top, most significant bit first, without gaps.
    """
    if kind not in _BOOKLET or min(grey.shape) < 60:
        return b""
    if grey.shape[0] > grey.shape[1]:
        grey = np.asarray(cv2.rotate(grey, cv2.ROTATE_90_COUNTERCLOCKWISE), np.uint8)
    width, height = FINGERPRINT_SIZE
    fine = shrunk(grey, (width * _FINER, height * _FINER))
    contrast = cv2.resize(ink_contrast(fine), (width, height), interpolation=cv2.INTER_AREA)
    ink = contrast > _INK
    ink[:10] = ink[-10:] = False
    ink[:, :10] = ink[:, -10:] = False
    if kind is Kind.PASSPORT_SPREAD:
        ink[:, width // 2 - 12 : width // 2 + 12] = False
    return np.packbits(ink.ravel()).tobytes()
