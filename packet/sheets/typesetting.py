"""Text on paper: the embedded face, its widths, and lines that stay inside their column.

Sizes and positions are PDF points here; callers convert from millimetres.
"""

from __future__ import annotations

import io
import re
from collections.abc import Sequence
from functools import cache
from typing import Any

from packet.rules.sizes import paper_size_mm
from packet.typeface import Style, font_path
from packet.units import mm_to_pt

Canvas = Any  # reportlab.pdfgen.canvas.Canvas, which carries no types

REGULAR = "packet-Regular"
BOLD = "packet-Bold"
ITALIC = "packet-Italic"
ELLIPSIS = "…"


def a4_pt() -> tuple[float, float]:
    """(width, height) of A4 in points: 595.2756 x 841.8898 (ISO 216)."""
    width, height = paper_size_mm("a4")
    return (mm_to_pt(width), mm_to_pt(height))


@cache
def register_font(name: str) -> None:
    """Make one of the three styles known to reportlab, once a process."""
    from reportlab.pdfbase import pdfmetrics, ttfonts

    load: Any = ttfonts.TTFont
    register: Any = pdfmetrics.registerFont
    styles: dict[str, Style] = {REGULAR: "Regular", BOLD: "Bold", ITALIC: "Italic"}
    register(load(name, str(font_path(styles[name])), asciiReadable=0, shapable=False))


def new_canvas() -> tuple[Canvas, io.BytesIO]:
    """An A4 canvas that writes the same bytes on any day, and where it writes them."""
    from reportlab.pdfgen import canvas as pdfgen

    register_font(REGULAR)
    buffer = io.BytesIO()
    make: Any = pdfgen.Canvas
    canvas = make(buffer, pagesize=a4_pt(), invariant=1, pageCompression=1, initialFontName=REGULAR)
    canvas.setProducer("packet")
    canvas.setCreator("packet")
    return canvas, buffer


def width_pt(text: str, font: str, size: float) -> float:
    """Width of one line of ``text``."""
    from reportlab.pdfbase import pdfmetrics

    register_font(font)
    measure: Any = pdfmetrics.stringWidth
    return float(measure(text, font, size))


def wrap(text: str, font: str, size: float, width: float) -> tuple[str, ...]:
    """``text`` in lines of at most ``width`` points; a longer word is cut where it must be.

    A no-break space keeps its two words on one line.
    """
    lines: list[str] = []
    line = ""
    for word in filter(None, re.split(r"[ \t\r\n]+", text)):
        joined = f"{line} {word}" if line else word
        if width_pt(joined, font, size) <= width:
            line = joined
            continue
        if line:
            lines.append(line)
        *full, line = _pieces(word, font, size, width)
        lines += full
    return (*lines, line) if line or not lines else tuple(lines)


def _pieces(word: str, font: str, size: float, width: float) -> list[str]:
    pieces = [""]
    for sign in word:
        if pieces[-1] and width_pt(pieces[-1] + sign, font, size) > width:
            pieces.append("")
        pieces[-1] += sign
    return pieces


def fit(text: str, font: str, size: float, width: float) -> str:
    """``text`` on one line, cut with an ellipsis where it is longer than ``width`` points."""
    if width_pt(text, font, size) <= width:
        return text
    kept = text
    while kept and width_pt(kept + ELLIPSIS, font, size) > width:
        kept = kept[:-1]
    return kept.rstrip() + ELLIPSIS


class Pen:
    """Draws on one canvas in millimetres from the top-left corner of an A4 page."""

    def __init__(self, canvas: Canvas) -> None:
        self.canvas = canvas
        self._height = a4_pt()[1]

    def text(
        self, x_mm: float, y_mm: float, text: str, font: str = REGULAR, size: float = 9.0
    ) -> None:
        """One line whose baseline is ``y_mm`` below the top edge, from ``x_mm`` on."""
        self._set(font, size)
        self.canvas.drawString(mm_to_pt(x_mm), self._y(y_mm), text)

    def lines(
        self,
        x_mm: float,
        y_mm: float,
        lines: Sequence[str],
        font: str = REGULAR,
        size: float = 9.0,
        *,
        step: float,
    ) -> None:
        """Lines one under the other, ``step`` mm apart; the first baseline is at ``y_mm``."""
        for number, line in enumerate(lines):
            self.text(x_mm, y_mm + number * step, line, font, size)

    def text_right(
        self, x_mm: float, y_mm: float, text: str, font: str = REGULAR, size: float = 9.0
    ) -> None:
        """One line that ends at ``x_mm``."""
        self._set(font, size)
        self.canvas.drawRightString(mm_to_pt(x_mm), self._y(y_mm), text)

    def text_centred(
        self, x_mm: float, y_mm: float, text: str, font: str = REGULAR, size: float = 9.0
    ) -> None:
        """One line whose middle is at ``x_mm``."""
        self._set(font, size)
        self.canvas.drawCentredString(mm_to_pt(x_mm), self._y(y_mm), text)

    def line(
        self, x0_mm: float, y0_mm: float, x1_mm: float, y1_mm: float, width: float = 0.4
    ) -> None:
        """A black line, ``width`` in points."""
        self.canvas.setLineWidth(width)
        self.canvas.line(mm_to_pt(x0_mm), self._y(y0_mm), mm_to_pt(x1_mm), self._y(y1_mm))

    def box(
        self, x_mm: float, y_mm: float, width_mm: float, height_mm: float, width: float = 0.8
    ) -> None:
        """An empty rectangle whose top-left corner is given, ``width`` of its line in points."""
        self.canvas.setLineWidth(width)
        self.canvas.rect(
            mm_to_pt(x_mm),
            self._y(y_mm + height_mm),
            mm_to_pt(width_mm),
            mm_to_pt(height_mm),
            stroke=1,
            fill=0,
        )

    def _y(self, y_mm: float) -> float:
        return self._height - mm_to_pt(y_mm)

    def _set(self, font: str, size: float) -> None:
        register_font(font)
        self.canvas.setFont(font, size)
        self.canvas.setFillGray(0)
