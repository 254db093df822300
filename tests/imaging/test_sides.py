"""Sides of quads: what lies along them, and where exactly they are."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from packet.imaging.bands import bands
from packet.imaging.geometry import from_top_left, same_size, signed_area
from packet.imaging.refine import move_sides
from packet.imaging.shadows import out_of_shadow
from packet.imaging.view import make_view

PAGE = np.array([[100.0, 80.0], [500.0, 80.0], [500.0, 360.0], [100.0, 360.0]])


def _page(ground: int = 60, paper: int = 220) -> np.ndarray:
    picture = np.full((440, 600, 3), ground, np.uint8)
    picture[80:361, 100:501] = paper
    return picture


def test_paper_goes_on_over_the_fold_and_not_over_the_edge():
    half = PAGE.copy()
    half[1:3, 0] = 300.0  # its right side is in the middle of the page

    seen = bands(make_view(_page()), np.stack([PAGE, half]))

    assert seen.goes_on.max(axis=1) == pytest.approx([0, 1], abs=0.05)
    assert int(seen.goes_on[1].argmax()) == 1
    assert seen.strange.max() < 0.05


def test_table_within_a_side_is_strange():
    wide = PAGE.copy()
    wide[1:3, 0] = 560.0

    seen = bands(make_view(_page()), wide[None])

    assert seen.strange[0] == pytest.approx([0, 1, 0, 0], abs=0.3)
    assert seen.goes_on[0, 1] > 0.9


@given(
    shift=st.lists(st.floats(-2.5, 2.5), min_size=8, max_size=8),
    paper=st.integers(150, 250),
)
def test_sides_come_back_to_the_edge(shift, paper):
    """Edges drawn between pixels: at 99.5 and 500.5, 79.5 and 360.5."""
    rough = PAGE + np.array(shift).reshape(4, 2)

    moved = move_sides(_page(paper=paper), rough[None], reach_px=6.0)
    moved = move_sides(_page(paper=paper), moved, reach_px=3.0)[0]

    edge = np.array([[99.5, 79.5], [500.5, 79.5], [500.5, 360.5], [99.5, 360.5]])
    assert np.abs(moved - edge).max() < 0.15


def test_quads_are_moved_together_as_one_by_one():
    rough = np.stack([PAGE + 1.5, PAGE - 1.0])

    together = move_sides(_page(), rough, reach_px=4.0)

    alone = [move_sides(_page(), one[None], reach_px=4.0)[0] for one in rough]
    assert np.allclose(together, alone)


def test_a_soft_shadow_is_not_the_edge_of_the_paper():
    """A lid's shadow begins at the paper and fades over 20 pixels; the paper is hardly darker."""
    picture = np.full((440, 600, 3), 240, np.float32)
    fade = np.clip(1 - (np.arange(600) - 501) / 20, 0, 1)
    picture -= (130 * np.where(np.arange(600) > 500, fade, 0))[None, :, None]
    picture[80:361, 100:501] = 205
    picture = cv2.GaussianBlur(picture, (0, 0), 0.6).astype(np.uint8)
    outside = PAGE + np.array([[0, 0], [12.0, 0], [10.0, 0], [0, 0]])

    moved = out_of_shadow(picture, outside, reach_px=22.0)

    assert moved[1:3, 0] == pytest.approx([500.5, 500.5], abs=0.5)
    assert np.abs(moved[[0, 3]] - outside[[0, 3]]).max() < 0.6


def _under_a_lid(*, frame: bool) -> np.ndarray:
    """Paper whose shadow fades over 40 pixels to the right; ``frame``: none, but a dark block is
    printed on paper as light as the lid."""
    picture = np.full((440, 600, 3), 240, np.float32)
    if not frame:
        fade = np.clip(1 - (np.arange(600) - 501) / 40, 0, 1)
        picture -= (130 * np.where(np.arange(600) > 500, fade, 0))[None, :, None]
    picture[80:361, 100:501] = 236 if frame else 205
    if frame:
        picture[90:351, 110:471] = 60
    return cv2.GaussianBlur(picture, (0, 0), 0.6).astype(np.uint8)


def test_a_long_shadow_is_left_for_the_paper_and_the_paper_not_for_its_print():
    off = 25.0
    outside = PAGE + np.array([[0, 0], [off, 0], [off, 0], [0, 0]])

    moved = out_of_shadow(_under_a_lid(frame=False), outside, reach_px=45.0, dark=True)
    stays = out_of_shadow(_under_a_lid(frame=True), PAGE + 0.5, reach_px=45.0, dark=True)

    assert moved[1:3, 0] == pytest.approx([500.5, 500.5], abs=0.6)
    assert np.abs(stays - PAGE).max() < 1


def test_sides_on_sharp_edges_stay():
    edge = np.array([[99.5, 79.5], [500.5, 79.5], [500.5, 360.5], [99.5, 360.5]])

    assert np.abs(out_of_shadow(_page(), edge, reach_px=20.0) - edge).max() < 0.1


@given(turn=st.integers(0, 3), back=st.booleans())
def test_many_quads_start_as_one_does(turn, back):
    quad = np.roll(PAGE[::-1] if back else PAGE, turn, axis=0)

    (first, second) = from_top_left(np.stack([quad, quad + 7]))

    assert np.array_equal(first, PAGE)
    assert np.array_equal(second, PAGE + 7)
    assert signed_area(first) > 0


def test_cards_of_one_size_in_either_turn():
    card = np.array([[0.0, 0], [856, 0], [856, 540], [0, 540]])

    assert same_size(card, card[:, ::-1] * 1.02)
    assert not same_size(card, card * np.array([1.0, 0.9]))


def test_in_a_tiny_picture_no_shadow_is_sought():
    """A scan whose header lies about its size may be some pixels large."""
    quad = np.array([[2.0, 2.0], [17.0, 2.0], [17.0, 12.0], [2.0, 12.0]])
    pixels = np.full((16, 20, 3), 90, np.uint8)

    for reach_px in (0.01, 0.5, 1.0):
        assert np.array_equal(out_of_shadow(pixels, quad, reach_px=reach_px), quad)
