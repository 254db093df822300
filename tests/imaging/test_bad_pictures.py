"""Pictures that are no scans of anything: an honest finding, little time, no crash."""

from __future__ import annotations

import time
from dataclasses import replace

import cv2
import numpy as np
import pytest
from evaluation import papers
from helpers import KINDS, codes, run

from packet.intake.picture import Picture
from packet.model import Item, Kind

EVERY: tuple[Kind, ...] = ()
MOST_CPU_S = 8.0  # each takes less than one on an idle machine


def picture(pixels: np.ndarray, **more: object) -> Picture:
    return replace(Picture(pixels=pixels, dpi=None, source="unknown"), **more)


def wall(height: int = 1500, width: int = 2000, *, bricks: bool = False) -> np.ndarray:
    """A rough wall in uneven light, with or without the joints of its bricks."""
    rng = np.random.default_rng(1)
    rough = cv2.GaussianBlur(rng.normal(0, 1, (height, width)).astype(np.float32), (0, 0), 6)
    grey = 190 * np.linspace(0.7, 1.0, width)[None, :] + 12 * rough
    grey += rng.normal(0, 3, (height, width))
    if bricks:
        for row in range(0, height, 120):
            grey[row : row + 4] *= 0.6
            for column in range((row // 120 % 2) * 150, width, 300):
                grey[row : row + 120, column : column + 4] *= 0.6
    return np.repeat(np.clip(grey, 0, 255).astype(np.uint8)[..., None], 3, axis=2)


def noise() -> np.ndarray:
    return np.random.default_rng(2).integers(0, 256, (1500, 2000, 3)).astype(np.uint8)


NOTHING = {
    "black": np.zeros((1500, 2000, 3), np.uint8),
    "white": np.full((1500, 2000, 3), 255, np.uint8),
    "noise": noise(),
    "one pixel": np.zeros((1, 1, 3), np.uint8),
    "one column": np.full((20_000, 1, 3), 90, np.uint8),
    "one row": np.full((1, 20_000, 3), 90, np.uint8),
    "wall": wall(),
    "bricks": wall(bricks=True),
}


def judged(shown: Picture, kinds: tuple[Kind, ...]) -> tuple[Item, ...]:
    begin = time.process_time()
    items = run(shown, kinds).items
    assert time.process_time() - begin < MOST_CPU_S
    return items


@pytest.mark.parametrize("kinds", [EVERY, KINDS["spread"], KINDS["card"]])
@pytest.mark.parametrize("name", sorted(NOTHING))
def test_where_nothing_is_that_is_said(name: str, kinds: tuple[Kind, ...]) -> None:
    (item,) = judged(picture(NOTHING[name]), kinds)

    (found,) = [finding for finding in item.findings if finding.code == "not-found"]
    assert found.needs_user
    assert found.remedy


def test_white_and_black_are_blank() -> None:
    for name in ("white", "black"):
        assert "blank" in codes(judged(picture(NOTHING[name]), KINDS["page"])[0])


def test_twenty_cards_are_each_an_item_or_told_to_be_too_small() -> None:
    glass = np.full((2600, 2100, 3), 245, np.uint8)
    for number in range(20):
        draw = papers.card_front if number % 2 else papers.card_back
        paper = draw(np.random.default_rng(number), papers.ID1)
        size = (430, 271)  # 127 dpi
        card = cv2.resize(paper.rgb, size, interpolation=cv2.INTER_AREA)
        mask = cv2.resize(paper.mask, size)[..., None] / 255.0
        row, column = divmod(number, 4)
        y, x = 60 + row * 500, 40 + column * 510
        place = glass[y : y + 271, x : x + 430]
        place[:] = (card * mask + place * (1 - mask)).astype(np.uint8)
    items = judged(picture(glass), EVERY)

    assert len(items) >= 10
    assert all("low-resolution" in codes(item) for item in items)


@pytest.mark.parametrize("upside_down", [False, True])
def test_a_mirrored_page_is_told_and_one_that_is_not_is_not(upside_down: bool) -> None:
    page = papers.page(np.random.default_rng(11)).rgb
    page = np.rot90(page, 2) if upside_down else page
    dpi = page.shape[1] / 210 * 25.4
    shown = picture(np.ascontiguousarray(page), dpi=(dpi, dpi), source="scanner")
    mirror = replace(shown, pixels=np.ascontiguousarray(page[:, ::-1]))

    assert "mirrored" not in codes(judged(shown, KINDS["page"])[0])
    assert "mirrored" in codes(judged(mirror, KINDS["page"])[0])
