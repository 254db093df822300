"""Light and tone: one smooth light field divided out, then one rising curve. Nothing is painted.

The light field is a quadratic surface fitted to the paper of the whole item, so it holds no
detail smaller than a large part of the item. Luma is that of ITU-R BT.601.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from packet.imaging.geometry import Pixels
from packet.model import Kind, Tone
from packet.units import mm_to_px

_GRID_PX = 96
_DEEPEST = 0.35  # the light field never asks for more than 1 / this
_PAPER = 250.0  # where the paper of a page of text goes
_TINTED = 240.0  # where the ground of a passport page goes: its background print stays visible
_MOST_GAIN = 2.2
_DARK_GAIN = 1.2  # for items that are dark by nature (covers)
_DEEP_BLACK = 12.0

_TINTED_KINDS = {
    Kind.PASSPORT_COVER,
    Kind.PASSPORT_PAGE,
    Kind.PASSPORT_SPREAD,
    Kind.VISA_PAGE,
    Kind.ID_CARD_FRONT,
    Kind.ID_CARD_BACK,
    Kind.PERMIT_FRONT,
    Kind.PERMIT_BACK,
    Kind.TAX_CARD_FRONT,
    Kind.TAX_CARD_BACK,
}


def set_tone(image: Pixels, *, kind: Kind, tone: Tone, dpi: float) -> Pixels:
    """An item (h, w, 3) RGB as it will be printed: (h, w) grey or 0 and 255, or (h, w, 3)."""
    grey = cv2.cvtColor(image, cv2.COLOR_RGB2GRAY)
    field = light_field(grey)
    flat = _divided(grey, field)
    curve = tone_curve(flat, paper=_TINTED if kind in _TINTED_KINDS else _PAPER)
    if tone == "colour":
        return np.asarray(cv2.LUT(_divided(image, field), curve), np.uint8)
    toned = np.asarray(cv2.LUT(flat, curve), np.uint8)
    return bilevel(toned, dpi=dpi) if tone == "bilevel" else toned


def light_field(grey: Pixels) -> NDArray[np.float32] | None:
    """Light on the paper relative to its brightest place, on a small grid; None when even.

    A quadratic surface through the logarithm of the paper's luma, fitted so that ink, stamps and
    portraits below it count little. Where less than a third of the item lies on one such surface
    the item has no common paper, and its light is left alone.
    """
    height, width = grey.shape
    shrink = _GRID_PX / max(height, width)
    size = (max(4, round(width * min(1, shrink))), max(4, round(height * min(1, shrink))))
    small = cv2.resize(grey, size, interpolation=cv2.INTER_AREA)
    level = np.log(np.maximum(small.astype(np.float64), 8.0)).ravel()
    ys, xs = np.mgrid[0 : size[1], 0 : size[0]]
    x, y = xs.ravel() / (size[0] - 1) - 0.5, ys.ravel() / (size[1] - 1) - 0.5
    terms = np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=1)
    weight = (level >= np.percentile(level, 40)).astype(np.float64)
    answer = np.zeros(6)
    for _ in range(8):
        scaled = np.sqrt(weight)[:, None]
        answer = np.linalg.lstsq(terms * scaled, level * scaled[:, 0], rcond=None)[0]
        miss = level - terms @ answer
        spread = np.where(miss < 0, 0.03, 0.06)
        weight = 1.0 / (1.0 + (miss / spread) ** 2) ** 2
    if np.mean(np.abs(miss) < 0.05) < 0.33:
        return None
    surface = (terms @ answer).reshape(size[1], size[0])
    relative = np.exp(surface - surface.max())
    if relative.min() > 0.98:
        return None
    return np.asarray(np.maximum(relative, _DEEPEST), np.float32)


def _divided(image: Pixels, field: NDArray[np.float32] | None) -> Pixels:
    """The image over the field, band by band so that no full float copy exists."""
    if field is None:
        return image
    height, width = image.shape[:2]
    gain = cv2.resize(1.0 / field, (width, height), interpolation=cv2.INTER_LINEAR)
    result = np.empty_like(image)
    for top in range(0, height, 256):
        band = slice(top, top + 256)
        lift = gain[band] if image.ndim == 2 else gain[band][..., None]
        result[band] = np.clip(image[band] * lift + 0.5, 0, 255).astype(np.uint8)
    return result


def tone_curve(flat: Pixels, *, paper: float = _PAPER) -> Pixels:
    """A rising table of 256 values: black and white point read from the item's own luma."""
    counts = np.bincount(flat.ravel(), minlength=256).cumsum() / max(1, flat.size)
    black, middle, bright = (int(np.searchsorted(counts, part)) for part in (0.004, 0.5, 0.85))
    if bright < 90 and middle < 80:
        goal = min(paper, bright * _DARK_GAIN)
    else:
        goal = max(min(paper, bright * _MOST_GAIN), float(min(bright, 255)))
    black = min(black, int(0.35 * bright))
    points_in, points_out = [0.0], [0.0]
    if black > _DEEP_BLACK:
        points_in.append(float(black))
        points_out.append(_DEEP_BLACK)
    if bright > points_in[-1] and goal > points_out[-1]:
        points_in.append(float(bright))
        points_out.append(float(goal))
    if points_in[-1] < 255:
        points_in.append(255.0)
        points_out.append(255.0)
    table = np.interp(np.arange(256), points_in, points_out)
    return np.asarray(np.round(table), np.uint8)


def bilevel(grey: Pixels, *, dpi: float) -> Pixels:
    """0 and 255: ink is what lies clearly below the mean of the 10 mm around it."""
    window = max(3, round(mm_to_px(10.0, dpi)) | 1)
    mean = cv2.blur(grey, (window, window), borderType=cv2.BORDER_REPLICATE)
    limit = np.minimum(mean, 235).astype(np.float32) * 0.84
    return np.where((grey < limit) | (grey < 50), 0, 255).astype(np.uint8)
