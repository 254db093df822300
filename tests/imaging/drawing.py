"""Scans and photos drawn with a seed, and the truth about them.

Three levels: "flatbed" (lid white, grey or black, small skew), "easy" (photo on a plain ground,
tilt to 8 degrees), "normal" (wood, cloth or stone, tilt to 20 degrees, uneven light).
"""

from __future__ import annotations

from dataclasses import dataclass, field

import cv2
import numpy as np

ID1 = (85.60, 53.98)  # ISO/IEC 7810
SPREAD = (176.0, 125.0)  # two ID-3 pages, ISO/IEC 7810
A4 = (210.0, 297.0)  # ISO 216
_DRAW_PX_PER_MM = 9.0


@dataclass(frozen=True, kw_only=True)
class Scene:
    """A picture and its items: corners in its pixels, clockwise from the top left as shown."""

    pixels: np.ndarray = field(repr=False)
    corners: tuple[np.ndarray, ...]
    sizes_mm: tuple[tuple[float, float], ...]
    dpi: tuple[float, float] | None
    source: str


def draw_item(rng, kind: str) -> tuple[np.ndarray, np.ndarray, tuple[float, float]]:
    """(RGB, mask of the item in its box, size in mm) of "card", "spread", "page" or "blank"."""
    size = {"card": ID1, "spread": SPREAD, "blank": SPREAD, "page": A4}[kind]
    scale = _DRAW_PX_PER_MM
    width, height = round(size[0] * scale), round(size[1] * scale)
    base = {
        "card": rng.integers(150, 245, 3),
        "page": np.array([246, 245, 243]) - rng.integers(0, 6, 3),
    }.get(kind, rng.integers(205, 245, 3))
    image = np.full((height, width, 3), base, np.uint8)
    mask = np.full((height, width), 255, np.uint8)
    if kind in ("spread", "blank", "card"):
        _background_print(rng, image)
    if kind == "card":
        _round(mask, round(3.18 * scale))
        _text(rng, image, (0.36, 0.95, 0.1, 0.75), height_mm=2.2)
        _portrait(image, (0.05, 0.22, 0.32, 0.85))
    elif kind == "page":
        _text(rng, image, (0.1, 0.9, 0.07, 0.93), height_mm=2.6)
    elif kind == "spread":
        _text(rng, image, (0.06, 0.44, 0.1, 0.8), height_mm=2.2)
        _text(rng, image, (0.56, 0.94, 0.2, 0.5), height_mm=2.2)
        _stamp(rng, image)
    if kind in ("spread", "blank"):
        _fold(image)
        cv2.putText(image, "12", (30, height - 30), 0, 0.9, (90, 90, 90), 2, cv2.LINE_AA)
        cv2.putText(image, "13", (width - 70, height - 30), 0, 0.9, (90, 90, 90), 2, cv2.LINE_AA)
    return image, mask, size


def _background_print(rng, image):
    height, width = image.shape[:2]
    y, x = np.mgrid[0:height, 0:width].astype(np.float32)
    wave = np.sin(x / 9 + 4 * np.sin(y / 70 + rng.uniform(0, 6))) * np.sin(y / 11)
    tint = rng.uniform(-9, 9, 3).astype(np.float32)
    image[:] = np.clip(image + wave[..., None] * tint, 0, 255).astype(np.uint8)


def _round(mask, radius):
    height, width = mask.shape
    mask[:] = 0
    cv2.rectangle(mask, (radius, 0), (width - radius, height), 255, -1)
    cv2.rectangle(mask, (0, radius), (width, height - radius), 255, -1)
    for x in (radius, width - 1 - radius):
        for y in (radius, height - 1 - radius):
            cv2.circle(mask, (x, y), radius, 255, -1, cv2.LINE_AA)


def _text(rng, image, box, *, height_mm):
    left, right, top, bottom = box
    height, width = image.shape[:2]
    line = height_mm * _DRAW_PX_PER_MM * 1.9
    scale = height_mm * _DRAW_PX_PER_MM / 22
    ink = tuple(int(v) for v in rng.integers(10, 70, 3))
    y = top * height + line
    while y < bottom * height:
        words = "".join(rng.choice(list("abcdehiklmnoprstuvxy    "), 120))
        room = int((right - left) * width / (scale * 17))
        text = words[: int(room * rng.uniform(0.5, 1.0))]
        cv2.putText(image, text, (int(left * width), int(y)), 0, scale, ink, 2, cv2.LINE_AA)
        y += line


def _portrait(image, box):
    left, top, right, bottom = box
    height, width = image.shape[:2]
    box = (int(left * width), int(top * height)), (int(right * width), int(bottom * height))
    cv2.rectangle(image, *box, (196, 200, 206), -1)
    centre = (int((left + right) / 2 * width), int((top + bottom) / 2 * height))
    cv2.ellipse(image, centre, (width // 13, height // 5), 0, 0, 360, (150, 118, 98), -1)


def _stamp(rng, image):
    height, width = image.shape[:2]
    centre = (int(width * rng.uniform(0.62, 0.85)), int(height * 0.72))
    colour = tuple(int(v) for v in rng.integers(30, 140, 3))
    cv2.ellipse(image, centre, (170, 100), float(rng.uniform(0, 40)), 0, 360, colour, 5)


def _fold(image):
    width = image.shape[1]
    x = np.arange(width, dtype=np.float32)
    valley = 1 - 0.22 * np.exp(-(((x - width / 2) / 14) ** 2))
    image[:] = np.clip(image * valley[None, :, None], 0, 255).astype(np.uint8)


# --- grounds -----------------------------------------------------------------------------------


def ground(rng, name: str, height: int, width: int) -> np.ndarray:
    """A table top as (height, width, 3) float32."""
    y, x = np.mgrid[0:height, 0:width].astype(np.float32)
    if name == "wood":
        base = np.array([142, 98, 62], np.float32) * rng.uniform(0.6, 1.2)
        grain = _smooth_noise(rng, height, width, (4, 160))
        rings = np.sin(y / rng.uniform(8, 20) + 6 * _smooth_noise(rng, height, width, (60, 500)))
        return base * (1 + 0.16 * grain + 0.07 * rings)[..., None]
    if name == "cloth":
        base = rng.uniform(50, 170, 3).astype(np.float32)
        weave = np.sin(x / 2.2) * np.sin(y / 2.2)
        return (
            base * (1 + 0.1 * weave + 0.1 * _smooth_noise(rng, height, width, (40, 40)))[..., None]
        )
    if name == "stone":
        base = np.array([150, 148, 144], np.float32) * rng.uniform(0.5, 1.0)
        veins = np.abs(_smooth_noise(rng, height, width, (50, 70)))
        return base * (1 - 0.25 * np.exp(-((veins / 0.12) ** 2)))[..., None]
    return np.full((height, width, 3), rng.uniform(25, 120, 3), np.float32)


def _smooth_noise(rng, height, width, scales):
    rough = rng.standard_normal((max(4, height // scales[0]), max(4, width // scales[1])))
    return cv2.resize(rough.astype(np.float32), (width, height), interpolation=cv2.INTER_CUBIC)


# --- scenes ------------------------------------------------------------------------------------


def flatbed(seed: int, kinds=("card",), *, dpi=300.0, lid=None, skew=None) -> Scene:
    """Items one below the other on an A4 glass, each with a skew of its own."""
    rng = np.random.default_rng(seed)
    scale = dpi / 25.4
    glass = (240.0, 330.0) if "page" in kinds else (210.0, 297.0)
    width, height = round(glass[0] * scale), round(glass[1] * scale)
    level = float(lid if lid is not None else rng.choice([238.0, 150.0, 30.0]))
    canvas = np.full((height, width, 3), level, np.float32)
    corners, sizes = [], []
    top = 14.0
    for kind in kinds:
        image, mask, size = draw_item(rng, kind)
        angle = np.deg2rad(rng.uniform(-4, 4) if skew is None else skew)
        place = np.array(
            [rng.uniform(size[0] / 2 + 12, glass[0] - size[0] / 2 - 11), top + size[1] / 2 + 4]
        )
        quad_mm = _rectangle(size) @ _turn(angle).T + place
        quad = quad_mm * scale - 0.5
        _paste(rng, canvas, image, mask, quad, shadow=0.0 if level < 60 else 0.25)
        corners.append(quad)
        sizes.append(size)
        top = quad_mm[:, 1].max() + 8
    pixels = _finish(rng, canvas, noise=1.5, blur=0.5)
    return Scene(
        pixels=pixels,
        corners=tuple(corners),
        sizes_mm=tuple(sizes),
        dpi=(dpi, dpi),
        source="scanner",
    )


def photo(seed: int, level: str, kind="card", *, width=1680, height=1260) -> Scene:
    """One item on a table, seen by a phone."""
    rng = np.random.default_rng(seed)
    image, mask, size = draw_item(rng, kind)
    if size[1] > size[0] and width > height:
        width, height = height, width
    tilt = np.deg2rad(rng.uniform(0, 8) if level == "easy" else rng.uniform(8, 20))
    matrix = _camera(rng, size, tilt, width, height, fill=rng.uniform(0.55, 0.82))
    name = "plain" if level == "easy" else str(rng.choice(["wood", "cloth", "stone"]))
    table_mm = 4 * max(size)
    table_px = 1400
    top = ground(rng, name, table_px, table_px)
    to_mm = np.array(
        [
            [table_mm / table_px, 0, -table_mm / 2],
            [0, table_mm / table_px, -table_mm / 2],
            [0, 0, 1],
        ]
    )
    canvas = cv2.warpPerspective(
        top, matrix @ to_mm, (width, height), flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT
    )
    quad = _project(matrix, _rectangle(size))
    _paste(rng, canvas, image, mask, quad, shadow=0.35)
    canvas *= _light(rng, height, width, depth=0.1 if level == "easy" else 0.45)[..., None]
    pixels = _finish(rng, canvas, noise=2.0 if level == "easy" else 4.0, blur=0.8)
    return Scene(
        pixels=pixels, corners=(_ordered(quad),), sizes_mm=(size,), dpi=None, source="camera"
    )


def _ordered(quad):
    from packet.imaging.geometry import from_top_left

    return from_top_left(quad)


def _rectangle(size):
    w, h = size[0] / 2, size[1] / 2
    return np.array([[-w, -h], [w, -h], [w, h], [-w, h]])


def _turn(angle):
    return np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])


def _camera(rng, size, tilt, width, height, *, fill):
    """Homography from the table in mm to the picture in pixels."""
    focal = rng.uniform(0.75, 0.95) * max(width, height)
    axis = rng.uniform(0, 2 * np.pi)
    k = np.array([np.cos(axis), np.sin(axis), 0])
    cross = np.array([[0, -k[2], k[1]], [k[2], 0, -k[0]], [-k[1], k[0], 0]])
    lean = np.eye(3) + np.sin(tilt) * cross + (1 - np.cos(tilt)) * cross @ cross
    spin = np.eye(3)
    spin[:2, :2] = _turn(np.deg2rad(rng.uniform(-12, 12)))
    pose = lean @ spin
    distance = focal * max(size[0] / width, size[1] / height) / fill
    offset = np.array(
        [rng.uniform(-0.04, 0.04) * max(size), rng.uniform(-0.04, 0.04) * max(size), distance]
    )
    lens = np.array([[focal, 0, (width - 1) / 2], [0, focal, (height - 1) / 2], [0, 0, 1]])
    return lens @ np.column_stack([pose[:, 0], pose[:, 1], offset])


def _project(matrix, points):
    flat = np.column_stack([points, np.ones(len(points))]) @ matrix.T
    return flat[:, :2] / flat[:, 2:]


def _paste(rng, canvas, image, mask, quad, *, shadow):
    """The item onto the canvas, averaged to the canvas's resolution, with a soft shadow."""
    height, width = canvas.shape[:2]
    long_px = max(np.linalg.norm(quad[1] - quad[0]), np.linalg.norm(quad[2] - quad[1]))
    shrink = min(1.0, 1.15 * long_px / max(image.shape[:2]))
    size = (round(image.shape[1] * shrink), round(image.shape[0] * shrink))
    image = cv2.resize(image, size, interpolation=cv2.INTER_AREA)
    mask = cv2.resize(mask, size, interpolation=cv2.INTER_AREA)
    # a clear rim, so that the warp gives the outline its partly covered pixels
    image = cv2.copyMakeBorder(image, 2, 2, 2, 2, cv2.BORDER_REPLICATE)
    mask = cv2.copyMakeBorder(mask, 2, 2, 2, 2, cv2.BORDER_CONSTANT, value=0)
    box = np.array(
        [[1.5, 1.5], [size[0] + 1.5, 1.5], [size[0] + 1.5, size[1] + 1.5], [1.5, size[1] + 1.5]]
    )
    matrix = cv2.getPerspectiveTransform(box.astype(np.float32), quad.astype(np.float32))
    flags = cv2.INTER_LINEAR
    cover = cv2.warpPerspective(mask, matrix, (width, height), flags=flags).astype(np.float32) / 255
    if shadow:
        far = max(2.0, 0.012 * long_px)
        slide = np.float32([[1, 0, 0.5 * far], [0, 1, 0.6 * far]])
        dark = cv2.GaussianBlur(cv2.warpAffine(cover, slide, (width, height)), (0, 0), far)
        canvas *= (1 - shadow * dark)[..., None]
    laid = cv2.warpPerspective(
        image, matrix, (width, height), flags=flags, borderMode=cv2.BORDER_REPLICATE
    ).astype(np.float32)
    canvas += cover[..., None] * (laid - canvas)


def _light(rng, height, width, *, depth):
    y, x = np.mgrid[0:height, 0:width].astype(np.float32)
    angle = rng.uniform(0, 2 * np.pi)
    ramp = np.cos(angle) * x / width + np.sin(angle) * y / height
    ramp = (ramp - ramp.min()) / np.ptp(ramp)
    return 1 - depth * ramp**1.5


def _finish(rng, canvas, *, noise, blur):
    canvas = cv2.GaussianBlur(canvas, (0, 0), blur)
    grain = rng.standard_normal(canvas.shape[:2]).astype(np.float32)
    return np.clip(canvas + noise * grain[..., None] + 0.5, 0, 255).astype(np.uint8)
