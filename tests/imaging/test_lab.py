"""Our L*a*b* is OpenCV's, to the last bit."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from packet.imaging import lab


def test_of_many_colours():
    rgb = np.random.default_rng(3).integers(0, 256, (1500, 1000, 3), np.uint8)
    grey = np.repeat(np.arange(256, dtype=np.uint8), 3).reshape(1, 256, 3)
    for pixels in (rgb, grey, rgb[:1, :1]):
        assert np.array_equal(lab.worked_out(pixels), cv2.cvtColor(pixels, cv2.COLOR_RGB2LAB))


@pytest.mark.slow
def test_of_every_colour():
    green, blue = np.mgrid[0:256, 0:256].astype(np.uint8)
    for red in range(256):
        pixels = np.dstack([np.full_like(green, red), green, blue])
        assert np.array_equal(lab.worked_out(pixels), cv2.cvtColor(pixels, cv2.COLOR_RGB2LAB))


def test_both_ways_give_the_same(monkeypatch):
    rgb = np.random.default_rng(4).integers(0, 256, (40, 60, 3), np.uint8)
    monkeypatch.setattr(lab, "_seen", [0])
    first = lab.lab_of(rgb)
    monkeypatch.setattr(lab, "_seen", [10**9])
    assert np.array_equal(first, lab.lab_of(rgb))
