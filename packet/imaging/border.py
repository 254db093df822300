"""Items of which one side cannot be seen: cut off by the edge of the picture, or too faint.

Three sides and the wanted shapes say where the fourth one is.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from packet.imaging.geometry import FOCAL, Quads, are_convex, following, is_convex, lengths

_LEAST, _MOST = 0.7, 2.6  # the whole depth against the depth that is seen


def sides_on_border(
    quads: Quads, *, width_px: int, height_px: int, slack_px: float
) -> NDArray[np.bool_]:
    """(n, 4) True for a side both of whose ends lie at one edge of the picture, or beyond it."""
    ends = quads, following(quads)
    beyond = np.maximum(*ends) < slack_px
    beyond |= np.minimum(*ends) > np.array([width_px, height_px]) - 1 - slack_px
    return np.asarray(beyond.any(axis=-1), bool)


Frame = tuple[NDArray[np.float64], NDArray[np.float64]]
"""(2, 3) ends of the base in space, and (3,) what one base length of depth adds to each."""


def prolonged(
    quad: Quads,
    side: int,
    *,
    depths: Sequence[float],
    size_px: tuple[int, int] | None,
    focal: float = FOCAL,
) -> list[Quads]:
    """Quads whose ``side`` is put where each of ``depths`` wants it, the shallowest first.

    ``depths``: lengths of the neighbouring sides over the length of the opposite one, in the
    paper's plane. ``size_px``: of a photo, seen in perspective through a lens of ``focal`` long
    sides; None for a scan in square pixels. The opposite side and the directions of the
    neighbours stay.
    """
    part = quad[_from_base(side)]
    seen = lengths(part[2:] - part[:2]).sum()
    frame = _frame(part, size_px, focal)
    if frame is None:
        return []
    wholes = _at_depths(quad, side, frame, depths=_apart(depths), size_px=size_px, focal=focal)
    now = lengths(wholes[:, _from_base(side)[2:]] - part[:2]).sum(axis=1) / max(seen, 1e-9)
    return list(wholes[(now > _LEAST) & (now < _MOST)])


def ended(
    quad: Quads, side: int, *, depth: float, size_px: tuple[int, int] | None, focal: float
) -> Quads | None:
    """The quad with ``side`` put where one of this ``depth`` has it, as ``prolonged`` says; None
    where that is behind the horizon."""
    frame = _frame(quad[_from_base(side)], size_px, focal)
    if frame is None:
        return None
    wholes = _at_depths(quad, side, frame, depths=[depth], size_px=size_px, focal=focal)
    return wholes[0] if len(wholes) else None


def _at_depths(
    quad: Quads,
    side: int,
    frame: Frame,
    *,
    depths: Sequence[float],
    size_px: tuple[int, int] | None,
    focal: float,
) -> Quads:
    """(n, 4, 2): as ``ended``, by the frame of the quad's base, without what is behind the horizon
    or has a re-entrant corner."""
    points = frame[0] + np.array(depths)[:, None, None] * frame[1]
    points = points[~(points[..., 2] < 0.05).any(axis=1)]
    reach = focal * max(size_px) if size_px is not None else 1.0
    centre = (np.array(size_px) - 1) / 2 if size_px is not None else np.zeros(2)
    wholes = np.repeat(quad[None], len(points), axis=0)
    wholes[:, _from_base(side)[2:]] = points[..., :2] / points[..., 2:] * reach + centre
    return wholes[are_convex(wholes)]


def seen_part(quad: Quads, side: int, size_px: tuple[int, int]) -> Quads:
    """The quad whose ``side`` lies where its neighbours leave a picture, or where it did."""
    part = quad.copy()
    start, end, beyond_start, beyond_end = _from_base(side)
    for near, far in ((start, beyond_start), (end, beyond_end)):
        way = quad[far] - quad[near]
        limits = np.where(way > 0, np.array(size_px) - 1.0, 0.0)
        with np.errstate(divide="ignore", invalid="ignore"):
            share = (limits - quad[near]) / way
        share = share[np.isfinite(share) & (share > 0)]
        if len(share):
            part[far] = quad[near] + min(1.0, float(share.min())) * way
    return part if is_convex(part) else quad


def square_ended(quad: Quads, side: int) -> Quads:
    """The quad with a side that cannot be seen put parallel to the opposite one, about as far
    away: its neighbours end there."""
    order = _from_base(side)
    near, far = order[:2], order[2:]
    ways = quad[far] - quad[near]
    base = quad[near[1]] - quad[near[0]]
    deep = ways @ np.array([-base[1], base[0]])
    if np.abs(deep).min() < 1e-9:
        return quad
    even = quad.copy()
    even[far] = quad[near] + ways * (deep.mean() / deep)[:, None]
    return even


def _from_base(side: int) -> list[int]:
    """Corners: start and end of the base, then what is beyond each; the far side is opposite."""
    return [(side + 3) % 4, (side + 2) % 4, side, (side + 1) % 4]


def _apart(depths: Sequence[float]) -> list[float]:
    """Rising, without those within 1 % of the one before."""
    kept: list[float] = []
    for depth in sorted(depths):
        if not kept or depth > 1.01 * kept[-1]:
            kept.append(depth)
    return kept


def _frame(part: Quads, size_px: tuple[int, int] | None, focal: float) -> Frame | None:
    return _frame_flat(part) if size_px is None else _frame_seen(part, size_px, focal)


def _frame_flat(part: Quads) -> Frame:
    ways = part[2:] - part[:2]
    ways = ways / np.maximum(np.linalg.norm(ways, axis=1, keepdims=True), 1e-9)
    way = ways.sum(axis=0)
    way = way / max(float(np.linalg.norm(way)), 1e-9)
    base = float(np.linalg.norm(part[1] - part[0]))
    return np.column_stack([part[:2], np.ones(2)]), np.array([*(base * way), 0.0])


def _frame_seen(part: Quads, size_px: tuple[int, int], focal: float) -> Frame | None:
    """The neighbours' vanishing point gives the plane's one direction, the base, square to it,
    the other (Hartley and Zisserman, Multiple View Geometry, chapter 8)."""
    rays = (part - (np.array(size_px) - 1) / 2) / (focal * max(size_px))
    first, second, far_first, far_second = np.column_stack([rays, np.ones(4)])
    deep = _unit(_cross(_cross(first, far_first), _cross(second, far_second)))
    if deep is None:
        return None
    if (deep[:2] - deep[2] * first[:2]) @ (far_first - first)[:2] < 0:
        deep = -deep
    along = _unit(_cross(_cross(first, second), deep))
    if along is None:
        return None
    across = _cross(second, along)
    length = -float(_cross(second, first) @ across) / max(float(across @ across), 1e-12)
    return np.stack([first, first + length * along]), abs(length) * deep


def _cross(a: NDArray[np.float64], b: NDArray[np.float64]) -> NDArray[np.float64]:
    """As ``np.cross`` of two vectors, a tenth of its time."""
    x, y, z = a.tolist()
    u, v, w = b.tolist()
    return np.array([y * w - z * v, z * u - x * w, x * v - y * u])


def _unit(vector: NDArray[np.float64]) -> NDArray[np.float64] | None:
    size = float(np.linalg.norm(vector))
    return None if size < 1e-9 else vector / size
