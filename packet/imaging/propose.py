"""Many quads that might be an item's outline, good and bad; the scorer decides.

``by_regions`` is quick: what differs from the ground, and what a threshold or closed edges cut
out. Lines (``lines.py``) are for hard pictures.
"""

from __future__ import annotations

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from packet.imaging.geometry import Pixels, Quads, from_top_left, is_convex, signed_area
from packet.imaging.ground import from_colours, from_smooth
from packet.imaging.view import View

_MIN_SHARE = 0.004  # of the picture's area
_OFF_GROUND = 4.0  # times the spread of the ground's own colours
_CUTS = (28, 48)  # eighths of a spread


def by_ground(view: View) -> list[Quads]:
    """Quads (view pixels) around what differs from the ground: quick, for plain pictures.

    The view's map of its ground is made here.
    """
    distances = (from_colours(view.small, 3), from_smooth(view.small))
    view.ground[:] = [(cv2.min(*distances) > _OFF_GROUND).astype(np.uint8)]
    return _quads(view, [mask for one in distances for mask in _far(one)])


def by_regions(view: View) -> list[Quads]:
    """Quads (view pixels) around regions that differ from one another, by other measures."""
    masks = _far(from_colours(view.small, 1))
    return _quads(view, [*masks, *_thresholds(view), *_closed_edges(view)])


def _far(distance: NDArray[np.float32]) -> list[Pixels]:
    """Where the picture is far from its ground: by Otsu's level, and by fixed ones."""
    capped = np.asarray(cv2.convertScaleAbs(distance, alpha=8.0), np.uint8)
    level, _ = cv2.threshold(capped, 0, 255, cv2.THRESH_BINARY + cv2.THRESH_OTSU)
    return [(capped > cut).astype(np.uint8) for cut in sorted({int(level), *_CUTS})]


def _quads(view: View, masks: list[Pixels]) -> list[Quads]:
    scale = np.array(view.lab.shape[1::-1]) / view.small.shape[1::-1]
    quads = [quad for mask in masks for quad in _quads_of_mask(mask)]
    return [from_top_left((quad + 0.5) * scale - 0.5) for quad in quads]


def _thresholds(view: View) -> list[Pixels]:
    masks = []
    for channel in cv2.split(cv2.GaussianBlur(view.small, (5, 5), 0)):
        low, high = np.percentile(channel, (1, 99))
        if high - low < 6:
            continue
        _, above = cv2.threshold(channel, 0, 1, cv2.THRESH_BINARY + cv2.THRESH_OTSU)
        masks += [above, 1 - above]
    return masks


def _closed_edges(view: View) -> list[Pixels]:
    small = cv2.GaussianBlur(view.small, (3, 3), 0)
    edges = np.zeros(small.shape[:2], np.uint8)
    for channel, low in zip(cv2.split(small), (24, 10, 10), strict=True):
        edges |= cv2.Canny(channel, low, 2.5 * low, L2gradient=True)
    masks = []
    for size in (3, 7):
        kernel = cv2.getStructuringElement(cv2.MORPH_RECT, (size, size))
        masks.append((cv2.dilate(edges, kernel) > 0).astype(np.uint8))
    return masks


def _quads_of_mask(mask: Pixels) -> list[Quads]:
    """Quads of each large region, as it is, and after thin parts are opened away."""
    height, width = mask.shape
    least = _MIN_SHARE * height * width
    close = cv2.getStructuringElement(cv2.MORPH_RECT, (5, 5))
    mask = cv2.morphologyEx(mask, cv2.MORPH_CLOSE, close)
    wide = max(3, round(0.025 * min(height, width)) | 1)
    opened = cv2.morphologyEx(mask, cv2.MORPH_OPEN, np.ones((wide, wide), np.uint8))
    quads = []
    for which in (mask, opened):
        contours, _ = cv2.findContours(which, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
        contours = [found for found in contours if cv2.contourArea(found) >= least]
        contours.sort(key=cv2.contourArea, reverse=True)
        for contour in contours[:12]:
            quads += _quads_of_contour(contour)
    return quads


def _quads_of_contour(contour: NDArray[Any]) -> list[Quads]:
    quads = []
    hull = cv2.convexHull(contour).reshape(-1, 2).astype(np.float64)
    quad = enclosing_quad(hull)
    if quad is not None:
        quads.append(quad)
    inside = cv2.contourArea(contour)
    rectangle = cv2.minAreaRect(contour)
    box = cv2.boxPoints(rectangle).astype(np.float64)
    if quad is None or inside < 0.93 * abs(signed_area(quad)):
        quads.append(box)
    return quads


def enclosing_quad(hull: Quads) -> Quads | None:
    """Four long sides of a convex outline, prolonged until they meet.

    Sides are taken away one by one, each time the one whose removal adds least area; so the
    rounded corners of a card become sharp ones outside the card.
    """
    rough = cv2.approxPolyDP(
        hull.astype(np.float32)[:, None], 0.004 * cv2.arcLength(hull.astype(np.float32), True), True
    )
    points = [point.astype(np.float64) for point in rough.reshape(-1, 2)]
    while len(points) > 4:
        cheapest: tuple[float, int, NDArray[np.float64]] | None = None
        for k in range(len(points)):
            option = _without_side(points, k)
            if option is not None and (cheapest is None or option[0] < cheapest[0]):
                cheapest = (option[0], k, option[1])
        if cheapest is None:
            return None
        _, k, tip = cheapest
        following = (k + 1) % len(points)
        points[k] = tip
        del points[following]
    if len(points) < 4:
        return None
    quad = np.array(points)
    return quad if is_convex(quad) and abs(signed_area(quad)) > 1 else None


def _without_side(
    points: list[NDArray[np.float64]], k: int
) -> tuple[float, NDArray[np.float64]] | None:
    """(added area, new corner) when side k to k+1 goes; None when the neighbours never meet."""
    count = len(points)
    before, start = points[k - 1], points[k]
    end, after = points[(k + 1) % count], points[(k + 2) % count]
    u, v = start - before, end - after
    det = u[0] * -v[1] + v[0] * u[1]
    if abs(det) < 1e-9:
        return None
    gap = end - start
    t = (gap[0] * -v[1] + v[0] * gap[1]) / det
    s = (u[0] * gap[1] - u[1] * gap[0]) / det
    if t < 0 or s < 0:
        return None
    tip = start + t * u
    side, rise = end - start, tip - start
    return 0.5 * abs(float(side[0] * rise[1] - side[1] * rise[0])), tip
