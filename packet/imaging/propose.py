"""Many quads that might be an item's outline, good and bad; the scorer decides.

``by_regions`` is quick: what differs from the ground, and what a threshold or closed edges cut
out. ``by_lines`` is for hard pictures: straight segments grouped into lines, lines into quads.
"""

from __future__ import annotations

import itertools
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from packet.imaging.geometry import Pixels, Quads, from_top_left, is_convex, signed_area
from packet.imaging.ground import ground_distances
from packet.imaging.view import View

_MIN_SHARE = 0.004  # of the picture's area
_SHRINK = 2


def by_regions(view: View) -> list[Quads]:
    """Quads (view pixels) around regions that differ from the ground or from one another."""
    masks: list[Pixels] = []
    for distance in ground_distances(view, shrink=_SHRINK):
        capped = np.clip(distance * 8, 0, 255).astype(np.uint8)
        level, _ = cv2.threshold(capped, 0, 255, cv2.THRESH_BINARY + cv2.THRESH_OTSU)
        for cut in {int(level), 28, 48}:
            masks.append((capped > cut).astype(np.uint8))
    masks += _thresholds(view)
    masks += _closed_edges(view)
    quads: list[Quads] = []
    for mask in masks:
        quads += _quads_of_mask(mask)
    scaled = [(quad + 0.5) * _SHRINK - 0.5 for quad in quads]
    return [from_top_left(quad) for quad in scaled]


def _small(view: View) -> Pixels:
    size = (max(8, view.width_px // _SHRINK), max(8, view.height_px // _SHRINK))
    return np.asarray(cv2.resize(view.lab, size, interpolation=cv2.INTER_AREA), np.uint8)


def _thresholds(view: View) -> list[Pixels]:
    masks = []
    for channel in cv2.split(cv2.GaussianBlur(_small(view), (5, 5), 0)):
        low, high = np.percentile(channel, (1, 99))
        if high - low < 6:
            continue
        _, above = cv2.threshold(channel, 0, 1, cv2.THRESH_BINARY + cv2.THRESH_OTSU)
        masks += [above, 1 - above]
    return masks


def _closed_edges(view: View) -> list[Pixels]:
    small = cv2.GaussianBlur(_small(view), (3, 3), 0)
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


# --- lines -----------------------------------------------------------------------------------


def by_lines(view: View, *, most: int = 400) -> list[Quads]:
    """Quads (view pixels) between straight lines, those with the best covered sides first."""
    lines = _lines(view)
    if len(lines) < 4:
        return []
    sides = _opposite_pairs(lines, view)
    quads: list[tuple[float, Quads]] = []
    for first, second in itertools.combinations(sides, 2):
        if len({*first, *second}) < 4:
            continue
        made = _quad_of_lines(lines, first, second, view)
        if made is not None:
            quads.append(made)
    quads.sort(key=lambda pair: -pair[0])
    return [from_top_left(quad) for _, quad in quads[:most]]


def _lines(view: View, *, most: int = 36) -> list[tuple[Quads, float]]:
    """Long straight lines as ((2, 2) ends, length of the segments they are made of)."""
    detector = cv2.createLineSegmentDetector(cv2.LSD_REFINE_STD)
    light = np.ascontiguousarray(view.lab[:, :, 0])
    chroma = view.lab[:, :, 1:].astype(np.int16) - 128
    colour = np.clip(128 + 2 * chroma.sum(axis=2), 0, 255).astype(np.uint8)
    found = []
    for channel in (light, colour):
        segments = detector.detect(channel)[0]
        if segments is not None:
            found.append(segments.reshape(-1, 2, 2).astype(np.float64))
    if not found:
        return []
    segments = np.concatenate(found)
    lengths = np.linalg.norm(segments[:, 1] - segments[:, 0], axis=1)
    least = 0.02 * max(view.width_px, view.height_px)
    keep = np.argsort(-lengths)[:400]
    return _merge([segments[k] for k in keep if lengths[k] >= least], view)[:most]


def _merge(segments: list[Quads], view: View) -> list[tuple[Quads, float]]:
    """Segments on one line joined, longest first."""
    free = list(segments)
    lines: list[tuple[Quads, float]] = []
    while free and len(lines) < 80:
        seed = free.pop(0)
        direction = (seed[1] - seed[0]) / np.linalg.norm(seed[1] - seed[0])
        normal = np.array([-direction[1], direction[0]])
        members = [seed]
        rest: list[Quads] = []
        for other in free:
            off = np.abs((other - seed[0]) @ normal)
            (members if off.max() < 3.5 else rest).append(other)
        free = rest
        places = np.concatenate([(member - seed[0]) @ direction for member in members])
        ends = np.stack([seed[0] + places.min() * direction, seed[0] + places.max() * direction])
        total = _covered([(member - seed[0]) @ direction for member in members])
        lines.append((ends, total))
    lines.sort(key=lambda line: -line[1])
    least = 0.06 * max(view.width_px, view.height_px)
    return [line for line in lines if line[1] >= least]


def _covered(spans: list[NDArray[np.float64]]) -> float:
    """Length of the union of intervals."""
    total, reach = 0.0, -np.inf
    for low, high in sorted((min(span), max(span)) for span in spans):
        total += max(0.0, high - max(low, reach))
        reach = max(reach, high)
    return float(total)


def _opposite_pairs(lines: list[tuple[Quads, float]], view: View) -> list[tuple[int, int]]:
    """Pairs of lines that could be opposite sides: nearly parallel, far enough apart."""
    least = 0.08 * min(view.width_px, view.height_px)
    pairs = []
    for i, j in itertools.combinations(range(len(lines)), 2):
        a, b = lines[i][0], lines[j][0]
        u = (a[1] - a[0]) / np.linalg.norm(a[1] - a[0])
        v = (b[1] - b[0]) / np.linalg.norm(b[1] - b[0])
        if abs(u @ v) < 0.86:
            continue
        gap = abs(float((b.mean(axis=0) - a.mean(axis=0)) @ np.array([-u[1], u[0]])))
        if gap >= least:
            pairs.append((i, j, lines[i][1] + lines[j][1]))
    pairs.sort(key=lambda pair: -pair[2])
    return [(i, j) for i, j, _ in pairs[:120]]


def _quad_of_lines(
    lines: list[tuple[Quads, float]], first: tuple[int, int], second: tuple[int, int], view: View
) -> tuple[float, Quads] | None:
    """(share of its outline that segments cover, quad) of two pairs of lines."""
    top, bottom = (lines[k][0] for k in first)
    left, right = (lines[k][0] for k in second)
    u, v = top[1] - top[0], left[1] - left[0]
    if abs(u @ v) > 0.7 * np.linalg.norm(u) * np.linalg.norm(v):
        return None
    corners = []
    for a, b in ((top, left), (top, right), (bottom, right), (bottom, left)):
        corner = _meet(a, b)
        if corner is None:
            return None
        corners.append(corner)
    quad = np.array(corners)
    slack = 0.08 * max(view.width_px, view.height_px)
    size = np.array([view.width_px, view.height_px])
    if np.any(quad < -slack) or np.any(quad > size + slack) or not is_convex(quad):
        return None
    if abs(signed_area(quad)) < _MIN_SHARE * 2 * size[0] * size[1]:
        return None
    covered = 0.0
    around = float(np.linalg.norm(np.roll(quad, -1, axis=0) - quad, axis=1).sum())
    for k, (start, end) in zip(
        (first[0], second[1], first[1], second[0]), _sides(quad), strict=True
    ):
        covered += _overlap_along(lines[k][0], start, end) * _fill(lines[k])
    share = covered / around
    return (share, quad) if share > 0.35 else None


def _sides(quad: Quads) -> list[tuple[NDArray[np.float64], NDArray[np.float64]]]:
    return [(quad[k], quad[(k + 1) % 4]) for k in range(4)]


def _fill(line: tuple[Quads, float]) -> float:
    return min(1.0, line[1] / max(1e-9, float(np.linalg.norm(line[0][1] - line[0][0]))))


def _overlap_along(line: Quads, start: NDArray[np.float64], end: NDArray[np.float64]) -> float:
    side = end - start
    length = float(np.linalg.norm(side))
    places = np.sort((line - start) @ side / max(length, 1e-9))
    return max(0.0, min(length, float(places[1])) - max(0.0, float(places[0])))


def _meet(a: Quads, b: Quads) -> NDArray[np.float64] | None:
    u, v = a[1] - a[0], b[1] - b[0]
    det = u[0] * v[1] - u[1] * v[0]
    if abs(det) < 1e-9:
        return None
    gap = b[0] - a[0]
    point: NDArray[np.float64] = a[0] + (gap[0] * v[1] - gap[1] * v[0]) / det * u
    return point
