"""Which way up an item reads, from its text: a turn, or nothing where the text is silent.

The boxes tell the axis; slices of the longest ones, about four times as long as high, go through
the turn model (whole long lines squeezed into its input fail); where that is weak the reading
model compares both ways. Rubber stamps lie at any angle: a few words alone tell nothing.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from packet.recognition.boxes import Boxes, Pixels, cut, sides_of
from packet.recognition.engine import SLICE_PX
from packet.recognition.lines import read_line, turned_boxes, turned_pixels

if TYPE_CHECKING:
    from packet.model import Turn
    from packet.recognition.engine import Engine

_LEVEL = 0.07  # slope: lines of a page that was rectified lie along its sides
_ALONG_MORE = 1.6  # text along one axis against text along the other
_LONGEST = 6  # boxes that are looked at
_SLICES = 3  # of each
_FIRST, _PLAIN = 8, 2.6  # slices of the longest ones, and their mean where no more are asked
_CLEAR, _WEAK = 1.7, 0.35  # mean log-odds of the slices; drawn handwriting reaches 1.4
_CLEAR_PRINT = 1.2  # of what reads both ways, as machine-readable lines do
_MOST_ODDS = 3.5
_READ_BOTH_WAYS = 3  # boxes
_PART = 12.0  # of a long line, in its heights
_LEAST_SIGNS, _ENOUGH_SIGNS = 4, 12
_BETTER = 0.12  # mean score of the one way over the other
_READABLE = 0.72
_LONG_BOX = 1.6  # length over height of a box that shows which way it runs


def turn_of_text(engine: Engine, pixels: Pixels, boxes: Boxes) -> Turn | None:
    """The clockwise turn that makes the text of a rectified picture upright; None where it does
    not tell."""
    across, down = _level_boxes(boxes, 0), _level_boxes(boxes, 1)
    lengths = [float(sides_of(some)[:, 0].sum()) if len(some) else 0.0 for some in (across, down)]
    if max(lengths) == 0 or max(lengths) < _ALONG_MORE * min(lengths):
        return None
    axis = int(lengths[1] > lengths[0])
    some = down if axis else across
    seen = turned_pixels(pixels, 90) if axis else pixels
    some = turned_boxes(some, 90, pixels.shape) if axis else some
    some = some[np.argsort(-sides_of(some)[:, 0])][:_LONGEST]
    over = _upside_down(engine, seen, some)
    if over is None:
        return None
    return (270 if over else 90) if axis else (180 if over else 0)


def _level_boxes(boxes: Boxes, axis: int) -> Boxes:
    """Long boxes along one axis of the picture."""
    if not len(boxes):
        return boxes
    along = np.abs(boxes[:, 1] - boxes[:, 0])
    sides = sides_of(boxes)
    long = sides[:, 0] > _LONG_BOX * sides[:, 1]
    return np.asarray(boxes[long & (along[:, 1 - axis] < _LEVEL * along[:, axis])])


def _upside_down(engine: Engine, pixels: Pixels, boxes: Boxes) -> bool | None:
    slices = [part for box in boxes for part in _slices(pixels, box)]
    odds = _odds(engine, slices[:_FIRST])
    if len(odds) == _FIRST and abs(float(odds.mean())) > _PLAIN:
        return bool(odds.mean() > 0)
    odds = np.concatenate([odds, _odds(engine, slices[_FIRST:])])
    mean = float(odds.mean()) if len(odds) else 0.0
    if len(slices) >= 4 and abs(mean) > _CLEAR:
        return mean > 0
    better, is_print = _read_both_ways(engine, pixels, boxes[:_READ_BOTH_WAYS], mean)
    if better is None and is_print and len(slices) >= 4 and abs(mean) > _CLEAR_PRINT:
        return mean > 0
    if better is None or (abs(mean) > _WEAK and (better > 0) != (mean > 0)):
        return None
    return better > 0


def _odds(engine: Engine, slices: list[Pixels]) -> NDArray[np.float32]:
    chance = np.clip(engine.upside_down(slices), 1e-4, 1 - 1e-4)
    return np.asarray(np.clip(np.log(chance / (1 - chance)), -_MOST_ODDS, _MOST_ODDS), np.float32)


def _slices(pixels: Pixels, box: Boxes) -> list[Pixels]:
    """Parts of a line as the turn model wants them, evenly spread over it."""
    wide, high = SLICE_PX
    ((along, across),) = sides_of(box[None])
    width = max(high, round(high * float(along) / max(float(across), 1.0)))
    strip = cut(pixels, box, high, min(width, 16 * wide))
    if strip.shape[1] <= wide:
        padded = np.full((high, wide, 3), 127, np.uint8)
        padded[:, : strip.shape[1]] = strip
        return [padded]
    count = min(_SLICES, -(-strip.shape[1] // wide))
    starts = np.linspace(0, strip.shape[1] - wide, count).astype(int)
    return [strip[:, start : start + wide] for start in starts]


def _read_both_ways(
    engine: Engine, pixels: Pixels, boxes: Boxes, expected: float
) -> tuple[float | None, bool]:
    """By how much the text reads better upside down than as it is, None where neither does; and
    whether most of it reads at all, as handwriting does not.

    ``expected``: its sign is that of what the slices say; where the first boxes plainly say the
    same, no more are read.
    """
    best, total, reads = 0.0, 0.0, 0.0
    for whole in boxes:
        box = _first_part(whole)
        text, score = read_line(engine, pixels, box)
        over_text, over = read_line(engine, pixels, np.roll(box, 2, axis=0))
        weight = max(len(text), len(over_text))
        total += weight
        if max(score, over) >= _READABLE:
            best += weight * (over - score)
            reads += weight
        if total >= _ENOUGH_SIGNS and best * expected > 2 * _BETTER * total * abs(expected):
            break
    is_print = total >= _LEAST_SIGNS and reads > 0.5 * total
    if total < _LEAST_SIGNS or abs(best / total) < _BETTER:
        return None, is_print
    return best / total, is_print


def _first_part(box: Boxes) -> Boxes:
    """The beginning of a long line: a whole one would be squeezed for the reading model."""
    ((along, across),) = sides_of(box[None])
    share = min(1.0, _PART * float(across) / float(along))
    start, end, low_end, low_start = box
    return np.array(
        [
            start,
            start + share * (end - start),
            low_start + share * (low_end - low_start),
            low_start,
        ],
        np.float32,
    )
