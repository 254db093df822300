"""With the kind given an item is found as well as without it."""

from __future__ import annotations

import cv2
import drawing
import numpy as np
import pytest
from evaluation.levels import picture
from evaluation.measure import page_jaccard, quad_of
from helpers import codes, jaccard, run

from packet.imaging.expected import Expected
from packet.imaging.geometry import whole_picture
from packet.imaging.sizing import expected_sizes, size_as_kind, size_item
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


def test_a_tag_that_lies_makes_no_card_of_another_shape():
    """ID-1, 85.60 x 53.98 mm, scanned at 200 dpi and said to be at 163: as wide as ID-2, 105 x 74
    mm (ISO/IEC 7810)."""
    wide, high = 85.60 * 200 / 25.4, 53.98 * 200 / 25.4
    quad = np.array([[0, 0], [wide, 0], [wide, high], [0, high]])
    expected = Expected(
        sizes_mm=expected_sizes((Kind.ID_CARD_BACK,)), px_per_mm=(163 / 25.4, 163 / 25.4),
        any_shape=False, perspective=False, openings=False, width_px=1701, height_px=2339,
    )  # fmt: skip

    assert size_as_kind(quad, Kind.ID_CARD_BACK, expected).size_mm == (85.60, 53.98)


@pytest.mark.parametrize("told", [True, False])
def test_what_is_said_to_be_a_card_is_one_however_much_its_tag_lies(told: bool) -> None:
    """Scanned at 250 dpi and said to be at 150: 143 x 90 mm. Where anything may be there, that may
    be a ticket of this size."""
    scene = drawing.flatbed(4, ("card",), dpi=250.0, lid=20.0)
    kinds = (Kind.ID_CARD_BACK,) if told else ()
    picture = Picture(pixels=scene.pixels, dpi=(150.0, 150.0), source="scanner")

    (item,) = run(picture, kinds, encode=False).items

    assert jaccard(item, scene.corners[0]) > 0.98
    assert (sorted(item.size_mm) == [53.98, 85.60]) is told
    assert ("size-mismatch" in codes(item)) is told
