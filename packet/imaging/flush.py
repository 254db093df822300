"""Papers pushed to the edges of a scanner's glass: of their sides there nothing is seen, and what
lies along the picture's edges is not the lid alone.

The lid goes on beyond the glass, so the picture is looked at once more with some of it around. An
item that ends at the edge of the picture is whole where it has a wanted size, or shape, then.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from packet.imaging.around import FITS
from packet.imaging.border import sides_on_border
from packet.imaging.choose import CERTAIN
from packet.imaging.expected import Expected
from packet.imaging.find import Found, find_items, reading_order
from packet.imaging.geometry import Pixels, overlap, side_lengths, signed_area
from packet.imaging.limits import limit_for
from packet.imaging.square import askew_deg, is_square
from packet.imaging.view import LONG_SIDE_PX, View, edge_strips, make_view

_LEAST_PX, _MOST_PX = 200, 30_000  # of the view's shorter side; of the picture's longer one
_AROUND_PX = 24  # of the view, that are added on each side
_RIM_PX, _EVERY = 4, 3  # of the view; one pixel in so many along it
_MOST_LID, _MOST_SPREAD = 16.0, 7.0  # levels from the middle of a lid's colours; their median
_LEAST_OFF, _SPREADS = 8.0, 4.0  # levels, and times that median: what is no lid
_NEAR_PX = 41  # of an eighth of the picture, that the lid's own colour is taken from
_GRAIN_PX = 4  # of the picture, along its edges, that noise is measured on
_FEW = 1e-3  # share of lid nearby, below which the rim's common colour counts
_LEAST_LID = 0.5  # of the rim
_LEAST_OTHER = 0.08  # of the long side: a card's short side is 0.18 of A4's
_FILLS, _LARGE = 0.75, 0.2  # of the picture: an item beside which no other has room; of a photo
_TILTED_DEG = 1.5  # between the sides of an item: no scanner does that
_SLACK_PX = 3.0  # of the view: a side so near lies at the edge
_SAME_SIZE, _SCALE_OFF = 0.03, 0.002  # logarithm; a scanner's scale
_ODD = 0.6  # the most that a shape counts that no kind has
_SAME = 0.97  # Jaccard index of two outlines of one item
_ALMOST = 0.9  # the same, where a side of one was put onto the edge of the picture
_OVER = 0.12  # of the smaller of two items


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Lid:
    """A lid's RGB, and by how many levels it may differ from that."""

    colour: NDArray[np.float64]
    within: float

    def is_other(self, pixels: NDArray[Any]) -> NDArray[np.bool_]:
        """(...) of (..., 3) RGB: no lid."""
        return np.asarray(np.abs(pixels - self.colour).max(axis=-1) >= self.within)


def with_flush(
    pixels: Pixels, view: View, found: list[Found], expected: Expected, wanted: Expected
) -> list[Found]:
    """The items found, with those that lie at the edges of the glass; the same where there are
    none, no lid is plain, an item leaves no room for others, or a camera took the picture.
    Arguments as of ``find_items``."""
    odd = min(view.width_px, view.height_px) < _LEAST_PX or max(pixels.shape) > _MOST_PX
    lid = None if odd or expected.camera or _is_plain(found, expected) else _lid_along(view)
    if lid is None:
        return found
    far = _AROUND_PX * view.factor
    around = _with_lid(pixels, lid, far)
    larger = make_view(around, long_side_px=LONG_SIDE_PX + 2 * _AROUND_PX)
    larger = replace(larger, frame_px=far / larger.factor)
    again = find_items(around, larger, _grown(expected, far), _grown(wanted, far))
    slack_px = _SLACK_PX * view.factor
    again = [_plainer(replace(one, quad=one.quad - far), found) for one in again]
    again = [one for one in again if _sides_at_edge(one, expected, slack_px) < 3]
    flush = [one for one in again if _at_edge(one, expected, slack_px)]
    whole = [one for one in flush if _is_whole(one, found, wanted) or _is_cut_off(one, found)]
    if not whole:
        return found
    sure = [*whole, *(one for one in again if not any(one is other for other in flush))]
    rest = [one for one in found if not _is_on(one, sure)]
    return reading_order([*sure, *rest])


def _is_plain(found: Sequence[Found], expected: Expected) -> bool:
    """An item leaves no room for another, or in what is likely a photo is large and certain, or
    certain and seen tilted, which no scanner does."""
    shares = [abs(signed_area(one.quad)) / expected.width_px / expected.height_px for one in found]
    return any(
        share > _FILLS
        or (
            expected.perspective
            and one.score >= CERTAIN
            and not one.cut
            and (share > _LARGE or float(np.ptp(askew_deg(one.quad))) > _TILTED_DEG)
        )
        for one, share in zip(found, shares, strict=True)
    )


def _lid_along(view: View) -> _Lid | None:
    """The lid that most of the picture's rim shows, and something else a part of it; else None."""
    rgb = view.levels[-1]
    some = slice(None, None, _EVERY)
    top, bottom, left, right = (rgb[part] for part in edge_strips(rgb.shape, _RIM_PX))
    strips = (top[:, some], bottom[:, some], left[some], right[some])
    rim = np.concatenate([strip.reshape(-1, 3) for strip in strips]).astype(np.float64)
    middle = np.median(rim, axis=0)
    away = np.abs(rim - middle).max(axis=1)
    like = away < _MOST_LID
    spread = float(np.median(away[like])) if like.any() else np.inf
    if like.mean() < _LEAST_LID or spread > _MOST_SPREAD:
        return None
    lid = _Lid(colour=middle, within=min(_MOST_LID, max(_LEAST_OFF, _SPREADS * spread)))
    least = np.ones((round(_LEAST_OTHER * max(rgb.shape) / _EVERY), 1), np.uint8)
    for strip, deep in zip(strips, (0, 0, 1, 1), strict=True):
        other = np.asarray(lid.is_other(strip).any(axis=deep), np.uint8)
        run = cv2.erode(other[:, None], least, borderType=cv2.BORDER_CONSTANT, borderValue=0.0)
        if np.any(run):
            return lid
    return None


def _with_lid(pixels: Pixels, lid: _Lid, far: int) -> Pixels:
    """The picture with so many pixels of lid on each side, to find items on and for nothing else:
    as the lid is there, and where something else is, of the colour that it has nearby and as noisy.
    """
    around = cv2.copyMakeBorder(pixels, far, far, far, far, cv2.BORDER_REFLECT)
    small = cv2.resize(around, None, fx=1 / 8, fy=1 / 8, interpolation=cv2.INTER_AREA)
    other = lid.is_other(small).astype(np.float32)
    like = 1 - other
    size = (_NEAR_PX, _NEAR_PX)
    near = cv2.blur(small * like[..., None], size) + _FEW * lid.colour.astype(np.float32)
    near = np.asarray(near / (cv2.blur(like, size)[..., None] + _FEW), np.float32)
    wide = np.asarray(cv2.dilate(other, np.ones((far // 4 | 1,) * 2, np.uint8)), np.float32)
    rng = np.random.default_rng(0)
    spread = _noise(pixels, lid)
    for part in edge_strips(around.shape, far):
        made_up, colour = (_enlarged(one, around.shape, part) for one in (wide, near))
        grain = rng.normal(0.0, spread, (*made_up.shape, 1))
        made = np.clip(np.round(colour + grain), 0, 255).astype(np.uint8)
        around[part] = np.where(made_up[..., None] > 0, made, around[part])
    return np.asarray(around, np.uint8)


def _enlarged(
    small: NDArray[np.float32], shape: tuple[int, ...], part: tuple[slice, slice]
) -> NDArray[np.float32]:
    """A part (rows, columns) of a small picture enlarged to (h, w, ...): of a large one the whole
    would not fit into a worker's memory."""
    (top, bottom, _), (left, right, _) = (
        one.indices(long) for one, long in zip(part, shape, strict=False)
    )
    down, across = small.shape[0] / shape[0], small.shape[1] / shape[1]
    places = np.array(
        [[across, 0, (left + 0.5) * across - 0.5], [0, down, (top + 0.5) * down - 0.5]]
    )
    return np.asarray(
        cv2.warpAffine(
            small, places, (right - left, bottom - top),
            flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP, borderMode=cv2.BORDER_REPLICATE,
        ),
        np.float32,
    )  # fmt: skip


def _noise(pixels: Pixels, lid: _Lid) -> float:
    """Levels, from neighbours along the edges that are lid both."""
    told = []
    for part in edge_strips(pixels.shape, _GRAIN_PX):
        strip = pixels[part].astype(np.float64)
        like = ~lid.is_other(strip)
        told.append(np.abs(np.diff(strip[..., 1], axis=1))[like[:, 1:] & like[:, :-1]])
    steps = np.concatenate(told)
    return 1.05 * float(np.median(steps)) if len(steps) else 0.0  # of a normal distribution


def _grown(expected: Expected, far: int) -> Expected:
    return replace(
        expected, width_px=expected.width_px + 2 * far, height_px=expected.height_px + 2 * far
    )


def _plainer(one: Found, found: Sequence[Found]) -> Found:
    """The same item as it was found without more of the lid, where it is whole: a thin wedge of lid
    beside it shows its own edge."""
    for other in found:
        if not other.cut and other.shape > FITS and overlap(one.quad, other.quad)[0] > _ALMOST:
            return other
    return one


def _at_edge(one: Found, expected: Expected, slack_px: float) -> bool:
    """A corner of it lies at an edge of the picture."""
    far = np.array([expected.width_px, expected.height_px]) - 1 - slack_px
    return bool(((one.quad < slack_px) | (one.quad > far)).any())


def _sides_at_edge(one: Found, expected: Expected, slack_px: float) -> int:
    """How many do: of the picture itself all."""
    wide, high = expected.width_px, expected.height_px
    sides = sides_on_border(one.quad[None], width_px=wide, height_px=high, slack_px=slack_px)
    return int(sides.sum())


def _is_whole(one: Found, found: Sequence[Found], wanted: Expected) -> bool:
    """Nothing is missing of a wanted size, by a trusted scale; where that gives none, for tags lie,
    of a wanted shape; of one that several papers have, unless it may as well be another one of
    which a part is cut off."""
    if one.cut:
        return False
    slack_mm = limit_for("cut-off").limit
    size_mm = wanted.size_of(one.quad, within=_SAME_SIZE)
    if size_mm is not None:
        measured = np.array(wanted.measured_mm(one.quad))
        return bool((measured > np.array(size_mm) * (1 - _SCALE_OFF) - slack_mm).all())
    if wanted.perspective and not is_square(one.quad):
        return False
    if not wanted.is_card(one.quad) and any(_is_rival(other, one) for other in found):
        return False
    if wanted.perspective:  # as good as square on
        wide, high = side_lengths(one.quad)
        aspect = wide / max(high, 1e-9)
    else:
        aspect, _ = wanted.aspect_of(one.quad)
    return any(abs(np.log(aspect * h / w)) < slack_mm / min(w, h) for w, h in wanted.sizes_mm)


def _is_cut_off(one: Found, found: Sequence[Found]) -> bool:
    """Of a wanted shape beyond the edge, where what was found ends there and has none, if any."""
    seen = [other for other in found if _is_on(other, [one])]
    odd = all(other.shape < _ODD and not other.cut for other in seen)
    return one.cut and one.shape > FITS and odd


def _is_rival(other: Found, one: Found) -> bool:
    """Another whole of which a part is cut off, and one lies on it."""
    jaccard, part = overlap(other.quad, one.quad)
    return other.cut and other.shape > FITS and part > _OVER and jaccard < _SAME


def _is_on(one: Found, others: Sequence[Found]) -> bool:
    return any(overlap(one.quad, other.quad)[1] > _OVER for other in others)
