"""Light and tone: broad shadows go, print stays as it is, the curve rises."""

from __future__ import annotations

import numpy as np
import pytest
from helpers import set_tone

from packet.imaging.tone import light_field, tone_curve
from packet.model import Kind

DPI = 150.0
HEIGHT, WIDTH = 1754, 1240


def mm(value: float) -> int:
    return round(value / 25.4 * DPI)


def lit() -> np.ndarray:
    """Light that falls off to one side, and a soft cloud in a corner."""
    y, x = np.mgrid[0:HEIGHT, 0:WIDTH].astype(np.float32) / DPI * 25.4
    cloud = 0.35 * np.exp(-(((x - 180) / 50) ** 2 + ((y - 260) / 60) ** 2))
    return (0.75 + 0.25 * x / 210) * (1 - cloud)


def page() -> np.ndarray:
    """White paper with a stamp's thin frame, a grey banner and a dark portrait."""
    paper = np.full((HEIGHT, WIDTH), 235, np.float32)
    paper[mm(10) : mm(25), mm(10) : mm(200)] = 140
    paper[mm(60) : mm(105), mm(20) : mm(55)] = 90
    paper[mm(230) : mm(232), mm(120) : mm(180)] = 120
    return paper


def toned(paper: np.ndarray) -> np.ndarray:
    image = np.repeat((paper * lit())[..., None], 3, axis=2).astype(np.uint8)
    return set_tone(image, kind=Kind.A4_PAGE, tone="grey", dpi=DPI)


def test_a_cloud_on_paper_goes() -> None:
    grey = toned(page())
    bare = grey[mm(110) : mm(228), mm(10) : mm(200)]
    assert np.percentile(bare, 1) > 235


def test_print_is_not_lightened() -> None:
    grey = toned(page()).astype(float)
    assert grey[mm(14) : mm(20), mm(20) : mm(190)].mean() < 175  # the banner
    assert grey[mm(70) : mm(95), mm(28) : mm(48)].mean() < 130  # the portrait
    assert grey[mm(231), mm(130) : mm(170)].mean() < 150  # the frame, in the cloud


def test_the_field_holds_no_detail_under_20_mm() -> None:
    lines = np.full((HEIGHT, WIDTH), 230, np.uint8)
    period = mm(14)
    lines[(np.arange(HEIGHT) // (period // 2)) % 2 == 1] = 216  # soft bands 7 mm wide
    field = light_field(lines, dpi=DPI)
    assert field is None or float(np.ptp(field)) < 0.02


@pytest.mark.parametrize("level", [0, 40, 128, 255])
def test_even_items_have_no_field(level: int) -> None:
    assert light_field(np.full((400, 600), level, np.uint8), dpi=DPI) is None


@pytest.mark.parametrize("seed", range(4))
def test_the_curve_never_falls(seed: int) -> None:
    rng = np.random.default_rng(seed)
    flat = rng.integers(0, int(rng.integers(20, 256)), (50, 50)).astype(np.uint8)
    assert np.all(np.diff(tone_curve(flat).astype(int)) >= 0)


def test_both_pages_of_an_opening_are_evened_out() -> None:
    """The fold is a sharp step: the page beyond it is paper too."""
    paper = np.full((HEIGHT, WIDTH), 225, np.float32)
    y = np.arange(HEIGHT, dtype=np.float32)[:, None] / DPI * 25.4
    paper *= 1 - 0.3 * np.exp(-(np.abs(y - 150) / 25))  # bends down to the fold on either side
    paper[mm(149) : mm(154)] = 60
    image = np.repeat(paper[..., None], 3, axis=2).astype(np.uint8)
    grey = set_tone(image, kind=Kind.PASSPORT_SPREAD, tone="grey", dpi=DPI)

    assert grey[mm(125)].mean() == pytest.approx(grey[mm(175)].mean(), abs=5)
    assert grey[mm(20)].mean() == pytest.approx(grey[mm(165)].mean(), abs=12)
