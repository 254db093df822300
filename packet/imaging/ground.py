"""What lies around the items: the ground's colours, read from the border of the picture.

Two models: a few colours (k-means of the border ring: tables of wood, stone, cloth), and one
colour that changes smoothly over the picture (a lid or a table under uneven light).
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from packet.imaging.view import View


def ground_distances(view: View, *, shrink: int = 2) -> tuple[NDArray[np.float32], ...]:
    """How far every pixel of the view, shrunk, is from the ground, by each model."""
    size = (max(8, view.width_px // shrink), max(8, view.height_px // shrink))
    lab = cv2.resize(view.lab, size, interpolation=cv2.INTER_AREA).astype(np.float32)
    ring = _ring(size[1], size[0])
    return (_from_colours(lab, ring, 3), _from_smooth(lab, ring), _from_colours(lab, ring, 1))


def _ring(height: int, width: int) -> NDArray[np.bool_]:
    deep = max(2, round(0.02 * max(height, width)))
    ring = np.ones((height, width), dtype=bool)
    ring[deep:-deep, deep:-deep] = False
    return ring


def _from_colours(
    lab: NDArray[np.float32], ring: NDArray[np.bool_], count: int
) -> NDArray[np.float32]:
    seen = lab[ring]
    seen = np.ascontiguousarray(seen[:: max(1, len(seen) // 4000)])
    count = min(count, len(seen))
    criteria = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 20, 0.5)
    cv2.setRNGSeed(7)
    first = np.zeros((len(seen), 1), np.int32)
    _, labels, centres = cv2.kmeans(seen, count, first, criteria, 2, cv2.KMEANS_PP_CENTERS)
    share = np.bincount(labels.ravel(), minlength=count) / len(seen)
    best: NDArray[np.float32] | None = None
    for centre, part, number in zip(centres, share, range(count), strict=True):
        if part < 0.08:
            continue
        spread = float(np.median(np.linalg.norm(seen[labels.ravel() == number] - centre, axis=1)))
        away = np.sqrt(((lab - centre) ** 2).sum(axis=2)) / max(2.0, spread)
        best = away if best is None else np.minimum(best, away)
    assert best is not None
    return best


def _from_smooth(lab: NDArray[np.float32], ring: NDArray[np.bool_]) -> NDArray[np.float32]:
    height, width = lab.shape[:2]
    rows, columns = np.nonzero(ring)
    pick = slice(None, None, max(1, len(rows) // 3000))
    rows, columns = rows[pick], columns[pick]
    terms = _terms(columns / width, rows / height)
    seen = lab[rows, columns]
    weight = np.ones(len(rows))
    for _ in range(4):
        scaled = np.sqrt(weight)[:, None]
        answer = np.linalg.lstsq(terms * scaled, seen * scaled, rcond=None)[0]
        miss = np.linalg.norm(seen - terms @ answer, axis=1)
        spread = max(1.0, 1.4826 * float(np.median(miss)))
        weight = 1.0 / (1.0 + (miss / (2 * spread)) ** 2)
    ys, xs = np.mgrid[0:height, 0:width].astype(np.float32)
    grid = _terms(xs.ravel() / width, ys.ravel() / height).astype(np.float32)
    model = (grid @ answer.astype(np.float32)).reshape(lab.shape)
    return np.asarray(np.sqrt(((lab - model) ** 2).sum(axis=2)) / max(2.0, spread), np.float32)


def _terms(x: NDArray[np.floating], y: NDArray[np.floating]) -> NDArray[np.floating]:
    return np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=1)
