# ruff: noqa: PLR0917  (drawing calls read best with their numbers in order)
"""A sheet to draw on in millimetres, with the typefaces of this machine."""

from __future__ import annotations

import cv2
import numpy as np
from imaging.evaluation.ink import Leaf, Rgb, smooth
from PIL import Image, ImageDraw

from .faces import face, faces

PT = 25.4 / 72
"""Millimetres a point."""
ROLES = ("sans", "bold", "serif", "serif-bold", "mono", "mono-bold", "hand")
MRZ_PITCH = 2.54
MRZ_EM = 2.54 / 0.723
"""OCR-B of ten signs an inch (ICAO Doc 9303 part 3); its signs advance 0.723 em."""


class Sheet(Leaf):
    """A leaf of the imaging evaluation with its own choice of faces for a whole document."""

    def __init__(
        self, rng: np.random.Generator, size_mm: tuple[float, float], dpi: float, base: Rgb
    ) -> None:
        super().__init__(rng, size_mm, dpi / 25.4, base)
        pick = int(rng.integers(0, 60))
        self.of = {role: faces(role)[pick % len(faces(role))] for role in ROLES}

    def put_text(
        self, x: float, y: float, text: str, points: float, *, role: str = "sans",
        ink: Rgb = (30, 30, 34), anchor: str = "ls",
    ) -> float:  # fmt: skip
        """One line anchored at x, y; ``points`` is the em height; gives its width in mm."""
        font = face(self.of.get(role, role), max(5, round(points * PT * self.scale)))
        self.draw.text(tuple(self.px(x, y)), text, fill=ink, font=font, anchor=anchor)
        return font.getlength(text) / self.scale

    def fit(
        self, x: float, y: float, width: float, text: str, points: float, **how: object
    ) -> float:
        """Like ``put_text``, the em made smaller until the line is no wider than ``width``."""
        role = str(how.get("role", "sans"))
        font = face(self.of.get(role, role), max(5, round(points * PT * self.scale)))
        long = font.getlength(text) / self.scale
        return self.put_text(x, y, text, points * min(1.0, width / max(long, 0.1)), **how)

    def column(
        self, x: float, y: float, width: float, text: str, points: float, *, role: str = "sans",
        ink: Rgb = (30, 30, 34), leading: float = 1.4, bottom: float = 1e9,
    ) -> float:  # fmt: skip
        """A paragraph in a column; gives the y of the next free line; stops at ``bottom``."""
        font = face(self.of.get(role, role), max(5, round(points * PT * self.scale)))
        line = ""
        for word in [*text.split(), "\n"]:
            longer = f"{line} {word}".strip()
            if word != "\n" and font.getlength(longer) <= width * self.scale:
                line = longer
                continue
            if y > bottom:
                return y
            self.draw.text(tuple(self.px(x, y)), line, fill=ink, font=font, anchor="ls")
            y += points * PT * leading
            line = word
        return y

    def machine_line(self, x: float, middle: float, text: str, ink: Rgb, pitch: float) -> None:
        """A line in OCR-B about the height ``middle`` of its capitals."""
        font = face(self.of["mrz"], max(6, round(MRZ_EM * self.scale * pitch / MRZ_PITCH)))
        base = middle + 1.27
        for place, sign in enumerate(text):
            at = tuple(self.px(x + (place + 0.5) * pitch, base))
            self.draw.text(at, sign, fill=ink, font=font, anchor="ms")

    def machine_zone(
        self, lines: tuple[str, ...], *, left: float, bottom: float, step: float, pale: bool
    ) -> None:
        """The lines of a zone; ``bottom``: middle of the last line above the lower edge, in mm."""
        rng, (wide, high) = self.rng, self.size_mm
        top = high - bottom - step * (len(lines) - 1) - 4.2
        if pale:
            self.rect(
                (0, top, wide, high - top), fill=tuple(int(v) for v in rng.integers(228, 250, 3))
            )
        self.of["mrz"] = faces("mrz")[int(rng.integers(0, len(faces("mrz"))))]
        pitch = MRZ_PITCH * float(rng.uniform(0.985, 1.012))
        level = int(rng.integers(10, 62))
        for number, line in enumerate(lines):
            middle = high - bottom - step * (len(lines) - 1 - number)
            shift = float(rng.normal(0, 0.12))
            self.machine_line(left + shift, middle, line, (level, level, level + 4), pitch)

    def turned(self, part: Sheet, x: float, y: float, quarter: int) -> None:
        """Paste another sheet, turned clockwise by quarters, its top-left corner at x, y."""
        image = part.image.rotate(-90 * quarter, expand=True)
        self.image.paste(image, tuple(round(v) for v in self.px(x, y)))

    def sign(self, x: float, y: float, text: str, points: float, quarter: int, ink: Rgb,
             role: str = "bold") -> None:  # fmt: skip
        """Small text about a point, turned clockwise by quarters, laid over what is there."""
        font = face(self.of.get(role, role), max(5, round(points * PT * self.scale)))
        box = font.getbbox(text)
        mask = Image.new("L", (box[2] + 6, box[3] + 6), 0)
        ImageDraw.Draw(mask).text((3, 3), text, fill=255, font=font)
        mask = mask.rotate(-90 * quarter, expand=True)
        at = (round(x * self.scale - mask.width / 2), round(y * self.scale - mask.height / 2))
        self.image.paste(ink, (*at, at[0] + mask.width, at[1] + mask.height), mask)

    def ink_stamp(
        self, x: float, y: float, lines: list[str], size: tuple[float, float], turn: float,
        colour: Rgb, *, shape: str, wear: float,
    ) -> None:  # fmt: skip
        """A rubber stamp about a point: frame and words, turned clockwise, with uneven ink."""
        side = round(1.5 * max(size) * self.scale)
        mask = Image.new("L", (side, side), 0)
        pen = ImageDraw.Draw(mask)
        half = (size[0] / 2 * self.scale, size[1] / 2 * self.scale)
        box = (side / 2 - half[0], side / 2 - half[1], side / 2 + half[0], side / 2 + half[1])
        thick = max(2, round(float(self.rng.uniform(0.35, 0.7)) * self.scale))
        if shape == "round":
            pen.ellipse(box, outline=255, width=thick)
        elif shape == "six":
            points = [(side / 2 + half[0] * np.cos(a), side / 2 + half[1] * np.sin(a))
                      for a in np.arange(6) * np.pi / 3]  # fmt: skip
            pen.polygon(points, outline=255, width=thick)
        else:
            pen.rounded_rectangle(box, 1.5 * self.scale, outline=255, width=thick)
        step = size[1] / (len(lines) + 0.8)
        for number, line in enumerate(lines):
            high = 0.62 * step * (1.2 if number == len(lines) // 2 else 0.95)
            font = face(self.of["bold"], max(6, round(high * self.scale)))
            room = size[0] * self.scale * (0.62 if shape != "box" else 0.9)
            if font.getlength(line) > room:
                font = face(
                    self.of["bold"], max(6, int(high * self.scale * room / font.getlength(line)))
                )
            row = side / 2 + (number - (len(lines) - 1) / 2) * step * self.scale
            pen.text((side / 2, row), line, fill=245, font=font, anchor="mm")
        mask = mask.rotate(-turn, Image.Resampling.BICUBIC)
        amount = np.asarray(mask, np.float32) / 255
        amount *= np.clip(0.85 + wear * smooth(self.rng, amount.shape, 1.3 * self.scale), 0.08, 1)
        self._lay(amount, x, y, colour)

    def _lay(self, amount: np.ndarray, x: float, y: float, colour: Rgb) -> None:
        """Mix an ink in about a point; only the part that it covers is touched."""
        half = amount.shape[0] // 2
        left, top = round(x * self.scale) - half, round(y * self.scale) - half
        a, b = max(0, -left), max(0, -top)
        c = min(amount.shape[1], self.image.width - left)
        d = min(amount.shape[0], self.image.height - top)
        if c <= a or d <= b:
            return
        box = (left + a, top + b, left + c, top + d)
        part = np.asarray(self.image.crop(box), np.float32)
        part += (np.array(colour, np.float32) - part) * 0.88 * amount[b:d, a:c, None]
        self.image.paste(Image.fromarray(np.clip(part + 0.5, 0, 255).astype(np.uint8)), box[:2])

    def pen_strokes(self, x: float, y: float, width: float, height: float) -> None:
        """Strokes that look written by hand and say nothing."""
        rng = self.rng
        pen = int(rng.integers(2, 5))
        image = np.array(self.image)
        ink = [(30, 40, 110), (28, 28, 32), (60, 30, 40)][int(rng.integers(0, 3))]
        while x < width:
            length = float(rng.uniform(4, 14))
            t = np.linspace(0, 1, 40)
            waves = [
                rng.normal(0, 1 / k) * np.sin(2 * np.pi * k * t * length / 5 + rng.uniform(0, 6))
                for k in (1, 2, 3)
            ]
            line = np.column_stack([x + length * t, y + height * 0.32 * sum(waves)]) * self.scale
            cv2.polylines(
                image, [np.round(line * 16).astype(np.int32)], False, ink, pen, cv2.LINE_AA, 4
            )
            x += length + float(rng.uniform(1.5, 4))
        self.put(image.astype(np.float32))


def pastel(rng: np.random.Generator, low: int = 200, high: int = 246) -> Rgb:
    """A pale colour."""
    return tuple(int(v) for v in rng.integers(low, high, 3))  # type: ignore[return-value]


def deep(rng: np.random.Generator) -> Rgb:
    """A dark or strong colour of print."""
    pool = ((22, 30, 70), (96, 22, 36), (18, 62, 52), (26, 26, 30), (70, 42, 20), (20, 60, 100))
    return pool[int(rng.integers(0, len(pool)))]
