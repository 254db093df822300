"""Parts of a page that fills the picture, and papers on a cloth whose pattern looks like print."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from packet.imaging.expected import Expected
from packet.imaging.find import Found
from packet.imaging.page_parts import is_certain_on_cloth, is_part_of_page
from packet.imaging.sizing import expected_sizes
from packet.imaging.table import is_other_paper
from packet.imaging.view import make_view
from packet.model import Kind

QUAD = np.array([[400.0, 250.0], [1000.0, 250.0], [1000.0, 675.0], [400.0, 675.0]])


def _written(pixels: np.ndarray, low: int, high: int, left: int, right: int) -> None:
    for y in range(low, high, 26):
        text = ("lines of text that go on " * 9)[: (right - left) // 10]
        cv2.putText(pixels, text, (left, y), cv2.FONT_HERSHEY_SIMPLEX, 0.5, (40, 40, 50), 1,
                    cv2.LINE_AA)  # fmt: skip


def _picture(ground: str, *, written: bool) -> np.ndarray:
    pixels = np.full((930, 1400, 3), (226, 222, 214), np.uint8)
    if ground == "cloth":
        y, x = np.mgrid[0:930, 0:1400]
        pixels[((x // 60 + y // 60) % 2) == 1] = (215, 150, 130)
    _written(pixels, 60, 900 if ground == "paper" else 120, 60, 1340)
    cv2.fillConvexPoly(pixels, np.round(QUAD).astype(np.int32), (226, 222, 214))
    cv2.polylines(pixels, [np.round(QUAD).astype(np.int32)], True, (90, 90, 90), 2)
    if written:
        _written(pixels, 300, 660, 430, 980)
    return pixels


@pytest.mark.parametrize(
    ("ground", "written", "part"),
    [("paper", True, True), ("paper", False, True), ("cloth", True, False)],
)
def test_lines_around_are_those_of_a_page_or_the_pattern_of_a_cloth(
    ground: str, written: bool, part: bool
) -> None:
    pixels = _picture(ground, written=written)
    expected = Expected(
        sizes_mm=expected_sizes(tuple(Kind)), px_per_mm=None, any_shape=True, perspective=True,
        openings=True, width_px=pixels.shape[1], height_px=pixels.shape[0],
    )  # fmt: skip
    view = make_view(pixels)
    found = [Found(quad=QUAD, score=0.9, shape=0.99, off_ground=0.0)]

    assert is_part_of_page(view, found, expected, plausible=True) is part


@pytest.mark.parametrize("shade", [214, 226])
def test_between_lines_of_print_paper_shows_its_own_shade(shade: int) -> None:
    """A block of close print is no other paper, a slip with the same print on it is."""
    pixels = np.full((930, 1400, 3), 226, np.uint8)
    cv2.fillConvexPoly(pixels, np.round(QUAD).astype(np.int32), (shade,) * 3)
    for row in range(5):
        pixels[250 + row : 676 : 9, 400:1001] = 90

    assert is_other_paper(make_view(pixels), QUAD) is (shade == 214)


@pytest.mark.parametrize(("ground", "certain"), [("paper", False), ("cloth", True)])
def test_on_cloth_a_plain_item_is_certain(ground: str, certain: bool) -> None:
    """Though a photo has the shape of a page: no page is of several colours."""
    pixels = _picture(ground, written=True)
    cv2.fillConvexPoly(pixels, np.round(QUAD).astype(np.int32), (120, 150, 190))
    one = Found(quad=QUAD, score=0.99, shape=0.99, off_ground=0.0)

    assert is_certain_on_cloth(make_view(pixels), one) is certain
