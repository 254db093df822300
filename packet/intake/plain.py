"""What OpenCV does for pictures: plain JPEG and PNG decoded straight to RGB, channels, turns.

Pillow holds a picture in four bytes a pixel and packs it into three afterwards; OpenCV writes it
once. Both give the same pixels (JPEG by libjpeg-turbo, PNG by libpng). What is not plain, or is
refused here, is left to Pillow and its word about it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from packet.intake.overheard import overheard

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray
    from PIL import Image

    Pixels = NDArray[np.uint8]

_FORMATS = {"JPEG", "MPO", "PNG"}


def is_plain(image: Image.Image) -> bool:
    """True for RGB or grey of 8 bits, the latter without a profile, and without transparency."""
    return (
        image.format in _FORMATS
        and "transparency" not in image.info
        and (image.mode == "RGB" or (image.mode == "L" and "icc_profile" not in image.info))
    )


def ends_plainly(data: bytes) -> bool:
    """True where nothing follows the pixels of a PNG but its end (ISO/IEC 15948, 5.3)."""
    at, pixels = 8, False
    while at + 8 <= len(data):
        length, name = int.from_bytes(data[at : at + 4], "big"), data[at + 4 : at + 8]
        if name == b"IEND":
            return pixels
        if pixels and name != b"IDAT":
            return False
        pixels = name == b"IDAT"
        at += 12 + length
    return False


def decoded(data: bytes) -> Pixels | None:
    """(h, w, 3) RGB as stored, turned by no tag; None where it cannot be decoded whole."""
    import cv2
    import numpy as np

    with overheard():
        flags = cv2.IMREAD_COLOR_RGB | cv2.IMREAD_IGNORE_ORIENTATION
        pixels = cv2.imdecode(np.frombuffer(data, np.uint8), flags)
    return None if pixels is None else np.asarray(pixels, np.uint8)


def rgb_of(stored: Pixels) -> Pixels:
    """(h, w, 3) RGB, a copy, of (h, w) or (h, w, 1) grey, (h, w, 3) BGR or (h, w, 4) BGRx."""
    import cv2
    import numpy as np

    channels = stored.shape[2] if stored.ndim == 3 else 1
    how = {1: cv2.COLOR_GRAY2RGB, 3: cv2.COLOR_BGR2RGB, 4: cv2.COLOR_BGRA2RGB}[channels]
    return np.asarray(cv2.cvtColor(stored, how), np.uint8)


def upright(pixels: Pixels, orientation: int) -> Pixels:
    """Turned or mirrored as EXIF's ``orientation`` says (CIPA DC-008 and TIFF 6.0, tag 274)."""
    import cv2
    import numpy as np

    if orientation in (5, 7):
        pixels = np.asarray(cv2.transpose(pixels), np.uint8)
    turn = {
        3: cv2.ROTATE_180,
        6: cv2.ROTATE_90_CLOCKWISE,
        7: cv2.ROTATE_180,
        8: cv2.ROTATE_90_COUNTERCLOCKWISE,
    }.get(orientation)
    if turn is not None:
        return np.asarray(cv2.rotate(pixels, turn), np.uint8)
    if orientation in (2, 4):
        return np.asarray(cv2.flip(pixels, 1 if orientation == 2 else 0), np.uint8)
    return pixels
