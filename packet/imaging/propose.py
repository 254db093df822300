"""Many quads that might be an item's outline, good and bad; the scorer decides.

``by_regions`` is quick: what differs from the ground, and what a threshold or closed edges cut
out. Lines (``lines.py``) are for hard pictures.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import combinations
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from packet.imaging.geometry import Pixels, Quads, from_top_left, is_convex, signed_area
from packet.imaging.ground import from_calm, from_colours, from_smooth, parts_by_colour
from packet.imaging.view import View, halved

_MIN_SHARE = 0.004  # of the picture's area
_OFF_GROUND = 4.0  # times the spread of the ground's own colours
_LIGHTER = (1.2, 2.2)  # levels, than a lid, or darker
_CUTS = (28, 48)  # eighths of a spread
_TINT = np.array([0.5, 1, 1], np.float32)  # lightness counts for less: shadows
_SEED_REACH = 12.0
_SEED_APART = 10.0
_MOST_SEEDS = 5
_MOST_PARTED, _MOST_BEYOND, _WITH_STRIPE = 4, 0.35, 1.5  # parts; their areas, and of the hull
_WIDE = (0.04, 0.08, 0.13)  # of the shorter side of the picture: wider than a pattern's squares
_FROM_THE_MIDDLE = np.argsort(
    [abs(k // 5 - 2) + abs(k % 5 - 2) for k in range(25)], kind="stable"
)  # of 5 x 5 places


def by_ground(view: View) -> tuple[list[Quads], Callable[[], list[Quads]]]:
    """Quads (view pixels) around what differs from the ground: quick, for plain pictures; and
    others around that, by other limits, should they be asked for.

    The view's map of its ground is made here.
    """
    distances = (from_colours(view.small, 3), from_smooth(view.small))
    view.ground[:] = [(cv2.min(*distances) > _OFF_GROUND).astype(np.uint8)]
    view.off_grounds.clear()
    masks = [_far(one) for one in distances]
    plain = [of_one[0] for of_one in masks]
    return _quads(view, plain), lambda: _quads(view, [m for one in masks for m in one[1:]])


def by_regions(view: View) -> list[Quads]:
    """Quads (view pixels) around regions that differ from one another, by other measures.

    The view's maps of a lid are made here, where there is one.
    """
    edges = _edges(view.small)
    masks = [*_far(from_colours(view.small, 1)), *_thresholds(view), *_closed(edges)]
    like = _like_inside(view.small, edges)
    calm = from_calm(view.small)
    if calm is not None:
        distance, lightness = calm
        off_lid = (distance > _OFF_GROUND, *(lightness > off for off in _LIGHTER))
        view.lid[:] = [one.astype(np.uint8) for one in off_lid]
        masks += view.lid
    return [*_quads(view, masks), *_quads(view, like, thin=(0.025, 0.06))]


def within_colours(view: View) -> list[Quads]:
    """Quads (view pixels) around what is wide and free of one of the ground's colours: paper on a
    chequered cloth, whose squares are narrower than it is."""
    lab = halved(view.small)
    quads = []
    for one in parts_by_colour(lab, (2, 3)):
        table = cv2.morphologyEx(one, cv2.MORPH_OPEN, np.ones((3, 3), np.uint8))  # print is thin
        for share in _WIDE:
            size = round(share * min(lab.shape[:2])) | 1
            disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))
            opened = cv2.morphologyEx(1 - table, cv2.MORPH_OPEN, disc)
            quads += _quads_of_parts(opened, _MIN_SHARE * table.size)
    return _in_view(view, quads, lab.shape)


def _like_inside(lab: Pixels, edges: Pixels) -> list[Pixels]:
    """Where the picture has the colour of some place in it, up to the edges: a paper on a table
    of several colours."""
    blocks = cv2.resize(lab, (7, 7), interpolation=cv2.INTER_AREA)[1:-1, 1:-1]
    seeds: list[NDArray[np.float32]] = []
    for colour in blocks.reshape(-1, 3)[_FROM_THE_MIDDLE]:
        near = [np.linalg.norm((colour - one) * _TINT) for one in seeds]
        if min(near, default=_SEED_APART) >= _SEED_APART and len(seeds) < _MOST_SEEDS:
            seeds.append(colour.astype(np.float32))
    barrier = cv2.dilate(edges, np.ones((3, 3), np.uint8)) > 0
    reach = np.ceil(_SEED_REACH / _TINT) - 1  # of whole levels, less than the limit
    masks = []
    for seed in seeds:
        like = cv2.inRange(lab, *(np.clip(seed + way * reach, 0, 255) for way in (-1, 1)))
        masks.append(((like > 0) & ~barrier).astype(np.uint8))
    return masks


def _far(distance: NDArray[np.float32]) -> list[Pixels]:
    """Where the picture is far from its ground: by Otsu's level, then by fixed ones."""
    capped = np.asarray(cv2.convertScaleAbs(distance, alpha=8.0), np.uint8)
    level, _ = cv2.threshold(capped, 0, 255, cv2.THRESH_BINARY + cv2.THRESH_OTSU)
    return [(capped > cut).astype(np.uint8) for cut in dict.fromkeys((int(level), *_CUTS))]


def _quads(
    view: View, masks: list[Pixels], *, thin: tuple[float, ...] = (0.0, 0.025)
) -> list[Quads]:
    """``thin``: parts that are opened away, against the shorter side of the picture."""
    quads = [quad for mask in masks for quad in _quads_of_mask(mask, thin)]
    return _in_view(view, quads, view.small.shape)


def _in_view(view: View, quads: Sequence[Quads], shape: tuple[int, ...]) -> list[Quads]:
    """Quads of a smaller copy of the view, of (h, w, ...) pixels."""
    if not quads:
        return []
    scale = np.array([view.width_px, view.height_px]) / shape[1::-1]
    return list(from_top_left((np.stack(quads) + 0.5) * scale - 0.5))


def _thresholds(view: View) -> list[Pixels]:
    masks = []
    for channel in cv2.split(cv2.GaussianBlur(view.small, (5, 5), 0)):
        low, high = np.percentile(channel, (1, 99))
        if high - low < 6:
            continue
        _, above = cv2.threshold(channel, 0, 1, cv2.THRESH_BINARY + cv2.THRESH_OTSU)
        masks += [above, 1 - above]
    return masks


def _edges(lab: Pixels) -> Pixels:
    small = cv2.GaussianBlur(lab, (3, 3), 0)
    edges = np.zeros(small.shape[:2], np.uint8)
    for channel, low in zip(cv2.split(small), (24, 10, 10), strict=True):
        edges |= cv2.Canny(channel, low, 2.5 * low, L2gradient=True)
    return edges


def _closed(edges: Pixels) -> list[Pixels]:
    masks = []
    for size in (3, 7):
        kernel = cv2.getStructuringElement(cv2.MORPH_RECT, (size, size))
        masks.append((cv2.dilate(edges, kernel) > 0).astype(np.uint8))
    return masks


def _quads_of_mask(mask: Pixels, thin: tuple[float, ...]) -> list[Quads]:
    """Quads of each large region, after thin parts are opened away."""
    height, width = mask.shape
    least = _MIN_SHARE * height * width
    mask = cv2.morphologyEx(mask, cv2.MORPH_CLOSE, np.ones((5, 5), np.uint8))
    quads = []
    for share in thin:
        wide = round(share * min(height, width)) | 1
        opened = mask
        if wide > 1:
            opened = cv2.morphologyEx(mask, cv2.MORPH_OPEN, np.ones((wide, wide), np.uint8))
        quads += _quads_of_parts(opened, least)
    return quads


def _quads_of_parts(mask: Pixels, least: float) -> list[Quads]:
    """Quads of the largest parts of a mask that have at least so many pixels."""
    contours, _ = cv2.findContours(mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    contours = [found for found in contours if cv2.contourArea(found) >= least]
    contours = sorted(contours, key=cv2.contourArea, reverse=True)[:12]
    parts = [*contours, *_beyond_stripe(contours)]
    return [quad for contour in parts for quad in _quads_of_contour(contour)]


def _beyond_stripe(contours: Sequence[NDArray[Any]]) -> list[NDArray[Any]]:
    """Hulls of a part and a much smaller one close to it, largest first: a stripe as dark as the
    table parts a card."""
    hulls = []
    for one, other in combinations(contours[:_MOST_PARTED], 2):
        areas = cv2.contourArea(one), cv2.contourArea(other)
        if areas[1] > _MOST_BEYOND * areas[0]:
            continue
        hull = cv2.convexHull(np.concatenate([one, other]))
        if cv2.contourArea(hull) < _WITH_STRIPE * sum(areas):
            hulls.append(hull)
    return hulls


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
    points: list[tuple[float, float]] = [(float(x), float(y)) for x, y in rough.reshape(-1, 2)]
    while len(points) > 4:
        options = ((k, _without_side(points, k)) for k in range(len(points)))
        likely = [(*option, k) for k, option in options if option is not None]
        if not likely:
            return None
        _, tip, k = min(likely, key=lambda option: option[0])
        points[k] = tip
        del points[(k + 1) % len(points)]
    if len(points) < 4:
        return None
    quad = np.array(points)
    return quad if is_convex(quad) and abs(signed_area(quad)) > 1 else None


def _without_side(
    points: list[tuple[float, float]], k: int
) -> tuple[float, tuple[float, float]] | None:
    """(added area, new corner) when side k to k+1 goes; None when the neighbours never meet."""
    count = len(points)
    (before_x, before_y), (start_x, start_y) = points[k - 1], points[k]
    (end_x, end_y), (after_x, after_y) = points[(k + 1) % count], points[(k + 2) % count]
    ux, uy = start_x - before_x, start_y - before_y
    vx, vy = end_x - after_x, end_y - after_y
    det = uy * vx - ux * vy
    if abs(det) < 1e-9:
        return None
    side_x, side_y = end_x - start_x, end_y - start_y
    t = (side_y * vx - side_x * vy) / det
    s = (ux * side_y - uy * side_x) / det
    if t < 0 or s < 0:
        return None
    rise_x, rise_y = t * ux, t * uy
    area = 0.5 * abs(side_x * rise_y - side_y * rise_x)
    return area, (start_x + rise_x, start_y + rise_y)
