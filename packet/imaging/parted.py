"""Outlines put where the colours within and those around part best, on tables of several colours.

Neither edges nor one colour show where paper ends on a chequered or striped cloth: the pattern has
edges of its own, and some of it is of the paper's colour. But of all colours together there is less
of the table's within the outline than around it. Each pixel says how much likelier its colour is
within than around (region competition by histograms: Zhu and Yuille, PAMI 1996); each side is then
moved and turned to where what lies along its two faces differs most, and the colours counted anew.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from packet.imaging.geometry import (
    Quads,
    following,
    grown,
    is_convex,
    lengths,
    meeting,
    overlap,
    signed_area,
)
from packet.imaging.lines import apart
from packet.imaging.palette import COLOURS, Codes
from packet.imaging.table import is_motley_around
from packet.imaging.view import View, sample

_MOST = 24  # quads that are tried
_LARGER = 0.1  # in colours, for twice the area: a stripe alone differs from all around it
_LEAST_SHARE = 0.008  # of the picture
_LEAST_SEEN = 0.05  # of a quad
_ALIKE = 0.02  # of the perimeter, quads that come to one end
_LARGER_BY, _PART = 1.15, 0.95  # a whole: in area; of its part
_LIKE_WITHIN = 0.5
_PLAN = ((16, 12), (10, 10), (5, 7), (2, 5))  # reach, and depth looked at, in pixels of the colours
_MOST_REACH = 0.25  # of the mean side
_AROUND, _GAP, _WITHIN = 1.9, 1.06, 0.92  # of the quad
_LEAST_PIXELS = 50  # that colours are counted on
_RARE = 0.002  # share of a colour that was not seen
_MOST_ODDS = 2.5  # that one pixel has, as logarithm
_SAMPLES, _STRETCH = 40, 7  # along a side; that are looked at as one
_ALONG = np.linspace(0.06, 0.94, _SAMPLES)
_DEPTH, _PLAINLY = 12, 0.25  # of the faces; of the odds
_TURNS, _MOST_TURN = 13, 0.6  # of a side; of the reach, at its ends
_NEAR = 1e-3  # for a pixel less far: where nothing tells, a side stays
_LEAST_PX = 8  # of a side


def parted(view: View, quads: Sequence[Quads]) -> list[Quads]:
    """The likeliest of some rough quads (view pixels, clockwise), each where colours part best."""
    codes = view.colour_codes
    scale = np.array([codes.shape[1] / view.width_px, codes.shape[0] / view.height_px])
    found = (_parted(codes, (quad + 0.5) * scale - 0.5) for quad in _likeliest(view, quads))
    return _wholes(view, [(quad + 0.5) / scale - 0.5 for quad in found if quad is not None])


def parted_sides(view: View, quads: Sequence[Quads]) -> NDArray[np.float64]:
    """(n, 4): on a table of several colours, the share of each side of quads (view pixels) along
    which there is more of the quad's colours within and of the table's around; else 0."""
    codes = view.colour_codes
    scale = np.array([codes.shape[1] / view.width_px, codes.shape[0] / view.height_px])
    shares = np.zeros((len(quads), 4))
    for k, quad in enumerate(quads):
        if is_motley_around(view, quad):
            shares[k] = _shares(codes, (quad + 0.5) * scale - 0.5)
    return shares


def _shares(codes: Codes, quad: Quads) -> NDArray[np.float64]:
    """(4,) of a quad in pixels of ``codes``; a stretch of a side is looked at as a whole, for
    squares of the paper's own colour may lie along it."""
    odds = _odds(codes, quad)
    side = following(quad) - quad
    long = lengths(side)
    if odds is None or long.min() < _LEAST_PX:
        return np.zeros(4)
    depth = int(max(3, min(_DEPTH, 0.15 * long.min())))
    off = np.concatenate([-np.arange(1.0, depth + 1), np.arange(1.0, depth + 1)])
    seen = _beside(odds, quad, off).reshape(4, _SAMPLES, 2, depth).mean(axis=3)
    total = np.cumsum(np.pad(seen, ((0, 0), (1, 0), (0, 0))), axis=1)
    mean = (total[:, _STRETCH:] - total[:, :-_STRETCH]) / _STRETCH
    plain = (mean[..., 0] > _PLAINLY) & (mean[..., 1] < -_PLAINLY)
    return np.asarray(plain.mean(axis=1), np.float64)


def _beside(odds: NDArray[np.float32], quad: Quads, off: NDArray[np.float64]) -> NDArray[Any]:
    """(4 * samples, offsets) odds along the sides; offsets in pixels, outward."""
    side = following(quad) - quad
    outward = np.stack([side[:, 1], -side[:, 0]], axis=1) / lengths(side)[:, None]
    places = quad[:, None] + _ALONG[None, :, None] * side[:, None]  # (4, samples, 2)
    points = (places[:, :, None] + off[:, None] * outward[:, None, None]).astype(np.float32)
    return sample(odds, points.reshape(4 * _SAMPLES, len(off), 2))[..., 0]


def _wholes(view: View, quads: Sequence[Quads]) -> list[Quads]:
    """Without parts of larger ones, that go on beyond one of their sides."""
    parts = [quad for quad in quads if _goes_on(view.contrast(quad).outer)]
    return [
        quad
        for quad in quads
        if not any(quad is part for part in parts)
        or not any(
            signed_area(other) > _LARGER_BY * signed_area(quad) and overlap(quad, other)[1] > _PART
            for other in quads
        )
    ]


def _goes_on(outer: NDArray[np.float64]) -> bool:
    """What lies without one side is coloured much more as what is within than the others are."""
    known = outer[~np.isnan(outer)]
    return len(known) > 2 and bool(known.min() < _LIKE_WITHIN * np.median(known))


def _likeliest(view: View, quads: Sequence[Quads]) -> list[Quads]:
    """Those that differ most from what is around them, the large ones before small ones."""
    least = _LEAST_SHARE * view.width_px * view.height_px
    quads = [quad for quad in quads if is_convex(quad) and signed_area(quad) > least]
    if not quads:
        return []
    stacked = np.stack(quads)
    seen = np.maximum(1 - view.outside(stacked), _LEAST_SEEN)
    area = np.array([signed_area(quad) for quad in quads]) * seen
    worth = np.array([view.apart(quad) for quad in quads]) + _LARGER * np.log2(area)
    return apart(stacked[np.argsort(-worth, kind="stable")], most=_MOST, share=_ALIKE)


def _parted(codes: Codes, quad: Quads) -> Quads | None:
    """The quad after all steps, in pixels of ``codes``; None where it falls to nothing."""
    most = _MOST_REACH * np.sqrt(signed_area(quad))
    moved: Quads | None = quad
    for reach, depth in _PLAN:
        if moved is not None:
            moved = _moved(codes, moved, int(min(reach, most) + 1), int(min(depth, most) + 1))
    return moved


def _moved(codes: Codes, quad: Quads, reach: int, depth: int) -> Quads | None:
    """All sides moved once, as far as ``reach``; ``depth``: of each face that is looked at."""
    if lengths(following(quad) - quad).min() < _LEAST_PX:
        return None
    odds = _odds(codes, quad)
    if odds is None:
        return None
    off = np.arange(-reach - depth, reach + depth + 1.0)
    odds_at = _beside(odds, quad, off)
    total = np.zeros((4 * _SAMPLES, len(off) + 1))
    np.cumsum(odds_at, axis=1, out=total[:, 1:])
    within = total[:, depth:-depth] - total[:, : -2 * depth]
    around = total[:, 2 * depth :] - total[:, depth:-depth]
    better = (np.clip(within, -depth, depth) - np.clip(around, -depth, depth)).reshape(
        4, _SAMPLES, -1
    )
    shifts = np.arange(-reach, reach + 1)
    turns = np.linspace(-_MOST_TURN, _MOST_TURN, _TURNS) * reach
    at = np.round(shifts[:, None, None] + turns[:, None] * (2 * _ALONG - 1)).astype(int)
    at = np.clip(at, -reach, reach) + reach  # (shifts, turns, samples)
    worth = better[:, np.arange(_SAMPLES), at].sum(axis=3)
    worth -= _NEAR * np.abs(shifts)[:, None]
    best = worth.reshape(4, -1).argmax(axis=1)
    shift, turn = shifts[best // _TURNS], turns[best % _TURNS]
    side = following(quad) - quad
    outward = np.stack([side[:, 1], -side[:, 0]], axis=1) / lengths(side)[:, None]
    start = quad + (shift - turn)[:, None] * outward
    end = following(quad) + (shift + turn)[:, None] * outward
    ends = np.stack([start, end], axis=1)
    corners = [meeting(ends[k - 1], ends[k]) for k in range(4)]
    if any(corner is None for corner in corners):
        return None
    moved = np.array(corners, np.float64)
    return moved if is_convex(moved) and signed_area(moved) > _LEAST_PX**2 else None


def _odds(codes: Codes, quad: Quads) -> NDArray[np.float32] | None:
    """(h, w): how much likelier each pixel's colour is within the quad than around it."""
    zones = np.zeros(codes.shape, np.uint8)
    for by, zone in ((_AROUND, 1), (_GAP, 0), (_WITHIN, 2)):
        cv2.fillConvexPoly(zones, np.round(grown(quad, by)).astype(np.int32), zone)
    counts = [np.bincount(codes[zones == zone], minlength=COLOURS) for zone in (1, 2)]
    if min(count.sum() for count in counts) < _LEAST_PIXELS:
        return None
    around, within = (count / count.sum() + _RARE for count in counts)
    table = np.clip(np.log(within / around), -_MOST_ODDS, _MOST_ODDS).astype(np.float32)
    return np.asarray(table[codes], np.float32)
