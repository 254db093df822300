"""The two page numbers of a passport opening, from a strip along its lower edge.

The left page is even and the right one follows it (common practice, no source): two numbers that
do not are not believed.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from packet.readings import ReadState
from packet.recognition.boxes import Boxes, Pixels, find_boxes, sides_of
from packet.recognition.lines import read_line
from packet.recognition.lone_digits import mark_pairs

if TYPE_CHECKING:
    from packet.recognition.engine import Engine

_STRIP = 0.14  # of the height of the opening
_STRIP_PX = 960  # length of the strip that the finding model sees
_MOST_BOXES = 6
_LONGEST = 0.14  # of the width: a longer box is no page number
_NUMBER = re.compile(r"[^0-9A-Za-z]*([0-9OoIl]{1,3})[^0-9A-Za-z]*")
_DIGITS = str.maketrans("OoIl", "0011")
_MOST = 100  # pages of a booklet
_SURE = 0.75
_SURE_ALONE = 0.93
_PLAIN = 0.97


@dataclass(frozen=True, slots=True, kw_only=True)
class PageNumbers:
    """``numbers``: left and right, empty where none were read."""

    numbers: tuple[int, ...] = field(default=(), repr=False)
    state: ReadState = ReadState.UNREAD


@dataclass(frozen=True, slots=True, kw_only=True)
class _Number:
    value: int = field(repr=False)
    score: float
    right: bool
    plain: bool


def read_page_numbers(engine: Engine, pixels: Pixels) -> PageNumbers:
    """The numbers of an opening held with its fold upright, (H, W, 3) RGB uint8."""
    lone = numbers_by_marks(engine, pixels)
    return lone if lone.state is ReadState.READ else numbers_by_boxes(engine, pixels)


def numbers_by_marks(engine: Engine, pixels: Pixels) -> PageNumbers:
    """As ``read_page_numbers``, of marks that stand alone: quick, and enough for most openings."""
    return agreed(list(_lone_numbers(engine, _foot(pixels))))


def numbers_by_boxes(engine: Engine, pixels: Pixels) -> PageNumbers:
    """As ``read_page_numbers``, of what the model that finds text sees: twice as dear."""
    return agreed(_numbers_in(engine, _foot(pixels)))


def _foot(pixels: Pixels) -> Pixels:
    return np.ascontiguousarray(pixels[round((1 - _STRIP) * pixels.shape[0]) :])


def _lone_numbers(engine: Engine, strip: Pixels) -> Iterator[_Number]:
    """Both numbers of each pair of marks that reads as two that follow each other; of one pair
    where that is plain."""
    for pair in mark_pairs(strip):
        text, left_score = read_line(engine, strip, pair.left)
        left = _value(text)
        if left is None or left % 2:
            continue
        text, right_score = read_line(engine, strip, pair.right)
        if _value(text) != left + 1:
            continue
        yield _Number(value=left, score=left_score, right=False, plain=False)
        yield _Number(value=left + 1, score=right_score, right=True, plain=False)
        if min(left_score, right_score) > _PLAIN:
            return


def _value(text: str) -> int | None:
    match = _NUMBER.fullmatch(text)
    return int(match[1].translate(_DIGITS)) if match is not None else None


def agreed(found: list[_Number]) -> PageNumbers:
    """Two numbers that follow each other, the left one even; a single clear one tells both."""
    pairs = {
        (left.value, right.value): left.score + right.score
        for left in found
        for right in found
        if not left.right and right.right
        if left.value % 2 == 0 and right.value == left.value + 1
    }
    if len(pairs) == 1:
        ((pair, score),) = pairs.items()
        state = ReadState.READ if score > 2 * _SURE else ReadState.UNSURE
        return PageNumbers(numbers=pair, state=state)
    if len(pairs) > 1:
        return PageNumbers(state=ReadState.UNSURE)
    if len(found) != 1:
        return PageNumbers(state=ReadState.UNSURE if found else ReadState.UNREAD)
    (one,) = found
    if one.score < _SURE_ALONE or not one.plain or one.value % 2 != int(one.right):
        return PageNumbers(state=ReadState.UNSURE)
    left_value = one.value - int(one.right)
    return PageNumbers(numbers=(left_value, left_value + 1), state=ReadState.READ)


def _numbers_in(engine: Engine, strip: Pixels) -> list[_Number]:
    boxes = _small(find_boxes(engine, strip, _STRIP_PX), strip)
    numbers = []
    for box in boxes:
        text, score = read_line(engine, strip, box)
        match = _NUMBER.fullmatch(text)
        if match is None:
            continue
        value = int(match[1].translate(_DIGITS))
        if not 0 < value <= _MOST:
            continue
        right = bool(box[:, 0].mean() > strip.shape[1] / 2)
        plain = match[1].isdigit() and len(match[1]) >= 2
        numbers.append(_Number(value=value, score=score, right=right, plain=plain))
    return numbers


def _small(boxes: Boxes, strip: Pixels) -> Boxes:
    """Boxes short enough for a number, level, the lowest first; made to lie along x."""
    if not len(boxes):
        return boxes
    upright = np.abs(boxes[:, 1, 1] - boxes[:, 0, 1]) > np.abs(boxes[:, 1, 0] - boxes[:, 0, 0])
    boxes = boxes.copy()
    boxes[upright] = np.roll(boxes[upright], -1, axis=1)
    sides = sides_of(boxes)
    slope = np.abs(boxes[:, 1, 1] - boxes[:, 0, 1]) / np.maximum(sides[:, 0], 1)
    keep = (sides[:, 0] < _LONGEST * strip.shape[1]) & (slope < 0.15)
    kept = boxes[keep]
    return np.asarray(kept[np.argsort(-kept[:, :, 1].mean(1))][:_MOST_BOXES])
