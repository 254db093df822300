# ruff: noqa: PLR0917  (drawing calls read best with their numbers in order)
"""What the drawn papers are made of: words, print, patterns, portraits, stamps, codes.

Everything is drawn with a seed; positions and sizes are in millimetres.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import cv2
import numpy as np
from PIL import Image, ImageDraw, ImageFont

FONTS = Path(__file__).resolve().parents[3] / "fonts"
Rgb = tuple[int, int, int]
_SYLLABLES = [
    "ra", "me", "lo", "ti", "so", "na", "que", "per", "con", "ver", "ma", "di", "ca", "re", "to",
    "vi", "ba", "lu", "gio", "fe", "no", "pa", "sta", "tra", "lli", "ci", "ne", "do", "ri", "mo",
    "si", "be", "nte", "la", "se", "che", "il", "in", "un", "za", "ga", "zio", "ste", "pre",
]  # fmt: skip
_CODE = "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789"


@cache
def font(name: str, size_px: int) -> ImageFont.FreeTypeFont:
    """Noto Sans in a cut ("Regular", "Bold", "Italic") and an em height in pixels."""
    return ImageFont.truetype(str(FONTS / f"NotoSans-{name}.ttf"), size_px)


def word(rng: np.random.Generator) -> str:
    """An invented word."""
    text = "".join(rng.choice(_SYLLABLES, rng.integers(1, 5)))
    return text.capitalize() if rng.random() < 0.15 else text


def words(rng: np.random.Generator, count: int) -> str:
    """Some invented words with a number or a comma now and then."""
    parts = []
    for _ in range(count):
        parts.append(str(rng.integers(1, 9999)) if rng.random() < 0.06 else word(rng))
        if rng.random() < 0.1:
            parts[-1] += rng.choice([",", ".", ";"])
    return " ".join(parts)


def code(rng: np.random.Generator, length: int, fillers: float = 0.0) -> str:
    """Capital letters and digits; from a share on, the rest of the line is ``<``."""
    text = "".join(rng.choice(list(_CODE), length))
    keep = length - round(fillers * length)
    return text[:keep] + "<" * (length - keep)


def smooth(rng: np.random.Generator, shape: tuple[int, int], cell: float) -> np.ndarray:
    """Smooth noise of unit strength with blobs of about ``cell`` pixels, float32."""
    rows, columns = (max(3, round(n / cell) + 2) for n in shape)
    coarse = rng.standard_normal((rows, columns), dtype=np.float32)
    return cv2.resize(coarse, (shape[1], shape[0]), interpolation=cv2.INTER_CUBIC)


class Leaf:
    """A paper being drawn: RGB at a scale, millimetres from its top-left corner."""

    def __init__(
        self, rng: np.random.Generator, size_mm: tuple[float, float], scale: float, base: Rgb
    ) -> None:
        self.rng, self.size_mm, self.scale = rng, size_mm, scale
        self.image = Image.new("RGB", (round(size_mm[0] * scale), round(size_mm[1] * scale)), base)
        self.draw = ImageDraw.Draw(self.image)

    def px(self, *mm: float) -> list[float]:
        """Millimetres to pixels."""
        return [value * self.scale for value in mm]

    def text(
        self,
        x: float,
        y: float,
        text: str,
        em: float,
        ink: Rgb = (30, 30, 34),
        cut: str = "Regular",
    ) -> float:
        """Text with its top at y; returns the x where it ends."""
        face = font(cut, max(6, round(em * self.scale)))
        self.draw.text(tuple(self.px(x, y)), text, fill=ink, font=face)
        return x + face.getlength(text) / self.scale

    def fill_line(
        self, x: float, y: float, width: float, em: float, ink: Rgb, cut: str = "Regular"
    ) -> None:
        """One line of invented words, not wider than ``width``."""
        face = font(cut, max(6, round(em * self.scale)))
        text = words(self.rng, max(1, round(width / em / 2.2)))
        while text and face.getlength(text) > width * self.scale:
            text = text[:-1]
        self.draw.text(tuple(self.px(x, y)), text, fill=ink, font=face)

    def paragraph(
        self, x: float, y: float, width: float, lines: int, em: float, ink: Rgb, pitch: float = 1.45
    ) -> float:
        """Lines of words, the last one short; returns the y below."""
        for number in range(lines):
            short = self.rng.uniform(0.25, 0.9) if number == lines - 1 else 1.0
            self.fill_line(x, y, width * short, em, ink)
            y += em * pitch
        return y

    def rect(
        self, box: tuple[float, float, float, float], fill: Rgb | None = None,
        outline: Rgb | None = None, line: float = 0.25,
    ) -> None:  # fmt: skip
        """A box x, y, width, height."""
        x, y, width, height = self.px(*box)
        self.draw.rectangle(
            (x, y, x + width, y + height), fill=fill, outline=outline,
            width=max(1, round(line * self.scale)),
        )  # fmt: skip

    def rule(
        self, x0: float, y0: float, x1: float, y1: float, ink: Rgb, line: float = 0.25
    ) -> None:
        """A straight line."""
        self.draw.line(self.px(x0, y0, x1, y1), fill=ink, width=max(1, round(line * self.scale)))

    def fixed(self, x: float, y: float, text: str, pitch: float, em: float, ink: Rgb) -> None:
        """Signs at a fixed pitch, as on a machine-readable zone (ICAO Doc 9303: 10 an inch)."""
        face = font("Bold", max(6, round(em * self.scale)))
        for sign in text:
            centre = (x + pitch / 2) * self.scale
            self.draw.text((centre, y * self.scale), sign, fill=ink, font=face, anchor="ma")
            x += pitch

    def tint(self, strength: float, colour: Rgb, cell_mm: float) -> None:
        """Security print: families of waving lines in a pale colour, over the whole paper."""
        rng, (wide, high) = self.rng, self.size_mm
        x = np.arange(0, wide + 1, 0.6)
        lines = []
        bend, phase = rng.uniform(8, 30), rng.uniform(0, 6)
        for y0 in np.arange(-6, high + 6, cell_mm):
            y = y0 + 2.6 * np.sin(x / bend * 3 + phase) + 1.4 * np.sin(x / bend * 7 + y0 / 5)
            lines.append(np.round(np.column_stack([x, y]) * self.scale * 16).astype(np.int32))
        layer = np.zeros((self.image.height, self.image.width), np.uint8)
        thick = max(1, round(0.12 * self.scale))
        cv2.polylines(layer, lines, False, 255, thick, cv2.LINE_AA, 4)
        if rng.random() < 0.6:
            self._rosette(layer, thick)
        self.blend(layer.astype(np.float32) / 255 * strength, colour)

    def _rosette(self, layer: np.ndarray, thick: int) -> None:
        rng, (wide, high) = self.rng, self.size_mm
        t = np.linspace(0, 2 * np.pi, 900)
        centre = np.array([rng.uniform(0.3, 0.7) * wide, rng.uniform(0.3, 0.7) * high])
        petals = int(rng.integers(5, 14))
        for ring in np.linspace(0.1, 0.34, 9):
            radius = min(wide, high) * ring * (1 + 0.18 * np.cos(petals * t + ring * 30))
            ring_mm = centre + np.column_stack([radius * np.cos(t), radius * np.sin(t)])
            points = np.round(ring_mm * self.scale * 16).astype(np.int32)
            cv2.polylines(layer, [points], True, 255, thick, cv2.LINE_AA, 4)

    def blend(self, amount: np.ndarray, colour: Rgb) -> None:
        """Mix a colour in, by an amount of 0 to 1 at each pixel."""
        pixels = np.asarray(self.image, np.float32)
        mixed = pixels + (np.array(colour, np.float32) - pixels) * amount[..., None]
        self.put(mixed)

    def shade(self, factor: np.ndarray) -> None:
        """Multiply by a factor that broadcasts to (height, width)."""
        shape = (self.image.height, self.image.width)
        self.put(np.asarray(self.image, np.float32) * np.broadcast_to(factor, shape)[..., None])

    def put(self, pixels: np.ndarray) -> None:
        """Replace the picture."""
        self.image = Image.fromarray(np.clip(pixels + 0.5, 0, 255).astype(np.uint8))
        self.draw = ImageDraw.Draw(self.image)

    def portrait(self, box: tuple[float, float, float, float], grey: bool) -> None:
        """A soft head and shoulders on a pale ground."""
        rng = self.rng
        x, y, width, height = (round(v) for v in self.px(*box))
        v, u = np.mgrid[0:height, 0:width].astype(np.float32)
        u, v = u / width * 2 - 1, v / height
        ground = rng.uniform(175, 235) * np.array([1, 1, rng.uniform(1, 1.06)], np.float32)
        part = np.broadcast_to(ground, (height, width, 3)).astype(np.float32).copy()
        skin = np.array([224, 178, 150], np.float32) * rng.uniform(0.45, 1.0)
        hair = np.array([90, 66, 48], np.float32) * rng.uniform(0.2, 1.6)
        dress = rng.uniform(20, 150, 3).astype(np.float32)
        self._region(part, (u / 0.95) ** 2 + ((v - 1.15) / 0.36) ** 2 < 1, dress)
        self._region(part, (u / 0.58) ** 2 + ((v - 0.42) / 0.36) ** 2 < 1, hair)
        self._region(part, (u / 0.2) ** 2 + ((v - 0.75) / 0.16) ** 2 < 1, skin * 0.86)
        self._region(part, (u / 0.44) ** 2 + ((v - 0.47) / 0.29) ** 2 < 1, skin)
        for side in (-0.18, 0.18):
            self._region(part, ((u - side) / 0.08) ** 2 + ((v - 0.43) / 0.022) ** 2 < 1, hair * 0.6)
        self._region(part, (u / 0.14) ** 2 + ((v - 0.61) / 0.016) ** 2 < 1, skin * 0.62)
        part *= (1 - 0.16 * u * rng.choice([-1, 1]) + 0.03 * smooth(rng, u.shape, 9))[..., None]
        if grey:
            part = np.repeat(part.mean(axis=2, keepdims=True), 3, axis=2)
        part = cv2.GaussianBlur(part, (0, 0), max(0.6, 0.12 * self.scale))
        self.image.paste(Image.fromarray(np.clip(part, 0, 255).astype(np.uint8)), (x, y))

    @staticmethod
    def _region(part: np.ndarray, where: np.ndarray, colour: np.ndarray) -> None:
        part[where] = colour

    def barcode(self, box: tuple[float, float, float, float], ink: Rgb = (20, 20, 22)) -> None:
        """Bars of four widths."""
        x, y, width, height = box
        end = x + width
        while x < end:
            bar = 0.25 * self.rng.integers(1, 4)
            self.rect((x, y, bar, height), fill=ink)
            x += bar + 0.25 * self.rng.integers(1, 4)

    def chip(self, x: float, y: float) -> None:
        """Contacts of a chip card (ISO/IEC 7816-2: about 13 x 12 mm)."""
        self.rect((x, y, 12.6, 11.4), fill=(203, 170, 96), outline=(120, 98, 52), line=0.2)
        for row in (3.8, 7.6):
            self.rule(x, y + row, x + 12.6, y + row, (118, 96, 50), 0.2)
        self.rule(x + 4.4, y, x + 4.4, y + 11.4, (118, 96, 50), 0.2)
        self.rule(x + 8.4, y, x + 8.4, y + 11.4, (118, 96, 50), 0.2)

    def stamp(self, x: float, y: float, reach: float) -> None:
        """An ink stamp about a centre: a frame, words, a date; turned, worn."""
        rng, scale = self.rng, self.scale
        side = round(2.4 * reach * scale)
        mark = Image.new("L", (side, side), 0)
        pen = ImageDraw.Draw(mark)
        wide, high = reach * scale, reach * scale * rng.uniform(0.45, 0.95)
        box = (side / 2 - wide, side / 2 - high, side / 2 + wide, side / 2 + high)
        thick = max(2, round(0.5 * scale))
        if rng.random() < 0.5:
            pen.rectangle(box, outline=255, width=thick)
        else:
            pen.ellipse(box, outline=255, width=thick)
        for offset, em in ((-0.45, 0.26), (0.0, 0.34), (0.42, 0.24)):
            text = code(rng, int(rng.integers(5, 9)))
            face = font("Bold", max(6, round(em * reach * scale)))
            pen.text((side / 2, side / 2 + offset * high), text, fill=235, font=face, anchor="mm")
        turned = mark.rotate(float(rng.uniform(-35, 35)), Image.Resampling.BICUBIC)
        worn = np.asarray(turned, np.float32) / 255
        worn = worn * np.clip(0.75 + 0.35 * smooth(rng, worn.shape, 0.8 * scale), 0.2, 1)
        amount = np.zeros((self.image.height, self.image.width), np.float32)
        left, top = round(x * scale - side / 2), round(y * scale - side / 2)
        a, b = max(0, -left), max(0, -top)
        c = min(side, amount.shape[1] - left)
        d = min(side, amount.shape[0] - top)
        if c > a and d > b:
            amount[top + b : top + d, left + a : left + c] = worn[b:d, a:c]
        inks = ((36, 42, 120), (150, 30, 40), (30, 90, 60), (40, 40, 48), (95, 40, 120))
        self.blend(0.85 * amount, inks[int(rng.integers(len(inks)))])

    def scribble(self, x: float, y: float, width: float, height: float) -> None:
        """A signature."""
        t = np.linspace(0, 1, 160)
        rng = self.rng
        curve = sum(
            rng.normal(0, 1 / k) * np.sin(2 * np.pi * k * 1.7 * t + rng.uniform(0, 6))
            for k in range(1, 8)
        )
        points = np.column_stack([x + width * t, y + height * (0.5 + 0.28 * curve)]) * self.scale
        ink = (28, 40, 110) if rng.random() < 0.6 else (30, 30, 34)
        thick = max(1, round(0.35 * self.scale))
        self.draw.line([tuple(p) for p in points], fill=ink, width=thick, joint="curve")
