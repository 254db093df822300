"""Small rest angles of a page, read from its own lines of text and rules.

Ink pixels are projected on an axis; at the right angle the profile has the sharpest steps
(Postl's criterion: sum of squared differences of the profile).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import cv2
import numpy as np
from numpy.typing import NDArray

from packet.imaging.geometry import (
    Pixels,
    Quads,
    projected,
    side_lengths,
    unit_homographies,
    whole_picture,
)
from packet.imaging.rectify import luma

_LONG_SIDE_PX = 1400
_INK_PX = 1200
_NEARLY = 1.15  # times the long side: not worth making smaller
_REACH_DEG = 8.0
_MOST_POINTS = 60_000
_LEAST_POINTS = 4000  # of print on a page, that its lines may correct the edges
_LEAST_REST, _MOST_REST = 0.12, 0.8  # degrees: less the edges know better, more is no rest
_HALVES_APART = 0.12
_CELLS = 14
_LEAST_HELD = 0.01  # of a cell's pixels
_RIM = 0.03  # of a page that is left out: its own edges are no print
_LEAST_AROUND = 400  # points of print around an outline, that they may tell


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PagePrint:
    """The print of a picture that may be a page. ``points``: (n, 2) x, y of its ink, in the
    picture's pixels; ``share`` of the picture that it is spread over, by cells of a fourteenth of
    the long side; ``skew_deg``: clockwise angle of the text against the picture's axes, whether
    its lines run across or up and down, None where it does not tell.
    """

    points: NDArray[np.float32] = field(repr=False)
    share: float
    skew_deg: float | None


def page_print(levels: Sequence[Pixels]) -> PagePrint:
    """``levels``: the picture, (h, w, 3) RGB, and any halves of it."""
    points, size, factor = _read(levels)
    cell = max(1, round(max(size) / _CELLS))
    rows, columns = (-(-side // cell) for side in size)
    x, y = (points // cell).astype(np.int64).T
    held = np.bincount(y * columns + x, minlength=rows * columns)
    return PagePrint(
        points=(points + 0.5) * factor - 0.5,
        share=float((held > _LEAST_HELD * cell * cell).mean()),
        skew_deg=_skew_of(points),
    )


def straightened(printed: PagePrint, *, width_px: int, height_px: int) -> tuple[Quads, float]:
    """(outline of a whole page turned by its text's skew, that skew), nothing written cut off.

    The outline of the picture and 0.0 where the text is straight, says nothing, or would leave
    the page when turned.
    """
    outline = whole_picture(width_px, height_px)
    skew = printed.skew_deg
    if skew is None or abs(skew) < 0.03:
        return outline, 0.0
    angle = np.deg2rad(skew)
    turn = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    centre = np.array([(width_px - 1) / 2, (height_px - 1) / 2])
    ink = (printed.points - centre) @ turn.T
    half = np.array([width_px / 2, height_px / 2])
    if np.mean(np.any(np.abs(ink) > half, axis=1)) > 0.001:
        return outline, 0.0
    return (outline - centre) @ turn + centre, skew


def straight_by_text(ink: NDArray[np.float32], quad: Quads, *, aspect: float) -> Quads:
    """The quad turned in its own plane by what its lines of print still stand askew.

    For pages photographed bent, blurred or cut, whose edges are no measure to a tenth of a degree.
    ``ink``: as ``ink_of`` gives it, in the pixels of ``quad``; ``aspect``: width / height of the
    flat page. The same quad where the print is straight already, or says nothing.
    """
    size = np.array([aspect, 1.0]) * _LONG_SIDE_PX / max(aspect, 1.0)
    matrix = unit_homographies(quad[None])[0] @ np.diag([*(1 / size), 1.0])
    flat = projected(ink, np.linalg.inv(matrix))
    inside = np.all((flat > _RIM * size) & (flat < (1 - _RIM) * size), axis=1)
    skew = _rest_of(flat[inside].astype(np.float32))
    if skew is None or not _LEAST_REST < abs(skew) < _MOST_REST:
        return quad
    angle = np.deg2rad(skew)
    turn = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    square = np.array([[0, 0], [size[0], 0], size, [0, size[1]]])
    return projected((square - size / 2) @ turn + size / 2, matrix)


def angles_around(levels: Sequence[Pixels], quads: Sequence[Quads]) -> list[float] | None:
    """Degrees by which lines of print around quads, as far off as each is long, stand askew to its
    sides in its own plane: one for each quad that tells. None where there is hardly any print.
    ``levels``: the picture and any halves of it.
    """
    points, _, factor = _read(levels)
    place = points + np.random.default_rng(7).random(points.shape, np.float32)  # as ink_points
    maps = [_flat_map(quad, factor) for quad in quads]
    flats = [projected(place * factor - 0.5, np.linalg.inv(matrix)) for matrix, _ in maps]
    without = np.ones(len(points), bool)
    for flat, (_, size) in zip(flats, maps, strict=True):
        rim = _RIM * size.max()
        without &= ~np.all((flat > -rim) & (flat < size + rim), axis=1)
    angles: list[float] = []
    told = False
    for flat, (_, size) in zip(flats, maps, strict=True):
        reach = size.max()
        near = np.all((flat > -reach) & (flat < size + reach), axis=1)  # not for NaN
        around = flat[near & without].astype(np.float32)
        if len(around) < _LEAST_AROUND:
            continue
        told = True
        skew = _skew_of(around)
        angles += [] if skew is None else [skew]
    return angles if told else None


def _flat_map(quad: Quads, px: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """(the map from the plane of a quad, its size there), ``px`` of the picture long each unit."""
    size = np.maximum(np.array(side_lengths(quad)) / px, 1.0)
    return unit_homographies(quad[None])[0] @ np.diag([*(1 / size), 1.0]), size


def _rest_of(points: NDArray[np.float32]) -> float | None:
    """The small angle that lines of print have, in both halves of the page: guilloche has not."""
    if len(points) < _LEAST_POINTS:
        return None
    if len(points) > _MOST_POINTS:
        points = points[:: len(points) // _MOST_POINTS + 1]
    best: tuple[float, float] | None = None
    for axis in (1, 0):
        found = _best_angle(points, axis)
        if found is None or abs(found[0]) >= _MOST_REST or (best and found[1] <= best[1]):
            continue
        upper = points[:, axis] < np.median(points[:, axis])
        halves = [_best_angle(half, axis) for half in (points[upper], points[~upper])]
        if all(half and abs(half[0] - found[0]) < _HALVES_APART for half in halves):
            best = found
    return best[0] if best else None


def _skew_of(points: NDArray[np.float32]) -> float | None:
    if len(points) < 400:
        return None
    best: tuple[float, float] | None = None
    for axis in (1, 0):
        found = _best_angle(points, axis)
        if found is not None and (best is None or found[1] > best[1]):
            best = found
    return None if best is None else best[0]


def ink_points(levels: Sequence[Pixels], *, scattered: bool = False) -> NDArray[np.float32]:
    """(n, 2) x, y of the ink of a picture, in its pixels; ``levels`` as ``page_print`` has them.

    ``scattered``: within the pixels they were read in by chance, or rows of those would be lines of
    print.
    """
    points, _, factor = _read(levels)
    within = np.random.default_rng(7).random(points.shape, np.float32) if scattered else 0.5
    return np.asarray((points + within) * factor - 0.5, np.float32)


def _read(levels: Sequence[Pixels]) -> tuple[NDArray[np.float32], tuple[int, int], float]:
    """((n, 2) x, y of ink at reading size, (h, w) of that, how many pixels of the picture one of
    its pixels is long)."""
    fine = [level for level in levels if max(level.shape[:2]) >= _INK_PX]
    grey = luma((fine or levels)[-1 if fine else 0])
    factor = 2.0 ** (max(len(fine), 1) - 1)
    shrink = max(grey.shape) / _INK_PX
    if shrink > _NEARLY:
        size = (max(1, round(grey.shape[1] / shrink)), max(1, round(grey.shape[0] / shrink)))
        grey = np.asarray(cv2.resize(grey, size, interpolation=cv2.INTER_AREA), np.uint8)
        factor *= shrink
    ink = _ink(grey)
    rim = max(4, round(0.015 * max(ink.shape)))
    ink[:rim], ink[-rim:], ink[:, :rim], ink[:, -rim:] = 0, 0, 0, 0
    return _points(ink), (ink.shape[0], ink.shape[1]), factor


def ink_of(grey: Pixels) -> NDArray[np.float32]:
    """(n, 2) x, y of the ink pixels of a whole picture, (h, w), at about reading size."""
    return _points(_ink(grey))


def _ink(grey: Pixels) -> Pixels:
    ground = cv2.blur(grey, (25, 25))
    return (cv2.subtract(ground, grey) > 25).astype(np.uint8)


def _points(ink: Pixels) -> NDArray[np.float32]:
    """Without large connected parts: pictures, shadows."""
    _count, labels, stats, _ = cv2.connectedComponentsWithStats(ink, connectivity=8)
    large = stats[:, cv2.CC_STAT_AREA] > 0.01 * ink.size
    large[0] = True
    ink[large[labels]] = 0
    rows, columns = np.nonzero(ink)
    if len(rows) > _MOST_POINTS:
        pick = np.random.default_rng(7).choice(len(rows), _MOST_POINTS, replace=False)
        rows, columns = rows[pick], columns[pick]
    return np.stack([columns, rows], axis=1).astype(np.float32)


def _best_angle(points: NDArray[np.float32], axis: int) -> tuple[float, float] | None:
    """(angle, how clear) of lines that run along x (axis 1: projected on y) or along y."""
    along, across = points[:, 1 - axis], points[:, axis]
    sign = 1.0 if axis == 1 else -1.0
    coarse = points[:: max(1, len(points) // 15_000)]
    angles = np.arange(-_REACH_DEG, _REACH_DEG + 0.01, 0.4)
    values = np.array([sharpness(coarse[:, 1 - axis], coarse[:, axis], sign * a) for a in angles])
    top = int(np.argmax(values))
    clear = float(values[top] / max(np.median(values), 1e-9))
    if clear < 1.35 or top in (0, len(angles) - 1):
        return None
    fine = angles[top] + np.arange(-0.5, 0.501, 0.05)
    values = np.array([sharpness(along, across, sign * a) for a in fine])
    k = int(np.clip(np.argmax(values), 1, len(fine) - 2))
    before, at, after = values[k - 1 : k + 2]
    bend = before - 2 * at + after
    shift = 0.5 * (before - after) / bend if bend < 0 else 0.0
    return float(fine[k] + 0.05 * np.clip(shift, -1, 1)), clear


def sharpness(along: NDArray[np.float32], across: NDArray[np.float32], angle_deg: float) -> float:
    """Postl's criterion of points (n,) at one angle; pixels of the place where print is read."""
    angle = np.deg2rad(angle_deg)
    place = across * np.cos(angle) - along * np.sin(angle)
    bins = np.floor(place - place.min() + 0.5).astype(np.int64)
    profile = np.bincount(bins).astype(np.float64)
    steps = np.diff(profile)
    return float(steps @ steps)
