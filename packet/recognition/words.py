"""A few lines of an item read, the telling ones first, until enough is known.

Reading a line is the dear part (about 0.1 CPU seconds for each 1000 pixels of its strip), so the
tall lines of the head go first, long ones of the text are read at their beginning alone, and a
budget ends it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from packet.recognition.boxes import Boxes, cut, sides_of
from packet.recognition.engine import LINE_PX, Engine
from packet.recognition.lines import plain_text
from packet.recognition.terms import TextLine

Pixels = NDArray[np.uint8]

_LEVEL = 0.07  # rise over run of a line that lies level: 4 degrees
_BUDGET_PX = 3200
_LINE_MOST_PX = 640
_TITLE_MOST_PX = 1120  # a title tells nothing where it is cut
_TITLE_SHARE = 0.7  # of the item's width: a longer line is running text
_TITLES, _FIRST, _TALL, _UPPER, _LONG = 2, 3, 3, 6, 4  # lines of each sort, in this order
_LEAST_SHAPE = 1.8  # width over height: shorter ones are signs by themselves
_HEAD_SHARE = 0.33  # of the item's height
_HEAD_TALLER = 1.25  # than the median line


def level_boxes(boxes: Boxes) -> NDArray[np.bool_]:
    """Which boxes lie level, as text does on an upright item; stamps seldom do."""
    run = np.abs(boxes[:, 1] - boxes[:, 0])
    return np.asarray(run[:, 1] <= _LEVEL * np.maximum(run[:, 0], 1.0))


def telling_order(boxes: Boxes, height: int) -> list[int]:
    """Indexes of level boxes, the most telling first; ``height`` of the item in pixels.

    The tallest of all (a machine-readable line, where there is one), the tallest of the head and
    the uppermost, more tall ones, more of the head, the longest.
    """
    sides = sides_of(boxes)
    top = boxes[:, :, 1].mean(axis=1)
    lines = level_boxes(boxes) & (sides[:, 0] > _LEAST_SHAPE * sides[:, 1])
    level = [int(at) for at in np.flatnonzero(lines)]
    by_height = sorted(level, key=lambda at: -float(sides[at, 1]))
    titles = [at for at in by_height if top[at] < _HEAD_SHARE * height][:_TITLES]
    upper = sorted(level, key=lambda at: float(top[at]))[:_UPPER]
    long = sorted(level, key=lambda at: -float(sides[at, 0]))[:_LONG]
    order = [*by_height[:1], *titles, *upper[:_FIRST], *by_height[:_TALL], *upper, *long]
    return list(dict.fromkeys(order))


def read_words(
    engine: Engine,
    pixels: Pixels,
    boxes: Boxes,
    *,
    known: Sequence[TextLine] = (),
    enough: Callable[[Sequence[TextLine]], bool],
) -> tuple[TextLine, ...]:
    """Lines of an upright item, (H, W, 3) RGB; ``boxes`` as found on it.

    ``known``: lines that were read before. It ends when ``enough`` says so, or with the budget.
    """
    lines, spent = list(known), 0
    height = pixels.shape[0]
    for at in telling_order(boxes, height):
        if spent > _BUDGET_PX or enough(lines):
            break
        ((along, across),) = sides_of(boxes[at : at + 1])
        width = max(LINE_PX // 2, round(LINE_PX * float(along / max(across, 1.0))))
        title = boxes[at, :, 1].mean() < _HEAD_SHARE * height
        title = bool(title and along < _TITLE_SHARE * pixels.shape[1])
        most = _TITLE_MOST_PX if title else _LINE_MOST_PX
        strip = cut(pixels, boxes[at], LINE_PX, width)[:, :most]
        spent += strip.shape[1]
        text, score = spelt(engine, strip)
        if text:
            lines.append(_line(text, score, boxes, at, pixels.shape))
    return tuple(lines)


def spelt(engine: Engine, strip: Pixels) -> tuple[str, float]:
    """The likeliest signs of a strip, (48, W, 3) RGB, and their mean score, 0 to 1."""
    return plain_text(engine, engine.sign_scores(np.ascontiguousarray(strip)))


def _line(text: str, score: float, boxes: Boxes, at: int, shape: tuple[int, ...]) -> TextLine:
    high, wide = shape[:2]
    sides = sides_of(boxes)
    x, y = boxes[at].min(axis=0)
    taller = sides[at, 1] > _HEAD_TALLER * float(np.median(sides[:, 1]))
    return TextLine(
        text=text,
        score=score,
        x=float(x) / wide,
        y=float(y) / high,
        width=float(sides[at, 0]) / wide,
        height=float(sides[at, 1]) / high,
        head=bool(taller or y < _HEAD_SHARE * high),
    )
