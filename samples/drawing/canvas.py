"""A sheet to draw on in millimetres, the fonts, and fields of smooth noise."""

from __future__ import annotations

import subprocess
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import cv2
import numpy as np
from PIL import Image, ImageDraw, ImageFont

Colour = tuple[int, int, int]
MM_PER_INCH = 25.4


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """A drawn thing: RGBA pixels (height, width, 4), its size in mm, and its kind.

    ``upright_by`` says by what a reader tells the way up: "text", "page-number", "none".
    """

    rgba: np.ndarray
    size_mm: tuple[float, float]
    kind: str
    upright_by: str = "text"


def match_font(pattern: str) -> str:
    """Path of the face that fontconfig finds for a pattern."""
    found = subprocess.run(
        ["fc-match", "-f", "%{file}", pattern], capture_output=True, text=True, check=True
    )
    return found.stdout


class Fonts:
    """The faces in use: Noto Sans of the checkout, one for machine lines, one like a hand."""

    def __init__(self, folder: Path, mrz: str | None, hand: str | None) -> None:
        self.paths = {
            "regular": str(folder / "NotoSans-Regular.ttf"),
            "bold": str(folder / "NotoSans-Bold.ttf"),
            "italic": str(folder / "NotoSans-Italic.ttf"),
            "mrz": mrz or match_font("Noto Sans Mono"),
            "hand": hand or str(folder / "NotoSans-Italic.ttf"),
        }

    def face(self, name: str, size_px: float) -> ImageFont.FreeTypeFont:
        """The face at a size in pixels."""
        return _face(self.paths[name], round(size_px, 2))


@cache
def _face(path: str, size_px: float) -> ImageFont.FreeTypeFont:
    return ImageFont.truetype(path, size_px)


class Sheet:
    """A piece of paper or card, drawn in millimetres from its top-left corner."""

    def __init__(self, size_mm: tuple[float, float], dpi: float, fonts: Fonts, paper: Colour):
        self.size_mm, self.dpi, self.fonts = size_mm, dpi, fonts
        self.scale = dpi / MM_PER_INCH
        size = (round(size_mm[0] * self.scale), round(size_mm[1] * self.scale))
        self.image = Image.new("RGB", size, paper)
        self.draw = ImageDraw.Draw(self.image)

    @property
    def shape(self) -> tuple[int, int]:
        """Height and width in pixels."""
        return self.image.size[1], self.image.size[0]

    def px(self, *mm: float) -> list[float]:
        """Millimetres to pixels."""
        return [value * self.scale for value in mm]

    def text(
        self, x: float, y: float, text: str, size: float, *, face: str = "regular",
        fill: Colour = (30, 30, 34), anchor: str = "ls",
    ) -> float:  # fmt: skip
        """One line of text, `size` in points, anchored at x, y; gives its width in mm."""
        font = self.fonts.face(face, size * self.dpi / 72)
        self.draw.text((x * self.scale, y * self.scale), text, font=font, fill=fill, anchor=anchor)
        return font.getlength(text) / self.scale

    def wrap(
        self, x: float, y: float, width: float, text: str, size: float, *, face: str = "regular",
        fill: Colour = (30, 30, 34), leading: float = 1.38,
    ) -> float:  # fmt: skip
        """A paragraph in a column of `width` mm; gives the y of the next free line."""
        font = self.fonts.face(face, size * self.dpi / 72)
        step = size * leading * MM_PER_INCH / 72
        line = ""
        for word in [*text.split(), "\n"]:
            longer = f"{line} {word}".strip()
            if word == "\n" or font.getlength(longer) > width * self.scale:
                self.text(x, y, line, size, face=face, fill=fill)
                y += step
                line = word
            else:
                line = longer
        return y

    def spaced(self, x: float, y: float, text: str, size: float, pitch: float, **kw: str) -> None:
        """Signs at a fixed pitch in mm, as machine-readable lines are printed."""
        for place, sign in enumerate(text):
            at = x + (place + 0.5) * pitch
            self.text(at, y, sign, size, face=kw.get("face", "mrz"), anchor="ms", fill=(24, 24, 26))

    def line(self, points: list[float], colour: Colour, width: float = 0.2) -> None:
        """A line through x, y pairs."""
        self.draw.line(self.px(*points), fill=colour, width=max(1, round(width * self.scale)))

    def rect(
        self, x: float, y: float, w: float, h: float, *, fill: Colour | None = None,
        outline: Colour | None = None, width: float = 0.2, radius: float = 0,
    ) -> None:  # fmt: skip
        """A rectangle, with round corners if `radius` is given."""
        self.draw.rounded_rectangle(
            self.px(x, y, x + w, y + h), radius * self.scale, fill=fill, outline=outline,
            width=max(1, round(width * self.scale)) if outline else 0,
        )  # fmt: skip

    def ellipse(
        self, x: float, y: float, rx: float, ry: float, *, fill: Colour | None = None,
        outline: Colour | None = None, width: float = 0.2,
    ) -> None:  # fmt: skip
        """An ellipse about its centre."""
        self.draw.ellipse(
            self.px(x - rx, y - ry, x + rx, y + ry), fill=fill, outline=outline,
            width=max(1, round(width * self.scale)) if outline else 0,
        )  # fmt: skip

    def blend(self, other: np.ndarray, mask: np.ndarray) -> None:
        """Lay colour pixels over the sheet where `mask` (0 to 1) says so."""
        base = np.asarray(self.image, dtype=np.float32)
        mask = mask[..., None].astype(np.float32)
        self.replace(base * (1 - mask) + other.astype(np.float32) * mask + 0.5)

    def shade(self, factor: np.ndarray) -> None:
        """Multiply every pixel by `factor` (height, width)."""
        self.replace(np.asarray(self.image, dtype=np.float32) * factor[..., None])

    def replace(self, pixels: np.ndarray) -> None:
        """Put other pixels in the place of the drawing."""
        self.image = Image.fromarray(np.clip(pixels, 0, 255).astype(np.uint8))
        self.draw = ImageDraw.Draw(self.image)

    def finish(self, kind: str, *, radius_mm: float = 0, upright_by: str = "text") -> Item:
        """The drawn sheet as an item; its corners are cut round by `radius_mm`."""
        rgb = np.asarray(self.image)
        alpha = Image.new("L", self.image.size, 255)
        if radius_mm:
            alpha = Image.new("L", self.image.size, 0)
            box = (0, 0, self.image.size[0] - 1, self.image.size[1] - 1)
            ImageDraw.Draw(alpha).rounded_rectangle(box, radius_mm * self.scale, fill=255)
        rgba = np.dstack([rgb, np.asarray(alpha)])
        return Item(rgba=rgba, size_mm=self.size_mm, kind=kind, upright_by=upright_by)


def noise(
    rng: np.random.Generator, shape: tuple[int, int], cell: tuple[float, float]
) -> np.ndarray:
    """Smooth noise, about -1 to 1, with cells of (rows, columns) pixels."""
    rows = max(2, int(shape[0] / cell[0]) + 3)
    columns = max(2, int(shape[1] / cell[1]) + 3)
    small = rng.standard_normal((rows, columns)).astype(np.float32) * 0.5
    return cv2.resize(small, (shape[1], shape[0]), interpolation=cv2.INTER_CUBIC)


def guilloche(
    sheet: Sheet, box: tuple[float, float, float, float], colours: tuple[Colour, ...],
    *, seed: float, width: float = 0.11,
) -> None:  # fmt: skip
    """Fine interlaced curves in pale colours over a box (x, y, w, h in mm)."""
    x0, y0, w, h = box
    image = np.array(sheet.image)
    along = np.linspace(0, 1, 260)
    for index, colour in enumerate(colours):
        for strand in range(int(h / 2.1)):
            base = y0 + strand * 2.1 + index * 0.7
            phase = seed + strand * 0.42 + index * 2.1
            wave = 2.4 * np.sin(along * w / 9.0 + phase) + 1.3 * np.sin(along * w / 3.7 - phase * 2)
            y = np.clip(base + wave * (0.65 + 0.35 * np.sin(along * 3.1 + seed)), y0, y0 + h)
            points = np.stack([x0 + along * w, y], axis=1) * sheet.scale * 16
            cv2.polylines(
                image, [points.astype(np.int32)], False, colour, max(1, round(width * sheet.scale)),
                cv2.LINE_AA, 4,
            )  # fmt: skip
    sheet.replace(image)


def rosette(
    sheet: Sheet, x: float, y: float, radius: float, colour: Colour, *, petals: int = 12
) -> None:
    """A round ornament of crossing loops."""
    image = np.array(sheet.image)
    turn = np.linspace(0, 2 * np.pi, 720)
    for shift in np.linspace(0, 2 * np.pi / petals, 7)[:-1]:
        for depth in (0.35, 0.6):
            r = radius * (1 - depth / 2 + depth / 2 * np.sin(petals * (turn + shift)))
            points = np.stack([x + r * np.cos(turn), y + r * np.sin(turn)], axis=1)
            points = points * sheet.scale * 16
            cv2.polylines(image, [points.astype(np.int32)], True, colour, 1, cv2.LINE_AA, 4)
    sheet.replace(image)
