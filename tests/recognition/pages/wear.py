"""What a scan and the normaliser leave behind: residual skew, perspective, blur, noise, JPEG."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from imaging.evaluation.ink import smooth


@dataclass(frozen=True, slots=True, kw_only=True)
class Level:
    """Ranges of what may be wrong. Degrees, share of the side, mm (blur), grey steps (noise)."""

    skew_deg: float
    perspective: float
    quality: tuple[int, int]
    contrast: tuple[float, float]
    noise: float
    blur_mm: tuple[float, float]
    low_dpi: float


LEVELS = {
    "light": Level(skew_deg=0.3, perspective=0.002, quality=(82, 93), contrast=(0.9, 1.0),
                   noise=2.0, blur_mm=(0.02, 0.04), low_dpi=0.2),
    "middle": Level(skew_deg=1.0, perspective=0.006, quality=(68, 85), contrast=(0.7, 0.95),
                    noise=5.0, blur_mm=(0.03, 0.08), low_dpi=0.4),
    "hard": Level(skew_deg=2.0, perspective=0.012, quality=(50, 70), contrast=(0.45, 0.8),
                  noise=9.0, blur_mm=(0.04, 0.13), low_dpi=0.5),
}  # fmt: skip


def scanned(
    rgb: np.ndarray,
    size_mm: tuple[float, float],
    dpi: float,
    level: Level,
    *,
    rng: np.random.Generator,
) -> np.ndarray:
    """An upright drawing as a scanned item at a resolution; (height, width, 3) uint8."""
    w, h = (round(side * dpi / 25.4) for side in size_mm)
    if rng.random() < 0.5:
        rgb = cv2.cvtColor(rgb, cv2.COLOR_RGB2GRAY)
    picture = _warped(rgb, (w, h), size_mm, level, rng)
    sigma = float(rng.uniform(*level.blur_mm)) * dpi / 25.4
    picture = cv2.GaussianBlur(picture, (0, 0), sigma).reshape(h, w, -1).astype(np.float32)
    contrast = float(rng.uniform(*level.contrast))
    lift = float(rng.uniform(0, 1)) * (1 - contrast) * 255
    light = 1 + 0.02 * smooth(rng, (h, w), max(w, h) / 3)[..., None]
    picture *= contrast * light
    picture += lift
    grain = rng.standard_normal((h, w), dtype=np.float32)[..., None]
    picture += grain * np.float32(rng.uniform(0.3, 1.0) * level.noise)
    flat = np.clip(picture + 0.5, 0, 255, out=picture).astype(np.uint8)
    if flat.shape[2] == 1:
        flat = np.repeat(flat, 3, axis=2)
    return _jpeg(flat, int(rng.integers(*level.quality)))


def _warped(
    rgb: np.ndarray,
    size: tuple[int, int],
    size_mm: tuple[float, float],
    level: Level,
    rng: np.random.Generator,
) -> np.ndarray:
    """Residual skew and perspective, the ground showing at the edges."""
    h, w = rgb.shape[:2]
    shrink = size[0] / w
    if shrink < 1:
        rgb = cv2.GaussianBlur(rgb, (0, 0), max(0.01, 0.4 / shrink - 0.3))
    corners = np.array([[0, 0], [w, 0], [w, h], [0, h]], np.float64)
    target = np.array([[0, 0], [size[0], 0], [size[0], size[1]], [0, size[1]]], np.float64)
    angle = np.radians(rng.uniform(-level.skew_deg, level.skew_deg))
    middle = target.mean(axis=0)
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    moved = (target - middle) @ turn.T + middle
    moved += rng.uniform(-1, 1, (4, 2)) * level.perspective * min(size)
    matrix = cv2.getPerspectiveTransform(corners.astype(np.float32), moved.astype(np.float32))
    ground = tuple(int(v) for v in np.full(3, rng.choice([30, 90, 160, 235, 250])))
    return cv2.warpPerspective(
        rgb, matrix, size, flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_CONSTANT, borderValue=ground
    )


def _jpeg(picture: np.ndarray, quality: int) -> np.ndarray:
    _, data = cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, quality])
    return cv2.imdecode(data, cv2.IMREAD_COLOR)
