"""Where the machine-readable lines of an upright picture are, and each line cut out level.

Two or three lines of one length stand under one another; each is a row of text boxes, often one
long box. Lengths and spacing are compared with each other, so no scale is needed.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import cv2
import numpy as np
from numpy.typing import NDArray

from packet.recognition.boxes import Boxes, Pixels, cut, sides_of

Quad = NDArray[np.float32]  # (4, 2), clockwise, the first side along the text

_STEEP = 0.12  # slope of a line of an upright picture, at most
_LONG = 0.30  # of the picture's width: the shortest row that may be such a line
_THIN = 11.0  # length over height of a row, at least
_ALIKE = 0.12  # lengths of the lines of one zone, and their ends, may differ by this share
_STEP = (0.030, 0.090)  # from line to line, in line lengths


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Zone:
    """The lines of one zone, from top to bottom, as quads of the picture."""

    lines: tuple[Quad, ...] = field(repr=False)


def rows_of(boxes: Boxes) -> list[Quad]:
    """Boxes that go on in one another along x, joined into rows."""
    if not len(boxes):
        return []
    along = boxes[:, 1] - boxes[:, 0]
    level = np.abs(along[:, 1]) < _STEEP * np.abs(along[:, 0])
    flat = boxes[level & (along[:, 0] > 0)]
    flat = flat[np.argsort(flat[:, 0, 0])]
    rows: list[list[Quad]] = []
    for box in flat:
        for row in rows:
            if _goes_on(row[-1], box):
                row.append(box)
                break
        else:
            rows.append([box])
    return [_joined(row) for row in rows]


def _goes_on(left: Quad, right: Quad) -> bool:
    """True where the right box begins near the end of the left one, at its height."""
    high = [float(np.linalg.norm(box[3] - box[0])) for box in (left, right)]
    if max(high) > 1.6 * min(high):
        return False
    end, start = (left[1] + left[2]) / 2, (right[0] + right[3]) / 2
    along = (left[1] - left[0]) / max(1.0, float(np.linalg.norm(left[1] - left[0])))
    gap = float((start - end) @ along)
    off = abs(float((start - end) @ np.array([-along[1], along[0]])))
    return -0.5 * min(high) < gap < 2.5 * max(high) and off < 0.35 * max(high)


def _joined(row: list[Quad]) -> Quad:
    if len(row) == 1:
        return row[0]
    corners = np.concatenate(row)
    heights = [float(np.linalg.norm(box[3] - box[0])) for box in row]
    middles = np.stack([(box[0] + box[3]) / 2 for box in row] + [(row[-1][1] + row[-1][2]) / 2])
    slope, height = np.polyfit(middles[:, 0], middles[:, 1], 1)
    left, right = float(corners[:, 0].min()), float(corners[:, 0].max())
    half = max(heights) / 2
    ends = [(left, slope * left + height), (right, slope * right + height)]
    (x0, y0), (x1, y1) = ends
    return np.array(
        [(x0, y0 - half), (x1, y1 - half), (x1, y1 + half), (x0, y0 + half)], np.float32
    )


def zones_of(boxes: Boxes, width: int) -> list[Zone]:
    """Zones on a picture of this width, the lowest first."""
    rows = [row for row in rows_of(boxes) if _may_be_line(row, width)]
    rows.sort(key=lambda row: float(row[:, 1].mean()))
    zones: list[Zone] = []
    while rows:
        group = [rows.pop()]
        for row in reversed(rows[:]):
            if len(group) < 3 and _stands_over(row, group[-1], group):
                group.append(row)
                rows = [other for other in rows if other is not row]
        if len(group) > 1:
            zones.append(Zone(lines=tuple(reversed(group))))
    return zones


def _may_be_line(row: Quad, width: int) -> bool:
    ((along, across),) = sides_of(row[None])
    return bool(along > _LONG * width and along > _THIN * across)


def _stands_over(upper: Quad, lower: Quad, group: list[Quad]) -> bool:
    ((length, _), (other, _)) = sides_of(np.stack([upper, lower]))
    longest = max(length, other)
    if abs(length - other) > _ALIKE * longest:
        return False
    offset = lower.mean(0) - upper.mean(0)
    step = float(np.linalg.norm(offset)) / longest
    if not _STEP[0] < step < _STEP[1]:
        return False
    if np.abs(upper[0, 0] - lower[0, 0]) > _ALIKE * longest:
        return False
    if len(group) < 2:
        return True
    before = float(np.linalg.norm(group[-1].mean(0) - group[-2].mean(0))) / longest
    return bool(abs(before - step) < 0.25 * before)


# --- one line, cut out level ------------------------------------------------------------------

_SEARCH_PX = 32  # height of the strip in which the middle of the signs is sought


def levelled(pixels: Pixels, quad: Quad) -> Quad:
    """The quad fitted to its ink: tight along the line, its middle on the middle of the signs.

    The ink's height becomes 0.62 of the quad's.
    """
    ((along, across),) = sides_of(quad[None])
    wide = _widened(quad, 0.5 * float(across) / float(along), 0.12)
    ((along, across),) = sides_of(wide[None])
    width = int(np.clip(round(_SEARCH_PX * along / across), 64, 1400))
    strip = cv2.cvtColor(cut(pixels, wide, _SEARCH_PX, width), cv2.COLOR_RGB2GRAY)
    ink = ink_of(np.asarray(strip, np.uint8))
    places, middles, weights = _middles(ink)
    if len(places) < 6:
        return quad
    slope, start = _line_through(places, middles, weights)
    columns = ink.sum(0)
    span = np.flatnonzero(columns > 0.25 * np.percentile(columns, 80))
    left, right = (float(span[0]), float(span[-1] + 1)) if len(span) else (0.0, float(width))
    half = _half_height(ink, slope, start) / _INK
    target = np.array(
        [
            (left, slope * left + start - half),
            (right, slope * right + start - half),
            (right, slope * right + start + half),
            (left, slope * left + start + half),
        ],
        np.float32,
    )
    source = np.array([[0, 0], [width, 0], [width, _SEARCH_PX], [0, _SEARCH_PX]], np.float32)
    back = cv2.getPerspectiveTransform(source, np.asarray(wide, np.float32))
    return np.asarray(cv2.perspectiveTransform(target[None], back)[0], np.float32)


_INK = 0.62  # of a levelled quad's height
_RIM = 0.3  # of the height of the ink


def is_whole(quad: Quad, shape: tuple[int, ...]) -> bool:
    """Whether no edge of the picture, (height, width, ...), is so near to a levelled line's ink
    that signs may be cut off: a zone has a margin (Doc 9303 part 3)."""
    middles = np.stack([(quad[0] + quad[3]) / 2, (quad[1] + quad[2]) / 2])
    ink = middles[[0, 1, 1, 0]] + _INK * (quad - middles[[0, 1, 1, 0]])
    rim = _RIM * float(np.linalg.norm(ink[3] - ink[0]))
    x, y = ink[:, 0], ink[:, 1]
    inside = (x > rim) & (x < shape[1] - rim) & (y > rim) & (y < shape[0] - rim)
    return bool(inside.all())


_PITCH_PX = (32, 704)  # height and width of the strip whose ink is counted
_PITCHES = (21.5, 45.0)  # signs in a line: 30, 36, 44 (Doc 9303); a part of a line has less
_TELLS = (6.0, 70.0)
_NEAR = 1.1
# the last two, in cycles a line: choice of this project


def evenness(pixels: Pixels, quad: Quad) -> float:
    """How evenly the signs of a levelled line stand: 0 to 1.

    The share of the changes of ink along the line that repeat at one pitch. Machine-readable lines
    have one (Doc 9303 part 3, 4.2.4), printed words do not.
    """
    high, wide = _PITCH_PX
    strip = cv2.cvtColor(cut(pixels, quad, high, wide), cv2.COLOR_RGB2GRAY)
    columns = ink_of(np.asarray(strip, np.uint8)).sum(0)
    columns = np.minimum(columns, np.percentile(columns, 95))
    waves = np.fft.rfft((columns - columns.mean()) * np.hanning(wide), 4 * wide)
    power, cycles = np.abs(waves) ** 2, np.arange(len(waves)) / 4
    total = float(power[(cycles > _TELLS[0]) & (cycles < _TELLS[1])].sum())
    sums = np.r_[0, np.cumsum(power)]
    pitch = cycles[(cycles >= _PITCHES[0]) & (cycles <= _PITCHES[1])]
    low, end = (np.round(4 * (pitch + side * _NEAR)).astype(int) for side in (-1, 1))
    best = float((sums[end + 1] - sums[low]).max())
    return min(1.0, best / total) if total > 0 else 0.0


def ink_of(grey: Pixels) -> NDArray[np.float32]:
    """How dark each pixel is against the paper about it, 0 to 1."""
    paper = cv2.morphologyEx(grey, cv2.MORPH_CLOSE, np.ones((15, 15), np.uint8))
    dark = cv2.subtract(paper, grey).astype(np.float32)
    top = max(8.0, float(np.percentile(dark, 92)))
    return np.asarray(np.clip((dark - 0.35 * top) / (0.65 * top), 0, 1), np.float32)


def _middles(ink: NDArray[np.float32]) -> tuple[NDArray[np.float64], ...]:
    """Middle of the ink's height in 24 parts of the line: (x, y, weight)."""
    high, wide = ink.shape
    rows = np.arange(high) + 0.5
    found = []
    for part in np.array_split(np.arange(wide), 24):
        profile = ink[:, part].sum(1)
        if profile.sum() < 0.1 * len(part):
            continue
        core = profile > 0.25 * profile.max()
        # ink at the rim of the strip belongs to a neighbour
        core[:2] = core[-2:] = False
        if not core.any():
            continue
        top, bottom = rows[core][0], rows[core][-1]
        found.append((part.mean(), (top + bottom) / 2, profile.sum()))
    return tuple(np.array(found, np.float64).reshape(-1, 3).T)


def _line_through(
    x: NDArray[np.float64], y: NDArray[np.float64], weights: NDArray[np.float64]
) -> tuple[float, float]:
    """Slope and height of the line most points lie on."""
    keep = np.ones(len(x), bool)
    slope = start = 0.0
    for _ in range(3):
        slope, start = np.polyfit(x[keep], y[keep], 1, w=np.sqrt(weights[keep]))
        away = np.abs(y - slope * x - start)
        keep = away <= max(1.0, 2 * float(np.median(away)))
        if keep.sum() < 4:
            break
    return float(slope), float(start)


def _half_height(ink: NDArray[np.float32], slope: float, start: float) -> float:
    """Half the height of the signs about the line."""
    high, wide = ink.shape
    y, x = np.mgrid[0:high, 0:wide]
    away = y + 0.5 - slope * x - start
    profile = np.bincount(
        np.clip(np.round(away).astype(int) + high, 0, 2 * high).ravel(), ink.ravel(), 2 * high + 1
    )
    core = np.flatnonzero(profile[high - high // 2 : high + high // 2 + 1] > 0.3 * profile.max())
    if not len(core):
        return float(high / 4)
    return float(np.clip((core[-1] - core[0] + 1) / 2, high / 7, high / 2.6))


def _widened(quad: Quad, along: float, across: float) -> Quad:
    """A quad made longer at each end and higher on each side by shares of its sides."""
    x, y = quad[1] - quad[0], quad[3] - quad[0]
    moves = np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)], np.float32)
    return np.asarray(
        quad + moves[:, :1] * along * x[None] + moves[:, 1:] * across * y[None], np.float32
    )
