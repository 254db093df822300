"""Fingers over an edge and shadows are told; print, portraits, stripes and folds are not."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from packet.imaging.blemishes import covered_mm, ground_of, shadow_percent

DPI = 100.0
HEIGHT, WIDTH = round(297 / 25.4 * DPI), round(210 / 25.4 * DPI)


def px(mm: float) -> int:
    return round(mm / 25.4 * DPI)


def page() -> np.ndarray:
    """A toned page with lines, a portrait, and a banner from side to side."""
    grey = np.full((HEIGHT, WIDTH), 245, np.uint8)
    for y in range(px(60), px(250), px(6)):
        cv2.putText(grey, "written line of text " * 3, (px(20), y),
                    cv2.FONT_HERSHEY_SIMPLEX, 0.4, 30, 1)  # fmt: skip
    grey[: px(20)] = 90
    grey[px(30) : px(55), px(30) : px(50)] = 110
    return grey


@pytest.mark.parametrize("side", range(4))
def test_a_fingertip_is_told_with_its_reach(side: int) -> None:
    grey = page()
    grey[: px(20)] = 245
    grey = np.ascontiguousarray(np.rot90(grey, side))
    cv2.circle(grey, (px(100), px(3)), px(8), 60, -1)
    grey = np.ascontiguousarray(np.rot90(grey, -side))

    assert covered_mm(ground_of(grey, dpi=DPI)) == pytest.approx(11.0, abs=1.2)


def test_print_of_any_kind_is_no_finger_and_no_shadow() -> None:
    assert covered_mm(ground_of(page(), dpi=DPI)) == 0.0
    assert shadow_percent(ground_of(page(), dpi=DPI), fold=False) == 0.0


def test_a_soft_shadow_from_the_side_is_told() -> None:
    x = np.arange(WIDTH, dtype=np.float32)[None, :] / DPI * 25.4
    light = 1 - 0.45 / (1 + np.exp((x - 60) / 5))
    grey = page()
    grey[: px(20)] = 245
    grey = (grey * light).astype(np.uint8)

    assert shadow_percent(ground_of(grey, dpi=DPI), fold=False) == pytest.approx(45, abs=8)


def test_the_fold_of_an_opening_is_no_shadow() -> None:
    y = np.arange(HEIGHT, dtype=np.float32)[:, None] / DPI * 25.4
    grey = np.full((HEIGHT, WIDTH), 235, np.float32) * (1 - 0.5 * np.exp(-(((y - 148) / 8) ** 2)))

    assert shadow_percent(ground_of(grey.astype(np.uint8), dpi=DPI), fold=True) == 0.0
    assert shadow_percent(ground_of(grey.astype(np.uint8), dpi=DPI), fold=False) > 20


@pytest.mark.parametrize("level", [0, 60, 255])
@pytest.mark.parametrize("shape", [(1, 1), (3, 900), (400, 600)])
def test_nothing_on_nothing(level: int, shape: tuple[int, int]) -> None:
    grey = np.full(shape, level, np.uint8)

    assert covered_mm(ground_of(grey, dpi=150.0)) == 0.0
    assert shadow_percent(ground_of(grey, dpi=150.0), fold=True) == 0.0
