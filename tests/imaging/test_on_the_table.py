"""What lies on a table of several colours, on tiles, or parted by a stripe as dark as the table."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from packet.imaging.beside import with_all_print
from packet.imaging.choose import choose
from packet.imaging.expected import Expected
from packet.imaging.geometry import overlap
from packet.imaging.openings import whole_opening
from packet.imaging.propose import by_ground
from packet.imaging.score import Judged
from packet.imaging.soft_picture import is_paper_of
from packet.imaging.view import make_view

PAGE = np.array([[300.0, 150.0], [1000.0, 150.0], [1000.0, 648.0], [300.0, 648.0]])
PHOTO = np.array([[380.0, 230.0], [560.0, 230.0], [560.0, 346.0], [380.0, 346.0]])


def _expected(*sizes_mm: tuple[float, float], width_px: int, height_px: int) -> Expected:
    return Expected(
        sizes_mm=sizes_mm, px_per_mm=None, any_shape=True, perspective=True, openings=True,
        width_px=width_px, height_px=height_px,
    )  # fmt: skip


def _judged(quad: np.ndarray, score: float, *, worst: float, shape: float = 0.99) -> Judged:
    edges = np.array([worst, 1.0, 1.0, 1.0])
    return Judged(
        quad=quad, score=score, support=0.96, worst=worst, shape=shape, edges=edges
    )  # fmt: skip


@pytest.mark.parametrize("checks_within", [False, True])
def test_a_paper_of_one_colour_is_no_part_of_a_table_of_several(checks_within: bool) -> None:
    """It has the greys of the cloth, a photo on it does not; but on checks a photo is the item."""
    y, x = np.mgrid[0:800, 0:1300]
    grey = np.array([225, 180, 90])[((x // 70) % 2 + (y // 70) % 2).astype(int)]
    picture = np.repeat(grey[..., None], 3, axis=2).astype(np.uint8)
    if not checks_within:
        cv2.fillConvexPoly(picture, PAGE.astype(np.int32), (180, 180, 180))
    cv2.fillConvexPoly(picture, PHOTO.astype(np.int32), (150, 70, 60))
    view = make_view(cv2.GaussianBlur(picture, (0, 0), 1.0))
    page, photo = _judged(PAGE, 0.97, worst=0.83), _judged(PHOTO, 0.9, worst=0.75)
    expected = _expected((176.0, 125.0), width_px=1300, height_px=800)

    first = choose(view, [page, photo], expected)[0]

    assert first.quad is (PHOTO if checks_within else PAGE)


def test_a_paper_and_as_many_tiles_are_no_opening() -> None:
    """The far sides of the whole run along the joints."""
    picture = np.full((900, 1300, 3), (150, 165, 150), np.uint8)
    for k in range(0, 1300, 210):
        cv2.line(picture, (k + 20, 0), (k + 20, 899), (120, 120, 150), 5)
        cv2.line(picture, (0, k + 150), (1299, k + 150), (120, 120, 150), 5)
    half = np.array([[230.0, 150.0], [650.0, 150.0], [650.0, 744.0], [230.0, 744.0]])
    whole = half + np.array([[0.0, 0.0], [420.0, 0.0], [420.0, 0.0], [0.0, 0.0]])
    cv2.fillConvexPoly(picture, half.astype(np.int32), (235, 232, 225))
    view = make_view(cv2.GaussianBlur(picture, (0, 0), 1.0))
    page = Judged(quad=half, score=0.99, support=1.0, worst=1.0, shape=0.99)
    both = Judged(quad=whole, score=0.82, support=0.99, worst=0.97, shape=0.99)
    expected = _expected((210.0, 297.0), (176.0, 125.0), width_px=1300, height_px=900)

    assert whole_opening(view, page, [page, both], expected) is page


@pytest.mark.parametrize("free", [False, True])
def test_print_beside_a_portrait_is_that_of_the_card_around_both(free: bool) -> None:
    """A white card under a white lid, on a scan; unless some of the print lies on no card."""
    picture = np.full((800, 1100, 3), 246, np.uint8)
    card = np.array([[150.0, 120.0], [950.0, 120.0], [950.0, 624.0], [150.0, 624.0]])
    portrait = np.array([[200.0, 220.0], [400.0, 220.0], [400.0, 480.0], [200.0, 480.0]])
    cv2.polylines(picture, [card.astype(np.int32)], True, (232, 232, 232), 2)
    cv2.fillConvexPoly(picture, portrait.astype(np.int32), (110, 100, 100))
    for y in (*range(250, 560, 60), *((730,) if free else ())):
        cv2.putText(picture, "WORDS ON A CARD THAT HAS SOME", (440, y), cv2.FONT_HERSHEY_SIMPLEX,
                    0.8, (30, 30, 30), 2, cv2.LINE_AA)  # fmt: skip
    inner = Judged(quad=portrait, score=1.05, support=1.0, worst=1.0, shape=0.99)
    outer = Judged(quad=card, score=0.9, support=0.98, worst=0.92, shape=0.99)

    (one,) = with_all_print(make_view(picture), [inner], [inner, outer])

    assert one is (inner if free else outer)


def test_a_card_parted_by_a_stripe_as_dark_as_the_table_is_proposed_whole() -> None:
    rng = np.random.default_rng(4)
    picture = rng.normal(30, 2, (900, 1300, 3)).clip(0, 255).astype(np.uint8)
    card = np.array([[300.0, 200.0], [1000.0, 200.0], [1000.0, 641.0], [300.0, 641.0]])
    cv2.fillConvexPoly(picture, card.astype(np.int32), (200, 205, 200))
    picture[235:340, 300:1001] = 31
    view = make_view(picture)

    plain, _ = by_ground(view)

    assert max(overlap(quad, view.to_view(card))[0] for quad in plain) > 0.97


@pytest.mark.parametrize(("score", "around"), [(0.92, True), (0.8, False)])
def test_a_portrait_alone_in_a_photo_is_printed_on_a_much_larger_plain_paper(
    score: float, around: bool
) -> None:
    """White paper on a white table: a third of the size shows its edges, if anything does."""
    view = make_view(np.full((800, 1300, 3), 230, np.uint8))
    small = PHOTO * 0.5 + PAGE.mean(axis=0) * 0.5
    inner, outer = _judged(small, 0.918, worst=0.83), _judged(PAGE, score, worst=0.96)
    expected = _expected((176.0, 125.0), width_px=1300, height_px=800)

    assert is_paper_of(view, inner, outer, expected) is around


def test_of_two_that_hardly_differ_in_score_the_one_more_unlike_the_table_is_first() -> None:
    """Lines of the cloth around a paper make up a larger quad whose sides are as plain."""
    y, x = np.mgrid[0:800, 0:1300]
    grey = np.array([225, 170, 90])[((x // 40) % 2 + (y // 40) % 2).astype(int)]
    picture = np.repeat(grey[..., None], 3, axis=2).astype(np.uint8)
    cv2.fillConvexPoly(picture, PAGE.astype(np.int32), (215, 215, 235))
    view = make_view(cv2.GaussianBlur(picture, (0, 0), 1.0))
    larger = PAGE + np.array([[-80.0, -80.0], [80.0, -80.0], [80.0, 80.0], [-80.0, 80.0]])
    page, cloth = _judged(PAGE, 0.916, worst=0.81), _judged(larger, 0.917, worst=0.85)
    expected = _expected((176.0, 125.0), width_px=1300, height_px=800)

    assert choose(view, [cloth, page], expected)[0].quad is PAGE
