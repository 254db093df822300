"""The exact outline of an item that is found: its sides on the source, out of shadows, square on a
scan, and where an item that is cut off goes on.

A scanner's picture whose resolution is not told is taken for a photo; but what stands as square as
paper does on a glass is no photo, unless its own tags say that a camera took it.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from packet.imaging.border import seen_part, square_ended
from packet.imaging.cut import whole_by_look
from packet.imaging.expected import Expected
from packet.imaging.geometry import Pixels, Quads, following, lengths, side_lengths
from packet.imaging.lens import focal_by_print
from packet.imaging.limits import limit_for
from packet.imaging.refine import refine
from packet.imaging.score import Judged
from packet.imaging.shadows import out_of_shadow
from packet.imaging.sized import sized
from packet.imaging.soft_sides import in_ramps
from packet.imaging.square import squared, stands_square
from packet.imaging.view import View

_SHADOW_MM = 1.9  # that a lid's shadow reaches beyond a card
_LONG_SHADOW_MM = 4.2  # beyond a passport
_NEARLY_SIZED = 0.04  # logarithm: a side of a card may be taken for its shadow's end
_SAME_SCALE = 0.005  # across and down, that a turned rectangle stays one
_NEARLY_SQUARE = 0.025  # cosine, and logarithm of opposite sides: as on a scan, but for shadows
_ONE_ASKEW = 0.05  # the same, where three sides have one direction
_RECTANGLE = 0.015  # the same, when its sides have been turned
_SQUARE = 0.0044  # cosine of a quarter degree


def exact_outline(
    pixels: Pixels, view: View, one: Judged, expected: Expected, *, settled: bool
) -> tuple[Quads, bool]:
    """(the whole item in source pixels, does a part of it lie outside the picture).

    ``settled``: its sides lie well already, but for a fraction of a pixel.
    """
    quad = refine(
        pixels, view, one.quad, bent=expected.perspective, settled=settled and not one.cut
    )
    if expected.perspective:
        quad = in_ramps(pixels, quad)
    rough = view.to_source(one.quad)
    if view.lid and _is_off_paper(quad, rough, expected):
        quad = rough
    scale = expected.px_per_mm_of(quad)
    few = expected.perspective and settled and not one.cut
    reach_px = _LONG_SHADOW_MM * scale
    quad = _out_of_shadow(pixels, quad, expected, reach_px=reach_px, dark=True, few=few)
    side = int(np.argmin(one.seen))
    even = square_ended(quad, side) if one.cut else quad
    scan = not expected.perspective or _is_rectangle(even, _NEARLY_SQUARE)
    one_askew = not scan and stands_square(even) and _is_rectangle(even, _ONE_ASKEW)
    if not expected.camera and (scan or one_askew):
        quad = _out_of_shadow(pixels, even, expected, reach_px=_SHADOW_MM * scale)
        quad = _out_of_shadow(pixels, quad, expected, reach_px=_SHADOW_MM * scale, dark=True)
        quad = squared(pixels, quad, scan=scan)
        if not one.cut and (not expected.perspective or _is_rectangle(quad, _RECTANGLE)):
            quad = _as_wanted(pixels, quad, expected)
    if not one.cut:
        return quad, False
    if _is_rectangle(quad, _SQUARE):
        expected = replace(expected, perspective=False)
    levels = view.levels or (pixels,)
    size_px = (expected.width_px, expected.height_px)
    if expected.px_per_mm is None:
        quad = seen_part(quad, side, size_px)
    if expected.perspective:
        focal = focal_by_print(levels, quad, side, size_px=size_px)
        expected = expected if focal is None else replace(expected, focal=focal)
    known = not expected.perspective and expected.px_per_mm is not None
    whole = None if known else whole_by_look(view, levels, quad, side, expected)
    quad = expected.completed(quad, side) if whole is None else whole
    return quad, not expected.is_whole(quad, slack_mm=limit_for("cut-off").limit)


def _out_of_shadow(
    pixels: Pixels,
    quad: Quads,
    expected: Expected,
    *,
    reach_px: float,
    dark: bool = False,
    few: bool = False,
) -> Quads:
    """As ``out_of_shadow``; but a quad that has a wanted size by a trusted scale, and would have
    none, stays: what seemed a shadow is the white beside a stripe."""
    moved = out_of_shadow(pixels, quad, reach_px=reach_px, dark=dark, few=few)
    size_mm, still = (expected.size_of(one, within=_NEARLY_SIZED) for one in (quad, moved))
    return quad if size_mm is not None and still is None else moved


def _as_wanted(pixels: Pixels, quad: Quads, expected: Expected) -> Quads:
    """The quad with its sides where the wanted size has them that it nearly has, on a scan; where
    no scale is known, or it lies, the wanted shape."""
    across, down = expected.px_per_mm or (1.0, 1.0)
    if abs(across - down) > _SAME_SCALE * down:
        return quad
    size_mm = expected.size_of(quad, within=_NEARLY_SIZED)
    if size_mm is not None:
        return sized(pixels, quad, size_mm, px_per_mm=(across + down) / 2, trusted=True)
    wide, high = side_lengths(quad)
    off = [abs(np.log(wide * h / (high * w))) for w, h in expected.sizes_mm]
    if not off or min(off) > _NEARLY_SIZED:
        return quad
    w, h = expected.sizes_mm[int(np.argmin(off))]
    return sized(pixels, quad, (w, h), px_per_mm=(wide * high / w / h) ** 0.5, trusted=False)


def _is_off_paper(quad: Quads, rough: Quads, expected: Expected) -> bool:
    """A side that is hardly seen was put onto a line printed beside it: the rough quad was a
    rectangle, or by a trusted scale of a wanted size, and this one is not."""
    was, now = (_is_rectangle(one, _NEARLY_SQUARE) for one in (rough, quad))
    size_mm, still = (expected.size_of(one, within=_NEARLY_SIZED) for one in (rough, quad))
    return (was and not now) or (size_mm is not None and still is None)


def _is_rectangle(quad: Quads, within: float) -> bool:
    """Opposite sides are as long, and corners as square, as ``within``: a photo is hardly ever."""
    side = following(quad) - quad
    length = lengths(side)
    after, other = following(side), np.roll(length, -1)
    cosine = (side * after).sum(axis=1) / np.maximum(length * other, 1e-9)
    return bool(
        np.abs(np.log(np.maximum(length[:2], 1e-9) / length[2:])).max() < within
        and np.abs(cosine).max() < within
    )
