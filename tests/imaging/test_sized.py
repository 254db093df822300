"""Sides of a scanned card that are told by its size together."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from packet.imaging.sized import sized
from packet.rules.sizes import card_size_mm

PX_PER_MM = 8.0
SIZE_MM = card_size_mm("id-1")  # ISO/IEC 7810
_MIDDLE = np.array([450.3, 330.6])


def _outline(wide_mm: float, high_mm: float, turned_deg: float) -> np.ndarray:
    corners = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * [wide_mm / 2, high_mm / 2]
    turn = np.radians(turned_deg)
    matrix = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    return np.asarray(_MIDDLE + PX_PER_MM * corners @ matrix)


def _between(outline: np.ndarray, top_mm: float, bottom_mm: float) -> np.ndarray:
    """The part between two lines, so far below the top of an outline."""
    down = (outline[3] - outline[0]) / np.linalg.norm(outline[3] - outline[0]) * PX_PER_MM
    return np.array([outline[0] + top_mm * down, outline[1] + top_mm * down,
                     outline[1] + bottom_mm * down, outline[0] + bottom_mm * down])  # fmt: skip


def _scan(outline: np.ndarray) -> np.ndarray:
    """A white card on a lid nearly as white; below it the lid's soft shadow, a pale stripe
    near its top."""
    glass = np.full((660, 900, 3), 243, np.float32)
    cv2.fillConvexPoly(glass, (outline + np.array([0, 12])).astype(np.int32), (225, 225, 225))
    glass = cv2.GaussianBlur(glass, (0, 0), 6)
    for part, light in ((outline, 250), (_between(outline, 1.5, 9), 238)):
        mask = np.zeros(glass.shape[:2], np.uint8)
        cv2.fillConvexPoly(mask, np.round(part * 16).astype(np.int32), 255, cv2.LINE_AA, 4)
        glass[mask > 127] = light
    noise = np.random.default_rng(3).normal(0, 0.7, glass.shape)
    return (cv2.GaussianBlur(glass, (0, 0), 0.6) + noise).clip(0, 255).astype(np.uint8)


@pytest.mark.parametrize("turned_deg", [0.0, 3.0, -7.0])
@pytest.mark.parametrize("trusted", [True, False])
def test_sides_at_a_stripe_and_at_a_shadows_end_are_put_on_the_papers_edges(
    turned_deg: float, trusted: bool
) -> None:
    outline = _outline(*SIZE_MM, turned_deg)
    rough = _between(outline, 1.5, SIZE_MM[1] + 1.2)

    found = sized(_scan(outline), rough, SIZE_MM, px_per_mm=PX_PER_MM, trusted=trusted)

    assert np.abs(found - outline).max() < 0.2 * PX_PER_MM


def test_a_scanner_whose_scale_is_off_by_half_a_percent_is_allowed_for() -> None:
    outline = _outline(SIZE_MM[0] * 1.005, SIZE_MM[1] * 1.005, 2.0)
    rough = _between(outline, 1.5, SIZE_MM[1] + 1.2)

    found = sized(_scan(outline), rough, SIZE_MM, px_per_mm=PX_PER_MM, trusted=True)

    assert np.abs(found - outline).max() < 0.2 * PX_PER_MM


@pytest.mark.parametrize(("wide_mm", "high_mm"), [(84.0, 53.98), (85.6, 53.0), (88.0, 53.98)])
def test_a_paper_of_another_size_stays_as_it_is(wide_mm: float, high_mm: float) -> None:
    outline = _outline(wide_mm, high_mm, 2.0)

    found = sized(_scan(outline), outline, SIZE_MM, px_per_mm=PX_PER_MM, trusted=True)

    assert np.array_equal(found, outline)


def test_sides_that_lie_well_are_not_looked_at() -> None:
    outline = _outline(*SIZE_MM, 1.0)
    empty = np.zeros((0, 0, 3), np.uint8)

    assert sized(empty, outline, SIZE_MM, px_per_mm=PX_PER_MM, trusted=True) is outline
