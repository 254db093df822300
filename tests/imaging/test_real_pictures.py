"""Real pictures of pages, from the corpus beside the checkout (its SOURCES.md names where each is
from; skipped where that folder is not there), and a photo of the demo: what is on them was seen by
eye."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from helpers import codes, jaccard

from packet.imaging.item import picture_page
from packet.intake.pictures import open_scan
from packet.model import Kind, ScanTask

FULL = [
    "lept/1555.003.jpg",  # a framed woodcut is printed on it
    "lept/lucasta.047.jpg",
    "lept/shearer.148.tif",
    "lept/warped_paper.jpg",  # squared paper
    "lept/zanotti-78.jpg",
    "tess/phototest.tif",
    "tess/phototestrot.tif",
    "tess/phototest-rotated-L.png",
    "dxp/pp_td3_a__front.png",
    "dxp/rp_card_td2__back.png",
]


def found_on(path, *kinds):
    (picture,) = open_scan(path)
    task = ScanTask(path=path, name=path.name, kinds=kinds, encode=False, small=True)
    return picture, picture_page(task, picture).items


@pytest.mark.parametrize("name", FULL)
def test_what_fills_the_whole_picture_is_the_whole_picture(name, corpus_path):
    picture, items = found_on(corpus_path(f"5-document-photos/{name}"))
    whole = [[0, 0], [picture.width_px, 0], [picture.width_px, picture.height_px],
             [0, picture.height_px]]  # fmt: skip
    assert len(items) == 1
    assert jaccard(items[0], np.array(whole, float)) > 0.98


def test_an_open_book_on_a_dark_ground_is_one_item(corpus_path):
    _, items = found_on(corpus_path("5-document-photos/lept/binding-example.45.jpg"))
    assert len(items) == 1
    seen = np.array([[40, 58], [655, 0], [685, 425], [90, 478]], float)  # by eye
    assert jaccard(items[0], seen) > 0.96


def test_a_card_ends_at_its_side_and_not_at_the_joint_of_the_planks():
    path = Path(__file__).parents[2] / "samples" / "demo" / "tax-card" / "IMG_2201.jpg"
    _, (card,) = found_on(path, Kind.TAX_CARD_FRONT, Kind.TAX_CARD_BACK)
    seen = np.array([[270, 220], [1550, 323], [1459, 1078], [257, 1021]], float)
    assert jaccard(card, seen) > 0.99
    assert codes(card) == []


@pytest.mark.xfail(reason="the block of print is taken for a card", strict=True)
def test_a_page_of_print_is_the_whole_picture(corpus_path):
    picture, items = found_on(corpus_path("5-document-photos/lept/1555.007.jpg"))
    area = picture.width_px * picture.height_px
    assert len(items) == 1
    assert np.ptp(np.array(items[0].corners_px), axis=0).prod() > 0.95 * area
