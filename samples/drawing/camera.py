"""From drawn items to pictures of them: a flatbed under a white lid, a phone over a table.

Both give the picture (RGB, height x width x 3) and the corners of every item in pixels of it,
pixel centres on whole numbers, clockwise from the top-left corner of the item held upright.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cache

import cv2
import numpy as np

from .canvas import MM_PER_INCH, Item, noise

Quad = list[list[float]]
FOCAL = 0.8
"""Focal length of the phone in long sides of its picture, common practice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """An item on the glass: its centre in mm from the glass corner, turned clockwise."""

    item: Item
    centre_mm: tuple[float, float]
    turn_deg: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Shot:
    """How a phone is held over an item.

    Angles in degrees. `fill` is the share of the picture that the item takes, `light` the side
    (in radians) that the lamp stands on, `shadow` how dark the hand and phone make one corner.
    """

    table: str = "wood"
    size_px: tuple[int, int] = (2400, 1800)
    pitch: float = 4.0
    yaw: float = 0.0
    roll: float = 2.0
    fill: float = 0.84
    shift: tuple[float, float] = (0.0, 0.0)
    light: float = 0.8
    shadow: float = 0.15
    warmth: float = 0.05
    blur_px: float = 0.75
    curl: float = 0.05
    extra: tuple[str, ...] = field(default=())


def _to_mm(item: Item) -> np.ndarray:
    """Pixels of a drawn item to mm about its centre."""
    height, width = item.rgba.shape[:2]
    sx, sy = item.size_mm[0] / width, item.size_mm[1] / height
    return np.array(
        [
            [sx, 0, 0.5 * sx - item.size_mm[0] / 2],
            [0, sy, 0.5 * sy - item.size_mm[1] / 2],
            [0, 0, 1],
        ]
    )


def _turn(degrees: float) -> np.ndarray:
    """A clockwise turn, y pointing down."""
    a = np.radians(degrees)
    return np.array([[np.cos(a), -np.sin(a), 0], [np.sin(a), np.cos(a), 0], [0, 0, 1.0]])


def _corners(item: Item, to_px: np.ndarray) -> Quad:
    w, h = item.size_mm[0] / 2, item.size_mm[1] / 2
    mm = np.array([[[-w, -h]], [[w, -h]], [[w, h]], [[-w, h]]], dtype=np.float64)
    return [
        [round(float(x), 2), round(float(y), 2)] for [[x, y]] in cv2.perspectiveTransform(mm, to_px)
    ]


def _lay(item: Item, to_px: np.ndarray, size: tuple[int, int]) -> tuple[np.ndarray, np.ndarray]:
    """The item's pixels and its mask (0 to 1) in the picture, anti-aliased."""
    matrix = to_px @ _to_mm(item)
    scale = float(np.sqrt(abs(np.linalg.det(matrix[:2, :2]))))
    source = item.rgba
    if scale < 0.95:
        source = cv2.GaussianBlur(source, (0, 0), 0.42 / scale)
        source = np.dstack([source[..., :3], item.rgba[..., 3]])
    colour = cv2.warpPerspective(
        np.ascontiguousarray(source[..., :3]), matrix, size, flags=cv2.INTER_CUBIC,
        borderMode=cv2.BORDER_REPLICATE,
    )  # fmt: skip
    mask = cv2.warpPerspective(
        np.ascontiguousarray(source[..., 3]), matrix, size, flags=cv2.INTER_AREA, borderValue=0
    )
    mask = cv2.GaussianBlur(mask, (0, 0), 0.6).astype(np.float32) / 255
    return colour.astype(np.float32), mask


def _shifted(mask: np.ndarray, dx: float, dy: float, blur: float) -> np.ndarray:
    """A soft shadow: the mask moved and blurred (done at a quarter of the size)."""
    height, width = mask.shape
    small = cv2.resize(
        mask, (max(1, width // 4), max(1, height // 4)), interpolation=cv2.INTER_AREA
    )
    move = np.array([[1, 0, dx / 4], [0, 1, dy / 4]], dtype=np.float64)
    small = cv2.warpAffine(small, move, (small.shape[1], small.shape[0]))
    small = cv2.GaussianBlur(small, (0, 0), max(0.5, blur / 4))
    return cv2.resize(small, (width, height), interpolation=cv2.INTER_LINEAR)


def flatbed(
    items: list[Placed], glass_mm: tuple[float, float], rng: np.random.Generator, *,
    dpi: float = 300.0, book: bool = False, lid: float = 243.0,
) -> tuple[np.ndarray, list[Quad]]:  # fmt: skip
    """A scan of items lying face down on the glass under a white lid."""
    scale = dpi / MM_PER_INCH
    size = (round(glass_mm[0] * scale), round(glass_mm[1] * scale))
    shape = (size[1], size[0])
    picture: np.ndarray = np.full((*shape, 3), (lid, lid, lid - 1.5), np.float32)
    picture *= (1 + 0.006 * noise(rng, shape, (240, 240)))[..., None]
    quads = []
    for placed in items:
        move = np.array([[1, 0, placed.centre_mm[0]], [0, 1, placed.centre_mm[1]], [0, 0, 1.0]])
        to_px = np.array([[scale, 0, -0.5], [0, scale, -0.5], [0, 0, 1.0]])
        to_px = to_px @ move @ _turn(placed.turn_deg)
        colour, mask = _lay(placed.item, to_px, size)
        height = 3.0 if book else 1.3
        dark = 0.34 * _shifted(
            mask, 0.35 * height * scale * 0.5, height * scale * 0.55, height * scale * 0.5
        )
        dark += 0.30 * _shifted(mask, 0, 0.2 * scale, 0.45 * scale)
        picture *= (1 - np.clip(dark, 0, 0.6) * (1 - mask))[..., None]
        picture = picture * (1 - mask[..., None]) + colour * mask[..., None]
        quads.append(_corners(placed.item, to_px))
    picture = cv2.GaussianBlur(picture, (0, 0), 0.55)
    _dust(picture, rng)
    lines = 1 + 0.0025 * rng.standard_normal(size[0]).astype(np.float32)
    picture = picture * lines[None, :, None]
    picture = picture + rng.standard_normal(picture.shape, dtype=np.float32) * 0.9
    return np.clip(picture + 0.5, 0, 255).astype(np.uint8), quads


def _dust(picture: np.ndarray, rng: np.random.Generator) -> None:
    """A few specks and one hair on the glass."""
    height, width = picture.shape[:2]
    for _ in range(14):
        at = (int(rng.integers(width)), int(rng.integers(height)))
        grey = float(rng.uniform(110, 190))
        cv2.circle(picture, at, int(rng.integers(1, 3)), (grey, grey, grey), -1, cv2.LINE_AA)
    start = np.array([rng.uniform(0.05, 0.9) * width, rng.uniform(0.05, 0.95) * height])
    bend = (
        np.cumsum(np.cumsum(rng.normal(0, 0.35, (26, 2)), axis=0), axis=0) + np.arange(26)[:, None]
    )
    points = (start + bend * 1.6).astype(np.int32)
    cv2.polylines(picture, [points], False, (176.0, 174.0, 172.0), 1, cv2.LINE_AA)


@cache
def _table(kind: str) -> np.ndarray:
    """A table top of 640 x 640 mm at 5 px/mm, RGB, drawn once per kind."""
    rng = np.random.default_rng({"wood": 11, "oak": 12, "dark": 13, "cloth": 14}[kind])
    shape = (3200, 3200)
    if kind in ("wood", "oak"):
        return _wood(rng, shape, light=kind == "oak")
    base = np.zeros((*shape, 3), np.float32)
    if kind == "dark":
        base[:] = (52, 50, 50)
        grain = noise(rng, shape, (3, 3)) * 3.2 + noise(rng, shape, (40, 260)) * 3.5
        return np.clip(base + grain[..., None], 0, 255).astype(np.uint8)
    base[:] = (92, 110, 132)
    y, x = np.mgrid[0 : shape[0], 0 : shape[1]].astype(np.float32)
    weave = 7 * np.sin(x * 1.05) * np.sin(y * 1.05) + noise(rng, shape, (4, 30)) * 5
    weave += noise(rng, shape, (30, 4)) * 5 + noise(rng, shape, (300, 300)) * 6
    return np.clip(base + weave[..., None], 0, 255).astype(np.uint8)


def _wood(rng: np.random.Generator, shape: tuple[int, int], *, light: bool) -> np.ndarray:
    """Planks with grain along x."""
    picture = np.zeros((*shape, 3), np.float32)
    dark, pale = ((146, 108, 70), (206, 170, 124)) if light else ((84, 52, 32), (150, 102, 64))
    plank = 380
    for top in range(0, shape[0], plank):
        rows = min(plank, shape[0] - top)
        y = np.arange(rows, dtype=np.float32)[:, None]
        warp = noise(rng, (rows, shape[1]), (110, 900)) * 42
        rings = 0.5 + 0.5 * np.sin((y + warp) * 0.085 + rng.uniform(0, 6))
        streak = noise(rng, (rows, shape[1]), (5, 420)) * 0.42
        streak += noise(rng, (rows, shape[1]), (1.5, 90)) * 0.26
        tone = np.clip(0.48 * rings + 0.30 + streak + rng.uniform(-0.12, 0.12), 0, 1)[..., None]
        board = np.array(dark, np.float32) * (1 - tone) + np.array(pale, np.float32) * tone
        board[:5] *= 0.55
        board[5:9] *= 1.08
        picture[top : top + rows] = board
    return np.clip(picture, 0, 255).astype(np.uint8)


def _hold(item: Item, shot: Shot) -> np.ndarray:
    """Homography from mm on the table about the item's centre to pixels of the picture."""
    width, height = shot.size_px
    focal = FOCAL * max(width, height)
    a, b = np.radians(shot.pitch), np.radians(shot.yaw)
    about_x = np.array([[1, 0, 0], [0, np.cos(a), -np.sin(a)], [0, np.sin(a), np.cos(a)]])
    about_y = np.array([[np.cos(b), 0, np.sin(b)], [0, 1, 0], [-np.sin(b), 0, np.cos(b)]])
    rotation = about_x @ about_y @ _turn(shot.roll)
    box = cv2.transform(
        np.array([[[-item.size_mm[0] / 2, -item.size_mm[1] / 2]],
                  [[item.size_mm[0] / 2, -item.size_mm[1] / 2]]]), _turn(shot.roll)[:2, :2]
    )  # fmt: skip
    reach = np.abs(box).max(axis=(0, 1)) * 2
    distance = focal / (shot.fill * min(width / reach[0], height / reach[1]))
    centre = [(width - 1) / 2 + shot.shift[0] * width, (height - 1) / 2 + shot.shift[1] * height]
    camera = np.array([[focal, 0, centre[0]], [0, focal, centre[1]], [0, 0, 1.0]])
    plane = np.column_stack([rotation[:, 0], rotation[:, 1], [0, 0, distance]])
    matrix = camera @ plane
    return matrix / matrix[2, 2]


def phone(item: Item, shot: Shot, rng: np.random.Generator) -> tuple[np.ndarray, list[Quad]]:
    """A photo of one item on a table."""
    to_px = _hold(item, shot)
    top = _table(shot.table)
    off = rng.uniform(-380, -260, 2)
    texture = np.array([[0.2, 0, off[0]], [0, 0.2, off[1]], [0, 0, 1.0]])
    table_turn = _turn(rng.uniform(-9, 9))
    picture = cv2.warpPerspective(
        top, to_px @ table_turn @ texture, shot.size_px, flags=cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REFLECT,
    ).astype(np.float32)  # fmt: skip
    colour, mask = _lay(item, to_px, shot.size_px)
    per_mm = float(np.sqrt(abs(np.linalg.det(to_px[:2, :2]))))
    dx, dy = -np.cos(shot.light) * per_mm, -np.sin(shot.light) * per_mm
    thick = 0.6 if item.kind.endswith("page") else 2.4
    dark = 0.50 * _shifted(mask, dx * thick, dy * thick, 1.1 * thick * per_mm)
    dark += 0.38 * _shifted(mask, dx * 0.5, dy * 0.5, 0.7 * per_mm)
    picture *= (1 - np.clip(dark, 0, 0.8) * (1 - mask))[..., None]
    colour *= _curl(item, to_px, shot)[..., None]
    picture = picture * (1 - mask[..., None]) + colour * mask[..., None]
    picture = _light(picture, shot, rng)
    return _sensor(picture, shot, rng), [_corners(item, to_px)]


def _curl(item: Item, to_px: np.ndarray, shot: Shot) -> np.ndarray:
    """Shading of paper that does not lie flat, and of letter folds at the thirds."""
    w, h = 64, 96
    y = (np.arange(h, dtype=np.float32)[:, None] + 0.5) / h
    x = (np.arange(w, dtype=np.float32)[None, :] + 0.5) / w
    shade = 1 + shot.curl * np.sin(2.2 * y + 3.1 * x + shot.light)
    if "folds" in shot.extra:
        for third in (1 / 3, 2 / 3):
            away = (y - third) * 297
            shade = shade * (1 - 0.05 * np.exp(-np.abs(away) / 26) * np.sign(away + 1e-6))
            shade = shade * (1 - 0.10 * np.exp(-((away / 3.2) ** 2)))
    wide, high = item.size_mm
    grid = np.array([[wide / w, 0, (0.5 / w - 0.5) * wide], [0, high / h, (0.5 / h - 0.5) * high],
                     [0, 0, 1.0]])  # fmt: skip
    return cv2.warpPerspective(
        shade.astype(np.float32), to_px @ grid, shot.size_px, flags=cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )  # fmt: skip


def _light(picture: np.ndarray, shot: Shot, rng: np.random.Generator) -> np.ndarray:
    """Uneven light: a lamp to one side, corners darker, a soft shadow, bright parts held back."""
    width, height = shot.size_px
    y, x = np.mgrid[0:120, 0:160].astype(np.float32)
    x, y = x / 80 - 1, y / 60 - 1
    field = 1.04 + 0.12 * (x * np.cos(shot.light) + y * np.sin(shot.light))
    field -= 0.05 * (x * x + y * y)
    away = shot.light + np.pi + rng.uniform(-0.4, 0.4)
    cx, cy = 1.1 * np.cos(away), 1.1 * np.sin(away)
    reach = ((x - cx) ** 2 + (y - cy) ** 2) / 0.75
    field *= 1 - shot.shadow / (1 + np.exp(6 * (reach - 1)))
    field = cv2.resize(field, (width, height), interpolation=cv2.INTER_CUBIC)
    picture = picture * field[..., None]
    cast = np.array([1 + shot.warmth * 0.5, 1.0, 1 - shot.warmth], np.float32)
    picture = picture * cast
    bright = np.maximum(picture - 196, 0)
    return np.minimum(picture, 196) + 58 * np.tanh(bright / 84)


def _sensor(picture: np.ndarray, shot: Shot, rng: np.random.Generator) -> np.ndarray:
    """Lens blur, a phone's edge sharpening, grain that grows in the dark, 8 bits."""
    picture = cv2.GaussianBlur(picture, (0, 0), shot.blur_px)
    picture = picture + 0.35 * (picture - cv2.GaussianBlur(picture, (0, 0), 1.6))
    shape = picture.shape[:2]
    grain: np.ndarray = (
        cv2.GaussianBlur(rng.standard_normal(shape, dtype=np.float32), (0, 0), 0.7) * 2.0
    )
    blotch: np.ndarray = cv2.resize(
        rng.standard_normal((shape[0] // 12, shape[1] // 12, 3), dtype=np.float32), shape[::-1],
        interpolation=cv2.INTER_LINEAR,
    )  # fmt: skip
    strength: np.ndarray = 1.35 - picture.mean(axis=2) / 255
    picture = picture + (grain * strength)[..., None] + blotch * 0.8 * strength[..., None]
    return np.clip(picture + 0.5, 0, 255).astype(np.uint8)
