"""Marks that may be page numbers: alone on their line, with a like one on the other page."""

from __future__ import annotations

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from packet.recognition.lone_digits import OPENING_MM, mark_pairs
from packet.typeface import font_path

SCALE = 8.0  # pixels a millimetre


def strip(*texts):
    """The foot of an opening, 16 mm high; each text is (words, x in mm)."""
    picture = Image.new("RGB", (round(OPENING_MM * SCALE), round(16 * SCALE)), (235, 232, 226))
    pen = ImageDraw.Draw(picture)
    font = ImageFont.truetype(str(font_path("Regular")), round(3.4 * SCALE))
    for words, x in texts:
        pen.text((x * SCALE, 11 * SCALE), words, font=font, fill=(60, 60, 66), anchor="ms")
    return np.asarray(picture)


def places(*texts):
    """Middles of the pairs, in mm."""
    return [
        tuple(round(float(box[:, 0].mean()) / SCALE) for box in (pair.left, pair.right))
        for pair in mark_pairs(strip(*texts))
    ]


def test_single_digits_in_like_places():
    assert places(("6", 10), ("7", 166)) == [(10, 166)]
    assert places(("6", 44), ("7", 132)) == [(44, 132)]
    assert places(("24", 10), ("25", 166)) == [(10, 166)]


def test_a_mark_without_its_like_is_none():
    assert places(("6", 10)) == []
    assert places(("6", 10), ("7", 120)) == []


def test_words_are_no_marks():
    assert places(("a word of more", 30), ("another such one", 146)) == []


def test_an_empty_strip():
    assert places() == []
