"""A card in its holder is the item; a frame printed on a card or a page is none."""

from __future__ import annotations

import numpy as np
import pytest

from packet.imaging.expected import Expected
from packet.imaging.holder import card_in_holder, rims_mm
from packet.imaging.score import Judged
from packet.imaging.view import make_view

SIZE = (1300, 900)
PLAIN = {"support": 1.0, "worst": 0.95, "shape": 0.99}


def _box(wide_mm: float, high_mm: float, *, right_mm: float = 0.0, px_per_mm: float = 8) -> Judged:
    """A box about the middle of the picture, or put off to the right."""
    half = np.array([wide_mm, high_mm]) * px_per_mm / 2
    corners = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * half
    quad = corners + np.array(SIZE) / 2 + np.array([right_mm * px_per_mm, 0.0])
    return Judged(quad=quad, score=0.95, **PLAIN)


def _expected() -> Expected:
    return Expected(
        sizes_mm=((85.6, 53.98), (125.0, 88.0)), px_per_mm=None, any_shape=True, perspective=True,
        openings=True, width_px=SIZE[0], height_px=SIZE[1],
    )  # fmt: skip


@pytest.mark.parametrize(
    ("inner_mm", "outer_mm", "taken"),
    [
        ((85.6, 53.98), (95.6, 63.98), True),  # a holder, 5 mm around
        ((79.6, 50.2), (85.6, 53.98), False),  # a frame printed on a card
        ((85.6, 53.98), (125.0, 88.0), False),  # a card's shape on a page
        ((85.6, 53.98), (85.6, 62.0), False),  # a title and a foot
    ],
)
def test_a_card_is_taken_out_of_its_holder(
    inner_mm: tuple[float, float], outer_mm: tuple[float, float], taken: bool
) -> None:
    view = make_view(np.full((SIZE[1], SIZE[0], 3), 128, np.uint8))
    inner, outer = _box(*inner_mm), _box(*outer_mm)

    found = card_in_holder(view, outer, [outer, inner], _expected())

    assert found is (inner if taken else outer)


def test_a_quad_that_has_one_side_of_the_card_is_a_holder_s_too() -> None:
    view = make_view(np.full((SIZE[1], SIZE[0], 3), 128, np.uint8))
    card = _box(85.6, 53.98)
    mixed = Judged(quad=card.quad.copy(), score=0.96, **PLAIN)
    mixed.quad[1:3, 0] += 40
    mixed.quad[:2, 1] -= 40
    mixed.quad[2:, 1] += 40

    assert card_in_holder(view, mixed, [mixed, card], _expected()) is card


def test_rims_are_measured_in_the_card_s_plane() -> None:
    rims = rims_mm(_box(85.6, 53.98).quad, _box(95.6, 63.98, right_mm=1.0).quad)

    assert rims == pytest.approx([5.0, 6.0, 5.0, 4.0], abs=0.01)
