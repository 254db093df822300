"""Marks that may be page numbers: alone on their line, with a like one on the other page."""

from __future__ import annotations

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from packet.recognition.lone_digits import OPENING_MM, mark_pairs
from packet.typeface import font_path

SCALE = 8.0  # pixels a millimetre


def strip(*texts, ink=(60, 60, 66), drop_mm=0.0, dots=False):
    """The foot of an opening, 16 mm high; each text is (words, x in mm).

    ``drop_mm``: how much lower the right edge lies; ``dots``: the holes of a perforated number.
    """
    picture = Image.new("RGB", (round(OPENING_MM * SCALE), round(16 * SCALE)), (235, 232, 226))
    pen = ImageDraw.Draw(picture)
    font = ImageFont.truetype(str(font_path("Regular")), round(3.4 * SCALE))
    for words, x in texts:
        y = 10 + drop_mm * x / OPENING_MM
        pen.text((x * SCALE, y * SCALE), words, font=font, fill=ink, anchor="ms")
    for hole in range(60 if dots else 0):
        x = 24 + 88 * (hole % 2) + 1.2 * (hole // 4)
        y = 2 + 1.2 * (hole // 2 % 2)
        pen.ellipse((x * SCALE, y * SCALE, (x + 0.6) * SCALE, (y + 0.6) * SCALE), fill=(20, 20, 20))
    return np.asarray(picture)


def places(*texts, **how):
    """Middles of the pairs, in mm."""
    return [
        tuple(round(float(box[:, 0].mean()) / SCALE) for box in (pair.left, pair.right))
        for pair in mark_pairs(strip(*texts, **how))
    ]


def test_single_digits_in_like_places():
    assert places(("6", 10), ("7", 166)) == [(10, 166)]
    assert places(("6", 44), ("7", 132)) == [(44, 132)]
    assert places(("24", 10), ("25", 166)) == [(10, 166)]


def test_a_mark_without_its_like_is_none():
    assert places(("6", 10)) == []
    assert places(("6", 10), ("7", 120)) == []


def test_numbers_between_dashes():
    assert places(("- 6 -", 12), ("- 7 -", 164)) == [(12, 164)]


def test_faint_numbers_under_dark_holes():
    assert places(("6", 44), ("7", 132), ink=(205, 203, 198), dots=True)[0] == (44, 132)


def test_the_line_through_both_may_slope_a_little():
    assert places(("6", 10), ("7", 166), drop_mm=5.0) == [(10, 166)]
    assert places(("6", 10), ("7", 166), drop_mm=14.0) == []


def test_words_are_no_marks():
    assert places(("a word of more", 30), ("another such one", 146)) == []


def test_an_empty_strip():
    assert places() == []


def test_what_shows_at_many_depths_comes_before_grain_in_a_better_place():
    faint = strip(("6", 44), ("6", 132), ink=(222, 219, 213))
    dark = strip(("8", 13), ("9", 167))
    pairs = list(mark_pairs(np.minimum(faint, dark)))

    assert len(pairs) > 1
    assert round(float(pairs[0].left[:, 0].mean()) / SCALE) == 13
