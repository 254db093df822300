"""With the kind given an item is found as well as without it."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from evaluation.levels import picture
from evaluation.measure import page_jaccard, quad_of
from helpers import run

from packet.imaging.expected import Expected
from packet.imaging.geometry import whole_picture
from packet.imaging.sizing import expected_sizes, size_item
from packet.intake.picture import Picture
from packet.model import Kind


@pytest.mark.parametrize("seed", [970, 946])
def test_one_page_of_an_opening_that_is_cut_off_is_not_taken_for_an_opening(seed: int) -> None:
    """Both have one shape (125 x 88 and 176 x 125 mm); the fold is as plain as a side."""
    drawn = picture("hard", seed)
    pixels = cv2.imdecode(np.frombuffer(drawn.data, np.uint8), cv2.IMREAD_COLOR)
    pixels = np.ascontiguousarray(pixels[..., ::-1])

    (item,) = run(
        Picture(pixels=pixels, dpi=None, source="camera"), (Kind.PASSPORT_SPREAD,), encode=False
    ).items

    assert page_jaccard(drawn.items[0], quad_of(item)) > 0.95


def test_what_is_said_to_be_a_card_has_the_size_of_one_whatever_its_outline() -> None:
    """Fingers on one end made it shorter; it is not blown up to the width of a page."""
    expected = Expected(
        sizes_mm=expected_sizes((Kind.ID_CARD_FRONT,)), px_per_mm=None, any_shape=False,
        perspective=True, openings=False, width_px=1600, height_px=1200,
    )  # fmt: skip
    short = whole_picture(700, 400) + np.array([300.0, 300.0])

    assert size_item(short, (Kind.ID_CARD_FRONT,), expected).basis == "kind"
    assert max(size_item(short, (Kind.ID_CARD_FRONT,), expected).size_mm) < 106  # ID-2
    assert size_item(short, (Kind.OTHER,), expected).basis == "a4"
