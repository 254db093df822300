"""Sides too faint for single profiles: what is lost in the noise of one adds up along a side.

White paper under a white lid differs from it by two or three levels. All lines near a weak side
are weighed at once, by the mean of the slopes along each (a Radon transform of the strip).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from packet.imaging.geometry import Quads
from packet.imaging.refine import put_off, slopes_of
from packet.imaging.view import View, along_sides, sample

_SAMPLES = 192  # along a side
_BLOCKS = 16  # that each must see the side
_REACH_PX = 9
_SPARE_PX = 7  # beyond the reach: what noise is measured on
_LEAST_SLOPE = 0.35  # levels a pixel, of the mean along the side
_LEAST_STEP = 0.8  # levels, between what lies some pixels within and some pixels without
_BESIDE_PX = (3, 6)  # of the line: where that is looked at; nearer is its own shadow
_MOST_SLOPE = 4.0  # print beside a side may not outweigh the rest of it
_OVER_NOISE = 4.0
_WORTH = 0.95  # of a plain side
_WEAK, _SEEN = 0.75, 0.5

Shares = NDArray[np.float64]


def settled(view: View, quads: Quads, edges: Shares) -> tuple[Quads, Shares]:
    """Those of (n, 4, 2) quads in view pixels of which two sides are seen and one is weak,
    the weak ones put onto the faint line that speaks most, and (m, 4) shares of their sides.

    ``edges``: (n, 4) shares of the sides with an edge.
    """
    weak = edges < _WEAK
    wanted = weak.any(axis=1) & ((edges >= _SEEN).sum(axis=1) >= 2)
    quads, edges, weak = quads[wanted], edges[wanted], weak[wanted]
    if not len(quads):
        return np.zeros((0, 4, 2)), np.zeros((0, 4))
    ends, shares = np.zeros((*weak.shape, 2)), edges.copy()
    ends[weak], faint = _faint_lines(view, quads, weak)
    shares[weak] = _WORTH * faint
    better = weak & (shares > edges)
    ends[~better] = 0.0
    shares = np.where(better, shares, edges)
    moved = put_off(quads, ends, most_px=6.0 * _REACH_PX)
    good = better.any(axis=1)
    return moved[good], shares[good]


def _faint_lines(
    view: View, quads: Quads, weak: NDArray[np.bool_]
) -> tuple[NDArray[np.float64], Shares]:
    """((sides, 2) offsets at start and end, share of blocks that see the line) of weak sides."""
    far = _REACH_PX + _SPARE_PX
    offsets = np.arange(-far, far + 1.0)
    points = along_sides(quads, samples=_SAMPLES, offsets=offsets)[weak]
    limits = np.array([view.width_px, view.height_px]) - 2.0
    inside = np.all((points[:, :, far] > 1) & (points[:, :, far] < limits), axis=-1)
    colours = sample(view.lab, points)
    slopes = np.clip(slopes_of(colours), -_MOST_SLOPE, _MOST_SLOPE)
    slopes *= inside[:, :, None, None]
    blocks = _by_blocks(slopes)
    steps = np.arange(-_REACH_PX, _REACH_PX + 1)
    start, end = (one.ravel() for one in np.meshgrid(steps, steps, indexing="ij"))
    where = (np.arange(_BLOCKS) + 0.5) / _BLOCKS
    place = start[:, None] + (end - start)[:, None] * where  # (lines, blocks)
    low = np.floor(place).astype(np.int64)
    part = (place - low)[None, :, :, None]
    number = np.arange(_BLOCKS)[None, :]
    seen = blocks[:, number, low + far] * (1 - part) + blocks[:, number, low + far + 1] * part
    mean = seen.mean(axis=2)  # (sides, lines, 3)
    size = np.linalg.norm(mean, axis=-1)
    best = np.argmax(size, axis=1)
    rows = np.arange(len(best))
    strength = size[rows, best]
    way = mean[rows, best] / np.maximum(strength, 1e-6)[:, None]
    along = np.einsum("sbc,sc->sb", seen[rows, best], way)
    # what the blocks show off every line: beyond the reach, on the quieter face
    rest = np.einsum("sboc,sc->sbo", blocks, way)
    spare = np.stack([rest[..., : _SPARE_PX - 1], rest[..., -_SPARE_PX + 1 :]])
    noise = np.sqrt((spare**2).mean(axis=(2, 3))).min(axis=0)
    least = np.maximum(_LEAST_SLOPE * 0.6, np.maximum(0.35 * strength, 2.0 * noise))
    rounded = np.round(place).astype(np.int64)[best] + far
    within = np.median(blocks[:, :, 1:_SPARE_PX].mean(axis=2), axis=1)  # uneven light
    steps_seen = _steps(_by_blocks(colours), rounded) - within[:, None] * sum(_BESIDE_PX)
    common = np.median(steps_seen, axis=1, keepdims=True)
    common /= np.maximum(np.linalg.norm(common, axis=-1, keepdims=True), 1e-6)
    lasting = (steps_seen * common).sum(axis=-1) > _LEAST_STEP
    share = ((along > least[:, None]) & lasting).mean(axis=1)
    plain = (strength > _LEAST_SLOPE) & (strength > _OVER_NOISE * noise / np.sqrt(_BLOCKS / 4))
    ends = np.stack([start[best], end[best]], axis=1).astype(np.float64)
    return ends, np.where(plain & (inside.mean(axis=1) > 0.5), share, 0.0)


def _by_blocks(values: NDArray[np.float32]) -> NDArray[np.float32]:
    """(sides, blocks, offsets, 3) means of (sides, samples, offsets, 3)."""
    sides, samples, offsets, channels = values.shape
    split = values.reshape(sides, _BLOCKS, samples // _BLOCKS, offsets, channels)
    return np.asarray(split.mean(axis=2), np.float32)


def _steps(blocks: NDArray[np.float32], where: NDArray[np.int64]) -> NDArray[np.float32]:
    """(sides, blocks, 3) what the outer face has more than the inner one, at (sides, blocks)."""
    near, far = _BESIDE_PX
    sides, number = np.arange(len(blocks))[:, None], np.arange(_BLOCKS)[None]
    total = np.zeros((*where.shape, 3), np.float32)
    for off in range(near, far + 1):
        total += blocks[sides, number, where + off] - blocks[sides, number, where - off]
    return np.asarray(total / (far + 1 - near), np.float32)
