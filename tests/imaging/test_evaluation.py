"""The evaluation set's own measures: worked values, and truth that agrees with itself."""

from __future__ import annotations

import numpy as np
import pytest
from imaging.evaluation.camera import framed, tilted
from imaging.evaluation.measure import corner_error, page_jaccard, polygon_jaccard, rest_skew
from imaging.evaluation.truth import TruthItem, cut_flag, lines_mm, outline_mm

SQUARE = np.array([[0.0, 0.0], [100, 0], [100, 100], [0, 100]])


def _truth(quad: np.ndarray, size=(100.0, 100.0), lines=None) -> TruthItem:
    if lines is None:
        lines = (lines_mm(size) + quad.mean(axis=0)).reshape(3, 2, 2)
    return TruthItem(name="", kind="other", size_mm=size, quad=quad, lines=lines)


def test_jaccard_of_squares_shifted_by_one_pixel():
    # worked by hand: overlap 99 x 100, union 101 x 100
    assert polygon_jaccard(SQUARE, np.add(SQUARE, [1, 0])) == pytest.approx(99 / 101, abs=1e-5)


def test_jaccard_is_taken_in_the_coordinates_of_the_page():
    # SmartDoc 2015: the picture's perspective must not weigh the near side more than the far
    seen = np.array([[300.0, 100], [700, 100], [900, 800], [100, 800]])
    truth = _truth(seen)
    assert page_jaccard(truth, seen) == pytest.approx(1.0, abs=1e-5)


@pytest.mark.parametrize("roll", range(4))
def test_corners_are_compared_in_any_roll(roll):
    start, error = corner_error(
        _truth(SQUARE), np.roll(np.add(SQUARE, [3, 4]), roll, axis=0), (2000, 2000)
    )
    assert (start, error) == (roll, pytest.approx(5.0))


@pytest.mark.parametrize("angle", [-0.4, 0.0, 0.1, 2.0])
def test_skew_is_the_angle_left_in_the_result(angle):
    a = np.radians(angle)
    turn = np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]])
    middle = SQUARE.mean(axis=0)
    lines = (lines_mm((100.0, 100.0)) @ turn.T + middle).reshape(3, 2, 2)
    truth = _truth((SQUARE - middle) @ turn.T + middle, lines=lines)
    assert rest_skew(truth, SQUARE, (100.0, 100.0)) == pytest.approx(angle, abs=1e-4)
    assert rest_skew(truth, truth.quad, (100.0, 100.0)) == pytest.approx(0.0, abs=1e-4)


@pytest.mark.parametrize(("roll", "turn"), [(0, 0), (90, 270), (180, 180), (270, 90)])
def test_turn_undoes_the_roll_of_the_camera(roll, turn):
    camera = tilted(size_px=(1600, 1200), focal=0.8, tilt_deg=5, towards_deg=40, roll_deg=roll)
    corners = np.column_stack([outline_mm((86.0, 54.0)), np.zeros(4)])
    camera = framed(camera, corners, fill=0.7, shift=(0.0, 0.0), k1=0.0)
    quad = camera.project(corners)
    assert _truth(quad, (86.0, 54.0)).turn_deg == turn
    assert cut_flag(quad, (86.0, 54.0), (1600, 1200)) is False
    extent = np.ptp(quad, axis=0) / (1600, 1200)
    assert extent.max() == pytest.approx(0.7, abs=0.01)


def test_what_is_cut_off_is_never_lost_altogether():
    camera = tilted(size_px=(1600, 1200), focal=0.8, tilt_deg=20, towards_deg=40, roll_deg=0)
    corners = np.column_stack([outline_mm((86.0, 54.0)), np.zeros(4)])
    camera = framed(camera, corners, fill=0.9, shift=(0.3, -9.0), k1=0.0, most_lost=0.4)
    low, high = camera.project(corners)[:, 1].min(), camera.project(corners)[:, 1].max()
    assert -low / (high - low) == pytest.approx(0.4, abs=0.02)


@pytest.mark.slow
@pytest.mark.parametrize("level", ["easy", "normal", "hard"])
def test_a_seed_gives_the_same_picture_each_time(level):
    from imaging.evaluation.levels import picture

    one, two = picture(level, 3, large=False), picture(level, 3, large=False)
    assert one.data == two.data
    assert [item.quad.tolist() for item in one.items] == [item.quad.tolist() for item in two.items]
