"""Photos: papers on a table, seen by a phone, with light, shadow, fingers, glare and blur."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from .camera import Camera, meet
from .grounds import GROUNDS
from .ink import smooth
from .papers import Paper
from .truth import TruthItem, blur_flag, cut_flag, lines_mm, outline_mm, px_per_mm

GLARE_SURE_MM, GLARE_NOT_MM = 5.0, 2.0
"""Narrow side of a burnt-out patch over print that is glare for sure, and that is none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Laid:
    """A paper on the table: its middle in mm, turned clockwise; ``curl_mm`` it rises."""

    paper: Paper
    x: float = 0.0
    y: float = 0.0
    turn_deg: float = 0.0
    curl_mm: float = 0.0
    curl_axis_deg: float = 0.0

    def height(self, u: np.ndarray, v: np.ndarray) -> np.ndarray:
        """Height in mm above the table at places about the middle of the paper."""
        base = {"sheet": 0.1, "card": 0.8, "book": 3.0}[self.paper.relief]
        if not self.curl_mm:
            return np.full_like(u, base)
        wide, high = self.paper.size_mm
        if self.paper.relief == "book":
            away = np.abs(u) if wide > high else np.abs(v)
            return base + self.curl_mm * (1 - np.exp(-away / 9.0)) * np.exp(-away / 60.0)
        a = np.radians(self.curl_axis_deg)
        t = (u * np.cos(a) + v * np.sin(a)) / (0.5 * max(wide, high))
        return base + np.abs(self.curl_mm) * (t * t if self.curl_mm > 0 else 1.3 - t * t)

    def table(self, local: np.ndarray) -> np.ndarray:
        """(n, 2) mm about the middle of the paper to (n, 3) on the table."""
        a = np.radians(self.turn_deg)
        x = self.x + local[:, 0] * np.cos(a) - local[:, 1] * np.sin(a)
        y = self.y + local[:, 0] * np.sin(a) + local[:, 1] * np.cos(a)
        return np.column_stack([x, y, self.height(local[:, 0], local[:, 1])])

    def local(self, x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Table mm to mm about the middle of the paper."""
        a = np.radians(self.turn_deg)
        c, s = np.float32(np.cos(a)), np.float32(np.sin(a))
        x, y = x - np.float32(self.x), y - np.float32(self.y)
        return x * c + y * s, y * c - x * s


@dataclass(frozen=True, slots=True, kw_only=True)
class Light:
    """``slope``: how much the light falls off across the picture. ``white``: level of white paper.

    ``hand``: darkness of a hand's shadow. ``cast``: colour of the light.
    """

    slope: float = 0.08
    towards_deg: float = 30.0
    vignette: float = 0.08
    hand: float = 0.0
    white: float = 228.0
    cast: tuple[float, float, float] = (1.0, 1.0, 1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Lens:
    """Blur (standard deviation) and motion in pixels, its angle, noise, sharpening."""

    blur_px: float = 0.7
    motion_px: float = 0.0
    motion_deg: float = 0.0
    noise: float = 2.0
    sharpen: float = 0.3


@dataclass(frozen=True, slots=True, kw_only=True)
class Photo:
    """A scene to be drawn. ``glare``: patches on the first paper; ``fingers``: over its edge."""

    laid: tuple[Laid, ...]
    camera: Camera
    ground: str
    light: Light
    lens: Lens
    glare: int = 0
    fingers: int = 0
    pen: bool = False


def shoot(rng: np.random.Generator, photo: Photo) -> tuple[np.ndarray, tuple[TruthItem, ...]]:
    """The picture, (H, W, 3) uint8, and the truth about each paper, in the order given."""
    width, height = photo.camera.size_px
    centre, rays = photo.camera.rays((0, 0, width, height))
    x, y = meet(centre, rays, 0.0)
    picture = GROUNDS[photo.ground](rng, x, y).astype(np.float32)
    del rays, x, y
    if photo.pen:
        _pen(rng, picture, photo)
    masks = [_lay(picture, laid, photo) for laid in photo.laid]
    if photo.fingers:
        _fingers(rng, picture, photo)
    picture *= _light_field(rng, photo)[..., None]
    picture *= np.array(photo.light.cast, np.float32) * (photo.light.white / 250.0)
    burnt = _glare(rng, picture, photo) if photo.glare else None
    shot = _sensor(rng, picture, photo.lens)
    truths = tuple(
        _truth(laid, photo, shot, mask if burnt is not None else None)
        for laid, mask in zip(photo.laid, masks, strict=True)
    )
    return shot, truths


# --- papers --------------------------------------------------------------------------------------


def _box(points: np.ndarray, size: tuple[int, int], pad: int) -> tuple[int, int, int, int] | None:
    low = np.floor(points.min(axis=0)).astype(int) - pad
    high = np.ceil(points.max(axis=0)).astype(int) + pad
    x0, y0 = np.maximum(low, 0)
    x1, y1 = np.minimum(high, np.array(size))
    return (int(x0), int(y0), int(x1 - x0), int(y1 - y0)) if x1 > x0 and y1 > y0 else None


def _quad(laid: Laid, camera: Camera) -> np.ndarray:
    return camera.project(laid.table(outline_mm(laid.paper.size_mm)))


def padded(paper: Paper, px_mm: float) -> tuple[np.ndarray, np.ndarray, float, int]:
    """(RGB, mask, its scale, border in pixels): shrunk to the picture's scale, with its rim."""
    scale = paper.scale
    rgb, mask = paper.rgb, paper.mask
    if scale > px_mm * 1.15:
        factor = px_mm * 1.1 / scale
        wide = max(8, round(rgb.shape[1] * factor))
        high = max(8, round(rgb.shape[0] * factor))
        rgb = cv2.resize(rgb, (wide, high), interpolation=cv2.INTER_AREA)
        mask = cv2.resize(mask, (wide, high), interpolation=cv2.INTER_AREA)
        scale = wide / paper.size_mm[0]
    rim = round(paper.rim_mm * scale)
    edge = rim + 4
    rgb = cv2.copyMakeBorder(rgb, edge, edge, edge, edge, cv2.BORDER_REPLICATE)
    mask = cv2.copyMakeBorder(mask, edge, edge, edge, edge, cv2.BORDER_CONSTANT, value=0)
    if rim:
        kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * rim + 1, 2 * rim + 1))
        grown = cv2.dilate(mask, kernel)
        amount = mask[..., None].astype(np.float32) / 255
        dark = np.array(paper.rim_rgb, np.float32)
        rgb = (rgb * amount + dark * (1 - amount)).astype(np.uint8)
        mask = grown
    return rgb, mask, scale, edge


def _lay(picture: np.ndarray, laid: Laid, photo: Photo) -> np.ndarray:
    """Draw one paper with its shadow; returns a map of its print in the picture, 0 to 255."""
    camera, paper = photo.camera, laid.paper
    quad = _quad(laid, camera)
    px_mm = px_per_mm(quad, paper.size_mm)
    content = np.zeros(picture.shape[:2], np.uint8)
    box = _box(quad, camera.size_px, round(12 * px_mm))
    if box is None:
        return content
    x0, y0, width, height = box
    rgb, mask, scale, edge = padded(paper, px_mm)
    centre, rays = camera.rays(box)
    rise: np.ndarray | float = 0.1
    for _ in range(4 if laid.curl_mm else 2):
        u, v = laid.local(*meet(centre, rays, rise))
        rise = laid.height(u, v)
    wide, high = paper.size_mm
    map_x = ((u + wide / 2) * scale - 0.5 + edge).astype(np.float32)
    down = (rgb.shape[0] - 2 * edge) / high
    map_y = ((v + high / 2) * down - 0.5 + edge).astype(np.float32)
    ink = cv2.remap(rgb, map_x, map_y, cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)
    cover = cv2.remap(mask, map_x, map_y, cv2.INTER_LINEAR, borderValue=0)
    colour = ink.astype(np.float32) * _slope_shade(laid, u, v, photo)[..., None]
    amount = cover.astype(np.float32) / 255
    part = picture[y0 : y0 + height, x0 : x0 + width]
    part *= (1 - _contact_shadow(amount, laid, photo, px_mm) * (1 - amount))[..., None]
    part += (colour - part) * amount[..., None]
    grey = cv2.cvtColor(ink, cv2.COLOR_RGB2GRAY)
    window = 2 * round(4 * px_mm) + 1
    ground = cv2.blur(grey, (window, window))
    print_ = ((ground.astype(np.int16) - grey > 28) & (cover > 200)).astype(np.uint8) * 255
    reach = 2 * round(1.2 * px_mm) + 1
    content[y0 : y0 + height, x0 : x0 + width] = cv2.dilate(
        print_, np.ones((reach, reach), np.uint8)
    )
    return content


def _slope_shade(laid: Laid, u: np.ndarray, v: np.ndarray, photo: Photo) -> np.ndarray:
    if not laid.curl_mm:
        return np.ones_like(u)
    a = np.radians(photo.light.towards_deg - laid.turn_deg)
    step = np.float32(1.0)
    ahead = laid.height(u + step * np.float32(np.cos(a)), v + step * np.float32(np.sin(a)))
    return np.clip(1 + 0.9 * (laid.height(u, v) - ahead), 0.6, 1.15)


def _contact_shadow(amount: np.ndarray, laid: Laid, photo: Photo, px_mm: float) -> np.ndarray:
    """A soft shadow away from the light and a narrow one all round."""
    thick = {"sheet": 0.5, "card": 1.2, "book": 4.0}[laid.paper.relief] + 0.5 * abs(laid.curl_mm)
    a = np.radians(photo.light.towards_deg + 180)
    move = np.array(
        [[1, 0, np.cos(a) * thick * px_mm * 0.7], [0, 1, np.sin(a) * thick * px_mm * 0.7]]
    )
    far = cv2.warpAffine(amount, move, amount.shape[::-1])
    far = cv2.GaussianBlur(far, (0, 0), max(0.8, 0.5 * thick * px_mm))
    near = cv2.GaussianBlur(amount, (0, 0), max(0.6, 0.35 * px_mm))
    return np.clip(0.4 * far + 0.35 * near, 0, 0.75)


# --- things in the way ---------------------------------------------------------------------------


def _capsule(
    picture: np.ndarray, ends: np.ndarray, radius: float, colour: np.ndarray, nail: bool
) -> None:
    """A rounded bar with its own shading, and a soft shadow under it."""
    box = _box(ends, (picture.shape[1], picture.shape[0]), round(radius * 2.2))
    if box is None:
        return
    x0, y0, width, height = box
    v, u = np.mgrid[y0 : y0 + height, x0 : x0 + width].astype(np.float32)
    (ax, ay), (bx, by) = ends.astype(np.float32)
    dx, dy = bx - ax, by - ay
    t = ((u - ax) * dx + (v - ay) * dy) / max(dx * dx + dy * dy, 1.0)
    t = np.clip(t, 0, 1)
    away = np.hypot(u - ax - t * dx, v - ay - t * dy) / radius
    part = picture[y0 : y0 + height, x0 : x0 + width]
    shadow = 0.45 * np.clip(1.7 - away, 0, 0.7) / 0.7
    part *= (1 - shadow)[..., None]
    round_ = np.sqrt(np.clip(1 - 0.85 * away**2, 0.1, 1))
    tone = colour * (0.55 + 0.5 * round_)[..., None]
    if nail:
        along = (u - bx) * dx + (v - by) * dy
        across = (u - bx) * dy - (v - by) * dx
        size = np.hypot(dx, dy) * radius
        inside = (along / size / 0.62) ** 2 + (across / size / 0.55) ** 2 < 1
        tone = np.where(inside[..., None], tone * 0.75 + np.array([64, 52, 48]), tone)
    amount = np.clip((1 - away) * radius / 1.5, 0, 1)[..., None]
    part += (tone.astype(np.float32) - part) * amount


def _fingers(rng: np.random.Generator, picture: np.ndarray, photo: Photo) -> None:
    """Fingertips that hold the first paper, 5 to 16 mm over its edge."""
    laid = photo.laid[0]
    wide, high = laid.paper.size_mm
    skin = np.array([222, 172, 142], np.float32) * rng.uniform(0.4, 1.0)
    side = int(rng.integers(4))
    for number in range(photo.fingers):
        if number and rng.random() < 0.6:
            side = (side + 2) % 4
        along = rng.uniform(-0.34, 0.34)
        deep = rng.uniform(5, 16)
        angle = np.radians(rng.uniform(-25, 25))
        if side % 2 == 0:
            sign = -1 if side == 0 else 1
            tip = np.array([along * wide, sign * (high / 2 - deep + 8)])
            far = tip + np.array([np.sin(angle), sign * np.cos(angle)]) * 130
        else:
            sign = 1 if side == 1 else -1
            tip = np.array([sign * (wide / 2 - deep + 8), along * high])
            far = tip + np.array([sign * np.cos(angle), np.sin(angle)]) * 130
        points = laid.table(np.array([far, tip]))
        points[:, 2] += 8
        seen = photo.camera.project(points)
        scale = px_per_mm(_quad(laid, photo.camera), laid.paper.size_mm)
        _capsule(picture, seen, rng.uniform(7.5, 10) * scale, skin, bool(rng.random() < 0.8))


def _pen(rng: np.random.Generator, picture: np.ndarray, photo: Photo) -> None:
    """A pen lying beside the papers."""
    laid = photo.laid[0]
    reach = 0.5 * max(laid.paper.size_mm) + rng.uniform(14, 40)
    angle, lean = rng.uniform(0, 2 * np.pi), rng.uniform(0, np.pi)
    middle = np.array([laid.x + reach * np.cos(angle), laid.y + reach * np.sin(angle)])
    step = 70 * np.array([np.cos(lean), np.sin(lean)])
    points = np.column_stack([np.array([middle - step, middle + step]), [5.0, 5.0]])
    scale = px_per_mm(_quad(laid, photo.camera), laid.paper.size_mm)
    colour = rng.uniform(20, 220, 3).astype(np.float32)
    _capsule(picture, photo.camera.project(points), 4.5 * scale, colour, False)


# --- light and sensor ----------------------------------------------------------------------------


def _light_field(rng: np.random.Generator, photo: Photo) -> np.ndarray:
    light, (width, height) = photo.light, photo.camera.size_px
    rows, columns = 150, round(150 * width / height)
    v, u = np.mgrid[0:rows, 0:columns].astype(np.float32)
    u, v = u / columns * 2 - 1, v / rows * 2 - 1
    a = np.radians(light.towards_deg)
    field = 1 + light.slope * (0.75 * (u * np.cos(a) + v * np.sin(a)) - 0.25)
    field += 0.25 * light.slope * smooth(rng, (rows, columns), 80)
    field *= 1 - light.vignette * (u * u + v * v) / 2
    if light.hand:
        field *= 1 - light.hand * _hand(rng, rows, columns)
    return np.clip(cv2.resize(field, (width, height), interpolation=cv2.INTER_LINEAR), 0.1, 1.12)


def _hand(rng: np.random.Generator, rows: int, columns: int) -> np.ndarray:
    """The shadow of a hand with a phone: a block and some bars, with a soft edge."""
    shape = np.zeros((rows, columns), np.float32)
    a = rng.uniform(0, 2 * np.pi)
    middle = np.array([columns / 2, rows / 2])
    start = middle + np.array([np.cos(a) * columns, np.sin(a) * rows]) * 0.62
    aim = middle + rng.uniform(-0.2, 0.2, 2) * np.array([columns, rows])
    aim = start + (aim - start) * rng.uniform(0.55, 1.0)
    cv2.line(shape, _at(start), _at(aim), 1.0, round(rows * rng.uniform(0.2, 0.45)))
    if rng.random() < 0.7:
        turn = rng.uniform(-0.4, 0.4)
        for finger in range(4):
            b = a + np.pi + turn + (finger - 1.5) * 0.17
            end = aim + np.array([np.cos(b), np.sin(b)]) * rows * rng.uniform(0.14, 0.3)
            cv2.line(shape, _at(aim), _at(end), 1.0, round(rows * 0.07))
    return cv2.GaussianBlur(shape, (0, 0), rows * rng.uniform(0.012, 0.09))


def _at(point: np.ndarray) -> tuple[int, int]:
    return int(point[0]), int(point[1])


def _glare(rng: np.random.Generator, picture: np.ndarray, photo: Photo) -> np.ndarray:
    """Lamps mirrored in the first paper: burnt-out patches with a soft rim."""
    laid = photo.laid[0]
    scale = px_per_mm(_quad(laid, photo.camera), laid.paper.size_mm)
    burnt = np.zeros(picture.shape[:2], np.float32)
    for _ in range(photo.glare):
        at = rng.uniform(-0.32, 0.32, (1, 2)) * np.array(laid.paper.size_mm)
        middle = photo.camera.project(laid.table(at))[0]
        long, short = rng.uniform(9, 24), rng.uniform(4, 10)
        lean = rng.uniform(0, np.pi)
        box = _box(middle[None], photo.camera.size_px, round(3 * long * scale))
        if box is None:
            continue
        x0, y0, width, height = box
        v, u = np.mgrid[y0 : y0 + height, x0 : x0 + width].astype(np.float32)
        u, v = (u - middle[0]) / scale, (v - middle[1]) / scale
        a = (u * np.cos(lean) + v * np.sin(lean)) / long
        b = (v * np.cos(lean) - u * np.sin(lean)) / short
        burnt[y0 : y0 + height, x0 : x0 + width] += 420 * np.exp(-((a * a + b * b) ** 1.4))
    picture += burnt[..., None]
    return burnt


def _sensor(rng: np.random.Generator, picture: np.ndarray, lens: Lens) -> np.ndarray:
    over = np.maximum(picture - 215, 0)
    picture = np.minimum(picture, 215) + 45 * np.tanh(over / 45)
    picture = cv2.GaussianBlur(picture, (0, 0), max(0.3, lens.blur_px))
    if lens.motion_px > 1:
        picture = cv2.filter2D(picture, -1, motion_kernel(lens.motion_px, lens.motion_deg))
    if lens.sharpen:
        picture += lens.sharpen * (picture - cv2.GaussianBlur(picture, (0, 0), 1.3))
    rows, columns = picture.shape[:2]
    grain = rng.standard_normal((rows, columns), dtype=np.float32)
    grain = cv2.GaussianBlur(grain, (0, 0), 0.6) * 1.6
    tint = cv2.resize(
        rng.standard_normal((rows // 6 + 1, columns // 6 + 1, 3), dtype=np.float32), (columns, rows)
    )
    picture += lens.noise * (grain[..., None] + 0.35 * tint)
    return np.clip(picture + 0.5, 0, 255).astype(np.uint8)


def motion_kernel(length: float, angle_deg: float) -> np.ndarray:
    """A straight smear of so many pixels."""
    side = int(np.ceil(length)) // 2 * 2 + 3
    fine = np.zeros((side * 4, side * 4), np.float32)
    middle = np.array([side * 2, side * 2])
    a = np.radians(angle_deg)
    step = np.array([np.cos(a), np.sin(a)]) * length * 2
    cv2.line(fine, _at(middle - step), _at(middle + step), 1.0, 4)
    kernel = cv2.resize(fine, (side, side), interpolation=cv2.INTER_AREA)
    return kernel / kernel.sum()


# --- truth ---------------------------------------------------------------------------------------


def _truth(laid: Laid, photo: Photo, shot: np.ndarray, content: np.ndarray | None) -> TruthItem:
    paper, camera, lens = laid.paper, photo.camera, photo.lens
    quad = _quad(laid, camera)
    lines = camera.project(laid.table(lines_mm(paper.size_mm))).reshape(3, 2, 2)
    scale = px_per_mm(quad, paper.size_mm)
    sigma = float(np.hypot(lens.blur_px, lens.motion_px / np.sqrt(12))) / scale
    first = laid is photo.laid[0]
    return TruthItem(
        name=paper.name, kind=paper.kind, size_mm=paper.size_mm, quad=quad, lines=lines,
        blank=paper.blank if not (first and photo.fingers) else None if paper.blank else False,
        blur=blur_flag(sigma, paper), cut=cut_flag(quad, paper.size_mm, camera.size_px),
        glare=False if content is None else _glare_flag(quad, shot, content, scale),
        covered=bool(first and photo.fingers),
    )  # fmt: skip


def _glare_flag(
    quad: np.ndarray, shot: np.ndarray, content: np.ndarray, scale: float
) -> bool | None:
    inside = np.zeros(shot.shape[:2], np.uint8)
    cv2.fillConvexPoly(inside, np.round(quad).astype(np.int32), 255)
    burnt = ((shot.min(axis=2) >= 246) & (inside > 0)).astype(np.uint8)
    burnt = cv2.morphologyEx(burnt, cv2.MORPH_CLOSE, np.ones((5, 5), np.uint8))
    if not burnt.any():
        return False
    narrow_mm = 2 * float(cv2.distanceTransform(burnt, cv2.DIST_L2, 3).max()) / scale
    share = float(content[burnt > 0].mean()) / 255
    if narrow_mm >= GLARE_SURE_MM and share >= 0.15:
        return True
    return False if narrow_mm < GLARE_NOT_MM else None
