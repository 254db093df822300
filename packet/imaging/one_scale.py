"""Items of one table have one scale: which of those found may lie on it beside the best one?"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from packet.imaging.around import FITS, alike
from packet.imaging.expected import Expected
from packet.imaging.geometry import following, lengths, signed_area
from packet.imaging.score import Judged
from packet.imaging.view import View

_WHOLE_SIDE = 0.95  # of it in the picture
_AS_LONG_THERE = 0.2  # logarithm, of sides in one photo that is tilted


def one_scale(view: View, chosen: Sequence[Judged], expected: Expected) -> list[Judged]:
    """Without outlines whose scale cannot be that of the best one: all lie on one table. Two of
    one size there are cards, however much nearer the one is; of an odd paper no scale is known."""
    if expected.px_per_mm is not None or len(chosen) < 2:
        return list(chosen)
    largest = max(chosen, key=lambda one: (one.shape > 0.6, abs(signed_area(one.quad))))
    kept = []
    for one in chosen:
        same = has_scale_of(view, one, largest, expected)
        odd = not expected.scales(view.to_source(one.quad)) and not one.cut
        ends = one.cut or (one.shape < FITS and one.seen.min() < _WHOLE_SIDE)
        like = alike(view, largest, one, expected) or (ends and _same_base(largest, one))
        if one is largest or same or odd or like:
            kept.append(one)
    return kept


def has_scale_of(view: View, one: Judged, other: Judged, expected: Expected) -> bool:
    """Some wanted size that has its shape gives one about the other's scale."""
    own, scales = (expected.scales(view.to_source(each.quad)) for each in (one, other))
    return any(0.75 < a / b < 1.33 for a in own for b in scales)


def _same_base(largest: Judged, one: Judged) -> bool:
    """The whole side opposite to the one where an outline is cut off is as long as one of the best
    item's: how far it goes on was guessed from what is seen of it, and may be that item's size."""
    base = lengths(following(one.quad) - one.quad)[(int(np.argmin(one.seen)) + 2) % 4]
    sides = lengths(following(largest.quad) - largest.quad)[largest.seen > _WHOLE_SIDE]
    off = np.log(np.maximum(sides, 1e-9) / max(float(base), 1e-9))
    return bool((np.abs(off) < _AS_LONG_THERE).any())
