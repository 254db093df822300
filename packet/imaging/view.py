"""The small picture that everything is found on, and the sampling along lines that judges it.

At most about 1 megapixel, Lab in 8 bits; one integer factor from the source, by area average.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from packet.imaging.geometry import (
    Pixels,
    Quads,
    common_area,
    following,
    grown,
    signed_area,
    whole_picture,
)
from packet.imaging.palette import Codes, Contrast, codes_of, contrast, roughly_apart
from packet.imaging.skew import ink_of

LONG_SIDE_PX = 1700
_FEW = 0.3  # numbers, of those of pixels: up to so many places are looked at one by one
_COARSE = 2  # of the half-size view: enough to count colours on


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class View:
    """One view pixel is ``factor`` source pixels in x and in y.

    ``small``: (h, w, 3) uint8 Lab at half the size of the view, for regions. ``levels``: the
    picture in RGB, then ever smaller copies of it, each half as long as the one before; the last
    is the view.
    """

    small: Pixels = field(repr=False)
    factor: int
    width_px: int
    height_px: int
    frame_px: float = 0.0
    """What of each edge of the view was added around the picture: more of the lid."""

    levels: tuple[Pixels, ...] = field(default=(), repr=False)
    whole: list[Pixels] = field(default_factory=list, repr=False)
    """The view in Lab, (h, w, 3) uint8, once more than some places of it are looked at."""

    ground: list[Pixels] = field(default_factory=list, repr=False)
    """One map, once it is known: 1 where the picture does not look like its ground, else 0."""

    lid: list[Pixels] = field(default_factory=list, repr=False)
    """Maps, where a lid is around and was looked for: 1 where means of many pixels are not like it,
    else 0; then where their lightness alone is not, by less and by more."""

    codes: list[Codes] = field(default_factory=list, repr=False)
    """One map of the colours of every other pixel of ``small``, once it is asked for."""

    off_grounds: dict[bytes, float] = field(default_factory=dict, repr=False)
    contrasts: dict[bytes, Contrast] = field(default_factory=dict, repr=False)
    """Of the quads asked about: rounds ask about the same ones."""

    points: list[NDArray[np.float32]] = field(default_factory=list, repr=False)
    """Those of ``ink``, once they are asked for."""

    @property
    def ink(self) -> NDArray[np.float32]:
        """(n, 2) x, y of the print, as ``skew.ink_of``."""
        if not self.points:
            self.points.append(ink_of(np.ascontiguousarray(self.lab[..., 0])))
        return self.points[0]

    @property
    def lab(self) -> Pixels:
        """(h, w, 3) uint8."""
        if not self.whole:
            self.whole.append(_lab(self.levels[-1]))
        return self.whole[0]

    def colours_at(self, points: NDArray[Any]) -> NDArray[np.float32]:
        """Lab of (..., 2) places, as ``sample``: the whole view is not made for a few."""
        if self.whole or points.size > _FEW * self.width_px * self.height_px:
            return sample(self.lab, points)
        seen = sample(self.levels[-1], points)
        lab = _lab(np.asarray(seen.reshape(1, -1, 3), np.uint8))
        return lab.reshape(seen.shape).astype(np.float32)

    def to_source(self, quad: Quads) -> Quads:
        """View pixels to source pixels."""
        return (quad + 0.5) * self.factor - 0.5

    def to_view(self, quad: Quads) -> Quads:
        """Source pixels to view pixels."""
        return (quad + 0.5) / self.factor - 0.5

    def shrunk(self, by: int) -> View:
        """A view of the same picture, smaller by a whole factor."""
        high, wide = self.height_px // by, self.width_px // by
        part = self.lab[: high * by, : wide * by]
        small = cv2.resize(part, (wide, high), interpolation=cv2.INTER_AREA)
        lab = np.asarray(small, np.uint8)
        return View(
            small=halved(lab),
            factor=self.factor * by,
            width_px=wide,
            height_px=high,
            frame_px=self.frame_px / by,
            whole=[lab],
        )

    def off_ground(self, quad: Quads, *others: Quads) -> float:
        """Share of a quad, but for others, that does not look like the ground; 1 where nothing is
        known."""
        if not self.ground:
            return 1.0
        key = b"".join(one.tobytes() for one in (quad, *others))
        if key not in self.off_grounds:
            self.off_grounds[key] = self._share(self.ground[0], [quad, *others])
        return self.off_grounds[key]

    def off_lid(self, quad: Quads, inner: Quads | None = None) -> float | None:
        """Share of a quad, but for an inner one, that is not like the lid; None without a lid."""
        quads = [quad] if inner is None else [quad, inner]
        return self._share(self.lid[0], quads) if self.lid else None

    def _share(self, known: Pixels, quads: Sequence[Quads]) -> float:
        """Of a quad, less all after it, that a map of the size of ``small`` says 1 of."""
        scale = np.array([known.shape[1] / self.width_px, known.shape[0] / self.height_px])
        corners = [np.round((quad + 0.5) * scale - 0.5).astype(np.int32) for quad in quads]
        low = np.clip(corners[0].min(axis=0), 0, known.shape[::-1])
        high = np.clip(corners[0].max(axis=0) + 1, low, known.shape[::-1])
        part = known[low[1] : high[1], low[0] : high[0]]
        if not part.size:
            return 0.0
        inside = np.zeros(part.shape, np.uint8)
        for k, one in enumerate(corners):
            cv2.fillConvexPoly(inside, one - low, 0 if k else 1)
        seen = cv2.countNonZero(cv2.bitwise_and(part, inside))
        return seen / max(1, cv2.countNonZero(inside))

    def outside(self, quads: Quads) -> NDArray[np.float64]:
        """(n,) shares of quads that lie outside the picture."""
        limits = np.array([self.width_px, self.height_px])
        shares = np.zeros(len(quads))
        picture = whole_picture(self.width_px, self.height_px)
        for k in np.flatnonzero(~np.all((quads > -1) & (quads < limits), axis=(1, 2))):
            inside = common_area(quads[k], picture)
            shares[k] = 1 - inside / max(abs(signed_area(quads[k])), 1e-9)
        return shares

    @property
    def colour_codes(self) -> Codes:
        """The colours of every other pixel of ``small``."""
        if not self.codes:
            self.codes.append(codes_of(self.small, every=_COARSE))
        return self.codes[0]

    def apart(self, quad: Quads, inner: Quads | None = None) -> float:
        """How differently a quad, but for an inner one, and what is around it are coloured."""
        return self.contrast(quad, inner).whole

    def contrast(self, quad: Quads, inner: Quads | None = None) -> Contrast:
        """The same, and of the two faces of each side."""
        if inner is not None:
            return contrast(self.colour_codes, self._on_codes(quad), self._on_codes(inner))
        key = quad.tobytes()
        if key not in self.contrasts:
            self.contrasts[key] = contrast(self.colour_codes, self._on_codes(quad))
        return self.contrasts[key]

    def roughly_apart(self, quads: Quads, without: Quads | None = None) -> NDArray[np.float64]:
        """(n,) the same of many quads, by some places of each that are not in one of them."""
        left_out = None if without is None else self._on_codes(without)
        return roughly_apart(self.colour_codes, self._on_codes(quads), left_out)

    def _on_codes(self, quads: Quads) -> Quads:
        scale = np.array(self.small.shape[1::-1]) / np.array([self.width_px, self.height_px])
        return np.asarray(((quads + 0.5) * scale - 0.5) / _COARSE, np.float64)

    def unexplained(self, quads: list[Quads]) -> float:
        """The largest thing outside the quads that does not look like the ground, as a share of
        the picture; thin things do not count."""
        if not self.ground:
            return 0.0
        rest = self.ground[0].copy()
        scale = np.array([rest.shape[1] / self.width_px, rest.shape[0] / self.height_px])
        for quad in quads:
            around = (grown(quad, 1.06) + 0.5) * scale - 0.5
            cv2.fillConvexPoly(rest, np.round(around).astype(np.int32), 0)
        small = cv2.resize(rest, None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA)
        wide = max(3, round(0.03 * max(small.shape)) | 1)
        small = cv2.morphologyEx(small, cv2.MORPH_OPEN, np.ones((wide, wide), np.uint8))
        _, _, stats, _ = cv2.connectedComponentsWithStats(small)
        return float(stats[1:, cv2.CC_STAT_AREA].max(initial=0)) / small.size


def make_view(pixels: Pixels, *, long_side_px: int = LONG_SIDE_PX) -> View:
    """The view of an RGB picture, smaller by a power of two (averaging pairs is several times
    quicker than other factors); the last pixels of the far edges may fall away."""
    levels = [pixels]
    while max(levels[-1].shape[:2]) > long_side_px and min(levels[-1].shape[:2]) > 1:
        levels.append(halved(levels[-1]))
    high, wide = levels[-1].shape[:2]
    return View(
        small=_lab(halved(levels[-1])),
        factor=2 ** (len(levels) - 1),
        width_px=wide,
        height_px=high,
        levels=tuple(levels),
    )


def _lab(pixels: Pixels) -> Pixels:
    return np.asarray(cv2.cvtColor(np.ascontiguousarray(pixels), cv2.COLOR_RGB2LAB), np.uint8)


def edge_strips(shape: tuple[int, ...], deep: int) -> tuple[tuple[slice, slice], ...]:
    """(rows, columns) of the strips along the edges of a picture: top, bottom, left, right."""
    every, first = slice(None), slice(deep)
    bottom, right = (slice(max(0, long - deep), None) for long in shape[:2])
    return (first, every), (bottom, every), (every, first), (every, right)


def rim_of(pixels: Pixels, deep: int = 3) -> Pixels:
    """(n, channels) pixels along the edges of a picture, those in its corners twice."""
    strips = [pixels[part] for part in edge_strips(pixels.shape, deep)]
    return np.concatenate([strip.reshape(-1, pixels.shape[2]) for strip in strips])


def halved(pixels: Pixels) -> Pixels:
    """Each four pixels as one, their mean; the last of an odd row or column falls away, but not
    the only one."""
    if min(pixels.shape[:2]) < 2:
        return pixels
    high, wide = pixels.shape[0] // 2, pixels.shape[1] // 2
    part = pixels[: 2 * high, : 2 * wide]
    return np.asarray(cv2.resize(part, (wide, high), interpolation=cv2.INTER_AREA), np.uint8)


def sample(pixels: Pixels, points: NDArray[Any]) -> NDArray[np.float32]:
    """Bilinear values of ``pixels`` at (..., 2) points; beyond the edge, the edge's value."""
    flat = points.reshape(len(points), -1, 2)  # each side below 32767
    values = cv2.remap(
        pixels,
        np.ascontiguousarray(flat[..., 0], np.float32),
        np.ascontiguousarray(flat[..., 1], np.float32),
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )
    return values.reshape(*points.shape[:-1], -1).astype(np.float32)


def well_inside(points: NDArray[Any], *, width_px: int, height_px: int) -> NDArray[np.bool_]:
    """(...) which of (..., 2) points lie in a picture, and not on its outermost pixels."""
    x, y = points[..., 0], points[..., 1]
    return np.asarray((x > 1) & (x < width_px - 2) & (y > 1) & (y < height_px - 2))


def along_sides(
    quads: Quads,
    *,
    samples: int,
    offsets: NDArray[np.float64],
    margin: float = 0.07,
    sides: Sequence[int] = range(4),
) -> NDArray[np.float32]:
    """Points beside the sides of quads: (n, 4, samples, offsets, 2), x and y each in one piece.

    ``offsets`` in pixels along the outward normal; ``margin`` of each end of a side is left out
    (rounded corners, dog ears); ``sides``: those alone.
    """
    start = quads[:, list(sides)].transpose(2, 0, 1)  # (2, n, 4), as all here
    side = following(quads)[:, list(sides)].transpose(2, 0, 1) - start
    outward = np.stack([side[1], -side[0]]) / np.maximum(np.hypot(*side), 1e-9)
    steps = np.linspace(margin, 1 - margin, samples)
    on_side = (start[..., None] + steps * side[..., None]).astype(np.float32)
    beside = (outward[..., None] * offsets).astype(np.float32)
    points: NDArray[np.float32] = on_side[..., None] + beside[..., None, :]
    return points.transpose(1, 2, 3, 4, 0)
