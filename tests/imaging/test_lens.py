"""The focal length by the print of a page that is cut off."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from evaluation import papers
from evaluation.camera import tilted

from packet.imaging import lens
from packet.imaging.geometry import Quads
from packet.imaging.lens import _tilt_cosine, focal_by_print
from packet.imaging.view import make_view

SIZE = (1600, 1200)


def _photo(rgb: np.ndarray, focal: float, *, hidden: float) -> tuple[np.ndarray, Quads]:
    """(a photo of A4, tilted, too near for the picture, and its quad without a part at the end)."""
    camera = tilted(size_px=SIZE, focal=focal, tilt_deg=28, towards_deg=80, roll_deg=4)
    page = np.array([[-105.0, -148.5, 0], [105.0, -148.5, 0], [105.0, 148.5, 0], [-105, 148.5, 0]])
    whole = camera.project(page * (1150 / np.ptp(camera.project(page)[:, 0])))
    high, wide = rgb.shape[:2]
    corners = np.array([[0, 0], [wide, 0], [wide, high], [0, high]], np.float32)
    matrix = cv2.getPerspectiveTransform(corners, whole.astype(np.float32))
    table = np.full((SIZE[1], SIZE[0], 3), (70, 55, 45), np.uint8)
    cv2.warpPerspective(
        rgb, matrix, SIZE, dst=table, flags=cv2.INTER_AREA, borderMode=cv2.BORDER_TRANSPARENT
    )
    seen = whole.copy()
    seen[2] += hidden * (whole[1] - whole[2])
    seen[3] += hidden * (whole[0] - whole[3])
    return table, seen


@pytest.mark.parametrize("focal", [0.7, 0.94])
def test_rows_of_print_are_parallel_at_the_right_focal_length(focal: float) -> None:
    paper = papers.page(np.random.default_rng(1))
    photo, seen = _photo(paper.rgb, focal, hidden=0.2)

    found = focal_by_print(make_view(photo).levels, seen, 2, size_px=SIZE)

    assert found is not None
    assert abs(np.log(found / focal)) < 0.03


def test_a_page_without_rows_of_print_does_not_tell() -> None:
    blank = np.full((1400, 990, 3), 235, np.uint8)
    dots = np.random.default_rng(2).integers(0, 980, (4000, 2))
    for x, y in dots.tolist():
        cv2.circle(blank, (x, y + y * 2 // 5), 2, (40, 40, 40), -1)
    photo, seen = _photo(blank, 0.8, hidden=0.2)

    assert focal_by_print(make_view(photo).levels, seen, 2, size_px=SIZE) is None


@pytest.mark.parametrize("tilt_deg", [5, 20, 33, 50])
def test_the_tilt_of_a_plane_is_that_of_the_camera(tilt_deg: int) -> None:
    camera = tilted(size_px=SIZE, focal=0.8, tilt_deg=tilt_deg, towards_deg=70, roll_deg=12)
    quad = camera.project(
        np.array([[-80.0, -50, 0], [90.0, -50, 0], [90.0, 60, 0], [-80.0, 60, 0]])
    )

    assert _tilt_cosine(quad, 0.8, SIZE) == pytest.approx(np.cos(np.radians(tilt_deg)), abs=2e-3)


@pytest.mark.parametrize(("steepest", "told"), [(0.0, True), (0.72, False), (0.85, False)])
def test_a_focal_length_next_to_those_of_too_steep_a_plane_is_not_told(
    monkeypatch: pytest.MonkeyPatch, steepest: float, told: bool
) -> None:
    """Where the curve may only rise towards them: cut off there, its end looks like a top."""
    photo, seen = _photo(papers.page(np.random.default_rng(1)).rgb, 0.8, hidden=0.2)
    usual = lens._tilt_cosine
    monkeypatch.setattr(lens, "_STEEPEST", steepest)
    monkeypatch.setattr(
        lens, "_tilt_cosine",
        lambda quad, focal, size: usual(quad, focal, size) if focal > 0.82 else 0.7,
    )  # fmt: skip

    found = focal_by_print(make_view(photo).levels, seen, 2, size_px=SIZE)

    assert (found is not None) is told
