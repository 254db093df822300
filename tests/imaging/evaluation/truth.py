"""What is known about a drawn picture."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from .papers import Paper

CUT_SURE_MM, CUT_NOT_MM = 2.0, 0.2
"""A corner at least so far outside is cut off; up to so far it is not; between, nobody says."""
BLUR_SURE_MM, BLUR_NOT_MM = 0.34, 0.17
"""Standard deviation of the blur at true scale on the worst axis.

Print of 10 points has strokes about 0.8 mm apart; a Gaussian leaves exp(-2 (pi s / 0.8)^2) of
their contrast: 3 % at 0.34 mm (cannot be read), 41 % at 0.17 mm (reads well).
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class TruthItem:
    """One item. ``quad``: (4, 2) pixels of the upright picture, clockwise from upright top-left.

    ``lines``: (3, 2, 2) ends of three lines along the upright x. A flag that is None is in
    doubt: neither a hit nor a false alarm.
    """

    name: str
    kind: str
    size_mm: tuple[float, float]
    quad: np.ndarray = field(repr=False)
    lines: np.ndarray = field(repr=False)
    blank: bool | None = False
    blur: bool | None = False
    glare: bool | None = False
    cut: bool | None = False
    covered: bool = False

    @property
    def turn_deg(self) -> int:
        """Clockwise turn that makes the picture upright."""
        along = self.quad[1] - self.quad[0] + self.quad[2] - self.quad[3]
        angle = np.degrees(np.arctan2(along[1], along[0]))
        return int(round(-angle / 90) % 4 * 90)


@dataclass(frozen=True, slots=True, kw_only=True)
class TruthPicture:
    """A file and the truth about it. ``source``: "photo", "flatbed" or "sheet-fed".

    ``true_dpi``: the file's dpi tag can be believed. ``tags``: what makes it easy or hard.
    """

    level: str
    seed: int
    source: str
    suffix: str
    data: bytes = field(repr=False)
    width_px: int
    height_px: int
    items: tuple[TruthItem, ...]
    true_dpi: bool
    tags: tuple[str, ...] = ()


def cut_flag(
    quad: np.ndarray, size_mm: tuple[float, float], size_px: tuple[int, int]
) -> bool | None:
    """Whether a part of the item lies outside the picture."""
    outside = np.maximum(-0.5 - quad, quad - (np.array(size_px) - 0.5)).max()
    far_mm = outside / px_per_mm(quad, size_mm)
    if far_mm >= CUT_SURE_MM:
        return True
    return None if far_mm > CUT_NOT_MM else False


def blur_flag(sigma_mm: float, paper: Paper) -> bool | None:
    """Whether print is illegible; nobody can say it of a blank paper."""
    if paper.blank:
        return None
    if sigma_mm >= BLUR_SURE_MM:
        return True
    return None if sigma_mm > BLUR_NOT_MM else False


def px_per_mm(quad: np.ndarray, size_mm: tuple[float, float]) -> float:
    """Mean scale of an outline."""
    x, y = quad[:, 0], quad[:, 1]
    area = 0.5 * abs(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1)))
    return float(np.sqrt(area / (size_mm[0] * size_mm[1])))


def outline_mm(size_mm: tuple[float, float]) -> np.ndarray:
    """Corners about the middle of the paper, clockwise from the top left: (4, 2)."""
    w, h = size_mm[0] / 2, size_mm[1] / 2
    return np.array([[-w, -h], [w, -h], [w, h], [-w, h]])


def lines_mm(size_mm: tuple[float, float]) -> np.ndarray:
    """Ends of three lines along x, about the middle of the paper: (6, 2)."""
    w, h = size_mm[0] * 0.4, size_mm[1]
    return np.array([[x, y] for y in (-0.3 * h, 0.0, 0.3 * h) for x in (-w, w)])
