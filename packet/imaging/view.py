"""The small picture that everything is found on, and the sampling along lines that judges it.

At most about 1 megapixel, Lab in 8 bits; one integer factor from the source, by area average.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import cv2
import numpy as np
from numpy.typing import NDArray

from packet.imaging.geometry import Pixels, Quads

LONG_SIDE_PX = 1700


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class View:
    """``lab``: (h, w, 3) uint8; one view pixel is ``factor`` source pixels in x and in y."""

    lab: Pixels = field(repr=False)
    factor: int

    @property
    def width_px(self) -> int:
        """Width of the view."""
        return int(self.lab.shape[1])

    @property
    def height_px(self) -> int:
        """Height of the view."""
        return int(self.lab.shape[0])

    def to_source(self, quad: Quads) -> Quads:
        """View pixels to source pixels."""
        return (quad + 0.5) * self.factor - 0.5

    def to_view(self, quad: Quads) -> Quads:
        """Source pixels to view pixels."""
        return (quad + 0.5) / self.factor - 0.5


def make_view(pixels: Pixels, *, long_side_px: int = LONG_SIDE_PX) -> View:
    """The view of an RGB picture; up to ``factor - 1`` source pixels at the far edges fall away."""
    height, width = pixels.shape[:2]
    factor = max(1, -(-max(height, width) // long_side_px))
    factor = min(factor, height, width)
    small = pixels[: height // factor * factor, : width // factor * factor]
    if factor > 1:
        size = (width // factor, height // factor)
        small = cv2.resize(small, size, interpolation=cv2.INTER_AREA)
    return View(lab=cv2.cvtColor(small, cv2.COLOR_RGB2LAB), factor=factor)


def sample(pixels: Pixels, points: NDArray[np.float64]) -> NDArray[np.float32]:
    """Bilinear values of ``pixels`` at (..., 2) points; beyond the edge, the edge's value."""
    flat = points.reshape(len(points), -1, 2).astype(np.float32)  # each side below 32767
    values = cv2.remap(
        pixels,
        np.ascontiguousarray(flat[..., 0]),
        np.ascontiguousarray(flat[..., 1]),
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )
    return values.reshape(*points.shape[:-1], -1).astype(np.float32)


def along_sides(
    quads: Quads, *, samples: int, offsets: NDArray[np.float64], margin: float = 0.07
) -> NDArray[np.float64]:
    """Points beside the sides of quads: (n, 4, samples, offsets, 2).

    ``offsets`` in pixels along the outward normal; ``margin`` of each end of a side is left out
    (rounded corners, dog ears).
    """
    start = quads
    side = np.roll(quads, -1, axis=1) - quads
    length = np.maximum(np.linalg.norm(side, axis=-1, keepdims=True), 1e-9)
    direction = side / length
    outward = np.stack([direction[..., 1], -direction[..., 0]], axis=-1)
    steps = np.linspace(margin, 1 - margin, samples)
    on_side = start[:, :, None, :] + steps[None, None, :, None] * side[:, :, None, :]
    return np.asarray(
        on_side[:, :, :, None, :]
        + offsets[None, None, None, :, None] * outward[:, :, None, None, :]
    )
