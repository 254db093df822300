"""A card on a scanner's glass, of unknown resolution, that the picture cuts."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from packet.imaging import exact
from packet.imaging.border import prolonged, seen_part
from packet.imaging.exact import exact_outline
from packet.imaging.expected import Expected
from packet.imaging.score import Judged
from packet.imaging.view import make_view

WIDE, HIGH = 856.0, 539.8  # ISO/IEC 7810, ID-1, at ten pixels a millimetre


@pytest.mark.parametrize("turned_deg", [1.5, -4.0])
def test_its_hidden_side_is_parallel_to_the_opposite_one(turned_deg: float) -> None:
    """Not as the fitted sides, which shadows turn by parts of a degree, would meet in a photo."""
    turn = np.radians(turned_deg)
    matrix = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    corners = np.array([[0.0, 0.0], [WIDE, 0.0], [WIDE, HIGH], [0.0, HIGH]])
    card = corners @ matrix + np.array([150.0, -160.0 + 400 * np.sin(turn)])
    glass = np.full((700, 1200, 3), 236, np.uint8)
    cv2.fillConvexPoly(glass, np.round(card * 16).astype(np.int32), (150, 170, 190), cv2.LINE_AA, 4)
    glass = cv2.GaussianBlur(glass, (0, 0), 0.7)
    view = make_view(glass)
    found = card.copy()
    found[0] += 0.3 * (card[3] - card[0])  # the top, somewhere at the picture's edge
    found[1] += 0.26 * (card[2] - card[1])
    found[2, 0] += 6.0  # the right side, at its shadow's end
    one = Judged(
        quad=view.to_view(found), score=0.8, support=0.9, worst=0.8, shape=0.95, cut=True,
        edges=np.array([0.0, 0.9, 1.0, 1.0]), seen=np.array([0.0, 1.0, 1.0, 1.0]),
    )  # fmt: skip
    expected = Expected(
        sizes_mm=((85.60, 53.98), (53.98, 85.60)), px_per_mm=None, any_shape=True,
        perspective=True, openings=True, width_px=1200, height_px=700,
    )  # fmt: skip

    quad, cut = exact_outline(glass, view, one, expected, settled=False)

    assert cut
    assert np.abs(quad - card).max() < 2.0


def test_an_item_that_was_put_far_beyond_the_picture_is_measured_by_what_is_seen_of_it() -> None:
    """An opening on its side, a tenth of it hidden, that was taken for a sheet standing upright."""
    opening = np.array([[200.0, -60.0], [1000.0, -60.0], [1000.0, 508.0], [200.0, 508.0]])
    sheet = opening.copy()
    sheet[:2, 1] = 508.0 - 800.0 * 297 / 210

    seen = seen_part(sheet, 0, (1200, 700))

    assert np.abs(seen[:2, 1]).max() < 1e-9
    assert np.array_equal(seen[2:], sheet[2:])
    assert np.abs(seen_part(seen, 0, (1200, 700)) - seen).max() < 1e-9
    depths = [88 / 125, 297 / 210]
    wholes = prolonged(seen, 0, depths=depths, size_px=None)
    assert len(wholes) == 2
    assert np.abs(wholes[0] - opening).max() < 6
    assert len(prolonged(sheet, 0, depths=depths, size_px=None)) == 1


def test_a_side_that_can_be_seen_is_left_where_it_is() -> None:
    card = np.array([[200.0, 60.0], [900.0, 50.0], [930.0, 500.0], [210.0, 520.0]])

    assert np.array_equal(seen_part(card, 1, (1200, 700)), card)


@pytest.mark.parametrize(("in_by_mm", "moved"), [(1.5, True), (4.0, False)])
def test_the_white_beside_a_stripe_is_no_shadow(monkeypatch, in_by_mm: float, moved: bool) -> None:
    """A card of its true size by a true scale keeps it; a shadow that was taken in is left."""
    extra = 15.0 if moved else 0.0
    card = np.array([[100.0, 100 - extra], [100 + WIDE, 100 - extra], [100 + WIDE, 100 + HIGH]])
    card = np.append(card, [[100.0, 100 + HIGH]], axis=0)
    in_by = card + np.array([[0, 10 * in_by_mm], [0, 10 * in_by_mm], [0, 0], [0, 0]])
    monkeypatch.setattr("packet.imaging.exact.out_of_shadow", lambda *_, **__: in_by)
    expected = Expected(
        sizes_mm=((85.60, 53.98), (53.98, 85.60)), px_per_mm=(10.0, 10.0), any_shape=True,
        perspective=False, openings=True, width_px=1200, height_px=900,
    )  # fmt: skip
    pixels = np.zeros((900, 1200, 3), np.uint8)

    quad = exact._out_of_shadow(pixels, card, expected, reach_px=50.0)

    assert (quad is in_by) is moved
