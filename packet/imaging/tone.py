"""Light and tone: one smooth light field divided out, then one rising curve. Nothing is painted.

The light field is a quadratic surface fitted to the paper of the whole item, and on it what the
paper itself shows of broad shadows, smoothed so that no detail under 20 mm is left in it. What has
a sharp border is print, not shadow, and never enters it. Luma is that of ITU-R BT.601.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from packet.imaging.geometry import Pixels, percentile
from packet.imaging.marks import ranked
from packet.imaging.rectify import shrunk
from packet.model import Kind, Tone
from packet.units import mm_to_px

_GRID_PX = 96
_FIT_PX = 64
_CELL_MM = 4.0
_CELL_PX = 10
_SMOOTH_CELLS = 2.5  # standard deviation: 10 mm
_SOFT_STEP = 0.11  # logarithm, from one cell to the next; more is a printed border
_SECOND_GROUP = 0.25
_LEAST_PAPER = 0.35  # share of cells; with less the item has no common paper
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


def toned(
    image: Pixels, field: NDArray[np.float32] | None, *, kind: Kind, tone: Tone, dpi: float
) -> Pixels:
    """An item as it will be printed: (h, w) grey or 0 and 255, or (h, w, 3) in colour.

    ``image``: (h, w, 3) RGB or (h, w) grey; ``field``: its ``light_field``.
    """
    grey = image if image.ndim == 2 else cv2.cvtColor(image, cv2.COLOR_RGB2GRAY)
    flat = _divided(grey, field)
    curve = tone_curve(flat, paper=_TINTED if kind in _TINTED_KINDS else _PAPER)
    if tone == "colour":
        return np.asarray(cv2.LUT(_divided(image, field), curve), np.uint8)
    result = np.asarray(cv2.LUT(flat, curve), np.uint8)
    return bilevel(result, dpi=dpi) if tone == "bilevel" else result


def light_field(grey: Pixels, *, dpi: float) -> NDArray[np.float32] | None:
    """Light on the paper relative to its brightest place, on a small grid; None when even.

    A quadratic surface through the logarithm of the paper's luma, fitted so that ink, stamps and
    portraits below it count little; then the broad shadows that the paper shows. Where less than
    a third of the item lies on one such surface and no paper goes on softly from cell to cell,
    the item has no common paper, and its light is left alone.
    """
    cells = paper_cells(grey, dpi=dpi)
    surface, fits = _quadratic(grey, cells.shape)
    shadow = _soft_shadow(cells - surface) if min(cells.shape) >= 6 and not _dark(grey) else None
    if shadow is not None:
        surface = surface + shadow
    elif not fits:
        return None
    relative = np.exp(surface - percentile(surface, 99))
    if relative.min() > 0.98:
        return None
    return np.asarray(np.clip(relative, _DEEPEST, 1.0), np.float32)


def paper_cells(grey: Pixels, *, dpi: float) -> NDArray[np.float64]:
    """Logarithm of the luma of the paper (90th percentile) in cells of about 4 mm."""
    height, width = grey.shape
    cell_px = max(1.0, mm_to_px(_CELL_MM, dpi))
    rows, columns = (max(3, min(_GRID_PX, round(side / cell_px))) for side in (height, width))
    small = shrunk(grey, (columns * _CELL_PX, rows * _CELL_PX))
    cells = small.reshape(rows, _CELL_PX, columns, _CELL_PX).transpose(1, 3, 0, 2)
    paper = ranked(cells.reshape(-1, rows, columns), _CELL_PX**2 * 9 // 10)
    return np.log(np.maximum(paper.astype(np.float64), 8.0))


def _dark(grey: Pixels) -> bool:
    """Dark by nature, as a cover is: what varies on it is its stock."""
    return float(np.median(grey[::8, ::8])) < 85


def _soft_shadow(rest: NDArray[np.float64]) -> NDArray[np.float64] | None:
    """The smooth part of what the paper of the cells shows; None where paper is scarce.

    Paper is a large group of cells that go over into one another without a sharp step; so
    a printed block, a portrait or a banner stays out, however dark and large it is.
    """
    paper = _soft_paper(rest)
    if paper.mean() < _LEAST_PAPER:
        return None
    known = paper.astype(np.float64)
    filled = rest * known
    result = np.full_like(rest, float(np.median(rest[paper])))
    for sigma in (16.0, 8.0, 4.0, _SMOOTH_CELLS):
        weight = cv2.GaussianBlur(known, (0, 0), sigma, borderType=cv2.BORDER_REFLECT)
        mean = cv2.GaussianBlur(filled, (0, 0), sigma, borderType=cv2.BORDER_REFLECT)
        trust = np.clip(weight * 3, 0, 1)
        result = result * (1 - trust) + mean / np.maximum(weight, 1e-6) * trust
    return result


def _soft_paper(rest: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Cells joined by steps below the limit; drawn on a grid of cells and the joints between.

    The largest group, and any other of a quarter its size that is as bright: the second page of
    an opening, which the fold cuts off.
    """
    rows, columns = rest.shape
    joints = np.zeros((2 * rows - 1, 2 * columns - 1), np.uint8)
    joints[::2, ::2] = 1
    joints[1::2, ::2] = np.abs(np.diff(rest, axis=0)) < _SOFT_STEP
    joints[::2, 1::2] = np.abs(np.diff(rest, axis=1)) < _SOFT_STEP
    labels, boxes = cv2.connectedComponentsWithStats(joints, connectivity=4)[1:3]
    if len(boxes) < 2:
        return np.zeros(rest.shape, bool)
    cells = labels[::2, ::2]
    area = boxes[:, cv2.CC_STAT_AREA].copy()
    area[0] = 0
    largest = int(np.argmax(area))
    paper = cells == largest
    level = float(np.median(rest[paper]))
    for other in np.flatnonzero(area > _SECOND_GROUP * area[largest]):
        if abs(float(np.median(rest[cells == other])) - level) < _SOFT_STEP:
            paper |= cells == other
    return np.asarray(paper)


def _quadratic(grey: Pixels, shape: tuple[int, ...]) -> tuple[NDArray[np.float64], bool]:
    """(surface in logarithms on a grid of ``shape``, whether a third of the item lies on it)."""
    height, width = grey.shape
    shrink = _FIT_PX / max(height, width)
    size = (max(4, round(width * min(1, shrink))), max(4, round(height * min(1, shrink))))
    small = shrunk(grey, size)
    level = np.log(np.maximum(small.astype(np.float64), 8.0)).ravel()
    terms = _terms(size[1], size[0])
    weight = (level >= percentile(level, 40)).astype(np.float64)
    answer: NDArray[np.float64] = np.zeros(6)
    least = 1e-9 * np.eye(6)
    for _ in range(8):
        weighed = terms.T * weight
        answer = np.asarray(np.linalg.solve(weighed @ terms + least, weighed @ level), np.float64)
        miss = level - terms @ answer
        spread = np.where(miss < 0, 0.03, 0.06)
        weight = 1.0 / (1.0 + (miss / spread) ** 2) ** 2
    fits = bool(np.mean(np.abs(miss) < 0.05) >= 0.33)
    if not fits:
        answer[1:] = 0.0
    return (_terms(shape[0], shape[1]) @ answer).reshape(shape), fits


def _terms(rows: int, columns: int) -> NDArray[np.float64]:
    ys, xs = np.mgrid[0:rows, 0:columns]
    x, y = xs.ravel() / (columns - 1) - 0.5, ys.ravel() / (rows - 1) - 0.5
    return np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=1)


def _divided(image: Pixels, field: NDArray[np.float32] | None) -> Pixels:
    """The image over the field, band by band so that no full float copy exists."""
    if field is None:
        return image
    height, width = image.shape[:2]
    gain = cv2.resize(1.0 / field, (width, height), interpolation=cv2.INTER_LINEAR)
    result = np.empty_like(image)
    for top in range(0, height, 256):
        band = slice(top, top + 256)
        lift = gain[band] if image.ndim == 2 else cv2.merge([gain[band]] * image.shape[2])
        cv2.multiply(image[band], lift, result[band], dtype=cv2.CV_8U)
    return result


def tone_curve(flat: Pixels, *, paper: float = _PAPER) -> Pixels:
    """A rising table of 256 values: black and white point read from the item's own luma."""
    counts = cv2.calcHist([flat], [0], None, [256], [0, 256]).ravel().cumsum() / max(1, flat.size)
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
