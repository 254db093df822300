"""Quads between straight lines, for pictures whose ground is not of one colour.

Segments (LSD, Grompone von Gioi et al., IPOL 2012) are joined into lines; two pairs of nearly
parallel lines make a quad. All quads of a picture are weighed at once: how much of each side is
covered by segments, whether the segments end at the corners, and whether the shape is expected.
"""

from __future__ import annotations

import math

import cv2
import numpy as np
from numpy.typing import NDArray

from packet.imaging.expected import Expected
from packet.imaging.geometry import Pixels, Quads, areas, lengths, medians
from packet.imaging.view import View, sample, well_inside

_WORK_PX = 1000  # long side that segments are looked for at
_MOST_LINES = 44
_BY_STEP = 32  # of these, the rest by length alone
_MOST_PAIRS = 900
_OUTSIDE = 0.3  # of the long side: how far outside the picture a corner may lie
_LEAST_SEEN = 0.2  # of a side
_COLOUR = 2.0  # what a segment in colour counts: grain and shadows have none
_BESIDE = np.array([4.0, 5.0, 7.0, 9.0])  # pixels off a line, where its two faces are looked at
_LIGHT = 0.3  # what a difference in lightness counts against one in colour: the grain of wood
_STEP = 8.0  # levels, that count for half
_LOOKED_AT, _BY_LOOK = 2000, 32  # quads whose colours are looked at; kept by them
_NO_STEP = 0.3  # what a line without any counts still
_ROLLED = [[(k + turn) % 4 for k in range(4)] for turn in range(4)]  # corners, from each of them


def by_lines(view: View, expected: Expected, *, most: int = 220) -> tuple[list[Quads], Quads]:
    """(the best of the quads whose sides lines cover well, all of them), in view pixels,
    clockwise, the best first; last those that look least like what is around them, for on a
    patterned table thousands have plain sides.

    Corners may lie outside the picture. A side that cannot be seen is not made up here.
    """
    none: tuple[list[Quads], Quads] = ([], np.zeros((0, 4, 2)))
    shrink = max(1.0, max(view.width_px, view.height_px) / _WORK_PX)
    size = (round(view.width_px / shrink), round(view.height_px / shrink))
    lab = view.lab if shrink == 1 else cv2.resize(view.lab, size, interpolation=cv2.INTER_AREA)
    segments = _segments(lab)
    if len(segments) < 4:
        return none
    members, value = _likeliest(lab, _merged(segments, long_px=max(size)))
    if len(members) < 3:
        return none
    edges = _edges_of_picture(size)
    value = np.concatenate([value, np.full(len(edges), np.median(value))])
    quads, worth, cut = _quads([*members, *edges], value, size)
    if not len(quads):
        return none
    scale = np.array([view.width_px / size[0], view.height_px / size[1]])
    quads = (quads + 0.5) * scale - 0.5
    worth = worth + 0.5 * expected.shape_fits(view.to_source(quads))
    best = np.argsort(-worth, kind="stable")
    whole, part = best[~cut[best]], best[cut[best]]
    few = most // 4
    first = [
        *apart(quads[whole[: 4 * (most - few)]], most=most - few),
        *apart(quads[part[: 4 * few]], most=few),
    ]
    likely = quads[best[:_LOOKED_AT]]
    by_look = np.argsort(-view.roughly_apart(likely), kind="stable")
    return [*first, *apart(likely[by_look[: 8 * _BY_LOOK]], most=_BY_LOOK)], quads[best]


def apart(quads: Quads, *, most: int, share: float = 0.006) -> list[Quads]:
    """The first of any quads whose corners nearly coincide. ``share``: of the perimeter."""
    corners = np.asarray(quads, np.float32)
    around = np.linalg.norm(np.roll(corners, -1, axis=1) - corners, axis=2).sum(axis=1)
    middles = corners.sum(axis=1)
    left = np.ones(len(corners), bool)
    kept: list[Quads] = []
    for k, one in enumerate(corners):
        if not left[k]:
            continue
        if len(kept) >= most:
            break
        kept.append(quads[k])
        most_px = share * around[k]
        off = np.abs(middles - middles[k])
        near = np.flatnonzero(left & (off[:, 0] <= 4.1 * most_px) & (off[:, 1] <= 4.1 * most_px))
        far = np.abs(corners[near][:, _ROLLED] - one).max(axis=(2, 3)).min(axis=1)
        left[near[far <= most_px]] = False
    return kept


def _segments(lab: Pixels) -> NDArray[np.float64]:
    """(n, 2, 2) ends, longest first: in lightness, stretched lightness, and colour (longer)."""
    detector = cv2.createLineSegmentDetector(cv2.LSD_REFINE_STD)
    light = np.ascontiguousarray(lab[:, :, 0])
    chroma = lab[:, :, 1:].astype(np.int16) - 128
    colour = np.clip(128 + 2 * (chroma[..., 0] + chroma[..., 1]), 0, 255).astype(np.uint8)
    stretched = cv2.createCLAHE(clipLimit=6.0, tileGridSize=(6, 6)).apply(
        cv2.GaussianBlur(light, (0, 0), 1.0)
    )
    least = 0.02 * max(light.shape)
    found, weight = [], []
    for channel, counts in ((light, 1.0), (stretched, 1.0), (colour, _COLOUR)):
        seen = detector.detect(channel)[0]
        if seen is None:
            continue
        seen = seen.reshape(-1, 2, 2).astype(np.float64)
        length = np.linalg.norm(seen[:, 1] - seen[:, 0], axis=1)
        order = np.argsort(-length, kind="stable")[:300]
        order = order[length[order] >= least]
        found.append(seen[order])
        weight.append(counts * length[order])
    if not found:
        return np.zeros((0, 2, 2))
    order = np.argsort(-np.concatenate(weight), kind="stable")[:600]
    return np.asarray(np.concatenate(found)[order])


def _merged(segments: NDArray[np.float64], *, long_px: int) -> list[NDArray[np.float64]]:
    """Segments on one line, for each line; those of most covered length first."""
    rest = segments
    lines: list[tuple[float, NDArray[np.float64]]] = []
    while len(rest) and len(lines) < 160:
        ends = rest[0]
        for _ in range(2):  # the second time along the line through what was gathered
            along = ends[1] - ends[0]
            along = along / max(np.linalg.norm(along), 1e-9)
            near = np.abs((rest - ends[0]) @ np.array([-along[1], along[0]])) < 3.0
            on = near[:, 0] & near[:, 1]
            on[0] = True
            ends = _best_line(rest[on])
        members, rest = rest[on], rest[~on]
        covered = _union((members - members[0, 0]) @ along)
        lines.append((covered, members))
    lines.sort(key=lambda line: -line[0])
    return [members for covered, members in lines if covered >= 0.06 * long_px]


def _likeliest(
    lab: Pixels, lines: list[NDArray[np.float64]]
) -> tuple[list[NDArray[np.float64]], NDArray[np.float64]]:
    """(lines that one colour ends at and another begins, and the longest of the others; what each
    is worth as a side: its covered length, less where no colour ends)."""
    seen = np.array([_covered_and_step(lab, one) for one in lines]).reshape(-1, 2)
    factor = seen[:, 1] ** 2 / (seen[:, 1] ** 2 + _STEP**2)
    order = np.argsort(-seen[:, 0] * factor, kind="stable")
    chosen = list(dict.fromkeys([*order[:_BY_STEP].tolist(), *range(len(lines))]))[:_MOST_LINES]
    return [lines[k] for k in chosen], (seen[:, 0] * (_NO_STEP + factor))[chosen]


def _covered_and_step(lab: Pixels, members: NDArray[np.float64]) -> tuple[float, float]:
    """(covered length, step in colour across the line as far as it is the same all along)."""
    start, end = _best_line(members)
    along = end - start
    low, high = np.sort((members - start) @ along, axis=1).T
    count = np.maximum(2, (high - low).astype(np.int64) // 8)
    number = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count)
    places = np.repeat(low, count) + number * np.repeat((high - low) / (count - 1), count)
    points = start + places[:, None] * along
    normal = np.array([along[1], -along[0]])
    off = np.concatenate([-_BESIDE, _BESIDE])[:, None] * normal
    faces = sample(lab, points[None, :, None] + off)
    beside = len(_BESIDE)
    step = faces[0, :, beside:].mean(axis=1) - faces[0, :, :beside].mean(axis=1)
    step *= np.array([_LIGHT, 1, 1], np.float32)
    usual = medians(step)
    size = float(np.linalg.norm(usual))
    agree = float((step @ usual > 0.3 * size * size).mean())
    return _union((members - members[0, 0]) @ along), agree * size


def _edges_of_picture(size: tuple[int, int]) -> list[NDArray[np.float64]]:
    """The four edges, as lines that an item may be cut off at."""
    right, bottom = size[0] - 1.0, size[1] - 1.0
    corners = np.array([[0.0, 0.0], [right, 0.0], [right, bottom], [0.0, bottom]])
    return [np.stack([corners[k], corners[(k + 1) % 4]])[None] for k in range(4)]


def _best_line(members: NDArray[np.float64]) -> NDArray[np.float64]:
    """Two points on the line through segments, by least squares over their ends."""
    points = members.reshape(-1, 2)
    weight = np.repeat(lengths(members[:, 1] - members[:, 0]), 2)
    centre = weight @ points / weight.sum()
    spread = points - centre
    (xx, xy), (_, yy) = ((spread * weight[:, None]).T @ spread).tolist()
    angle = math.atan2(2 * xy, xx - yy) / 2
    return np.stack([centre, centre + np.array([math.cos(angle), math.sin(angle)])])


def _union(spans: NDArray[np.float64]) -> float:
    """Length of the union of intervals."""
    total, reach = 0.0, -np.inf
    for low, high in sorted((min(span), max(span)) for span in spans.tolist()):
        total += max(0.0, high - max(low, reach))
        reach = max(reach, high)
    return total


class _Covered:
    """How much of any stretch of each line is covered by segments, and is in the picture."""

    def __init__(self, members: list[NDArray[np.float64]], size: tuple[int, int]) -> None:
        ends = np.stack([_best_line(one) for one in members])
        middle = np.array(size, np.float64) / 2
        self.along = ends[:, 1] - ends[:, 0]
        self.normal = np.stack([-self.along[:, 1], self.along[:, 0]], axis=1)
        off = np.einsum("nk,nk->n", ends[:, 0] - middle, self.normal)
        self.origin = middle + off[:, None] * self.normal
        self.reach = round(1.2 * float(np.hypot(*size)))
        places = np.arange(-self.reach, self.reach + 1.0)
        points = self.origin[:, None] + places[None, :, None] * self.along[:, None]
        inside = well_inside(points, width_px=size[0], height_px=size[1])
        marked = np.zeros((len(members), len(places)))
        for number, one in enumerate(members):
            spans = (one - self.origin[number]) @ self.along[number]
            for low, high in np.sort(spans, axis=1):
                marked[number, int(low) + self.reach : int(high) + self.reach + 1] = 1
        self._marked = np.cumsum(marked * inside, axis=1)
        self._inside = np.cumsum(inside, axis=1)

    def place(self, line: NDArray[np.int64], points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Where points lie along lines."""
        far = np.einsum("nk,nk->n", points - self.origin[line], self.along[line])
        return np.asarray(np.clip(far + self.reach, 0, 2 * self.reach), np.float64)

    def stretch(
        self, line: NDArray[np.int64], low: NDArray[np.float64], high: NDArray[np.float64]
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """(covered length, length in the picture) between two places."""
        a, b = (np.clip(end, 0, 2 * self.reach).astype(np.int64) for end in (low, high))
        return (
            self._marked[line, b] - self._marked[line, a],
            (self._inside[line, b] - self._inside[line, a]).astype(np.float64),
        )


def _quads(
    members: list[NDArray[np.float64]], value: NDArray[np.float64], size: tuple[int, int]
) -> tuple[Quads, NDArray[np.float64], NDArray[np.bool_]]:
    """((n, 4, 2) quads, what their sides are worth, is one side an edge of the picture)."""
    lines = _Covered(members, size)
    pairs = _opposite(lines, members, value, size)
    edge = len(members) - 4
    way, cuts = lines.along[pairs[:, 0]], (pairs >= edge).sum(axis=1)
    may_cross = (np.abs(way @ way.T) < 0.75) & (cuts[:, None] + cuts <= 1)
    for one in pairs.T:
        for other in pairs.T:
            may_cross &= one[:, None] != other
    i, j = np.nonzero(np.triu(may_cross, 1))
    first, second = pairs[i], pairs[j]
    order = np.stack([first[:, 0], second[:, 1], first[:, 1], second[:, 0]], axis=1)
    if not len(order):
        return np.zeros((0, 4, 2)), np.zeros(0), np.zeros(0, bool)
    crossings = _crossings(lines)
    quads = np.stack([crossings[order[:, k - 1], order[:, k]] for k in range(4)], axis=1)
    clockwise = areas(quads) > 0
    quads[~clockwise] = quads[~clockwise][:, ::-1]
    # a quad read backwards has its sides in reverse: corner k to k + 1 is side 2 - k
    order[~clockwise] = order[~clockwise][:, [2, 1, 0, 3]]
    good = _possible(quads, size)
    quads, order = quads[good], order[good]
    worth = _worth(lines, quads, order)
    good = worth > 0.45
    cut = np.asarray((order[good] >= edge).any(axis=1), np.bool_)
    return quads[good], worth[good], cut


def _opposite(
    lines: _Covered,
    members: list[NDArray[np.float64]],
    value: NDArray[np.float64],
    size: tuple[int, int],
) -> NDArray[np.int64]:
    """(n, 2) pairs of lines that could be opposite sides, those of most worth first."""
    count = len(members)
    i, j = np.triu_indices(count, 1)
    parallel = np.abs(np.einsum("nk,nk->n", lines.along[i], lines.along[j])) > 0.82
    middle = np.stack([one.reshape(-1, 2).mean(axis=0) for one in members])
    gap = np.abs(np.einsum("nk,nk->n", middle[j] - middle[i], lines.normal[i]))
    keep = parallel & (gap > 0.08 * min(size))
    i, j = i[keep], j[keep]
    order = np.argsort(-(value[i] + value[j]), kind="stable")[:_MOST_PAIRS]
    return np.stack([i[order], j[order]], axis=1)


def _crossings(lines: _Covered) -> NDArray[np.float64]:
    """(n, n, 2) where each of the lines meets each other one; NaN for parallel ones."""
    u, v = lines.along[:, None], lines.along[None]
    det = u[..., 0] * v[..., 1] - u[..., 1] * v[..., 0]
    det = np.where(np.abs(det) < 1e-6, np.nan, det)
    gap = lines.origin[None] - lines.origin[:, None]
    t = (gap[..., 0] * v[..., 1] - gap[..., 1] * v[..., 0]) / det
    return np.asarray(lines.origin[:, None] + t[..., None] * u, np.float64)


def _possible(quads: Quads, size: tuple[int, int]) -> NDArray[np.bool_]:
    """Convex, large enough, not far outside the picture."""
    slack = _OUTSIDE * max(size)
    x, y = quads[..., 0].T.copy(), quads[..., 1].T.copy()  # (4, n)
    near = (x > -slack) & (x < size[0] + slack) & (y > -slack) & (y < size[1] + slack)
    with np.errstate(invalid="ignore"):
        right, down = np.roll(x, -1, axis=0) - x, np.roll(y, -1, axis=0) - y
        cross = right * np.roll(down, -1, axis=0) - down * np.roll(right, -1, axis=0)
        large = areas(quads) > 0.008 * size[0] * size[1]
        return np.asarray(near.all(axis=0) & (cross > 1).all(axis=0) & large, bool)


def _worth(lines: _Covered, quads: Quads, order: NDArray[np.int64]) -> NDArray[np.float64]:
    shares, runs, visible = [], [], []
    for k in range(4):
        line = order[:, k]
        a, b = lines.place(line, quads[:, k]), lines.place(line, quads[:, (k + 1) % 4])
        low, high = np.minimum(a, b), np.maximum(a, b)
        covered, seen = lines.stretch(line, low, high)
        length = np.maximum(high - low, 1.0)
        share = np.where(seen > _LEAST_SEEN * length, covered / np.maximum(seen, 1.0), 0.0)
        over = 0.12 * length
        before, room_before = lines.stretch(line, low - over, low - 3)
        after, room_after = lines.stretch(line, high + 3, high + over)
        runs.append((before + after) / np.maximum(room_before + room_after, 0.5 * over))
        shares.append(np.minimum(share, 1.0))
        visible.append(seen)
    share, seen = np.stack(shares, axis=1), np.stack(visible, axis=1)
    total = np.maximum(seen.sum(axis=1), 1.0)
    mean = (share * seen).sum(axis=1) / total
    run = np.minimum(np.stack(runs, axis=1), 1.0).mean(axis=1)
    least = np.where(seen > 0, share, 1.0).min(axis=1)
    whole = (seen > 0).all(axis=1)
    return np.asarray(0.6 * mean + 0.4 * least + 0.15 * whole - 0.2 * run, np.float64)
