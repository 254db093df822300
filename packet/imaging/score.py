"""One scorer for all proposals: does something with the expected shape begin at these four sides?

A side speaks for a quad where the colour steps across it, the same way along the whole side; a
thin printed line does not, for the colour behind it is the same again.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from packet.imaging.bands import bands, likeliest_of
from packet.imaging.expected import Expected
from packet.imaging.geometry import Quads, along_way, lengths, medians
from packet.imaging.table import known_sides
from packet.imaging.view import View, along_sides

_SAMPLES = 48
_SAME_TINT = 14.0
_LEAST_SEEN = 0.15  # of a side, that it may speak
CUT, UNSEEN = 0.06, 0.35  # what a cut item loses: at all, and for the share not seen
_BATCH = 160  # quads sampled at once: about 30 MB


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Judged:
    """A quad in view pixels and what speaks for it; all shares are 0 to 1.

    ``edges``, ``seen``: per side, the share with an edge and the share in the picture.
    ``outside``: share of the area outside the picture; ``cut``: a whole side is.
    """

    quad: Quads
    score: float
    support: float
    worst: float
    shape: float
    cut: bool = False
    outside: float = 0.0
    edges: NDArray[np.float64] = field(default_factory=lambda: np.zeros(4))
    seen: NDArray[np.float64] = field(default_factory=lambda: np.ones(4))


def judge(
    view: View,
    quads: Sequence[Quads] | Quads,
    expected: Expected,
    *,
    loose: bool,
    known: NDArray[np.float64] | None = None,
) -> list[Judged]:
    """Scores, best first. ``loose``: the quads are rough, so the edge may lie a little aside.

    ``known``: (n, 4) shares of the sides that are known to have an edge, by other means.
    """
    if not len(quads):
        return []
    stacked = np.asarray(quads)
    shapes = expected.shape_fits(view.to_source(stacked))
    likely = shapes >= 0.3
    stacked, shapes = stacked[likely], shapes[likely]
    least = np.zeros((len(stacked), 4)) if known is None else known[likely]
    judged: list[Judged] = []
    for start in range(0, len(stacked), _BATCH):
        batch = slice(start, start + _BATCH)
        ends = np.maximum(least[batch], known_sides(view, stacked[batch]))
        judged += _judged(view, stacked[batch], shapes[batch], ends, loose=loose)
    if not loose and judged:
        judged = _by_bands(view, judged)
    judged.sort(key=lambda one: -one.score)
    return judged


def _by_bands(view: View, judged: Sequence[Judged]) -> list[Judged]:
    """Less for those that have paper, or table, on both faces of a side.

    One side may differ from the others within (a stripe), and all may be alike without (a white
    card under a white lid).
    """
    seen = bands(view, np.stack([one.quad for one in judged]))
    paper = np.sort(seen.goes_on * (1 - seen.strange), axis=1)
    strange = np.sort(seen.strange, axis=1)
    loss = (
        0.3 * np.maximum(0.0, paper[:, 3] - paper[:, 1:3].mean(axis=1) - 0.3)
        + 0.3 * np.maximum(0.0, strange[:, 0] - 0.3)
        + 0.15 * np.maximum(0.0, strange[:, 1] - 0.3)
        + 0.15 * np.minimum(0.5, seen.goes_on.mean(axis=1))
        + 0.1 * np.maximum(0.0, (seen.goes_on * seen.strange).max(axis=1) - 0.1)
    )
    return [
        replace(one, score=one.score - float(less)) for one, less in zip(judged, loss, strict=True)
    ]


def _judged(
    view: View,
    quads: Quads,
    shapes: NDArray[np.float64],
    least: NDArray[np.float64],
    *,
    loose: bool,
) -> list[Judged]:
    """Sides that lie outside the picture do not speak; three must."""
    edges, steps, strength, seen, smooth = _side_evidence(view, quads, loose=loose)
    edges, steps = np.maximum(edges, least), np.maximum(steps, least)
    there = seen > _LEAST_SEEN
    weight = np.where(there, seen, 0.0)
    weight = weight / np.maximum(weight.sum(axis=1, keepdims=True), 1e-9)
    mean, stepped, one_colour = ((part * weight).sum(axis=1) for part in (edges, steps, smooth))
    ordered = np.sort(np.where(there, edges, np.inf), axis=1)
    second = np.sort(np.where(there, strength, np.inf), axis=1)[:, 1]
    cut = there.sum(axis=1) < 4
    doubtful = (there & (seen < 0.9) & (edges < 0.3)).any(axis=1)  # what is seen of it is no side
    outside = view.outside(quads)
    score = (
        0.28 * mean
        + 0.12 * ordered[:, 0]
        + 0.10 * ordered[:, 1]
        + 0.28 * shapes
        + 0.14 * stepped
        + 0.08 * np.minimum(1.0, second / 16)
        - CUT * cut
        - 0.12 * doubtful
        - 0.15 * (1 - one_colour)
        - UNSEEN * outside
    )
    return [
        Judged(
            quad=quads[k],
            score=float(score[k]),
            support=float(mean[k]),
            worst=float(ordered[k, 0]),
            shape=float(shapes[k]),
            cut=bool(cut[k]),
            outside=float(outside[k]),
            edges=edges[k],
            seen=seen[k],
        )
        for k in np.flatnonzero(there.sum(axis=1) >= 3)
    ]


def _side_evidence(view: View, quads: Quads, *, loose: bool) -> tuple[NDArray[np.float64], ...]:
    """Per side (n, 4): share with a coherent sharp edge, share with a lasting colour step, the
    median size of the edge, the share that lies in the picture (the others are of that), and the
    share along which the inner side has one colour."""
    play, samples = (4, 24) if loose else (1, _SAMPLES)
    offsets = np.arange(-play - 6.0, play + 6.5, 1.0)
    points = along_sides(quads, samples=samples, offsets=offsets)
    seen = view.colours_at(points)  # (n, 4, samples, offsets, 3)
    limits = np.array([view.width_px - 1, view.height_px - 1])
    middle = points[..., len(offsets) // 2, :]
    within = np.all((middle >= 1.5) & (middle <= limits - 1.5), axis=-1)
    share = within.mean(axis=2)
    count = np.maximum(within.sum(axis=2), 1)
    slope = (seen[..., 2:, :] - seen[..., :-2, :])[..., 5:-5, :]  # at -play .. play
    common = _typical(slope, within)  # (n, 4, places, 3)
    size = lengths(common)
    best = np.argmax(size, axis=-1)[..., None]
    strength = np.take_along_axis(size, best, axis=-1)[..., 0]
    way = np.take_along_axis(common, best[..., None], axis=2)[..., 0, :]
    way = way / np.maximum(strength, 1e-6)[..., None]
    along = along_way(slope, way[:, :, None, None])
    near = np.abs(np.arange(slope.shape[3]) - best) <= 1  # (n, 4, places)
    peak = np.where(near[:, :, None, :], along, -np.inf).max(axis=-1)
    floor = np.maximum(2.5, 0.3 * strength)[..., None]
    sharp = (peak > floor) & within & (strength > 2.0)[..., None]
    lasting = _lasting_steps(seen, within)
    smooth = _one_colour(seen[..., :3, :].mean(axis=3), within)
    return (
        sharp.sum(axis=2) / count,
        lasting.sum(axis=2) / count,
        strength,
        share,
        smooth.sum(axis=2) / count,
    )


def side_edges(view: View, quads: Quads) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """(n, 4) the share of each side of (n, 4, 2) quads with a sharp edge, and with another colour
    beyond it; 0 for one that lies on the picture's edge."""
    edges, steps, _, seen, _ = _side_evidence(view, quads, loose=False)
    there = seen > _LEAST_SEEN
    return np.where(there, edges, 0.0), np.where(there, steps, 0.0)


def _one_colour(inner: NDArray[Any], within: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Where along each side the inner strip (n, 4, samples, 3) has the colour of its side, which
    must be nearly that of the other sides; one side may differ (a card's stripe), or two opposite
    ones (a page's head and foot). Lightness counts for less: shadows."""
    own = _typical(inner, within)
    near = [
        lengths((own - common[:, None])[..., 1:]) < _SAME_TINT
        for common in (medians(own, axis=1), likeliest_of(own))
    ]
    odd = (~near[1]).sum(axis=1, keepdims=True)
    opposite = (near[1] == np.roll(near[1], 2, axis=1)).all(axis=1, keepdims=True)
    apart = near[0] | ((~near[0]).sum(axis=1, keepdims=True) <= 1)
    apart |= (odd <= 1) | ((odd == 2) & opposite)
    away = inner - own[:, :, None]
    tint = lengths(away[..., 1:])
    light = np.maximum(np.abs(away[..., 0]) - 10, 0) * 0.7
    return np.asarray((tint + light < _SAME_TINT) & within & apart[..., None])


def _typical(values: NDArray[Any], within: NDArray[np.bool_]) -> NDArray[Any]:
    """Median along the sides of (n, 4, samples, ...), where a side is partly outside of what is
    within; of an even number the upper middle."""
    middle = values.shape[2] // 2
    common: NDArray[Any] = np.partition(values, middle, axis=2)[:, :, middle]
    rows, sides = np.nonzero(~within.all(axis=2) & within.any(axis=2))
    if len(rows):
        inside = within[rows, sides]
        part = values[rows, sides]
        part[~inside] = np.inf
        part.sort(axis=1)
        common[rows, sides] = part[np.arange(len(part)), inside.sum(axis=1) // 2]
    return common


def _lasting_steps(seen: NDArray[np.float32], within: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Where along each side the colour differs beyond the edge itself, one way."""
    step = seen[..., -4:, :].mean(axis=-2) - seen[..., :4, :].mean(axis=-2)
    common = _typical(step, within)[:, :, None]
    common_size = lengths(common)
    size = lengths(step)
    agree = along_way(step, common) > 0.5 * size * common_size
    return np.asarray(agree & (size > 4.0) & within & (common_size > 3.0))
