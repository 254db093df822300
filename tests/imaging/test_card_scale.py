"""The scale that a card tells on a scan whose resolution is unknown or told wrong."""

from __future__ import annotations

import numpy as np
import pytest

from packet.imaging.card_scale import with_scale_of_card
from packet.imaging.expected import Expected
from packet.imaging.find import Found
from packet.imaging.geometry import rectangle
from packet.imaging.view import make_view

ID1 = (85.60, 53.98)  # ISO/IEC 7810
MM = 8.0  # pixels
SIZES = (ID1, ID1[::-1], (176.0, 125.0), (125.0, 176.0))


def _expected(dpi: float | None, *, camera: bool = False) -> Expected:
    scale = None if dpi is None else (dpi / 25.4, dpi / 25.4)
    return Expected(
        sizes_mm=SIZES, px_per_mm=scale, any_shape=True, perspective=scale is None, openings=True,
        width_px=1700, height_px=1300, camera=camera,
    )  # fmt: skip


def _glass() -> tuple[np.ndarray, list[Found]]:
    """A card on a lid."""
    pixels = np.full((1300, 1700, 3), 246.0)
    card = rectangle(np.array([450.0, 350.0]), (ID1[0] * MM, ID1[1] * MM), 0.02)
    pixels[140:560, 110:800][_inside(card, 110, 140, 690, 420)] = (120, 140, 160)
    pixels += np.random.default_rng(1).normal(0, 1, pixels.shape)
    return pixels.clip(0, 255).astype(np.uint8), [Found(quad=card, score=0.97, shape=1.0)]


def _inside(quad: np.ndarray, left: int, top: int, wide: int, high: int) -> np.ndarray:
    y, x = np.mgrid[top : top + high, left : left + wide]
    ahead = np.roll(quad, -1, axis=0) - quad
    away = np.stack([x, y], axis=-1)[..., None, :] - quad
    return (ahead[:, 0] * away[..., 1] - ahead[:, 1] * away[..., 0] > 0).all(axis=-1)


@pytest.mark.parametrize(
    ("dpi", "camera", "asked"),
    [(None, False, True), (120.0, False, True), (MM * 25.4, False, False), (None, True, False)],
)
def test_a_card_tells_the_scale_where_none_is_known(monkeypatch, dpi, camera, asked):
    """And where the tag says another one; not in a photo by its camera's own tags."""
    pixels, found = _glass()
    scales = []

    def find(pixels, view, expected, wanted):
        scales.append(expected.px_per_mm)
        assert wanted.px_per_mm == expected.px_per_mm
        assert not expected.perspective
        return [*found, Found(quad=found[0].quad + 450.0, score=0.6, shape=0.5)]

    monkeypatch.setattr("packet.imaging.card_scale.find_items", find)
    expected = _expected(dpi, camera=camera)
    again = with_scale_of_card(pixels, make_view(pixels), found, expected, expected)

    assert len(again) == 1 + asked
    assert scales == ([pytest.approx((MM, MM))] if asked else [])


@pytest.mark.parametrize("change", ["smaller", "lost"])
def test_by_a_wrong_scale_the_card_is_not_found_again(monkeypatch, change):
    pixels, found = _glass()
    other = [Found(quad=found[0].quad * 0.8, score=0.9, shape=1.0)] if change == "smaller" else []
    monkeypatch.setattr("packet.imaging.card_scale.find_items", lambda *_: other)
    expected = _expected(None)

    assert with_scale_of_card(pixels, make_view(pixels), found, expected, expected) is found


def test_two_cards_of_two_sizes_tell_no_scale(monkeypatch):
    pixels, found = _glass()
    found = [*found, Found(quad=found[0].quad * 1.2 + 300.0, score=0.97, shape=1.0)]
    monkeypatch.setattr("packet.imaging.card_scale.find_items", None)
    expected = _expected(None)

    assert with_scale_of_card(pixels, make_view(pixels), found, expected, expected) is found
