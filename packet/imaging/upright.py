"""Which way up an item reads, from cheap cues; silent where they do not agree.

The cues: small letters have more above them than below (ascenders outnumber descenders in Latin
script), lines begin at one edge and end raggedly, a machine-readable zone stands below the rest
(ICAO Doc 9303). Lines of text say first which axis they run along; without them nothing is said.

All lengths are pixels of an analysis picture whose long side is 1000 to 1400.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import cv2
import numpy as np
from numpy.typing import NDArray

from packet.imaging.geometry import Pixels, percentile
from packet.imaging.marks import Marks, find_marks, joined_pairs
from packet.model import Turn

ANALYSIS_PX = 1400
_RIM = 8
_WORD_GAP = 17
_INK = 50  # relative contrast, 200 = black on white
_ONE_PITCH = 0.2  # strength of the pitch of a machine-readable zone, on drawn pages at least
_PITCHES = 17  # the strongest pitch of 44, 36 or 30 signs may be that of two signs, or five in two
# width to height of a line: 44 signs, ten an inch, of 2.4 mm (OCR-B, size I; from memory) are 46
_LONGEST_ZONE = 50
_SURE = 3.0  # log-odds; below, nothing is said

Box = tuple[int, int, int, int]
"""x, y, width, height."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Lines:
    """Text along the x axis of a picture. ``chars`` and ``boxes``: (n, 4) x, y, width, height.

    ``line_of``: for each sign the index of its line, -1 where it stands in none.
    """

    chars: NDArray[np.int64] = field(repr=False)
    boxes: NDArray[np.int64] = field(repr=False)
    line_of: NDArray[np.int64] = field(repr=False)

    @property
    def held(self) -> NDArray[np.int64]:
        """``boxes`` of the lines that hold signs, four at least."""
        return self.boxes[self._signs >= 4]

    @property
    def _signs(self) -> NDArray[np.int64]:
        """(n,) how many each line holds."""
        return np.bincount(self.line_of[self.line_of >= 0], minlength=len(self.boxes))

    @property
    def heights(self) -> NDArray[np.float64]:
        """Of the lines that hold signs, as they would be if they ran level."""
        signs, in_line = self._signs, self.line_of >= 0
        line, chars = self.line_of[in_line], self.chars[in_line]
        x, y = chars[:, 0] + chars[:, 2] / 2, chars[:, 1] + chars[:, 3] / 2
        count = np.maximum(signs, 1)
        off_x, off_y = (
            place - (np.bincount(line, place, minlength=len(signs)) / count)[line]
            for place in (x, y)
        )
        rise = np.bincount(line, off_x * off_y, minlength=len(signs))
        run = np.maximum(np.bincount(line, off_x * off_x, minlength=len(signs)), 1.0)
        level = self.boxes[:, 3] - np.abs(rise / run) * self.boxes[:, 2]
        return np.asarray(np.maximum(level, 1.0)[signs >= 4], np.float64)

    @property
    def length(self) -> float:
        """Total length of the lines that hold signs."""
        return float(self.held[:, 2].sum())


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Print:
    """The print of an item, looked at along both axes.

    ``contrast``: of ink against paper, as shown; ``turned``: after a clockwise quarter turn.
    ``across`` and ``down``: the lines of text in the one and in the other; ``zones``: the
    machine-readable zone among each.
    """

    contrast: Pixels = field(repr=False)
    turned: Pixels = field(repr=False)
    across: Lines
    down: Lines
    zones: tuple[Box | None, Box | None]

    @property
    def axis(self) -> int | None:
        """0: text runs along x as shown; 1: along y; None: not told."""
        lengths = self.across.length, self.down.length
        if max(lengths) < 0.12 * ANALYSIS_PX or max(lengths) < 2.0 * min(lengths):
            return None
        return int(lengths[1] > lengths[0])

    @property
    def main_axis(self) -> int:
        """As ``axis``, whichever has more text, however little more."""
        return int(self.down.length > self.across.length)

    def along(self, axis: int) -> tuple[Lines, Pixels]:
        """Lines and contrast with the text of that axis along x."""
        return (self.down, self.turned) if axis else (self.across, self.contrast)


def read_print(grey: Pixels) -> Print:
    """The print of a flat item, (h, w) grey, its long side 1000 to 1400 pixels."""
    contrast = ink_contrast(grey)
    marks = (contrast > _INK).astype(np.uint8)
    marks[:_RIM] = marks[-_RIM:] = 0
    marks[:, :_RIM] = marks[:, -_RIM:] = 0
    signs = find_marks(marks)
    turned = np.asarray(cv2.rotate(contrast, cv2.ROTATE_90_CLOCKWISE), np.uint8)
    across, down = _find_lines(signs, down=False), _find_lines(signs, down=True)
    return Print(
        contrast=contrast,
        turned=turned,
        across=across,
        down=down,
        zones=(zone_box(across, contrast), zone_box(down, turned)),
    )


def turn_and_mirror(seen: Print) -> tuple[Turn | None, bool]:
    """(clockwise turn that makes the item upright, None when unsure; is it shown in a mirror).

    In a mirror letters or a zone say one way up, and where lines begin says the other: upside
    down turns both, a mirror turns the lines' beginnings alone.
    """
    axis = seen.axis
    if axis is None:
        return None, False
    votes = upright_votes(seen.along(axis)[0], seen.zones[axis])
    up, total = votes["letters"] + votes["zone"], sum(votes.values())
    mirrored = abs(up) >= _SURE and votes["edges"] * math.copysign(1.0, up) <= -_SURE / 2
    if abs(total) < _SURE:
        return None, mirrored
    turns: tuple[Turn, Turn] = (90, 270) if axis else (0, 180)
    return (turns[0] if total > 0 else turns[1]), mirrored


def upright_votes(lines: Lines, zone: Box | None) -> dict[str, float]:
    """What speaks for upright (positive) or upside down, in log-odds, by cue."""
    return {"letters": _letters(lines), "edges": _edges(lines), "zone": _zone(lines, zone)}


def ink_contrast(grey: Pixels) -> Pixels:
    """How much darker than the paper within 10 pixels, relative to it: 0 to 200."""
    paper = cv2.morphologyEx(grey, cv2.MORPH_CLOSE, np.ones((21, 21), np.uint8))
    least = np.full_like(paper, 40)  # NumPy compares with a single number much more slowly
    return np.asarray(
        cv2.divide(cv2.subtract(paper, grey), cv2.max(paper, least), scale=200.0), np.uint8
    )


def _find_lines(signs: Marks, *, down: bool) -> Lines:
    """Signs of a letter's size, and the lines that they form along x; ``down``: along y.

    Lines along y are told in the picture after a clockwise quarter turn.
    """
    boxes = _quarter_turned(signs.boxes, signs.labels.shape[0]) if down else signs.boxes
    wide, high, area = boxes[:, 2], boxes[:, 3], boxes[:, 4]
    sign = (high <= 70) & (wide <= 70) & (area >= 8) & (np.maximum(wide, high) >= 5)
    # signs that touch, as the fillers of a machine-readable zone do; no rules, no waving lines
    sign |= (high >= 8) & (high <= 45) & (wide <= 36 * high) & (area >= 0.22 * wide * high)
    sign[0] = False
    marks = signs.drawn(sign)
    if down:
        marks = np.asarray(cv2.rotate(marks, cv2.ROTATE_90_CLOCKWISE), np.uint8)
    tall = percentile(high[sign], 75) if sign.any() else 0.0
    gap = int(np.clip(1.1 * tall, _WORD_GAP, 2.2 * _WORD_GAP))
    # every pair of columns as one is enough to join letters by
    half = joined_pairs(marks, rows=False)
    joined = cv2.morphologyEx(half, cv2.MORPH_CLOSE, np.ones((1, round(gap / 2)), np.uint8))
    found = find_marks(joined)
    runs = found.boxes * np.array([2, 1, 2, 1, 2])
    wide, high, area = runs[:, 2], runs[:, 3], runs[:, 4]
    line = (high >= 7) & (high <= 64) & (wide >= 3 * high) & (area >= 0.3 * wide * high)
    line[0] = False
    number = np.full(len(runs), -1, np.int64)
    number[line] = np.arange(int(line.sum()))
    chars = boxes[sign, :4]
    middle_x, middle_y = chars[:, 0] + chars[:, 2] // 2, chars[:, 1] + chars[:, 3] // 2
    middle_x = np.minimum(middle_x // 2, half.shape[1] - 1)
    return Lines(
        chars=chars,
        boxes=runs[line, :4],
        line_of=number[found.labels[middle_y, middle_x]],
    )


def _quarter_turned(boxes: NDArray[np.int64], height: int) -> NDArray[np.int64]:
    """Rows of x, y, width, height, area after a clockwise turn of a picture of this height."""
    x, y, wide, high, area = boxes.T
    return np.stack([height - y - high, x, high, wide, area], axis=1)


# --- the cues: positive for upright ---------------------------------------------------------------


def _letters(lines: Lines) -> float:
    """Tops of small letters differ (ascenders), their feet stand on one line."""
    order = np.lexsort((lines.chars[:, 0], lines.line_of))
    order = order[lines.line_of[order] >= 0]
    cuts = np.flatnonzero(np.diff(lines.line_of[order])) + 1
    parts = [
        part
        for line in np.split(order, cuts)
        for part in np.array_split(line, max(1, round(len(line) / 9)))
        if len(part) >= 4
    ]
    scores = _letters_of(lines.chars, parts)
    if len(scores) < 6:
        return 0.0
    mean = float(np.mean(scores))
    spread = (float(np.std(scores)) + 0.02) / math.sqrt(len(scores))
    if abs(mean) < 0.012:
        return 0.0
    return float(np.clip(1.3 * mean / spread, -6, 6))


def _letters_of(
    signs: NDArray[np.int64], parts: Sequence[NDArray[np.int64]]
) -> NDArray[np.float64]:
    """For parts of lines: spread of the tops less spread of the feet, in heights.

    ``parts``: rows of ``signs``. Parts with too few or too small signs are left out.
    """
    if not parts:
        return np.empty(0)
    table = np.full((len(parts), max(len(part) for part in parts)), -1)
    for row, part in zip(table, parts, strict=True):
        row[: len(part)] = part
    y, wide, high = signs[table, 1], signs[table, 2], signs[table, 3]
    used = table >= 0
    height = _medians(high, used)[:, None]
    used &= (high > 0.6 * height) & (wide <= 70)
    uneven = []
    for side in (y, y + high):
        miss = np.minimum(np.abs(side - _medians(side, used)[:, None]) / height, 0.6)
        uneven.append((miss * used).sum(axis=1) / np.maximum(used.sum(axis=1), 1))
    kept = (used.sum(axis=1) >= 4) & (height[:, 0] >= 5)
    return np.asarray((uneven[0] - uneven[1])[kept], np.float64)


def _medians(values: NDArray[np.int64], used: NDArray[np.bool_]) -> NDArray[np.float64]:
    """The median of the used values of each row; rows without any give a number without sense."""
    count = np.maximum(used.sum(axis=1), 1)[:, None]
    ranked = np.sort(np.where(used, values, np.iinfo(np.int64).max // 4), axis=1)
    low = np.take_along_axis(ranked, (count - 1) // 2, axis=1)
    high = np.take_along_axis(ranked, count // 2, axis=1)
    return np.asarray((low + high)[:, 0] / 2, np.float64)


def _edges(lines: Lines) -> float:
    """Lines that begin at one x against lines that end at one x."""
    boxes = lines.boxes
    if len(boxes) < 4:
        return 0.0
    slack = max(3.0, 0.35 * float(np.median(boxes[:, 3])))
    left = _aligned(boxes[:, 0].astype(np.float64), slack)
    right = _aligned((boxes[:, 0] + boxes[:, 2]).astype(np.float64), slack)
    if max(left, right) < 4:
        return 0.0
    return float(np.clip(2.0 * (left - right) / math.sqrt(left + right), -4, 4))


def _aligned(places: NDArray[np.float64], slack: float) -> int:
    """The most places within ``slack`` of one another."""
    places = np.sort(places)
    return int((np.searchsorted(places, places + slack, "right") - np.arange(len(places))).max())


def _zone(lines: Lines, zone: Box | None) -> float:
    """A machine-readable zone: is the rest of the print above it or below?"""
    if zone is None:
        return 0.0
    x, y, wide, high = zone
    signs = lines.chars
    middle_x, middle_y = signs[:, 0] + signs[:, 2] / 2, signs[:, 1] + signs[:, 3] / 2
    beside = (middle_x > x) & (middle_x < x + wide)
    above = int((beside & (middle_y < y)).sum())
    below = int((beside & (middle_y > y + high)).sum())
    return float(np.clip(2.2 * math.log((above + 4) / (below + 4)), -5, 5))


def zone_box(lines: Lines, contrast: Pixels) -> Box | None:
    """x, y, width, height of a machine-readable zone (ICAO Doc 9303), None where none is seen.

    Two or three lines of 30 to 44 signs at one pitch, of one length, one below the other; a
    fourth line of that length makes it a paragraph.
    """
    width = contrast.shape[1]
    boxes = [
        box
        for box in lines.boxes
        if 15 <= box[2] / box[3] <= _LONGEST_ZONE and box[2] > 0.4 * width
    ]
    boxes.sort(key=lambda box: int(box[1]))
    while boxes:
        group = _same_extent(boxes)
        boxes = [box for box in boxes if not any(box is one for one in group)]
        if len(group) in (2, 3) and pitch_strength(contrast, group) > _ONE_PITCH:
            stack = np.array(group)
            left, top = stack[:, 0].min(), stack[:, 1].min()
            right, bottom = (stack[:, 0] + stack[:, 2]).max(), (stack[:, 1] + stack[:, 3]).max()
            return int(left), int(top), int(right - left), int(bottom - top)
    return None


def _same_extent(boxes: list[NDArray[np.int64]]) -> list[NDArray[np.int64]]:
    """The first box and those below it, each at most 4.5 heights on, that begin and end alike."""
    group = [boxes[0]]
    for box in boxes[1:]:
        last = group[-1]
        high = max(int(box[3]), int(last[3]))
        step = int(box[1] - last[1])
        begins = abs(int(box[0] - last[0])) < high
        ends = abs(int(box[0] + box[2] - last[0] - last[2])) < 1.5 * high
        if begins and ends and 1.1 * min(int(box[3]), int(last[3])) < step < 4.5 * high:
            group.append(box)
    return group


def pitch_strength(contrast: Pixels, boxes: Sequence[NDArray[np.int64]]) -> float:
    """How much better the columns of lines agree at whole multiples of a pitch than between them.

    Mean autocorrelation of the lines at 2 to 10 pitches less that at half pitches between, for
    the pitch between 0.5 and 1.6 heights that is best for all of them, 0 where fewer than 17 of
    it fit in: near 0 for proportional type, however regular its words.
    """
    same = [_autocorrelation(contrast, box) for box in boxes]
    reach = min(len(one) for one in same)
    together = np.mean([one[:reach] for one in same], axis=0)
    wide, high = np.median(np.array(boxes)[:, 2:4], axis=0)
    pitches = np.arange(0.5 * high, 1.6 * high, 0.05)[:, None]
    places = np.arange(reach)
    on = np.interp(pitches * np.arange(2, 11), places, together, right=0.0)
    off = np.interp(pitches * (np.arange(2, 11) + 0.5), places, together, right=0.0)
    agree = (on - off).mean(axis=1)
    best = int(agree.argmax())
    return float(agree[best]) if wide >= _PITCHES * pitches[best, 0] else 0.0


def _autocorrelation(contrast: Pixels, box: NDArray[np.int64]) -> NDArray[np.float64]:
    """Of the column sums of a line, 1 at no shift, up to three quarters of its width."""
    x, y, wide, high = (int(v) for v in box)
    profile = contrast[y : y + high, x : x + wide].mean(axis=0)
    profile = profile - cv2.blur(profile[None], (2 * high + 1, 1))[0]
    power = np.abs(np.fft.rfft(profile, 2 * wide)) ** 2
    same = np.fft.irfft(power)[: wide * 3 // 4]
    if same[0] <= 0:
        return np.zeros(len(same))
    return np.asarray(same / (same[0] * (1 - np.arange(len(same)) / wide)), np.float64)
