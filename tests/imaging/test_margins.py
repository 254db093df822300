"""The clear margins of a page: print near the edge counts, shadows and dust do not."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from packet.imaging.quality import margins_clear_mm

DPI = 200.0
WIDTH, HEIGHT = round(210 / 25.4 * DPI), round(297 / 25.4 * DPI)


def px(mm: float) -> int:
    return round(mm / 25.4 * DPI)


def page() -> np.ndarray:
    """White paper with a block of lines 20 mm from every edge."""
    grey = np.full((HEIGHT, WIDTH), 248, np.uint8)
    for y in range(px(20), HEIGHT - px(22), px(6)):
        cv2.putText(grey, "written line of text " * 4, (px(20), y + px(3)),
                    cv2.FONT_HERSHEY_SIMPLEX, 0.7, 30, 2)  # fmt: skip
    grey[:, WIDTH - px(20) :] = 248
    return grey


def test_print_far_from_the_edges() -> None:
    clear = margins_clear_mm(page(), dpi=DPI)
    assert min(clear) > 15


@pytest.mark.parametrize("mm", [1.2, 2.5, 3.5, 8.0])
@pytest.mark.parametrize("side", range(4))
def test_a_word_near_an_edge_is_content(mm: float, side: int) -> None:
    grey = np.ascontiguousarray(np.rot90(page(), side))
    y = px(mm) + px(2.5)
    cv2.putText(grey, "page 7 of 9", (px(60), y), cv2.FONT_HERSHEY_SIMPLEX, 0.6, 40, 2)
    grey = np.ascontiguousarray(np.rot90(grey, -side))
    found = margins_clear_mm(grey, dpi=DPI)
    place = {0: 1, 1: 2, 2: 3, 3: 0}[side]  # the edge that rot90 by so many quarters brings up
    assert found[place] == pytest.approx(mm, abs=0.9)


def test_a_single_digit_is_content() -> None:
    grey = page()
    cv2.putText(grey, "7", (px(100), HEIGHT - px(6)), cv2.FONT_HERSHEY_SIMPLEX, 0.8, 40, 2)
    assert margins_clear_mm(grey, dpi=DPI)[3] == pytest.approx(6.0, abs=0.6)


def test_a_rule_that_runs_into_the_edge_is_content() -> None:
    grey = page()
    grey[px(100) : px(100.5), : px(60)] = 30
    grey[:, : px(0.9)] = 120  # and a shadow along that edge
    assert margins_clear_mm(grey, dpi=DPI)[0] < 4


def test_a_rule_beside_the_edge_is_content() -> None:
    grey = page()
    grey[px(2.5) : px(2.9), px(10) : px(200)] = 40
    assert margins_clear_mm(grey, dpi=DPI)[1] == pytest.approx(2.5, abs=0.5)


def test_shadows_dust_and_folds_are_no_content() -> None:
    grey = page().astype(np.float32)
    y = np.arange(HEIGHT, dtype=np.float32)[:, None] / DPI * 25.4
    x = np.arange(WIDTH, dtype=np.float32)[None, :] / DPI * 25.4
    grey *= 1 - 0.5 * np.exp(-y / 0.6) - 0.3 * np.exp(-(210 - x) / 1.0)  # along two edges
    grey *= 1 - 0.35 * np.exp(-(((y - 290) / 6.0) ** 2))  # a soft fold near the bottom
    grey *= 1 - 0.4 * np.exp(-(((x - 2) ** 2 + (y - 60) ** 2) / 15.0**2))  # a cloud at the left
    rng = np.random.default_rng(5)
    for _ in range(40):
        at = (int(rng.integers(WIDTH)), int(rng.integers(HEIGHT)))
        if min(at[0], at[1], WIDTH - at[0], HEIGHT - at[1]) < px(15):
            cv2.circle(grey, at, 2, 60.0, -1)
    assert min(margins_clear_mm(np.clip(grey, 0, 255).astype(np.uint8), dpi=DPI)) > 15


def test_a_blank_page_is_clear_from_side_to_side() -> None:
    grey = np.full((HEIGHT, WIDTH), 240, np.uint8)
    clear = margins_clear_mm(grey, dpi=DPI)
    assert clear[0] == pytest.approx(210, abs=1)
    assert clear[1] == pytest.approx(297, abs=1)
