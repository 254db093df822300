"""A box of text read as plain text; and boxes that follow a turn of the picture."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from packet.recognition.boxes import Boxes, Pixels, cut, sides_of

if TYPE_CHECKING:
    from packet.model import Turn
    from packet.recognition.engine import Engine

_LINE_PX = 48
_WIDEST_PX = 960  # a longer line is squeezed


def read_line(engine: Engine, pixels: Pixels, box: NDArray[np.float32]) -> tuple[str, float]:
    """(text, mean score of its signs from 0 to 1) of a box that reads along its first side."""
    ((along, across),) = sides_of(box[None])
    width = int(np.clip(round(_LINE_PX * along / max(across, 1.0)), 32, _WIDEST_PX))
    return plain_text(engine, engine.sign_scores(cut(pixels, box, _LINE_PX, width)))


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
