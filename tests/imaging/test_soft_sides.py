"""Sides of blurred pictures."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from packet.imaging.soft_sides import in_ramps, ramp_widths

CARD = np.array([[160.0, 130.0], [1040.0, 190.0], [1010.0, 740.0], [140.0, 700.0]])
ROUGH = CARD + np.array([[5.0, 9.0], [-7.0, 6.0], [-5.0, -8.0], [6.0, 7.0]])


def _photo(*, shadow: bool = False) -> np.ndarray:
    """A card on a darker table; the shadow of its edges falls to the lower right."""
    table = np.full((880, 1200, 3), (120, 105, 90), np.float32)
    if shadow:
        cv2.fillConvexPoly(table, (CARD + np.array([14, 14])).astype(np.int32), (70, 60, 52))
        table = cv2.GaussianBlur(table, (0, 0), 7)
    mask = np.zeros(table.shape[:2], np.uint8)
    cv2.fillConvexPoly(mask, np.round(CARD * 16).astype(np.int32), 255, cv2.LINE_AA, 4)
    cover = cv2.GaussianBlur(mask, (0, 0), 0.7)[..., None] / np.float32(255)
    return np.asarray(table * (1 - cover) + np.array([214, 208, 226]) * cover, np.float32)


def _noisy(photo: np.ndarray) -> np.ndarray:
    noise = np.random.default_rng(5).normal(0, 2.5, photo.shape)
    return (photo + noise).clip(0, 255).astype(np.uint8)


@pytest.mark.parametrize("blur", ["up and down", "sideways", "out of focus"])
def test_sides_lie_in_the_middle_of_their_ramps(blur: str) -> None:
    photo = _photo()
    if blur == "out of focus":
        photo = cv2.GaussianBlur(photo, (0, 0), 12)
    else:
        photo = cv2.blur(photo, (1, 35) if blur == "up and down" else (35, 1))

    quad = in_ramps(_noisy(photo), ROUGH)

    sharp = {"up and down": [1, 3], "sideways": [0, 2], "out of focus": []}[blur]
    ends = np.stack([quad, np.roll(quad, -1, axis=0)], axis=1)
    side = np.roll(CARD, -1, axis=0) - CARD
    normal = np.stack([side[:, 1], -side[:, 0]], axis=-1) / np.linalg.norm(side, axis=1)[:, None]
    off = np.abs(np.einsum("nek,nk->ne", ends - CARD[:, None], normal)).max(axis=1)
    assert np.delete(off, sharp).max() < 1.0


def test_a_sharp_picture_is_left_as_it_is_though_two_sides_lie_in_shadow() -> None:
    photo = _noisy(_photo(shadow=True))

    assert in_ramps(photo, CARD) is CARD


def test_the_width_of_a_ramp_is_measured_and_what_is_outside_is_not() -> None:
    photo = _noisy(cv2.blur(_photo(), (1, 35)))

    widths = ramp_widths(photo[:, :1000], CARD)

    assert np.abs(widths[[0, 2]] - 35).max() < 4
    assert widths[1] == 0
    assert widths[3] < 8
