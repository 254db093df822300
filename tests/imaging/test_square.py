"""One side of a scan that stands askew to the other three."""

from __future__ import annotations

import cv2
import drawing
import numpy as np
import pytest
from helpers import run

from packet.imaging.border import square_ended
from packet.imaging.geometry import whole_picture
from packet.imaging.square import is_square, squared, stands_square
from packet.intake.picture import Picture
from packet.model import Kind

QUAD = np.array([[150.0, 120.0], [750.0, 120.0], [750.0, 498.0], [150.0, 498.0]])
TURN = np.array([[0.9994, 0.0349], [-0.0349, 0.9994]])  # 2 degrees


def _scan(outline: np.ndarray, *, shadow: bool = True) -> np.ndarray:
    """A light card on a lid, above it the soft shadow that the lid's distance casts."""
    glass = np.full((660, 900, 3), 226, np.float32)
    if shadow:
        cv2.fillConvexPoly(glass, (outline + np.array([2, -9])).astype(np.int32), (196, 196, 196))
        glass = cv2.GaussianBlur(glass, (0, 0), 4)
    card = np.zeros(glass.shape[:2], np.uint8)
    cv2.fillConvexPoly(card, np.round(outline * 16).astype(np.int32), 255, cv2.LINE_AA, 4)
    glass[card > 127] = 246
    noise = np.random.default_rng(3).normal(0, 1.0, glass.shape)
    return (cv2.GaussianBlur(glass, (0, 0), 0.6) + noise).clip(0, 255).astype(np.uint8)


@pytest.mark.parametrize("side", range(4))
def test_a_side_between_a_papers_edge_and_its_shadow_is_put_on_the_edge(side: int) -> None:
    outline = QUAD @ TURN
    rough = outline.copy()
    outward = (outline[side] - outline[side - 1]) / np.linalg.norm(
        outline[side] - outline[side - 1]
    )
    rough[side] += 9 * outward  # one end of the side is on the shadow

    found = squared(_scan(outline), rough)

    assert np.abs(found - outline).max() < 1.2


def test_a_paper_not_cut_at_right_angles_stays_as_it_is() -> None:
    outline = QUAD.copy()
    outline[1, 0] += 9

    found = squared(_scan(outline, shadow=False), outline)

    assert np.array_equal(found, outline)


def test_where_no_three_sides_agree_the_one_by_which_all_are_sharper_leads() -> None:
    rough = QUAD + np.array([[0, 0], [9, 0], [0, 0], [9, 6.0]])

    assert np.abs(squared(_scan(QUAD), rough) - QUAD).max() < 1.2


def test_a_paper_without_right_angles_stays_as_it_is() -> None:
    outline = QUAD + np.array([[0, 0], [9, 0], [0, 0], [9, 6.0]])

    assert np.array_equal(squared(_scan(outline, shadow=False), outline), outline)


def test_a_stripe_that_ends_at_the_side_does_not_outweigh_the_paper() -> None:
    """The stripe is darker than the lid, the paper lighter: their steps go opposite ways."""
    pixels = _scan(QUAD)
    pixels[440:480, 150:751] = 40
    rough = QUAD.copy()
    rough[0, 0] -= 9

    assert np.abs(squared(pixels, rough) - QUAD).max() < 1.2


def test_a_scanned_papers_sides_are_told_from_those_of_a_photo() -> None:
    photo = QUAD + np.array([[0, 0], [-6, 4], [-6, -4], [0, 0.0]])

    assert is_square(QUAD @ TURN)
    assert not is_square(photo)


def test_a_side_that_cannot_be_seen_is_put_parallel_to_the_opposite_one() -> None:
    outline = QUAD @ TURN
    rough = outline.copy()
    rough[1] += 0.08 * (outline[1] - outline[2])  # the top, which the picture cuts

    even = square_ended(rough, 0)

    top, bottom = even[1] - even[0], even[2] - even[3]
    assert abs(top[0] * bottom[1] - top[1] * bottom[0]) < 1e-6
    assert np.array_equal(even[2:], rough[2:])
    assert stands_square(even)
    assert not stands_square(rough + np.array([[0, 0], [0, 0], [9.0, 0], [0, 0]]))


def test_the_sides_of_a_photo_taken_nearly_square_on_stay_where_they_are_seen() -> None:
    """A scan's would be made parallel: this is none, by the camera's own tags."""
    rng = np.random.default_rng(0)
    opening, _, (wide, high) = drawing.draw_item(rng, "spread")
    tall = 1000 * high / wide
    corners = np.array([[300, 200], [1300, 200], [1300, 200 + tall], [300, 200 + tall]])
    corners += rng.uniform(-4, 4, (4, 2))
    opening = cv2.resize(opening, (1150, round(1150 * high / wide)), interpolation=cv2.INTER_AREA)
    box = whole_picture(opening.shape[1], opening.shape[0]).astype(np.float32)
    table = np.full((1200, 1600, 3), (90, 110, 100), np.uint8)
    matrix = cv2.getPerspectiveTransform(box, corners.astype(np.float32))
    cv2.warpPerspective(opening, matrix, (1600, 1200), dst=table, borderMode=cv2.BORDER_TRANSPARENT)
    pixels = cv2.GaussianBlur(table, (0, 0), 0.7)

    (item,) = run(Picture(pixels=pixels, dpi=None, source="camera"), tuple(Kind)).items

    assert np.abs(np.array(item.corners_px) - corners).max() < 0.7
