"""Where a second card could lie beside a single one."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from packet.imaging.geometry import areas, grown, overlap, projected, unit_homographies
from packet.imaging.room import _places, likely_places, may_hold_another
from packet.imaging.view import View, make_view

ASPECT = 85.6 / 53.98  # ISO/IEC 7810, ID-1
SIZE = np.array([ASPECT, 1.0])
HIGH, WIDE = 800, 1066


def _view(beside: int | None = None) -> View:
    pixels = np.full((HIGH, WIDE, 3), 120, np.uint8)
    if beside is not None:
        pixels[430:700, 300:730] = beside
    return make_view(pixels)


def _card(x: float, y: float, wide: float, lean: float = 0.0) -> np.ndarray:
    high = wide / ASPECT
    return np.array([[x, y], [x + wide, y + lean], [x + wide, y + high], [x, y + high + lean]])


@settings(max_examples=30, deadline=None)
@given(x=st.floats(0, 600), y=st.floats(0, 400), wide=st.floats(200, 460), lean=st.floats(-20, 20))
def test_places_are_as_large_in_the_plane_of_the_card_and_lie_off_it(
    x: float, y: float, wide: float, lean: float
) -> None:
    card = _card(x, y, wide, lean)
    places = _places(_view(), card, aspect=ASPECT, size=SIZE)
    assume(places is not None)  # of a plane so steep that they would lie too far apart

    assert places is not None
    back = np.linalg.inv(unit_homographies(card[None])[0])
    for place in places[:: max(1, len(places) // 20)]:
        flat = projected(place, back) * np.array([ASPECT, 1.0])
        assert areas(flat[None])[0] == pytest.approx(ASPECT, rel=1e-6)
        assert overlap(place, card)[1] < 0.25  # told by 8 x 8 places in each
        assert place.min() > -0.03 * WIDE
        assert (place.max(axis=0) < [1.03 * WIDE, 840]).all()


def test_a_card_that_fills_the_picture_leaves_no_room() -> None:
    places = _places(_view(), _card(60, 60, 940), aspect=ASPECT, size=SIZE)

    assert places is not None
    assert not len(places)
    assert not may_hold_another(_view(), _card(60, 60, 940), aspect=ASPECT, card=True)


@pytest.mark.parametrize(("beside", "seen"), [(None, False), (60, True), (215, True)])
def test_beside_it_something_must_look_unlike_the_table(beside: int | None, seen: bool) -> None:
    card = _card(310, 80, 430)

    assert may_hold_another(_view(beside), card, aspect=ASPECT, card=True) is seen


def test_a_card_seen_so_askew_that_the_picture_ends_beyond_its_horizon_says_nothing() -> None:
    card = np.array([[500.0, 400], [560, 400], [700, 700], [360, 700]])

    assert _places(_view(), card, aspect=ASPECT, size=SIZE) is None
    assert may_hold_another(_view(), card, aspect=ASPECT, card=True)


@pytest.mark.parametrize(("beside", "seen"), [(None, False), (60, True), (215, True)])
def test_beside_an_opening_a_card_may_lie(beside: int | None, seen: bool) -> None:
    pixels = np.full((HIGH, WIDE, 3), 120, np.uint8)
    if beside is not None:
        pixels[300:456, 650:898] = beside
    opening = np.array([[60.0, 60], [560, 60], [560, 415], [60, 415]])

    assert may_hold_another(make_view(pixels), opening, aspect=500 / 355, card=False) is seen


@pytest.mark.parametrize("turn_deg", [0, 20, 70, 115])
def test_the_likeliest_place_on_a_chequered_cloth_is_that_of_the_second_card(turn_deg: int) -> None:
    y, x = np.mgrid[0:HIGH, 0:WIDE]
    checks = np.where(((x + y // 3) // 28 + (y - x // 3) // 28) % 2 > 0, 225, 90)
    pixels = np.repeat(checks[..., None], 3, axis=2).astype(np.uint8)
    first = _card(60, 90, 400)
    turn = np.radians(turn_deg)
    axes = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    corners = np.array([[-0.5, -0.5], [0.5, -0.5], [0.5, 0.5], [-0.5, 0.5]])
    second = (corners * SIZE * (400 / ASPECT)) @ axes + np.array([720.0, 540.0])
    for one in (first, second):
        cv2.fillConvexPoly(pixels, np.round(one).astype(np.int32), (190, 150, 165))
    places = likely_places(make_view(pixels), first, aspect=ASPECT)

    assert 1 <= len(places) <= 3
    assert overlap(places[0], second)[0] > 0.75
    assert areas(np.array(places)) == pytest.approx(areas(second[None])[0], rel=0.02)
    assert all(overlap(one, grown(first, 0.9))[1] < 0.3 for one in places)


@settings(max_examples=40, deadline=None)
@given(
    wide=st.floats(300, 560), x=st.floats(0, 1), y=st.floats(0, 1), turn_deg=st.floats(0, 180),
    colour=st.sampled_from([(200, 190, 150), (60, 70, 120), (240, 240, 240)]),
)  # fmt: skip
def test_a_card_anywhere_beside_a_page_of_a4_is_seen(
    wide: float, x: float, y: float, turn_deg: float, colour: tuple[int, int, int]
) -> None:
    """ISO 216 and ISO/IEC 7810: 210 x 297 mm and 85.6 x 53.98 mm."""
    page = np.array([[20.0, 20], [20 + wide, 20], [20 + wide, 20 + wide / 1.4142]])
    page = np.array([*page, [20.0, page[2, 1]]])
    card = SIZE * 53.98 * wide / 297.0
    turn = np.radians(turn_deg)
    axes = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    corners = (np.array([[-0.5, -0.5], [0.5, -0.5], [0.5, 0.5], [-0.5, 0.5]]) * card) @ axes
    spare = np.abs(corners).max(axis=0) + 12
    corners += spare + np.array([x, y]) * (np.array([WIDE, HIGH]) - 2 * spare)
    assume(overlap(corners, grown(page, 1.1))[1] == 0.0)
    pixels = np.full((HIGH, WIDE, 3), 125, np.uint8)
    cv2.fillConvexPoly(pixels, np.round(corners).astype(np.int32), colour)

    assert may_hold_another(make_view(pixels), page, aspect=297 / 210, card=False)
