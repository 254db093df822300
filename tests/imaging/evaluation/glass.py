"""Scans: papers face down on a glass under a lid, and pages drawn through a sheet feeder."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from .ink import smooth
from .papers import Paper
from .scenes import padded
from .truth import TruthItem, blur_flag, cut_flag, lines_mm, outline_mm, px_per_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class OnGlass:
    """A paper on the glass: its middle in mm from the corner of the glass, turned clockwise."""

    paper: Paper
    x: float
    y: float
    turn_deg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Glass:
    """A scan to be drawn. ``lid``: its grey level. ``lift_mm``: how far the lid stands off.

    ``white``: level that white paper gets. ``blur_px``: standard deviation of the optics.
    """

    size_mm: tuple[float, float]
    dpi: float
    lid: float
    laid: tuple[OnGlass, ...]
    lift_mm: float = 1.0
    white: float = 250.0
    blur_px: float = 0.6
    noise: float = 1.2
    shadow: float = 0.3


def scan(rng: np.random.Generator, glass: Glass) -> tuple[np.ndarray, tuple[TruthItem, ...]]:
    """The picture, (H, W, 3) uint8, and the truth about each paper, in the order given."""
    px_mm = glass.dpi / 25.4
    width, height = (round(side * px_mm) for side in glass.size_mm)
    picture = np.full((height, width, 3), glass.lid, np.float32)
    picture *= (1 + 0.008 * smooth(rng, (height, width), 40 * px_mm))[..., None]
    if glass.lid < 80:
        picture += 1.5 * smooth(rng, (height, width), 3 * px_mm)[..., None]
    side = rng.choice([-1.0, 1.0])
    for laid in glass.laid:
        _lay(picture, laid, glass, px_mm, side)
    picture = cv2.GaussianBlur(picture, (0, 0), max(0.3, glass.blur_px))
    _dust(rng, picture, px_mm)
    picture *= (1 + 0.004 * rng.standard_normal(width, dtype=np.float32))[None, :, None]
    picture += glass.noise * rng.standard_normal(picture.shape, dtype=np.float32)
    shot = np.clip(picture + 0.5, 0, 255).astype(np.uint8)
    return shot, tuple(_truth(laid, glass, px_mm, (width, height)) for laid in glass.laid)


def _to_px(laid: OnGlass, px_mm: float) -> np.ndarray:
    """(2, 3) matrix from mm about the middle of the paper to pixels."""
    a = np.radians(laid.turn_deg)
    c, s = np.cos(a), np.sin(a)
    return np.array(
        [
            [c * px_mm, -s * px_mm, laid.x * px_mm - 0.5],
            [s * px_mm, c * px_mm, laid.y * px_mm - 0.5],
        ]
    )


def _lay(picture: np.ndarray, laid: OnGlass, glass: Glass, px_mm: float, side: float) -> None:
    paper = laid.paper
    rgb, mask, scale, edge = padded(paper, px_mm)
    down = (rgb.shape[0] - 2 * edge) / paper.size_mm[1]
    matrix = np.vstack([_to_px(laid, px_mm), [0, 0, 1]])
    about = np.array(
        [
            [1 / scale, 0, (0.5 - edge) / scale - paper.size_mm[0] / 2],
            [0, 1 / down, (0.5 - edge) / down - paper.size_mm[1] / 2],
            [0, 0, 1],
        ]
    )
    full = (matrix @ about)[:2]
    size = (picture.shape[1], picture.shape[0])
    colour = cv2.warpAffine(
        rgb, full, size, flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE
    ).astype(np.float32)
    amount = cv2.warpAffine(mask, full, size, flags=cv2.INTER_LINEAR).astype(np.float32) / 255
    thick = {"sheet": 0.15, "card": 0.8, "book": 2.5}[paper.relief] + 0.4 * glass.lift_mm
    quarter = cv2.resize(amount, (max(1, size[0] // 2), max(1, size[1] // 2)))
    reach = 0.5 * px_mm * thick
    move = np.array([[1, 0, side * 0.2 * reach], [0, 1, reach * 0.7]])
    far = cv2.warpAffine(quarter, move, quarter.shape[::-1])
    far = cv2.GaussianBlur(far, (0, 0), max(0.6, 0.6 * reach))
    far = cv2.resize(far, size)
    picture *= (1 - np.clip(glass.shadow * far, 0, 0.8) * (1 - amount))[..., None]
    picture += (colour * (glass.white / 250.0) - picture) * amount[..., None]


def _dust(rng: np.random.Generator, picture: np.ndarray, px_mm: float) -> None:
    for _ in range(int(rng.integers(0, 25))):
        at = (int(rng.integers(picture.shape[1])), int(rng.integers(picture.shape[0])))
        grey = float(rng.uniform(60, 200))
        size = max(1, round(rng.uniform(0.05, 0.15) * px_mm))
        cv2.circle(picture, at, size, (grey, grey, grey), -1, cv2.LINE_AA)


def _truth(laid: OnGlass, glass: Glass, px_mm: float, size_px: tuple[int, int]) -> TruthItem:
    paper = laid.paper
    matrix = _to_px(laid, px_mm)

    def to_px(local: np.ndarray) -> np.ndarray:
        return local @ matrix[:, :2].T + matrix[:, 2]

    quad = to_px(outline_mm(paper.size_mm))
    return TruthItem(
        name=paper.name, kind=paper.kind, size_mm=paper.size_mm, quad=quad,
        lines=to_px(lines_mm(paper.size_mm)).reshape(3, 2, 2),
        blank=paper.blank, cut=cut_flag(quad, paper.size_mm, size_px),
        blur=blur_flag(glass.blur_px / px_per_mm(quad, paper.size_mm), paper),
    )  # fmt: skip
