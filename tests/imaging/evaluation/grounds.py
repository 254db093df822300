"""What papers lie on: table tops as functions of millimetres on the table."""

from __future__ import annotations

from collections.abc import Callable

import cv2
import numpy as np

Field = np.ndarray
_TILE = 512


def _lookup(rng: np.random.Generator, x: Field, y: Field, cell_mm: tuple[float, float]) -> Field:
    """Smooth noise of about unit strength with blobs of ``cell_mm``, at places in mm."""
    table = rng.standard_normal((_TILE, _TILE), dtype=np.float32)
    u = np.mod(x / cell_mm[0] + rng.uniform(0, _TILE), _TILE - 4).astype(np.float32)
    v = np.mod(y / cell_mm[1] + rng.uniform(0, _TILE), _TILE - 4).astype(np.float32)
    return cv2.remap(table, u, v, cv2.INTER_LINEAR, borderMode=cv2.BORDER_WRAP)


def _turned(rng: np.random.Generator, x: Field, y: Field, most_deg: float) -> tuple[Field, Field]:
    a = np.radians(rng.uniform(-most_deg, most_deg))
    return x * np.cos(a) - y * np.sin(a), x * np.sin(a) + y * np.cos(a)


def _colour(rng: np.random.Generator, low: float, high: float) -> np.ndarray:
    level = rng.uniform(low, high)
    return np.clip(level * (1 + rng.normal(0, 0.22, 3)), 4, 235).astype(np.float32)


def plain(rng: np.random.Generator, x: Field, y: Field) -> np.ndarray:
    """A desk of one colour, dark to middle, with a hint of grain."""
    return _colour(rng, 25, 120) * (1 + 0.03 * _lookup(rng, x, y, (0.5, 0.5)))[..., None]


def pale(rng: np.random.Generator, x: Field, y: Field) -> np.ndarray:
    """A white or cream table."""
    base = rng.uniform(205, 240) * np.array([1, rng.uniform(0.96, 1), rng.uniform(0.9, 1)])
    grain = 0.012 * _lookup(rng, x, y, (0.5, 0.5)) + 0.012 * _lookup(rng, x, y, (40, 40))
    return base.astype(np.float32) * (1 + grain)[..., None]


def dark(rng: np.random.Generator, x: Field, y: Field) -> np.ndarray:
    """A black or dark brown table with soft reflections."""
    base = rng.uniform(14, 40, 3).astype(np.float32)
    return (
        base
        * (1 + 0.1 * _lookup(rng, x, y, (0.6, 0.6)) + 0.25 * _lookup(rng, x, y, (120, 120)))[
            ..., None
        ]
    )


def wood(rng: np.random.Generator, x: Field, y: Field) -> np.ndarray:
    """Boards with grain along x and dark joints."""
    x, y = _turned(rng, x, y, 180)
    width = rng.uniform(60, 180)
    board = np.floor(y / width + rng.uniform(0, 1))
    phase = np.mod(board * 37.7, 11.0).astype(np.float32)
    wave = _lookup(rng, x + 400 * phase, y, (190, 14))
    rings = np.sin((y + 5 * wave) * rng.uniform(0.5, 1.5) + phase)
    grain = _lookup(rng, x + 300 * phase, y, (26, 0.7))
    tone = 1 + 0.09 * rings + rng.uniform(0.05, 0.14) * grain + 0.02 * (phase - 5)
    joint = np.abs(np.mod(y / width + 0.5, 1) - 0.5) * width
    tone = tone * (1 - 0.45 * np.exp(-((joint / 0.7) ** 2)))
    woods = ((206, 164, 112), (150, 104, 64), (98, 60, 38), (190, 176, 156), (222, 194, 150))
    base = np.array(woods[int(rng.integers(len(woods)))], np.float32) * rng.uniform(0.8, 1.05)
    return base * tone[..., None]


def cloth(rng: np.random.Generator, x: Field, y: Field) -> np.ndarray:
    """Woven cloth with loose folds."""
    x, y = _turned(rng, x, y, 45)
    pitch = rng.uniform(0.6, 1.6)
    weave = np.sin(x * 6.28 / pitch) * np.sin(y * 6.28 / pitch)
    slub = _lookup(rng, x, y, (9, 0.5)) + _lookup(rng, x, y, (0.5, 9))
    folds = _lookup(rng, x, y, (150, 60))
    return _colour(rng, 45, 190) * (1 + 0.07 * weave + 0.05 * slub + 0.07 * folds)[..., None]


def marble(rng: np.random.Generator, x: Field, y: Field) -> np.ndarray:
    """Stone with veins and clouds."""
    bent_x = x + 18 * _lookup(rng, x, y, (45, 45))
    bent_y = y + 18 * _lookup(rng, x, y, (45, 45))
    vein = np.abs(_lookup(rng, bent_x, bent_y, (60, 60)))
    fine = np.abs(_lookup(rng, bent_x, bent_y, (18, 18)))
    tone = 1 - 0.3 * np.exp(-((vein / 0.08) ** 2)) - 0.1 * np.exp(-((fine / 0.1) ** 2))
    tone = tone + 0.05 * _lookup(rng, x, y, (30, 30)) + 0.03 * _lookup(rng, x, y, (0.7, 0.7))
    base = rng.uniform(60, 200) * np.array([1, rng.uniform(0.94, 1.02), rng.uniform(0.9, 1.04)])
    return base.astype(np.float32) * tone[..., None]


def gingham(rng: np.random.Generator, x: Field, y: Field) -> np.ndarray:
    """Chequered cloth: two families of stripes over one another."""
    x, y = _turned(rng, x, y, 45)
    cell = rng.uniform(5, 26)
    across = _square(x, cell)
    along = _square(y, cell)
    white = rng.uniform(205, 238)
    hue = _colour(rng, 30, 150)
    amount = (across + along)[..., None] / 2
    weave = 1 + 0.03 * np.sin(x * 9) * np.sin(y * 9) + 0.05 * _lookup(rng, x, y, (90, 60))
    return (white + (hue - white) * amount) * weave[..., None]


def _square(x: Field, cell: float) -> Field:
    return np.clip(np.sin(x * np.pi / cell) * cell * 1.2 + 0.5, 0, 1)


def oilcloth(rng: np.random.Generator, x: Field, y: Field) -> np.ndarray:
    """Printed cloth: dots, leaves and stripes on a pale or a dark ground."""
    x, y = _turned(rng, x, y, 45)
    light = rng.random() < 0.6
    out = np.empty((*x.shape, 3), np.float32)
    out[:] = _colour(rng, 190, 235) if light else _colour(rng, 30, 90)
    for _ in range(int(rng.integers(2, 5))):
        ink = _colour(rng, 30, 210)
        pitch, size = rng.uniform(14, 60), rng.uniform(0.15, 0.42)
        u = np.mod(x + rng.uniform(0, 60), pitch) / pitch - 0.5
        v = np.mod(y + rng.uniform(0, 60) + pitch / 2 * np.floor(x / pitch), pitch) / pitch - 0.5
        if rng.random() < 0.3:
            reach = np.abs(u) * 2.4
        else:
            reach = np.hypot(u, v * rng.uniform(0.5, 2)) * (
                1 + rng.uniform(0, 0.5) * np.cos(rng.integers(3, 7) * np.arctan2(v, u))
            )
        amount = np.clip((size - reach) * pitch / 0.5, 0, 1)[..., None]
        out += (ink - out) * amount * 0.9
    return out * (1 + 0.03 * _lookup(rng, x, y, (0.6, 0.6)))[..., None]


def tiles(rng: np.random.Generator, x: Field, y: Field) -> np.ndarray:
    """Square or oblong tiles with grout."""
    x, y = _turned(rng, x, y, 45)
    wide = rng.uniform(25, 110)
    high = wide * rng.choice([1.0, 0.5])
    i, j = np.floor(x / wide), np.floor(y / high)
    gap = np.minimum(
        np.abs(np.mod(x / wide + 0.5, 1) - 0.5) * wide,
        np.abs(np.mod(y / high + 0.5, 1) - 0.5) * high,
    )
    grout = np.clip((1.4 - gap) / 0.5, 0, 1)[..., None]
    shade = 1 + 0.06 * np.sin(i * 12.9 + j * 78.2) + 0.04 * _lookup(rng, x, y, (20, 20))
    base = _colour(rng, 70, 215) * shade[..., None]
    if rng.random() < 0.3:
        other = _colour(rng, 40, 200)
        base = np.where((np.mod(i + j, 2) < 1)[..., None], base, other * shade[..., None])
    return base + (_colour(rng, 90, 190) - base) * grout


GROUNDS: dict[str, Callable[[np.random.Generator, Field, Field], np.ndarray]] = {
    "plain": plain,
    "pale": pale,
    "dark": dark,
    "wood": wood,
    "cloth": cloth,
    "marble": marble,
    "gingham": gingham,
    "oilcloth": oilcloth,
    "tiles": tiles,
}
