"""Which way up: right for every turn where print says so, silent where nothing does."""

from __future__ import annotations

from functools import cache

import cv2
import numpy as np
import pytest
from evaluation import papers

from packet.imaging.upright import ANALYSIS_PX, read_print, turn_and_mirror

DRAWN = {
    "typed": papers.page,
    "data": papers.data_opening,
    "front": papers.card_front,
    "slip": papers.receipt,
}


@cache
def seen(name: str) -> np.ndarray:
    """A drawn paper as the upright step sees it, lightly blurred."""
    paper = DRAWN[name](np.random.default_rng(6 if name == "front" else 11))
    grey = cv2.cvtColor(paper.rgb, cv2.COLOR_RGB2GRAY)
    shrink = min(1.0, ANALYSIS_PX / max(grey.shape))
    grey = cv2.resize(grey, None, fx=shrink, fy=shrink, interpolation=cv2.INTER_AREA)
    return cv2.GaussianBlur(grey, (0, 0), 0.8)


@pytest.mark.parametrize("name", sorted(DRAWN))
def test_every_turn_of_a_paper_with_print(name: str) -> None:
    for quarter, turn in enumerate((0, 90, 180, 270)):
        held = np.ascontiguousarray(np.rot90(seen(name), quarter))  # rot90 turns to the left
        assert turn_and_mirror(read_print(held))[0] == turn


@pytest.mark.parametrize("level", [0, 90, 255])
def test_nothing_says_nothing(level: int) -> None:
    assert turn_and_mirror(read_print(np.full((700, 990), level, np.uint8)))[0] is None


def test_noise_says_nothing() -> None:
    noise = np.random.default_rng(3).integers(0, 255, (800, 1100)).astype(np.uint8)
    assert turn_and_mirror(read_print(noise))[0] is None


@pytest.mark.parametrize("shape", [(1, 1), (1, 1400), (12, 9), (1400, 3)])
def test_any_shape_is_bounded(shape: tuple[int, int]) -> None:
    assert turn_and_mirror(read_print(np.full(shape, 200, np.uint8)))[0] is None


def test_stamps_alone_say_nothing() -> None:
    leaf = papers.Leaf(np.random.default_rng(2), (176.0, 125.0), 8.0, (230, 232, 228))
    for x, y in ((40, 40), (60, 90), (120, 60)):
        leaf.stamp(x, y, 16)
    grey = cv2.cvtColor(np.asarray(leaf.image), cv2.COLOR_RGB2GRAY)
    assert turn_and_mirror(read_print(grey))[0] is None


@pytest.mark.parametrize("high_mm", [2.4, 3.0])
def test_a_zone_of_44_low_signs_is_told(high_mm: float) -> None:
    """Ten signs an inch on a page of 125 x 88 mm: 112 mm of print, 2.4 mm high in OCR-B."""
    px_per_mm = 1120 / 125
    grey = np.full((788, 1120), 225, np.uint8)
    draw = np.random.default_rng(9)
    high = high_mm * px_per_mm
    for line in (75.5, 82.0):
        for k, sign in enumerate(draw.choice(list("ACEHKLMNOPRSTUVX<0123456789"), 44)):
            (wide, _), _ = cv2.getTextSize(sign, cv2.FONT_HERSHEY_SIMPLEX, 1.0, 2)
            scale = high / 22
            left = (5.5 + 2.54 * (k + 0.5)) * px_per_mm - wide * scale / 2
            place = (round(left), round(line * px_per_mm))
            cv2.putText(grey, sign, place, cv2.FONT_HERSHEY_SIMPLEX, scale, (40,), 2, 16)
    printed = read_print(cv2.GaussianBlur(grey, (0, 0), 0.8))

    assert printed.zones[0] is not None
    assert printed.zones[0][2] > 0.85 * 1120
