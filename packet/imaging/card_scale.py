"""A scan whose resolution is not told, or told wrong: a card on it tells the scale of the others.

No other paper has the shape of ID-1 (ISO/IEC 7810), so that one plain card gives the pixels of a
millimetre, and with it the sizes that all else on the glass may have.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from packet.imaging.expected import Expected
from packet.imaging.find import Found, find_items
from packet.imaging.geometry import Pixels, overlap, side_lengths, signed_area
from packet.imaging.square import is_square
from packet.imaging.view import View
from packet.rules.sizes import card_size_mm

_LONG_MM, _SHORT_MM = card_size_mm("id-1")
_LEAST_SCORE = 0.8
_AS_SHAPED = 0.012  # logarithm, of width to height
_TOLD = 0.03  # logarithm: a scale that is off by less is no lie
_ONE_SCALE = 0.02  # logarithm, of several cards
_SAME = 0.95  # Jaccard index of one item found twice
_MOST_SHARE = 0.4  # of the picture: beside a card that takes more there is hardly another


def with_scale_of_card(
    pixels: Pixels, view: View, found: list[Found], expected: Expected, wanted: Expected
) -> list[Found]:
    """The items found again by the scale that a card among them tells; the same where none does,
    its scale is known already, or it is not found again. Arguments as of ``find_items``."""
    cards = [] if expected.camera else [one for one in found if _is_plain_card(one, expected)]
    scales = [_px_per_mm(one) for one in cards]
    if not cards or np.ptp(np.log(scales)) > _ONE_SCALE:
        return found
    scale = float(np.median(scales))
    known = expected.px_per_mm
    if known is not None and np.abs(np.log(np.array(known) / scale)).max() < _TOLD:
        return found
    by_scale, wanted_by_scale = (
        replace(one, px_per_mm=(scale, scale), perspective=False) for one in (expected, wanted)
    )
    again = find_items(pixels, view, by_scale, wanted_by_scale)
    seen = all(any(overlap(one.quad, other.quad)[0] > _SAME for other in again) for one in cards)
    return again if seen and len(again) >= len(found) else found


def _is_plain_card(one: Found, expected: Expected) -> bool:
    wide, high = side_lengths(one.quad)
    off = abs(abs(np.log(wide / max(high, 1e-6))) - np.log(_LONG_MM / _SHORT_MM))
    share = abs(signed_area(one.quad)) / (expected.width_px * expected.height_px)
    plain = not one.cut and one.score > _LEAST_SCORE and share < _MOST_SHARE
    return bool(plain and off < _AS_SHAPED and is_square(one.quad))


def _px_per_mm(card: Found) -> float:
    wide, high = side_lengths(card.quad)
    return float(np.sqrt(wide * high / (_LONG_MM * _SHORT_MM)))
