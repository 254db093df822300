"""What shapes a picture may show: their fit, their scale, and where a side outside it would lie."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from packet.imaging.border import prolonged, sides_on_border
from packet.imaging.geometry import (
    FOCAL,
    Quads,
    following,
    lengths,
    plane_shape,
    plane_shapes,
    rectangle,
    side_lengths,
    sides_of,
    sides_on,
    signed_area,
    top_angle_deg,
)
from packet.model import SizeMm

_LEAST_PX_PER_MM = 60 / 25.4
_LEAST_SEEN_PX_PER_MM = 36 / 25.4  # a page in half of a photo that was made small to be sent
_LEAST_MM, _LEAST_HIGH_MM = 40.0, 18.0  # of a paper; barcodes and stripes are narrower
EXACT = 0.01  # logarithm: a trusted scale is no more exact
_WITH_SHADOW = 2 * EXACT  # of a card that is not yet put onto its own edges
_SHADOW_MM, _WITH_SHADOW_FITS = 1.2, 0.93  # of a lid, beside an item; how well it fits with that
_AS_LONG, _MOST_LESS = 0.03, 0.45  # logarithms, of a paper without what lies beyond a stripe
MOST_LIE = 0.45  # logarithm: a tag of 300 dpi on a scan of 200
MOST_CARD_LIE = 1.1  # the same, of 100 on 300: where a card is told, nothing else has its shape
_AS_LARGE = 0.3  # logarithm of the area, of two cards
_CARD_SHAPE = float(np.log(85.60 / 53.98))  # logarithm; ISO/IEC 7810, ID-1
_LEAST_WHOLE = 0.97  # of the area that is seen of a cut item
_FOCALS = (0.72, FOCAL, 0.98)  # of the long side: phones' main cameras
_ZOOMED, _LESS_USUAL = 1.4, 0.9  # a second lens, or the picture's middle alone; its shapes count
_MOST_TAPER = float(np.log(3.0))  # of opposite sides, seen by a phone that is not put on its edge
_OFTEN_SEEN, _NEVER_SEEN = np.cos(np.radians([45.0, 60.0]))  # tilts of a phone over a table
ODD_SHAPE = 0.5  # what a shape counts that no kind has, where any may be there


@dataclass(frozen=True, slots=True, kw_only=True)
class Expected:
    """What shapes to look for. ``sizes_mm``: of the kinds that may be there, either way round.

    ``px_per_mm``: (x, y) of the source where its dpi is trusted. ``any_shape``: sizes unknown to
    the catalogue may be there too. ``perspective``: a photo, so shapes are seen tilted.
    ``openings``: two pages side by side are one item, a passport's opening. ``camera``: by its own
    tags a camera took it, so that it is no scan however square its items look. ``focal``: of its
    lens, in long sides, by which cut items go on. ``company``: the other of the only two items of a
    photo, by whose plane one that is as large is measured, too.
    """

    sizes_mm: tuple[tuple[float, float], ...]
    px_per_mm: tuple[float, float] | None
    any_shape: bool
    perspective: bool
    openings: bool
    width_px: int
    height_px: int
    camera: bool = False
    focal: float = FOCAL
    company: Quads | None = field(default=None, compare=False)

    def shape_fits(self, quads: Quads) -> NDArray[np.float64]:
        """(n,): 1 for an expected shape (and size, where dpi is trusted), towards 0 for others."""
        if self.perspective:
            *usual, zoomed = self._shape_fits(quads, (*_FOCALS, _ZOOMED))
            best = np.max(usual, axis=0)
            # what the edge of the picture cuts would be many a shape
            rarer = np.where(self.cut_sides(quads) < 0, _LESS_USUAL * zoomed, 0.0)
            best = np.maximum(best, rarer)
        else:
            best = self._shape_fits(quads, (FOCAL,))[0]
        sides = np.maximum(lengths(following(quads) - quads), 1e-6)
        taper = np.abs(np.log(sides[:, :2] / sides[:, 2:]))
        likely = self._large_enough(quads) & (taper.max(axis=1) < _MOST_TAPER)
        return np.where(likely, best, 0.0)

    def _shape_fits(self, quads: Quads, focals: Sequence[float]) -> NDArray[np.float64]:
        """(focals, n): the same by each focal length, for quads of any size."""
        aspect, cosine, tilt = self._aspects(quads, focals)
        log_aspect = np.log(np.maximum(aspect, 1e-6))
        if self.px_per_mm is None:
            fit = _fits(self._shape_misses(log_aspect), 0.04)
        else:
            fit = self._size_fits(quads, log_aspect)
        if self.any_shape:
            fit = np.maximum(fit, np.where(np.abs(log_aspect) < 1.61, ODD_SHAPE, 0.0))
        slope, most = (1.5, 0.35) if self.perspective else (6.0, 0.1)
        corner = np.where(np.abs(cosine) > most, 0.0, 1 - slope * np.abs(cosine))
        seen = np.clip((tilt - _NEVER_SEEN) / (_OFTEN_SEEN - _NEVER_SEEN), 0.0, 1.0)
        return np.asarray(fit * np.maximum(corner, 0.0) * seen)

    def _shape_misses(self, log_aspect: NDArray[np.float64]) -> NDArray[np.float64]:
        if not self.sizes_mm:
            return np.full(log_aspect.shape, 9.0)
        wanted = np.log([w / h for w, h in self.sizes_mm])
        return np.asarray(np.abs(log_aspect[..., None] - wanted).min(axis=-1), np.float64)

    def _size_fits(self, quads: Quads, log_aspect: NDArray[np.float64]) -> NDArray[np.float64]:
        """By trusted dpi; a lid's shadow may be taken in, and a scanner's tag may still lie, so
        that a right shape alone counts too."""
        best = np.zeros(len(quads))
        sides_mm = np.maximum(sides_of(self._square(quads)), 1e-6)
        for size_mm in self.sizes_mm:
            w, h = size_mm
            shadow_mm = np.clip(sides_mm - size_mm, 0.0, _SHADOW_MM)
            off = np.abs(np.log([sides_mm, sides_mm - shadow_mm]) - np.log(size_mm))
            miss, in_shadow = off.max(axis=2)
            shape = np.abs(log_aspect - np.log(w / h))
            card = not self.any_shape and abs(abs(np.log(w / h)) - _CARD_SHAPE) < EXACT
            most = MOST_CARD_LIE if card else MOST_LIE
            lie = np.where(miss < most, 0.75 * _fits(shape, 0.025), 0.0)
            known = np.maximum(_fits(miss, 0.03), _WITH_SHADOW_FITS * _fits(in_shadow, 0.03))
            best = np.maximum(best, np.maximum(known, lie))
        return best

    def cut_sides(self, quads: Quads) -> NDArray[np.int64]:
        """(n,) the one side that lies on the edge of the picture; -1 when none or several do."""
        slack = 0.004 * max(self.width_px, self.height_px)
        on_border = sides_on_border(
            quads, width_px=self.width_px, height_px=self.height_px, slack_px=slack
        )
        return np.where(on_border.sum(axis=1) == 1, np.argmax(on_border, axis=1), -1)

    def wholes_of(self, quad: Quads, side: int) -> list[Quads]:
        """Quads (source pixels) of the whole item of which ``side`` cannot be seen."""
        across = side % 2 == 1
        shapes = [(h, w) if across else (w, h) for w, h in self.sizes_mm]  # base, depth
        if self.perspective or self.px_per_mm is None:
            size = (self.width_px, self.height_px) if self.perspective else None
            depths = [d / b for b, d in shapes]
            return prolonged(quad, side, depths=depths, size_px=size, focal=self.focal)
        base = (side + 2) % 4
        square = self._square(quad)
        seen = float(np.linalg.norm(square[(base + 1) % 4] - square[base]))
        depths = [d / b for b, d in shapes if abs(np.log(seen / b)) < 0.03]
        depths = depths or [d / b for b, d in shapes if abs(np.log(seen / b)) < MOST_LIE]
        made = prolonged(square, side, depths=depths, size_px=None)
        return [one * np.array(self.px_per_mm) for one in made]

    def completed(self, quad: Quads, side: int) -> Quads:
        """The quad with its unseen side where the nearest wanted shape has it, none within what
        is seen."""
        wholes = self.wholes_of(quad, side)
        least = _LEAST_WHOLE * abs(signed_area(quad))
        wholes = [one for one in wholes if abs(signed_area(one)) > least] or wholes
        return min(wholes, key=lambda one: float(np.abs(one - quad).max()), default=quad)

    def short_of(self, quads: Quads) -> NDArray[np.int64]:
        """(n,) by a trusted scale: 0 for quads as wide as a wanted size, but less high by a part,
        1 for those as high, but less wide; -1 for others."""
        sides = np.log(np.maximum(sides_of(self._square(quads)), 1e-6))
        short = np.full(len(quads), -1)
        for size in self.sizes_mm:
            off = sides - np.log(size)
            as_long = np.abs(off) < _AS_LONG
            less = (off < -_AS_LONG) & (off > -_MOST_LESS)
            for axis in (0, 1):
                short[as_long[:, axis] & less[:, 1 - axis]] = axis
        return short

    def is_whole(self, quad: Quads, *, slack_mm: float) -> bool:
        """True where a trusted scale gives it a wanted size, as exactly as a scanner tells it,
        and no corner lies further outside the picture than that."""
        if self.perspective or self.px_per_mm is None:
            return False
        slack_px = slack_mm * np.array(self.px_per_mm)
        edge = np.array([self.width_px, self.height_px]) - 0.5
        within = bool(np.all((quad > -0.5 - slack_px) & (quad < edge + slack_px)))
        return within and self.is_size(quad, within=EXACT)

    def is_size(self, quad: Quads, *, within: float) -> bool:
        """True where a trusted scale gives both sides a wanted size, to a logarithm."""
        return self.size_of(quad, within=within) is not None

    def size_of(self, quad: Quads, *, within: float) -> SizeMm | None:
        """The wanted size (mm, as the quad lies) that is nearest to both sides by a trusted scale;
        None where they are off by more than a logarithm."""
        if self.px_per_mm is None or not self.sizes_mm:
            return None
        measured = np.log(self.measured_mm(quad))
        off = np.abs(measured - np.log(self.sizes_mm)).max(axis=1)
        nearest = int(np.argmin(off))
        return self.sizes_mm[nearest] if off[nearest] < within else None

    def rectangle(self, quad: Quads, size_mm: SizeMm) -> Quads:
        """One of a size, by a trusted scale, about the middle of a quad, as its top and bottom
        stand."""
        assert self.px_per_mm is not None
        square = self._square(quad)
        made = rectangle(square.mean(axis=0), size_mm, np.radians(top_angle_deg(square)))
        return np.asarray(made * np.array(self.px_per_mm))

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

    def px_per_mm_of(self, quad: Quads) -> float:
        """About how many pixels a millimetre is on an item, at the smallest size of its shape."""
        if self.px_per_mm is not None:
            return min(self.px_per_mm)
        return max(self.scales(quad), default=min(side_lengths(quad)) / 100)

    def aspect_of(self, quad: Quads) -> tuple[float, float]:
        """(width / height, cosine of the corner angle) of the flat item."""
        if self.perspective:
            aspect, cosine = self._seen_aspect(quad)
            return aspect if self.company is None else self._in_best_plane(quad), cosine
        square = self._square(quad)
        wide, high = side_lengths(square)
        u, v = square[1] - square[0], square[3] - square[0]
        size = np.linalg.norm(u) * np.linalg.norm(v)
        return wide / max(high, 1e-9), float(u @ v / max(size, 1e-9))

    def _seen_aspect(self, quad: Quads) -> tuple[float, float]:
        return plane_shape(quad, width_px=self.width_px, height_px=self.height_px)

    def _in_best_plane(self, quad: Quads) -> float:
        """Width / height in the plane of whichever of the two cards gives both a wanted shape best:
        corners that are off, or bent by the lens, spoil one plane more than the other."""
        assert self.company is not None
        (own, _), (other, _) = (self._seen_aspect(one) for one in (quad, self.company))
        wide, high = sides_on(self.company, quad, aspect=max(other, 1e-6))
        across, down = sides_on(quad, self.company, aspect=max(own, 1e-6))
        if min(wide, high, across, down) <= 0:
            return own
        if abs(np.log(wide * high / max(other, 1e-6))) > _AS_LARGE:
            return own
        planes = np.log(np.maximum([[own, across / down], [wide / high, other]], 1e-6))
        best = int(np.argmin(self._shape_misses(planes).sum(axis=1)))
        return float(np.exp(planes[best, 0]))

    def beside(self, other: Quads) -> Expected:
        """The same of one of the only two items of a photo."""
        return replace(self, company=other)

    def is_card(self, quad: Quads) -> bool:
        """True for the shape of ID-1, either way round."""
        aspect, _ = self.aspect_of(quad)
        return abs(abs(float(np.log(max(aspect, 1e-6)))) - _CARD_SHAPE) < 0.05

    def fits_on(self, outer: Quads, inner: Quads) -> bool:
        """True where an inner quad of an outer one's plane may be an item too (a card that lies
        on a sheet): both have wanted sizes at one scale; at a trusted one, where it gives the outer
        one its size, the inner one as exactly."""
        if self.is_size(outer, within=_WITH_SHADOW):
            return self.is_size(inner, within=_WITH_SHADOW)
        aspect, _ = self.aspect_of(outer)
        wide, high = sides_on(outer, inner, aspect=max(aspect, 1e-6))
        return any(
            abs(np.log(max(aspect, 1e-6) * h / w)) < 0.06
            and abs(np.log(max(wide, 1e-6) * h / a)) < 0.06
            and abs(np.log(max(high, 1e-6) * h / b)) < 0.06
            for w, h in self.sizes_mm
            for a, b in self.sizes_mm
        )

    def measured_mm(self, quad: Quads) -> tuple[float, float]:
        """(width, height) by the trusted dpi, which must be there."""
        assert self.px_per_mm is not None
        return side_lengths(quad / np.array(self.px_per_mm))

    def _aspects(self, quads: Quads, focals: Sequence[float]) -> tuple[NDArray[np.float64], ...]:
        """(focals, n) each: width / height, cosine of the corner angle, cosine of the tilt; on a
        scan (1, n)."""
        if self.perspective:
            return plane_shapes(
                quads, width_px=self.width_px, height_px=self.height_px, focals=focals
            )
        square = self._square(quads)
        sides = sides_of(square)
        u, v = square[:, 1] - square[:, 0], square[:, 3] - square[:, 0]
        size = np.linalg.norm(u, axis=1) * np.linalg.norm(v, axis=1)
        return (
            (sides[:, 0] / np.maximum(sides[:, 1], 1e-9))[None],
            (np.einsum("nk,nk->n", u, v) / np.maximum(size, 1e-9))[None],
            np.ones((1, len(quads))),
        )

    def _large_enough(self, quads: Quads) -> NDArray[np.bool_]:
        """An item seen with fewer than 36 pixels per inch, or a tiny part of a scan, is none."""
        if self.px_per_mm is not None:
            sides_mm = sides_of(self._square(quads))
            large = sides_mm.max(axis=1) > _LEAST_MM
            return np.asarray(large & (sides_mm.min(axis=1) > _LEAST_HIGH_MM))
        sides = sides_of(quads)
        large = sides.max(axis=1) >= 0.12 * max(self.width_px, self.height_px)
        if self.any_shape or not self.sizes_mm:
            return np.asarray(large)
        least = min(w * h for w, h in self.sizes_mm) * _LEAST_SEEN_PX_PER_MM**2
        return np.asarray(large & (sides.prod(axis=1) > least))

    def _square(self, quads: Quads) -> Quads:
        return quads if self.px_per_mm is None else quads / np.array(self.px_per_mm)


def _fits(miss: NDArray[np.float64], tolerance: float) -> NDArray[np.float64]:
    """1 within half a tolerance, then falling like a bell."""
    return np.where(miss > tolerance / 2, np.exp(-((miss / tolerance) ** 2)), 1.0)
