"""Papers pushed into a corner of the glass, as they are laid on home scanners."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from drawing import Scene, flatbed
from helpers import KINDS, codes, jaccard, run

from packet.intake.picture import Picture

DPI = 150.0
LIDS = {"white": 246.0, "grey": 150.0, "black": 30.0}


def _pushed(scene: Scene, past_mm: float, *, sides: tuple[str, ...]) -> tuple[Picture, np.ndarray]:
    """The scan without what lies farther left, or up, than a little within its first item."""
    past_px = past_mm * DPI / 25.4
    low = np.round(scene.corners[0].min(axis=0) + past_px).astype(int)
    left, top = (max(0, low[k]) if side in sides else 0 for k, side in enumerate(("left", "top")))
    pixels = np.ascontiguousarray(scene.pixels[top:, left:])
    return Picture(pixels=pixels, dpi=scene.dpi, source="scanner"), scene.corners[0] - (left, top)


@pytest.mark.parametrize("lid", LIDS)
@pytest.mark.parametrize("dpi", [(DPI, DPI), None])
@pytest.mark.parametrize(("kind", "sides"), [("card", ("left", "top")), ("spread", ("left",))])
def test_what_lies_in_the_corner_of_the_glass_is_whole(kind, sides, dpi, lid):
    scene = flatbed(5, (kind,), lid=LIDS[lid], skew=0.0, dpi=DPI)
    picture, corners = _pushed(scene, 0.2, sides=sides)

    picture = Picture(pixels=picture.pixels, dpi=dpi, source="scanner")
    (item,) = run(picture, (), encode=False).items

    assert jaccard(item, corners) > 0.985
    assert not {"cut-off", "not-found"} & set(codes(item))


@pytest.mark.parametrize("dpi", [(DPI, DPI), None])
def test_of_two_cards_one_lies_at_the_edge(dpi):
    scene = flatbed(2, ("card", "card"), lid=30.0, skew=0.0, dpi=DPI)
    picture, corners = _pushed(scene, 0.2, sides=("left",))
    off = corners[0] - scene.corners[0][0]

    picture = Picture(pixels=picture.pixels, dpi=dpi, source="scanner")
    one, other = run(picture, (), encode=False).items

    assert jaccard(one, corners) > 0.985
    assert jaccard(other, scene.corners[1] + off) > 0.985


@pytest.mark.parametrize("kind", ["card", "spread"])
def test_what_goes_on_beyond_the_glass_is_cut_off(kind):
    scene = flatbed(5, (kind,), lid=150.0, skew=0.0, dpi=DPI)
    picture, _ = _pushed(scene, 4.0, sides=("left",))

    (item,) = run(picture, KINDS[kind], encode=False).items

    assert "cut-off" in codes(item)


def test_an_opening_that_goes_on_beyond_the_glass_is_one_item():
    """Two outlines of it, one upon the other, are no two openings."""
    scene = flatbed(7, ("spread",), lid=150.0, skew=0.0, dpi=DPI)
    picture, _ = _pushed(scene, 12.0, sides=("left",))

    picture = Picture(pixels=picture.pixels, dpi=None, source="scanner")
    (item,) = run(picture, (), encode=False).items

    assert "cut-off" in codes(item)


@pytest.mark.parametrize("seen_mm", [(200.0, 287.0), (206.0, 294.0)])
def test_a_page_pushed_over_two_edges_is_not_stretched_to_its_size(seen_mm):
    """A4 (210 x 297 mm, ISO 216) with little print, of which two strips lie beside the glass."""
    wide, high = (round(side * DPI / 25.4) for side in (216.0, 297.0))
    right, bottom = (round(side * DPI / 25.4) for side in seen_mm)
    pixels = np.full((high, wide, 3), 150.0)
    pixels[:bottom, :right] = 236
    for row in range(3):
        pixels[400 + 60 * row : 410 + 60 * row, 200:800] = 60
    pixels = cv2.GaussianBlur(pixels, (0, 0), 0.7)
    pixels += np.random.default_rng(2).normal(0, 1.0, pixels.shape)
    picture = Picture(pixels=pixels.clip(0, 255).astype(np.uint8), dpi=(DPI, DPI), source="scanner")

    (item,) = run(picture, KINDS["page"], encode=False).items

    assert "cut-off" in codes(item)
    assert item.size_mm == (210.0, 297.0)
