"""Patterned tables by all their colours; open covers by their print; white paper beside a card."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest
from test_patterned import _gingham

from packet.imaging.around import worth_of
from packet.imaging.choose import _unlike_first, choose
from packet.imaging.expected import Expected
from packet.imaging.geometry import grown, overlap
from packet.imaging.openings import whole_opening
from packet.imaging.parted import parted, parted_sides
from packet.imaging.propose import within_colours
from packet.imaging.score import Judged
from packet.imaging.sheet_look import is_printed_on_half
from packet.imaging.soft_picture import may_be_soft
from packet.imaging.table import is_motley_around, is_shadow
from packet.imaging.view import make_view

SHEET = np.array([[330.0, 240.0], [930.0, 170.0], [980.0, 600.0], [380.0, 670.0]])
SIZES = ((176.0, 125.0), (125.0, 88.0), (88.0, 125.0), (85.6, 53.98))


def _cloth(blur: float) -> np.ndarray:
    """White paper on a cloth whose checks are white, grey and black."""
    picture = _gingham(900, 1300)
    cv2.fillConvexPoly(picture, SHEET.astype(np.int32), (238, 236, 232), cv2.LINE_AA)
    return cv2.GaussianBlur(picture, (0, 0), blur)


@pytest.mark.parametrize("blur", [1.0, 6.0])
def test_sides_come_to_where_colours_part(blur: float) -> None:
    rough = SHEET + np.array([[-30.0, 20.0], [25.0, -20.0], [20.0, 30.0], [25.0, -10.0]])

    found = parted(make_view(_cloth(blur)), [rough])

    assert len(found) == 1
    assert overlap(found[0], SHEET)[0] > max(0.96, overlap(rough, SHEET)[0])


def test_paper_wider_than_the_squares_is_proposed() -> None:
    found = within_colours(make_view(_cloth(6.0)))

    assert max(overlap(quad, SHEET)[0] for quad in found) > 0.8


def test_a_part_that_goes_on_is_left_for_the_whole() -> None:
    view = make_view(_cloth(1.0))
    upper = SHEET.copy()
    upper[2:] = (SHEET[[1, 0]] + 2 * SHEET[2:]) / 3

    found = parted(view, [upper, SHEET])

    assert all(overlap(quad, SHEET)[0] > 0.9 for quad in found)


@pytest.mark.parametrize(("places", "half"), [((450,), True), ((150, 450), False), ((), False)])
def test_print_on_one_half_alone(places: tuple[int, ...], half: bool) -> None:
    cover = np.full((420, 600), 45, np.uint8)
    for x in places:
        cv2.circle(cover, (x, 210), 60, 150, 4)
        cv2.putText(cover, "TITLE", (x - 70, 90), cv2.FONT_HERSHEY_SIMPLEX, 1.4, 150, 4)

    assert is_printed_on_half(cover) is half


def _judged(quad: np.ndarray, score: float, shape: float = 1.0) -> Judged:
    return Judged(quad=quad, score=score, support=1.0, worst=1.0, shape=shape, edges=np.ones(4))


def _rectangle(x: float, y: float, wide: float, high: float) -> np.ndarray:
    return np.array([[x, y], [x + wide, y], [x + wide, y + high], [x, y + high]])


def _on_glass(scale: float) -> Expected:
    return Expected(
        sizes_mm=SIZES, px_per_mm=(scale, scale), any_shape=True, perspective=False,
        openings=True, width_px=860, height_px=1180,
    )  # fmt: skip


@pytest.mark.parametrize(("shape", "count"), [(1.0, 2), (0.5, 1)])
def test_white_paper_of_a_wanted_size_lies_beside_a_plain_card(shape: float, count: int) -> None:
    glass = np.full((1180, 860, 3), 246, np.uint8)
    card, sheet = _rectangle(40, 800, 342, 216), _rectangle(60, 60, 704, 500)
    cv2.fillConvexPoly(glass, card.astype(np.int32), (60, 90, 110))
    view = make_view(glass)
    view.ground.append((view.small[..., 0] < 200).astype(np.uint8))

    items = choose(view, [_judged(card, 1.0), _judged(sheet, 0.87, shape)], _on_glass(4.0))

    assert len(items) == count


@pytest.mark.parametrize("scan", [True, False])
def test_sharp_sides_on_a_scan_are_not_sought_for_in_a_smaller_picture(scan: bool) -> None:
    expected = replace(_on_glass(6.0), perspective=not scan)
    view = make_view(np.full((900, 1300, 3), 200, np.uint8))

    assert may_be_soft(view, [_judged(SHEET, 0.7, 0.75)], expected) is not scan
    assert may_be_soft(view, [], expected)


def test_two_plain_pages_are_one_opening_though_its_scale_lies() -> None:
    glass = np.full((1180, 860, 3), 246, np.uint8)
    left, right = _rectangle(60, 60, 352, 500), _rectangle(412, 60, 352, 500)
    whole = _judged(_rectangle(60, 60, 704, 500), 0.7, 0.75)
    pages = [_judged(left, 0.95, 0.75), _judged(right, 0.93, 0.75)]

    found = whole_opening(make_view(glass), pages[0], [*pages, whole], _on_glass(6.0))

    assert found is whole


def test_on_cloth_sides_without_edges_are_seen_by_colours() -> None:
    view = make_view(_cloth(6.0))
    plain = make_view(np.full((900, 1300, 3), 200, np.uint8))

    assert parted_sides(view, [SHEET]).min() > 0.8
    assert parted_sides(view, [grown(SHEET, 0.6)]).max() < 0.1
    assert is_motley_around(view, SHEET)
    assert not is_motley_around(plain, SHEET)
    assert parted_sides(plain, [SHEET]).max() == 0


def test_a_part_of_the_cloth_is_not_taken_before_the_paper() -> None:
    view = make_view(_cloth(1.0))
    cloth = SHEET + np.array([[-250.0, -100.0], [0.0, -100.0], [0.0, 0.0], [-250.0, 0.0]])
    good = [_judged(cloth, 0.95), _judged(SHEET, 0.9)]

    worth = _unlike_first(view, good, worth_of(good))

    assert int(np.argmax(worth)) == 1


@pytest.mark.parametrize(("colour", "shadow"), [((110, 110, 108), True), ((110, 90, 60), False)])
def test_an_arm_s_shadow_has_the_table_s_tint(colour: tuple[int, int, int], shadow: bool) -> None:
    table = np.full((900, 1300, 3), 205, np.uint8)
    arm = np.array([[200.0, 500.0], [460.0, 480.0], [520.0, 960.0], [180.0, 960.0]])
    cv2.fillConvexPoly(table, arm.astype(np.int32), colour)

    assert is_shadow(make_view(table), arm) is shadow
