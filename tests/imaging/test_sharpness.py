"""Sharp or not, blank or not: print without contrast, an opening with its ground alone."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from evaluation import papers
from evaluation.ink import Leaf
from helpers import codes, run, set_tone
from PIL import Image

from packet.imaging.flat import Flat, flatten
from packet.imaging.quality import edge_width_mm, ink_share_percent, is_blank
from packet.imaging.verdicts import blur_findings
from packet.intake.picture import Picture
from packet.model import Kind

DPI = 170.0


def photographed(paper: papers.Paper, blur_mm: float) -> np.ndarray:
    """(h, w, 3) RGB of the paper alone, as a phone takes it from half a metre."""
    wide, high = (round(side * DPI / 25.4) for side in paper.size_mm)
    small = cv2.resize(paper.rgb, (wide, high), interpolation=cv2.INTER_AREA)
    return cv2.GaussianBlur(small, (0, 0), max(0.7, blur_mm * DPI / 25.4))


def flat_of(pixels: np.ndarray, size_mm: tuple[float, float]) -> Flat:
    right, bottom = pixels.shape[1] - 0.5, pixels.shape[0] - 0.5
    quad = np.array([[-0.5, -0.5], [right, -0.5], [right, bottom], [-0.5, bottom]])
    return flatten([pixels], quad, size_mm)


def opening(*, blank: bool) -> papers.Paper:
    """The first drawn opening with nothing, or with stamps, on it."""
    rng = np.random.default_rng(5)
    name = "passport-spread:blank" if blank else "passport-spread:stamps"
    return next(one for one in iter(lambda: papers.opening(rng), None) if one.name == name)


@pytest.mark.parametrize("blur_mm", [0.4, 0.6, 0.9])
def test_print_that_has_lost_its_contrast_is_blurred(blur_mm: float) -> None:
    """A Gaussian of sigma s leaves exp(-2 (pi s / 0.8)^2) of print of 10 points: 1 % at 0.4 mm."""
    leaf = Leaf(np.random.default_rng(1), papers.A4, 12.0, (250, 250, 250))
    leaf.paragraph(25, 40, 160, 30, 4.0, (40, 40, 44))
    page = papers._paper(leaf, "a4-page:typed", "a4-page")
    flat = flat_of(photographed(page, blur_mm), page.size_mm)
    width = edge_width_mm(flat.grey, flat)
    assert width is not None
    assert width > 0.45
    sharp = flat_of(photographed(page, 0.0), page.size_mm)
    assert (edge_width_mm(sharp.grey, sharp) or 0.0) < 0.45


def test_print_past_seeing_is_blurred_though_the_page_seems_blank() -> None:
    """A passport's page so blurred that it is taken for plain paper; common practice, no source."""
    taken = photographed(opening(blank=False), 0.6)
    flat = flat_of(taken, (297.0, 211.0))
    (found,) = blur_findings(flat, flat.grey, subject="", blank=True, kind=Kind.A4_PAGE)
    assert found.code == "blurred"


def test_fingers_over_the_edge_of_a_blank_page_say_nothing_of_its_focus() -> None:
    """They lie above the paper, out of focus, and reach some 3 cm over its edge."""
    grey = np.full((1400, 990), 235, np.uint8)
    for row in (500, 700, 900):
        cv2.ellipse(grey, (0, row), (150, 70), 0, 0, 360, 120, -1)
    flat = flat_of(cv2.cvtColor(cv2.GaussianBlur(grey, (0, 0), 3), cv2.COLOR_GRAY2RGB), papers.A4)
    assert edge_width_mm(flat.grey, flat) is not None
    assert not list(blur_findings(flat, flat.grey, subject="", blank=True, kind=Kind.A4_PAGE))


def test_an_opening_with_its_ground_alone_is_blank_and_not_blurred() -> None:
    paper = opening(blank=True)
    pixels = photographed(paper, 0.18)
    picture = Picture(pixels=pixels, dpi=(DPI, DPI), source="scanner")
    (item,) = run(picture, (Kind.PASSPORT_SPREAD,), encode=False).items
    assert "blank" in codes(item)
    assert "blurred" not in codes(item)


def test_a_blurred_opening_with_stamps_is_not_blank() -> None:
    paper = opening(blank=False)
    picture = Picture(pixels=photographed(paper, 0.5), dpi=(DPI, DPI), source="scanner")
    (item,) = run(picture, (Kind.PASSPORT_SPREAD,), encode=False).items
    assert "blurred" in codes(item)
    assert "blank" not in codes(item)


def test_background_print_is_no_ink_however_strong() -> None:
    """Lines of 0.12 mm in a dark tint; a page number and a stamp are strokes of 0.4 mm and more."""
    leaf = Leaf(np.random.default_rng(2), (176.0, 125.0), 13.0, (228, 230, 222))
    leaf.tint(0.5, (110, 120, 130), 0.9)
    for written in (False, True):
        if written:
            leaf.stamp(45, 60, 16.0)
        taken = photographed(papers._paper(leaf, "", ""), 0.0)
        grey = set_tone(taken, kind=Kind.PASSPORT_SPREAD, tone="grey", dpi=DPI)
        assert (ink_share_percent(grey, dpi=DPI, fold=True) > 0.3) == written
        assert is_blank(grey, kind=Kind.PASSPORT_SPREAD, dpi=DPI) != written


def test_soft_portraits_and_folds_say_nothing_of_print_that_is_sharp() -> None:
    """Many soft dark areas, darker than the few lines of print beside them."""
    leaf = Leaf(np.random.default_rng(1), (176.0, 125.0), 12.0, (240, 236, 238))
    soft = np.array(leaf.image, np.float32)
    for k in range(12):
        x, y = 90 + 330 * (k % 6), 80 + 260 * (k // 6)
        cv2.circle(soft, (x, y), 80, (60, 60, 66), -1)
    leaf.image.paste(Image.fromarray(cv2.GaussianBlur(soft, (0, 0), 12).astype(np.uint8)))
    for row in range(4):
        leaf.fill_line(12, 84 + 7.0 * row, 120, 3.2, (30, 30, 34))
    flat = flat_of(photographed(papers._paper(leaf, "other:note", "other"), 0.0), (176.0, 125.0))

    assert edge_width_mm(flat.grey, flat) == 0.0
