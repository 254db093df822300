"""Paper nearly as white as the lid, seen by means of many pixels: a tint, a guilloche."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from helpers import codes, jaccard, run

from packet.imaging.propose import by_regions
from packet.imaging.table import known_sides, lies_on_lid
from packet.imaging.view import make_view
from packet.intake.picture import Picture

DPI = 150.0
MM = DPI / 25.4
LID, PAPER = (243, 243, 244), (243, 242, 237)
TEXT = "ricevuta del versamento 0123"


def _on_lid(
    size_mm: tuple[float, float],
    *,
    paper: tuple[int, int, int] = PAPER,
    skew_deg: float = -2.0,
    guilloche: bool = False,
    portrait: bool = False,
) -> tuple[np.ndarray, np.ndarray]:
    """Paper of a size on a lid that differs from it by some levels of blue: pixels, outline. The
    lid has stripes, as a scanner's cells are not all alike."""
    wide, high = round(216 * MM), round(297 * MM)
    pixels = np.full((high, wide, 3), LID, np.float32)
    w, h = (side * MM for side in size_mm)
    corners = np.array([[0, 0], [w, 0], [w, h], [0, h]]) + np.array([30.0, 60.0]) * MM
    turn = cv2.getRotationMatrix2D((wide / 2, high / 2), -skew_deg, 1.0)
    corners = corners @ turn[:, :2].T + turn[:, 2]
    fixed = np.round(corners * 16).astype(np.int32)
    cv2.fillConvexPoly(pixels, fixed, paper, cv2.LINE_AA, 4)
    mask = np.zeros((high, wide), np.uint8)
    cv2.fillConvexPoly(mask, fixed, 255, cv2.LINE_AA, 4)
    face = pixels.astype(np.uint8)
    along, down = (corners[1] - corners[0]) / w, (corners[3] - corners[0]) / h
    if guilloche:
        for top in np.arange(0.0, h, 14.0):
            x = np.arange(0.0, w, 4.0)
            y = top + 5 * np.sin(x / 40 + top / 70)
            wave = corners[0] + x[:, None] * along + y[:, None] * down
            cv2.polylines(face, [np.round(wave).astype(np.int32)], False, (218, 214, 222), 1, 16)
    if portrait:
        box = np.array([[0.1, 0.1], [0.42, 0.1], [0.42, 0.38], [0.1, 0.38]]) * (w, h)
        seen = corners[0] + box[:, :1] * along + box[:, 1:] * down
        cv2.fillConvexPoly(face, np.round(seen).astype(np.int32), (70, 90, 80))
    for row in range(8):
        at = corners[0] + 0.12 * w * along + (0.5 + 0.05 * row) * h * down
        cv2.putText(face, TEXT, (round(at[0]), round(at[1])), 0, 0.7, (50, 50, 55), 2, cv2.LINE_AA)
    share = mask[..., None] / 255.0
    pixels = face * share + pixels * (1 - share)
    rng = np.random.default_rng(3)
    pixels = cv2.GaussianBlur(pixels, (0, 0), 0.6) + rng.normal(0, 1.0, pixels.shape)
    pixels = pixels * (1 + 0.004 * rng.standard_normal(wide))[None, :, None]
    return pixels.clip(0, 255).astype(np.uint8), corners


@pytest.mark.parametrize("dpi", [(DPI, DPI), (96.0, 96.0)])
@pytest.mark.parametrize("paper", [PAPER, (240, 240, 240)])
@pytest.mark.parametrize("size_mm", [(176.0, 125.0), (85.6, 53.98)])
def test_paper_of_a_wanted_size_hardly_differs_from_the_lid(size_mm, paper, dpi):
    """By a tint, or by three levels of grey; a tag of 96 dpi says no size."""
    pixels, corners = _on_lid(size_mm, paper=paper)

    (item,) = run(Picture(pixels=pixels, dpi=dpi, source="scanner"), (), encode=False).items

    assert jaccard(item, corners) > 0.99
    assert "not-found" not in codes(item)


def test_a_ticket_of_an_odd_size_differs_from_the_lid_by_a_tint():
    pixels, corners = _on_lid((138.0, 89.0))

    (item,) = run(Picture(pixels=pixels, dpi=(DPI, DPI), source="scanner"), ()).items

    assert jaccard(item, corners) > 0.99
    assert "not-found" not in codes(item)


@pytest.mark.parametrize("dpi", [(DPI, DPI), (96.0, 96.0)])
def test_a_portrait_on_an_opening_that_hardly_differs_from_the_lid_is_no_item(dpi):
    """By its colours it is much plainer than the opening."""
    pixels, corners = _on_lid((125.0, 176.0), paper=(240, 240, 240), guilloche=True, portrait=True)

    (item,) = run(Picture(pixels=pixels, dpi=dpi, source="scanner"), (), encode=False).items

    assert jaccard(item, corners) > 0.99


@pytest.mark.parametrize("dpi", [(DPI, DPI), (96.0, 96.0)])
def test_a_line_of_a_guilloche_is_not_the_side_of_a_card_beside_it(dpi):
    pixels, corners = _on_lid((85.6, 53.98), paper=(238, 238, 240), guilloche=True)

    (item,) = run(Picture(pixels=pixels, dpi=dpi, source="scanner"), (), encode=False).items

    assert jaccard(item, corners) > 0.99


def test_what_lies_on_a_lid_has_it_all_around():
    pixels, corners = _on_lid((138.0, 89.0), guilloche=True)
    view = make_view(pixels)
    assert not lies_on_lid(view, view.to_view(corners))  # no lid is known before it is looked for
    by_regions(view)

    assert lies_on_lid(view, view.to_view(corners))
    middle = corners.mean(axis=0)
    for by in (0.6, 1.4):
        assert not lies_on_lid(view, view.to_view(middle + by * (corners - middle)))


def test_a_side_ends_paper_along_nearly_all_of_it_or_is_not_known_to():
    pixels, corners = _on_lid((138.0, 89.0), guilloche=True)
    view = make_view(pixels)
    by_regions(view)
    quad = view.to_view(corners)
    half = (quad[1] - quad[0]) / 2
    beyond = quad + half  # half of its top and bottom lie on the paper's

    known = known_sides(view, np.stack([quad, beyond]))

    assert (known[0] > 0.8).all()
    assert (known[1] == 0).all()


@pytest.mark.parametrize(("slope", "noise"), [(40.0, 1.0), (0.0, 12.0)])
def test_a_white_table_in_uneven_light_is_no_lid_nor_is_a_rough_one(slope, noise):
    light = 230 - slope * np.linspace(0, 1, 1000)[:, None, None]
    pixels = light + np.random.default_rng(5).normal(0, noise, (1000, 800, 3))
    view = make_view(pixels.clip(0, 255).astype(np.uint8))
    by_regions(view)

    assert not view.lid


def test_a_pattern_is_no_lid():
    checks = np.kron(np.indices((30, 20)).sum(axis=0) % 2, np.ones((50, 50)))
    pixels = (120 + 100 * checks[..., None]).repeat(3, axis=2).astype(np.uint8)
    view = make_view(pixels)
    by_regions(view)

    assert not view.lid
