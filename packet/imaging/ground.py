"""What lies around the items: the ground's colours, read from the border of the picture.

Two models: a few colours (k-means of the border ring: tables of wood, stone, cloth), and one
colour that changes smoothly over the picture (a lid or a table under uneven light); on a lid the
same of means, where noise and dust are gone, so that white paper differs from it, too.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from packet.imaging.geometry import Pixels, lengths, medians

_RING = 0.02  # of the long side
_MOST_SEEN = 1500  # pixels of the ring that are looked at
_LEAST_SHARE = 0.08  # of the ring, for a colour of its own
_LEAST_SPREAD = 2.0
_LEAST_PART = 0.12  # of the ring, for a colour of a pattern
_TINT = np.array([0.6, 1, 1], np.float32)  # lightness counts for less: shadows
_CALM_PX = 9  # means of so many pixels each way
_CALM_TINT = np.array([0.3, 1, 1, 1])  # the lid's own light is uneven, too
_LEAST_CALM, _MOST_CALM = 0.4, 1.5  # spreads of means; a table has more
_NO_LID = 2.5  # levels, of the ring's own pixels: as noisy, and as unevenly lit, is no lid
_EVENLY_LIT = 20.0  # levels, from the lightest place of a lid to the darkest
_BAND = 64  # rows that are looked at together
_MIDDLE = np.float32(128)  # of the levels: keeps squares small

Distance = NDArray[np.float32]


def from_colours(lab: Pixels, count: int) -> Distance:
    """How far every pixel of (h, w, 3) Lab is from the nearest of ``count`` colours of the ring,
    in spreads of that colour."""
    seen = lab.reshape(-1, 3)[_ring(*lab.shape[:2])].astype(np.float32)
    count = min(count, len(seen))
    labels, centres = _means(seen, count)
    share = np.bincount(labels, minlength=count) / len(seen)
    terms, weights = [], []  # |p - c|^2 = |p|^2 - 2 p c + |c|^2
    for number in np.flatnonzero(share >= min(_LEAST_SHARE, share.max())):
        own = centres[number] - _MIDDLE
        spread = float(medians(lengths(seen[labels == number] - centres[number])))
        terms.append(np.array([[*(-2 * own), own @ own]], np.float32))
        weights.append(np.float32(1 / max(_LEAST_SPREAD, spread) ** 2))
    best = np.full(lab.shape[:2], np.inf, np.float32)
    for rows in _bands(len(lab)):
        pixels = lab[rows].astype(np.float32)
        pixels -= _MIDDLE
        squares = _squares(pixels)
        for one, weight in zip(terms, weights, strict=True):
            square: Any = cv2.transform(pixels, one)
            square += squares
            square *= weight
            np.minimum(best[rows], square, out=best[rows])
    return np.asarray(cv2.sqrt(np.maximum(best, 0.0, out=best)), np.float32)


def parts_by_colour(lab: Pixels, counts: Sequence[int]) -> list[Pixels]:
    """Where each colour of the ring is the nearest: (h, w) of 1 and 0, for every number of colours
    that the ring is taken to have."""
    ring = lab.reshape(-1, 3)[_ring(*lab.shape[:2])] * _TINT
    pixels = lab.reshape(-1, 3) * _TINT
    parts = []
    for count in counts:
        labels, centres = _means(ring, min(count, len(ring)))
        nearest = np.argmin(np.stack([_squares_to(pixels, one) for one in centres]), axis=0)
        share = np.bincount(labels, minlength=count) / len(ring)
        parts += [
            (nearest == number).astype(np.uint8).reshape(lab.shape[:2])
            for number in np.flatnonzero(share > _LEAST_PART)
        ]
    return parts


def _means(seen: NDArray[np.float32], count: int) -> tuple[NDArray[np.int32], NDArray[np.float32]]:
    """(the mean that each of (n, 3) colours belongs to, the means), by k-means."""
    criteria = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 20, 0.5)
    cv2.setRNGSeed(7)
    first = np.zeros((len(seen), 1), np.int32)
    _, labels, centres = cv2.kmeans(seen, count, first, criteria, 2, cv2.KMEANS_PP_CENTERS)
    return np.asarray(labels.ravel(), np.int32), np.asarray(centres, np.float32)


def _squares_to(pixels: NDArray[np.float32], centre: NDArray[np.float32]) -> NDArray[np.float32]:
    away = pixels - centre
    return np.asarray(np.einsum("nk,nk->n", away, away), np.float32)


def from_smooth(lab: Pixels) -> Distance:
    """How far every pixel is from one colour that changes smoothly, in spreads of the ring."""
    model, spread = _smooth(lab, np.ones(3), least=1.0, rounds=4)
    total = np.empty(lab.shape[:2], np.float32)
    for band in _bands(len(lab)):
        total[band] = _squares(cv2.subtract(lab[band], model[band], dtype=cv2.CV_32F))
    return np.asarray(cv2.sqrt(total) * np.float32(1 / max(_LEAST_SPREAD, spread)), np.float32)


def from_calm(lab: Pixels) -> tuple[Distance, Distance] | None:
    """(how far means around every pixel, and how much the pixels differ there, are from what is so
    along the ring, in spreads of that; how much darker or lighter alone, in levels). None where
    the spreads are large, or the light is uneven: no lid.

    Guilloche and print differ from a lid though paper is as white; so does a tint too slight for
    single pixels. Lightness counts for little in the first, for a lid's own is uneven.
    """
    ring = lab.reshape(-1, 3)[_ring(*lab.shape[:2])].astype(np.float64)
    off_middle = lengths((ring - medians(ring)) * _CALM_TINT[:3])
    if float(medians(off_middle)) > _NO_LID:
        return None
    calm = lab.astype(np.float32)
    light = calm[..., 0]
    size = (_CALM_PX, _CALM_PX)
    means = cv2.blur(calm, size)
    rough = cv2.sqrt(np.maximum(cv2.blur(light * light, size) - means[..., 0] ** 2, 0.0))
    seen = np.dstack([means, rough])
    model, spread = _smooth(seen, _CALM_TINT, least=_LEAST_CALM, rounds=6, from_middle=True)
    if spread > _MOST_CALM or np.ptp(model[..., 0]) > _EVENLY_LIT:
        return None
    away = seen - model
    lightness = np.abs(away[..., 0])
    away *= np.asarray(_CALM_TINT / spread, np.float32)
    return np.asarray(cv2.sqrt(_squares(away)), np.float32), lightness


def _smooth(
    seen: NDArray[Any],
    tint: NDArray[np.float64],
    *,
    least: float,
    rounds: int,
    from_middle: bool = False,
) -> tuple[NDArray[np.float32], float]:
    """((h, w, channels) what changes smoothly as the ring does, the spread of the ring about it),
    by channels that count as ``tint`` says; ``least``: of the spread. ``from_middle``: most of the
    ring is of one colour, whatever else is there, too."""
    height, width = seen.shape[:2]
    channels = seen.shape[2]
    places = _ring(height, width)
    rows, columns = places // width, places % width
    terms = _terms(columns / width, rows / height)
    ring = seen.reshape(-1, channels)[places].astype(np.float64)
    weight = np.ones(len(rows))
    if from_middle:
        weight, _ = _weights(lengths((ring - medians(ring)) * tint), least)
    for _ in range(rounds):
        weighted = terms * weight[:, None]
        matrix = weighted.T @ terms + 1e-6 * np.eye(terms.shape[1])
        answer = np.linalg.solve(matrix, weighted.T @ ring)
        weight, spread = _weights(lengths((ring - terms @ answer) * tint), least)
    ys, xs = np.mgrid[0:24, 0:32]
    grid = _terms((xs.ravel() + 0.5) / 32, (ys.ravel() + 0.5) / 24) @ answer
    model = cv2.resize(grid.reshape(24, 32, channels).astype(np.float32), (width, height))
    return np.asarray(model, np.float32), spread


def _weights(miss: NDArray[np.float64], least: float) -> tuple[NDArray[np.float64], float]:
    """(Cauchy weights of misses, their spread)."""
    spread = max(least, 1.4826 * float(medians(miss)))
    return 1.0 / (1.0 + (miss / (2 * spread)) ** 2), spread


@lru_cache(maxsize=8)
def _ring(height: int, width: int) -> NDArray[np.int64]:
    """Flat indices of some pixels along the border of a picture, in rising order."""
    deep = max(2, round(_RING * max(height, width)))
    ring = np.ones((height, width), dtype=bool)
    ring[deep:-deep, deep:-deep] = False
    places = np.flatnonzero(ring)
    return places[:: max(1, len(places) // _MOST_SEEN)]


def _bands(height: int) -> list[slice]:
    """The rows of a picture, some at a time: what is made of so few stays in the cache."""
    return [slice(top, top + _BAND) for top in range(0, height, _BAND)]


def _squares(pixels: NDArray[Any]) -> NDArray[np.float32]:
    """(h, w) squared lengths of (h, w, channels) vectors."""
    ones = np.ones((1, pixels.shape[2]), np.float32)
    total = cv2.transform(cv2.multiply(pixels, pixels), ones)
    return np.asarray(total, np.float32)


def _terms(x: NDArray[np.float64], y: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=1)
