"""Items cut off by the edge of the picture: stock, fold and type say how far they go on."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from evaluation import papers

from packet.imaging.cut import whole_by_look
from packet.imaging.expected import Expected
from packet.imaging.sizing import expected_sizes
from packet.imaging.view import make_view
from packet.model import Kind


def _gone_on(
    paper: papers.Paper, *, hidden: float, quarter: int, kinds: tuple[Kind, ...] = tuple(Kind)
) -> tuple[np.ndarray, np.ndarray]:
    """(the outline that is told, the true one) of a paper, turned, on a dark table, of which so
    much lies beyond the right edge of a picture taken from straight above."""
    pixels = np.ascontiguousarray(np.rot90(paper.rgb, quarter))
    shrink = 1000 / max(pixels.shape)
    pixels = cv2.resize(pixels, None, fx=shrink, fy=shrink, interpolation=cv2.INTER_AREA)
    high, wide = pixels.shape[:2]
    shown = round(wide * (1 - hidden))
    picture = np.full((high + 300, 300 + shown, 3), (60, 45, 40), np.uint8)
    picture[150 : 150 + high, 300:] = pixels[:, :shown]
    left, right, top, bottom = 299.5, 299.5 + shown, 149.5, 149.5 + high
    quad = np.array([[left, top], [right, top], [right, bottom], [left, bottom]])
    expected = Expected(
        sizes_mm=expected_sizes(kinds), px_per_mm=None, any_shape=True, perspective=True,
        openings=True, width_px=picture.shape[1], height_px=picture.shape[0],
    )  # fmt: skip
    view = make_view(picture)
    whole = whole_by_look(view, view.levels, quad, 1, expected)
    assert whole is not None
    return whole, quad + np.array([[0, 0], [wide - shown, 0], [wide - shown, 0], [0, 0]])


@pytest.mark.parametrize(
    ("draw", "hidden", "quarter"),
    [
        (papers.page, 0.12, 0),  # 0.8 of its width, its height: nearly the shape of a card
        (papers.page, 0.1, 1),  # 1.27: letter paper has 1.29
        (papers.opening, 0.12, 0),  # the fold lies across what is seen
        (papers.opening, 0.12, 1),  # and along it
        (papers.cover, 0.08, 0),
        (papers.cover, 0.08, 1),
        (papers.card_front, 0.1, 0),
        (papers.card_back, 0.1, 0),
    ],
)
def test_how_far_a_paper_goes_on(draw: object, hidden: float, quarter: int) -> None:
    for seed in range(3):
        paper = draw(np.random.default_rng(seed))  # type: ignore[operator]
        told, true = _gone_on(paper, hidden=hidden, quarter=quarter)
        wide = true[1, 0] - true[0, 0]
        assert np.abs(told - true).max() < 0.02 * wide, (seed, told, true)


def test_a_card_that_is_said_to_be_one_goes_on_as_cards_mostly_do() -> None:
    """Not as the larger formats of ISO/IEC 7810, whose shape would need less to be hidden."""
    for seed in (0, 2, 3):
        paper = papers.card_back(np.random.default_rng(seed))
        told, true = _gone_on(paper, hidden=0.36, quarter=0, kinds=(Kind.ID_CARD_BACK,))
        assert np.abs(told - true).max() < 0.02 * (true[1, 0] - true[0, 0]), seed
