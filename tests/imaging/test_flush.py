"""Papers pushed into a corner of the glass, as they are laid on home scanners."""

from __future__ import annotations

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


def test_of_two_cards_one_lies_at_the_edge():
    scene = flatbed(2, ("card", "card"), lid=30.0, skew=0.0, dpi=DPI)
    picture, corners = _pushed(scene, 0.2, sides=("left",))
    off = corners[0] - scene.corners[0][0]

    one, other = run(picture, (), encode=False).items

    assert jaccard(one, corners) > 0.985
    assert jaccard(other, scene.corners[1] + off) > 0.985


@pytest.mark.parametrize("kind", ["card", "spread"])
def test_what_goes_on_beyond_the_glass_is_cut_off(kind):
    scene = flatbed(5, (kind,), lid=150.0, skew=0.0, dpi=DPI)
    picture, _ = _pushed(scene, 4.0, sides=("left",))

    (item,) = run(picture, KINDS[kind], encode=False).items

    assert "cut-off" in codes(item)
