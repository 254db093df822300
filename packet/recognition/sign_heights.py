"""Figures and capitals told apart by their height: in OCR-B figures stand higher.

To the reading model O and 0 are one shape, and a check digit often fits both. The heights of the
signs that are beyond doubt give the scale of a line; what is left over says how exact a height is.
"""

from __future__ import annotations

import tomllib
from functools import cache
from importlib import resources

import cv2
import numpy as np
from numpy.typing import NDArray

from packet.recognition.boxes import Pixels
from packet.recognition.sign_scores import Placed, Scores
from packet.rules.mrz_format import SIGNS

_ALIKE = ("0ODQ", "1I", "5S", "8B", "2Z", "6G")  # a figure, then the capitals like it
_SURE = -0.2  # log probability of a sign that gives the scale
_LEAST_SURE = 10  # signs
_LEAST_SPREAD = 0.012  # of the height: no measure is better than this
_WORST_SPREAD = 0.035
_NEAR = -1.5  # log probability of a sign whose like ones are weighed
_MOST = 5.0  # natural logarithm of odds that a height may add


@cache
def _heights() -> NDArray[np.float64]:
    table = tomllib.loads((resources.files(__package__) / "ocr_b.toml").read_text("utf-8"))
    return np.array([table["heights"].get(sign, 0) for sign in SIGNS], np.float64)


def with_heights(strip: Pixels, placed: Placed, *, step_px: float) -> Scores:
    """The scores of a line's places, figures and the capitals like them weighed by their heights.

    ``strip``: the level line, (H, W, 3); ``step_px``: width in it of a step of the scores.
    """
    measured = _measured(strip, placed, step_px)
    scores = placed.scores
    best = scores.argmax(1)
    table = _heights()
    sure = (scores.max(1) > _SURE) & (best < len(SIGNS) - 1) & ~np.isnan(measured)
    sure &= np.array([SIGNS[one] not in "0O" for one in best])
    if sure.sum() < _LEAST_SURE or np.ptp(table[best[sure]]) == 0:
        return scores
    known, seen = table[best[sure]], measured[sure]
    scale, start = np.polyfit(known, seen, 1)
    left = seen - scale * known - start
    spread = max(_LEAST_SPREAD, 1.4826 * float(np.median(np.abs(left))) / float(np.mean(seen)))
    if scale <= 0 or spread > _WORST_SPREAD:
        return scores
    away = (measured[:, None] - scale * table - start) / (spread * float(np.mean(seen)))
    return _weighed(scores, -0.5 * np.nan_to_num(away, nan=0.0) ** 2)


def _weighed(scores: Scores, fit: Scores) -> Scores:
    """What each set of like signs has at a place in all, shared out anew among its signs."""
    out = scores.copy()
    for alike in _ALIKE:
        columns = [SIGNS.index(sign) for sign in alike]
        own, heights = scores[:, columns], fit[:, columns]
        total = np.logaddexp.reduce(own, axis=1, keepdims=True)
        odds = own + np.clip(heights - heights[:, :1], -_MOST, _MOST)
        shared = total + odds - np.logaddexp.reduce(odds, axis=1, keepdims=True)
        near = own.max(1) > _NEAR
        out[np.ix_(near, columns)] = shared[near]
    return out


def _measured(strip: Pixels, placed: Placed, step_px: float) -> NDArray[np.float64]:
    """Height of the ink at each place, pixels of the strip; NaN where there is none."""
    grey = np.asarray(cv2.cvtColor(strip, cv2.COLOR_RGB2GRAY), np.float32)
    paper = np.asarray(cv2.blur(cv2.dilate(grey, np.ones((25, 25), np.uint8)), (25, 25)))
    dark = np.asarray(cv2.GaussianBlur(paper - grey, (0, 0), 1.0), np.float32)
    out = np.full(len(placed.scores), np.nan)
    half = 0.46 * placed.pitch * step_px
    for place in range(len(out)):
        middle = (placed.first + placed.pitch * place + 0.5) * step_px
        part = dark[:, max(0, round(middle - half)) : max(1, round(middle + half))]
        if part.shape[1] < 4:
            continue
        profile = np.sort(part, axis=1)[:, -max(2, part.shape[1] // 8) :].mean(1)
        out[place] = _extent(profile)
    return out


def _extent(profile: NDArray[np.float32]) -> float:
    """Length of the part above half the top, to a fraction of a pixel."""
    level = 0.5 * float(np.percentile(profile, 90))
    middle = len(profile) // 2
    above = profile > level
    if level <= 0 or not above[middle - 4 : middle + 5].any():
        return float("nan")
    rows = np.flatnonzero(above)
    rows = rows[(rows > 1) & (rows < len(profile) - 2)]
    if len(rows) < 4:
        return float("nan")
    top, bottom = int(rows[0]), int(rows[-1])
    rise = (profile[top] - level) / max(1e-3, float(profile[top] - profile[top - 1]))
    fall = (profile[bottom] - level) / max(1e-3, float(profile[bottom] - profile[bottom + 1]))
    return bottom - top + float(np.clip(rise, 0, 1)) + float(np.clip(fall, 0, 1))
