"""One scorer for all proposals: does something with the expected shape begin at these four sides?

A side speaks for a quad where the colour steps across it, the same way along the whole side; a
thin printed line does not, for the colour behind it is the same again.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from packet.imaging.border import prolonged, sides_on_border
from packet.imaging.geometry import Quads, plane_shape, side_lengths
from packet.imaging.view import View, along_sides, sample

_SAMPLES = 48
_LEAST_PX_PER_MM = 60 / 25.4
_LEAST_MM = 40.0
_MOST_LIE = 0.45  # logarithm: a tag of 300 dpi on a scan of 200
_BATCH = 160  # quads sampled at once: about 30 MB


@dataclass(frozen=True, slots=True, kw_only=True)
class Expected:
    """What shapes to look for. ``sizes_mm``: of the kinds that may be there, either way round.

    ``px_per_mm``: (x, y) of the source where its dpi is trusted. ``any_shape``: sizes unknown to
    the catalogue may be there too. ``perspective``: a photo, so shapes are seen tilted.
    ``openings``: two pages side by side are one item, a passport's opening.
    """

    sizes_mm: tuple[tuple[float, float], ...]
    px_per_mm: tuple[float, float] | None
    any_shape: bool
    perspective: bool
    openings: bool
    width_px: int
    height_px: int

    def shape_fit(self, quad: Quads) -> float:
        """1 for an expected shape (and size, where dpi is trusted), towards 0 for others."""
        aspect, cosine = self.aspect_of(quad)
        if aspect <= 0 or abs(cosine) > (0.35 if self.perspective else 0.1):
            return 0.0
        if not self._large_enough(quad):
            return 0.0
        if self.px_per_mm is None:
            misses = (_shape_miss(aspect, size) for size in self.sizes_mm)
            fit = _fit(min(misses, default=9.0), 0.05)
        else:
            fit = self._size_fit(quad, aspect)
        corner = max(0.0, 1 - abs(cosine) * (1.5 if self.perspective else 6))
        return max(fit, 0.5 if self.any_shape and 0.2 < aspect < 5 else 0.0) * corner

    def _size_fit(self, quad: Quads, aspect: float) -> float:
        """By trusted dpi; a scanner's tag may still lie, so a right shape alone counts too."""
        wide, high = self.measured_mm(quad)
        best = 0.0
        for w, h in self.sizes_mm:
            miss = max(abs(np.log(wide / w)), abs(np.log(high / h)))
            best = max(best, _fit(miss, 0.03))
            if miss < _MOST_LIE:
                best = max(best, 0.75 * _fit(_shape_miss(aspect, (w, h)), 0.025))
        return best

    def cut_fit(self, quad: Quads) -> float:
        """Like ``shape_fit`` for an item whose one side lies on the edge of the picture."""
        cut = self.cut_side(quad)
        if cut is None:
            return 0.0
        aspect, cosine = self.aspect_of(quad)
        if abs(cosine) > 0.35:
            return 0.0
        return 0.75 if self.whole_of(quad, cut, aspect) is not None else 0.0

    def cut_side(self, quad: Quads) -> int | None:
        """The one side that lies on the edge of the picture; None when none or several do."""
        slack = 0.004 * max(self.width_px, self.height_px)
        on_border = sides_on_border(
            quad, width_px=self.width_px, height_px=self.height_px, slack_px=slack
        )
        return int(np.argmax(on_border)) if on_border.sum() == 1 else None

    def whole_of(self, quad: Quads, side: int, aspect: float) -> Quads | None:
        """The quad of the whole item, of which ``side`` was cut off."""
        wanted = [w / h for w, h in self.sizes_mm]
        if self.px_per_mm is not None:
            wide, high = self.measured_mm(quad)
            seen = high if side % 2 else wide
            wanted = [
                w / h for w, h in self.sizes_mm if abs((h if side % 2 else w) / seen - 1) < 0.04
            ]
        return prolonged(quad, side, aspect=aspect, wanted=wanted)

    def completed(self, quad: Quads) -> Quads:
        """An outline that the edge of the picture cuts, prolonged to its whole shape."""
        side = self.cut_side(quad)
        if side is None or self.shape_fit(quad) > 0.3:
            return quad
        whole = self.whole_of(quad, side, self.aspect_of(quad)[0])
        return quad if whole is None else whole

    def scales(self, quad: Quads) -> list[float]:
        """Pixels per mm by each expected size of nearly this shape."""
        aspect, _ = self.aspect_of(quad)
        wide, high = side_lengths(quad)
        return [
            (wide * high / (w * h)) ** 0.5
            for w, h in self.sizes_mm
            if wide * high > w * h * _LEAST_PX_PER_MM**2
            and aspect > 0
            and abs(np.log(aspect / (w / h))) < 0.07
        ]

    def aspect_of(self, quad: Quads) -> tuple[float, float]:
        """(width / height, cosine of the corner angle) of the flat item."""
        if self.perspective:
            return plane_shape(quad, width_px=self.width_px, height_px=self.height_px)
        square = self._square(quad)
        wide, high = side_lengths(square)
        u, v = square[1] - square[0], square[3] - square[0]
        size = np.linalg.norm(u) * np.linalg.norm(v)
        return wide / max(high, 1e-9), float(u @ v / max(size, 1e-9))

    def measured_mm(self, quad: Quads) -> tuple[float, float]:
        """(width, height) by the trusted dpi, which must be there."""
        assert self.px_per_mm is not None
        return side_lengths(quad / np.array(self.px_per_mm))

    def _large_enough(self, quad: Quads) -> bool:
        """An item seen with fewer than 60 pixels per inch, or a tiny part of a scan, is none."""
        wide, high = side_lengths(quad)
        if self.px_per_mm is not None:
            return max(self.measured_mm(quad)) > _LEAST_MM
        if max(wide, high) < 0.12 * max(self.width_px, self.height_px):
            return False
        return bool(self.scales(quad)) or self.any_shape

    def _square(self, quad: Quads) -> Quads:
        return quad if self.px_per_mm is None else quad / np.array(self.px_per_mm)


def _shape_miss(aspect: float, size_mm: tuple[float, float]) -> float:
    return abs(float(np.log(aspect / (size_mm[0] / size_mm[1]))))


def _fit(miss: float, tolerance: float) -> float:
    """1 within half a tolerance, then falling like a bell."""
    return float(np.exp(-((miss / tolerance) ** 2))) if miss > tolerance / 2 else 1.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Judged:
    """A quad in view pixels and what speaks for it; all shares are 0 to 1."""

    quad: Quads
    score: float
    support: float
    worst: float
    shape: float
    cut: bool = False


def judge(view: View, quads: Sequence[Quads], expected: Expected, *, loose: bool) -> list[Judged]:
    """Scores, best first. ``loose``: the quads are rough, so the edge may lie a little aside."""
    if not quads:
        return []
    judged = []
    for start in range(0, len(quads), _BATCH):
        stacked = np.stack(quads[start : start + _BATCH])
        evidence = _side_evidence(view, stacked, loose=loose)
        for number, quad in enumerate(stacked):
            seen = view.to_source(quad)
            shape, cut = expected.shape_fit(seen), None
            if shape < 0.3:
                shape = expected.cut_fit(seen)
                cut = expected.cut_side(seen) if shape else None
            parts = [part[number] for part in evidence]
            if cut is not None:
                parts = [np.delete(part, cut) for part in parts]
            judged.append(_judged(quad, shape, *parts, cut=cut is not None))
    judged.sort(key=lambda one: -one.score)
    return judged


def _judged(
    quad: Quads,
    shape: float,
    edges: NDArray[np.float64],
    steps: NDArray[np.float64],
    strength: NDArray[np.float64],
    *,
    cut: bool,
) -> Judged:
    mean, worst, second = float(edges.mean()), float(edges.min()), float(np.sort(edges)[1])
    contrast = min(1.0, float(np.sort(strength)[1]) / 16)
    score = (
        0.28 * mean
        + 0.12 * worst
        + 0.10 * second
        + 0.28 * shape
        + 0.14 * float(steps.mean())
        + 0.08 * contrast
        - (0.05 if cut else 0.0)
    )
    return Judged(quad=quad, score=score, support=mean, worst=worst, shape=shape, cut=cut)


def _side_evidence(
    view: View, quads: Quads, *, loose: bool
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Per side (n, 4): share with a coherent sharp edge, share with a lasting colour step, and
    the median size of the edge."""
    play = 4 if loose else 1
    offsets = np.arange(-play - 6.0, play + 6.5, 1.0)
    points = along_sides(quads, samples=_SAMPLES, offsets=offsets)
    seen = sample(view.lab, points)  # (n, 4, samples, offsets, 3)
    slope = (seen[..., 2:, :] - seen[..., :-2, :])[..., 5:-5, :]  # at -play .. play
    common = np.median(slope, axis=2)  # (n, 4, places, 3)
    size = np.linalg.norm(common, axis=-1)
    best = np.argmax(size, axis=-1)[..., None]
    strength = np.take_along_axis(size, best, axis=-1)[..., 0]
    way = np.take_along_axis(common, best[..., None], axis=2)[..., 0, :]
    way = way / np.maximum(strength, 1e-6)[..., None]
    along = np.einsum("nkspc,nkc->nksp", slope, way)
    near = np.abs(np.arange(slope.shape[3]) - best) <= 1  # (n, 4, places)
    peak = np.where(near[:, :, None, :], along, -np.inf).max(axis=-1)
    limits = np.array([view.width_px - 1, view.height_px - 1])
    middle = points[..., len(offsets) // 2, :]
    within = np.all((middle >= 1) & (middle <= limits - 1), axis=-1)
    floor = np.maximum(2.5, 0.3 * strength)[..., None]
    edges = ((peak > floor) & within & (strength > 2.0)[..., None]).mean(axis=2)
    return edges, _lasting_steps(seen, within), strength


def _lasting_steps(seen: NDArray[np.float32], within: NDArray[np.bool_]) -> NDArray[np.float64]:
    """Share of each side across which the colour differs beyond the edge itself, one way."""
    step = np.median(seen[..., -4:, :], axis=-2) - np.median(seen[..., :4, :], axis=-2)
    common = np.median(step, axis=2, keepdims=True)
    common_size = np.linalg.norm(common, axis=-1)
    size = np.linalg.norm(step, axis=-1)
    agree = (step * common).sum(axis=-1) > 0.5 * size * common_size
    return np.asarray((agree & (size > 4.0) & within & (common_size > 3.0)).mean(axis=2))
