"""A small grey picture of one flat item: all that is judged is judged on it, not on the print.

Its long side has at most 1120 pixels: an A4 page has 96 dpi on it, an opening 162, a card 300.
What needs more than that (sharpness) looks at some tiles of the item at the print's resolution.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import cv2
import numpy as np

from packet.imaging.geometry import Pixels, Quads
from packet.imaging.rectify import (
    cut_out,
    luma,
    rectify,
    result_dpi,
    source_dpi,
    whole_factor,
)
from packet.model import SizeMm, Turn
from packet.units import MM_PER_INCH

LONG_SIDE_PX = 1120

Box = tuple[int, int, int, int]  # left, top, width, height in pixels


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Flat:
    """The item as it is shown: ``grey`` (h, w) uint8, at ``dpi``, of ``size_mm``.

    ``quad``: where it lies in the picture, which is the first of ``levels``, (h, w, 3), the
    others being smaller copies. ``full``: the item at ``full_dpi`` for printing, (h, w, 3), where
    it is wanted.
    """

    grey: Pixels = field(repr=False)
    size_mm: SizeMm
    quad: Quads
    levels: Sequence[Pixels] = field(repr=False)
    full: Pixels | None = field(default=None, repr=False)

    @property
    def dpi(self) -> float:
        """Resolution of ``grey``."""
        return float(self.grey.shape[1] / self.size_mm[0] * MM_PER_INCH)

    @property
    def full_dpi(self) -> float:
        """Resolution of the print."""
        return result_dpi(self.quad, self.size_mm)

    def turned(self, turn: Turn) -> Flat:
        """The same item turned clockwise, pixel for pixel."""
        if not turn:
            return self
        how = {90: cv2.ROTATE_90_CLOCKWISE, 180: cv2.ROTATE_180,
               270: cv2.ROTATE_90_COUNTERCLOCKWISE}[turn]  # fmt: skip
        width, height = self.size_mm
        return replace(
            self,
            grey=cv2.rotate(self.grey, how),
            size_mm=(height, width) if turn % 180 else (width, height),
            quad=np.roll(self.quad, turn // 90, axis=0),
            full=None if self.full is None else cv2.rotate(self.full, how),
        )

    def resized(self, size_mm: SizeMm) -> Flat:
        """The same item taken for one of another size."""
        if size_mm == self.size_mm:
            return self
        grown = replace(self, size_mm=size_mm, full=None)
        return grown if self.full is None else grown.printed()

    def printed(self) -> Flat:
        """The same item with its print: the one warp of the picture, so not before kind, size and
        turn are known. From the copy that is an average of the very pixels that would be averaged,
        if there is one."""
        fine = whole_factor(source_dpi(self.quad, self.size_mm) / self.full_dpi)
        level = fine.bit_length() - 1 if fine & (fine - 1) == 0 else 0
        level = min(max(level, 0), len(self.levels) - 1)
        quad = (self.quad + 0.5) / 2**level - 0.5
        full = rectify(self.levels[level], quad, size_mm=self.size_mm, dpi=self.full_dpi)
        return replace(self, full=full)

    def tiles(self, boxes: Sequence[Box]) -> list[Pixels]:
        """Parts of the item, boxes of ``grey``, in grey at the print's resolution."""
        return [self._tile(box) for box in boxes]

    def _tile(self, box: Box) -> Pixels:
        x, y, wide, high = box
        height, width = self.grey.shape
        if self.full is not None:
            up_y, up_x = self.full.shape[0] / height, self.full.shape[1] / width
            rows = slice(round(y * up_y), round((y + high) * up_y))
            return luma(self.full[rows, round(x * up_x) : round((x + wide) * up_x)])
        corners = _corners(width, height)
        matrix = cv2.getPerspectiveTransform(corners, self.quad.astype(np.float32))
        wanted = _corners(wide, high) + np.array([x, y], np.float32)
        quad = cv2.perspectiveTransform(wanted[None], matrix)[0].astype(np.float64)
        size_mm = self.size_mm[0] * wide / width, self.size_mm[1] * high / height
        return _grey(self.levels, quad, size_mm, self.full_dpi)


def flatten(levels: Sequence[Pixels], quad: Quads, size_mm: SizeMm) -> Flat:
    """The item whose corners are ``quad``, the first at the top left as shown, without its print.

    ``levels``: the picture, and any smaller copies of it, each half as long as the one before.
    """
    bare = Flat(grey=_NOTHING, size_mm=size_mm, quad=quad, levels=levels)
    dpi = min(bare.full_dpi, LONG_SIDE_PX * MM_PER_INCH / max(size_mm))
    return replace(bare, grey=_grey(levels, quad, size_mm, dpi, rough=True))


def _grey(
    levels: Sequence[Pixels], quad: Quads, size_mm: SizeMm, dpi: float, *, rough: bool = False
) -> Pixels:
    """The item in grey, from the smallest copy that is fine enough; only what lies around it is
    made grey."""
    fine = source_dpi(quad, size_mm) / dpi
    level = min(int(math.log2(max(1.0, fine + 1e-6))), len(levels) - 1)
    inner = (quad + 0.5) / 2**level - 0.5
    part, shift = cut_out(levels[level], inner)
    return rectify(luma(part), inner - shift, size_mm=size_mm, dpi=dpi, rough=rough)


def _corners(width: int, height: int) -> Pixels:
    right, bottom = width - 0.5, height - 0.5
    return np.array([[-0.5, -0.5], [right, -0.5], [right, bottom], [-0.5, bottom]], np.float32)


_NOTHING = np.zeros((1, 1), np.uint8)
