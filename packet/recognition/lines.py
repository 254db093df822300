"""A box of text read as plain text; and boxes that follow a turn of the picture."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from packet.recognition.boxes import Boxes, Pixels, cut, sides_of
from packet.recognition.terms import TextLine

if TYPE_CHECKING:
    from packet.model import Turn
    from packet.recognition.engine import Engine

_LINE_PX = 48
_WIDEST_PX = 960  # a longer line is squeezed
_LEVEL = 0.1


def read_line(engine: Engine, pixels: Pixels, box: NDArray[np.float32]) -> tuple[str, float]:
    """(text, mean score of its signs from 0 to 1) of a box that reads along its first side."""
    ((along, across),) = sides_of(box[None])
    width = int(np.clip(round(_LINE_PX * along / max(across, 1.0)), 32, _WIDEST_PX))
    return plain_text(engine, engine.sign_scores(cut(pixels, box, _LINE_PX, width)))


def text_lines(engine: Engine, pixels: Pixels, boxes: Boxes, *, most: int) -> tuple[TextLine, ...]:
    """At most so many lines of an upright picture, the tallest and the highest ones first."""
    along = np.abs(boxes[:, 1] - boxes[:, 0])
    level = boxes[along[:, 1] < _LEVEL * along[:, 0]]
    if not len(level):
        return ()
    high, wide = pixels.shape[:2]
    tall = sides_of(level)[:, 1]
    usual = float(np.median(tall))
    top = level[:, :, 1].mean(1) / high
    order = np.argsort(-(tall / usual) + 1.2 * top, kind="stable")[:most]
    lines = []
    for number in sorted(order, key=lambda one: float(top[one])):
        text, score = read_line(engine, pixels, level[number])
        low, far = level[number].min(0), level[number].max(0)
        lines.append(
            TextLine(
                text=text,
                score=score,
                x=float(low[0] / wide),
                y=float(low[1] / high),
                width=float((far[0] - low[0]) / wide),
                height=float((far[1] - low[1]) / high),
                head=bool(tall[number] > 1.25 * usual or top[number] < 0.15),
            )
        )
    return tuple(lines)


def plain_text(engine: Engine, scores: NDArray[np.float32]) -> tuple[str, float]:
    """The likeliest sign of each step, repeats and pauses taken out."""
    best = scores.argmax(1)
    starts = np.flatnonzero((best != np.r_[-1, best[:-1]]) & (best > 0))
    if not len(starts):
        return "", 0.0
    text = "".join(engine.signs[column] for column in best[starts])
    return text.strip(), float(scores[starts, best[starts]].mean())


def turned_pixels(pixels: Pixels, turn: Turn) -> Pixels:
    """The picture turned clockwise."""
    return np.ascontiguousarray(np.rot90(pixels, -turn // 90)) if turn else pixels


def turned_boxes(boxes: Boxes, turn: Turn, shape: tuple[int, ...]) -> Boxes:
    """Boxes on the picture turned clockwise; ``shape``: of the picture before.

    Their first side still goes from left to right, or from bottom to top.
    """
    if not turn or not len(boxes):
        return boxes
    high, wide = float(shape[0]), float(shape[1])
    x, y = boxes[..., 0], boxes[..., 1]
    if turn == 90:
        moved = np.stack([high - y, x], axis=-1)
    elif turn == 180:
        moved = np.stack([wide - x, high - y], axis=-1)
    else:
        moved = np.stack([y, wide - x], axis=-1)
    along = moved[:, 1] - moved[:, 0]
    upright = np.abs(along[:, 1]) > np.abs(along[:, 0])
    against = np.where(upright, along[:, 1] > 0, along[:, 0] < 0)
    moved[against] = np.roll(moved[against], 2, axis=1)
    return np.asarray(moved, np.float32)
