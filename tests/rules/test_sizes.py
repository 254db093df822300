"""Sizes in mm, PDF points and pixels, and what follows from them."""

from __future__ import annotations

import pytest

from packet.model import Kind
from packet.rules.sizes import card_size_mm, kind_sizes_mm, paper_size_mm
from packet.units import mm_to_pt, mm_to_px

SPREAD = kind_sizes_mm(Kind.PASSPORT_SPREAD)[0]
TABLE = [  # mm, points (x 72 / 25.4), pixels at 300 dpi
    (card_size_mm("id-1"), (85.60, 53.98), (242.646, 153.014), (1011.0, 637.6)),  # ISO/IEC 7810
    (card_size_mm("id-2"), (105, 74), (297.638, 209.764), (1240.2, 874.0)),  # ISO/IEC 7810
    (card_size_mm("id-3"), (125, 88), (354.331, 249.449), (1476.4, 1039.4)),  # ISO/IEC 7810
    (SPREAD, (176, 125), (498.898, 354.331), (2078.7, 1476.4)),  # two ID-3 pages
    (paper_size_mm("a4"), (210, 297), (595.276, 841.890), (2480.3, 3507.9)),  # ISO 216
    # ANSI/ASME Y14.1, from memory
    (paper_size_mm("letter"), (215.9, 279.4), (612, 792), (2550, 3300)),
]


@pytest.mark.parametrize(("size", "mm", "pt", "px"), TABLE)
def test_sizes(size, mm, pt, px):
    assert size == mm
    assert [mm_to_pt(side) for side in size] == pytest.approx(pt, abs=6e-4)
    assert [mm_to_px(side, 300) for side in size] == pytest.approx(px, abs=0.06)


@pytest.mark.parametrize(
    ("size", "ratio"),
    [
        (card_size_mm("id-1"), 1.5858),
        (card_size_mm("id-2"), 1.4189),
        (card_size_mm("id-3"), 1.4205),
        (paper_size_mm("a4"), 1.4143),
        (SPREAD, 1.4080),
    ],
)
def test_shapes(size, ratio):
    """All but ID-1 lie within 1 % of each other: shape alone does not tell them apart."""
    assert max(size) / min(size) == pytest.approx(ratio, abs=5e-5)
    assert (abs(max(size) / min(size) / 1.4142 - 1) < 0.01) is (size != card_size_mm("id-1"))


def test_two_openings_fit_an_a4_page():
    width, height = paper_size_mm("a4")

    assert SPREAD[0] <= width
    assert 2 * SPREAD[1] <= height


def test_letter_must_shrink():
    """210 / 215.9 = 97.27 %."""
    assert paper_size_mm("a4")[0] / paper_size_mm("letter")[0] == pytest.approx(0.9727, abs=5e-5)
