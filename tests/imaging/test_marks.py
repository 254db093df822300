"""Levels, percentiles and connected parts, beside what NumPy and OpenCV say of them."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from packet.imaging.geometry import are_convex, is_convex, percentile
from packet.imaging.marks import find_marks, is_above, level_at, ranked

LEVELS = arrays.arrays(np.uint8, arrays.array_shapes(min_dims=2, max_dims=2, max_side=12))


@given(LEVELS, st.data())
def test_ranked_is_the_level_of_that_place_in_order(levels: np.ndarray, data: st.DataObject):
    place = data.draw(st.integers(0, len(levels) - 1))
    np.testing.assert_array_equal(ranked(levels, place), np.sort(levels, axis=0)[place])


@given(LEVELS, st.integers(1, 99))
def test_a_level_is_the_first_that_so_many_pixels_do_not_exceed(grey: np.ndarray, percent: int):
    level = level_at(grey, percent)
    wanted = np.float32(percent / 100) * np.float32(grey.size)
    assert np.count_nonzero(grey <= level) >= wanted
    assert level == 0 or np.count_nonzero(grey <= level - 1) < wanted
    assert is_above(grey, percent, level - 1) or level == 0
    assert not is_above(grey, percent, level)


@given(
    arrays.arrays(np.float64, st.integers(1, 40), elements=st.floats(-1e6, 1e6)),
    st.floats(0, 100),
)
def test_a_percentile_is_numpys(values: np.ndarray, percent: float):
    assert percentile(values, percent) == pytest.approx(np.percentile(values, percent), abs=1e-6)


@given(
    arrays.arrays(
        np.uint8,
        arrays.array_shapes(min_dims=2, max_dims=2, max_side=14),
        elements=st.integers(0, 1),
    )
)
def test_parts_are_those_of_opencv(marks: np.ndarray):
    """Boxes and areas as connectedComponentsWithStats gives them, whatever their order."""
    found = find_marks(marks)
    _, _, boxes, _ = cv2.connectedComponentsWithStats(marks, connectivity=8)
    assert sorted(map(tuple, found.boxes[1:])) == sorted(map(tuple, boxes[1:]))
    every = np.ones(len(found.boxes), bool)
    np.testing.assert_array_equal(found.drawn(every) > 0, marks > 0)
    for row in range(1, len(found.boxes)):
        assert np.count_nonzero(found.labels == row) == found.boxes[row, 4]


@given(arrays.arrays(np.float64, (4, 2), elements=st.integers(-50, 50).map(float)))
def test_one_quad_is_as_convex_as_among_many(quad: np.ndarray):
    assert is_convex(quad) == are_convex(quad[None])[0]
