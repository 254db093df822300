"""The focal length by the print of a page that is cut off."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from evaluation import papers
from evaluation.camera import tilted

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


def test_rows_that_would_be_parallel_only_on_a_steep_plane_do_not_tell() -> None:
    """Columns of signs in a machine-readable zone, of a card of which the end is cut off."""
    zone = np.full((540, 860, 3), 225, np.uint8)
    for row in (340, 405, 470):
        for sign in range(30):
            x = 40 + sign * 26 + (row - 400) // 9
            cv2.putText(zone, "K<8"[sign % 3], (x, row), 0, 1.1, (30, 30, 30), 3)
    photo, seen = _photo(np.ascontiguousarray(np.rot90(zone)), 0.8, hidden=0.15)
    found = focal_by_print(make_view(photo).levels, seen, 2, size_px=SIZE)

    assert found is None or 0.7 < found < 0.95
