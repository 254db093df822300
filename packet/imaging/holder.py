"""A card in its holder: the card is the item, though the holder's sides are as plain."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from packet.imaging.around import FITS
from packet.imaging.expected import Expected
from packet.imaging.geometry import Quads, overlap, projected, unit_homographies
from packet.imaging.score import Judged
from packet.imaging.view import View
from packet.rules.sizes import card_size_mm

# Wallets and stiff holders reach this far beyond a card (common practice, no source). So even a
# rim about this very shape leaves no outline of another paper of the catalogue.
_LEAST_RIM_MM, _MOST_RIM_MM = 1.5, 9.0
_SAME_MM = 1.0
_EVEN = 2.2  # the widest rim to the narrowest: a finger may lie on it
_LEAST_SHARE = 0.55  # of the holder
_LEAST_WORST = 0.6  # share with an edge, of the card's weakest side
_PLAINER = 0.1  # the sides of a larger card, than of a part of it
_MORE_APART = 0.1  # in colours
_ABOUT_AS_GOOD = 0.12


def card_in_holder(
    view: View, holder: Judged, good: Sequence[Judged], expected: Expected
) -> Judged:
    """The card that a quad is the holder of, else the quad itself."""
    if holder.cut or expected.is_card(view.to_source(holder.quad)):
        return holder
    cards = [
        one
        for one in good
        if not one.cut
        and one.worst > _LEAST_WORST
        and one.score > holder.score - _ABOUT_AS_GOOD
        and not _is_larger_paper(view, holder, one)
        and overlap(one.quad, holder.quad)[0] > _LEAST_SHARE
        and expected.is_card(view.to_source(one.quad))
        and _is_even(rims_mm(one.quad, holder.quad))
    ]
    return max(cards, key=lambda one: one.score, default=holder)


def _is_larger_paper(view: View, holder: Judged, card: Judged) -> bool:
    """Of a wanted shape itself, and plainer than what is only its middle, or a frame printed on it:
    by its sides, or by what lies around."""
    if holder.shape < FITS:
        return False
    if holder.worst > card.worst + _PLAINER:
        return True
    better = holder.score > card.score
    return better and view.apart(holder.quad) > view.apart(card.quad) + _MORE_APART


def rims_mm(card: Quads, holder: Quads) -> NDArray[np.float64]:
    """(4,) how far each side of a holder lies outside a card of ID-1, in the card's plane."""
    long, short = card_size_mm("id-1")
    lying = np.linalg.norm(card[1] - card[0]) > np.linalg.norm(card[2] - card[1])
    size = np.array([long, short] if lying else [short, long])
    flat = projected(holder, np.linalg.inv(unit_homographies(card[None])[0])) * size
    top, right = flat[[0, 1], 1].mean(), flat[[1, 2], 0].mean()
    bottom, left = flat[[2, 3], 1].mean(), flat[[3, 0], 0].mean()
    return np.array([-top, right - size[0], bottom - size[1], -left])


def _is_even(rims: NDArray[np.float64]) -> bool:
    """A rim about as wide along both ways, and none, or the same, on the other sides, where a
    quad may have the card's own; not for NaN."""
    wide = rims > _LEAST_RIM_MM
    return bool(
        (wide[0] or wide[2])
        and (wide[1] or wide[3])
        and rims.min() > -_SAME_MM
        and rims.max() < _MOST_RIM_MM
        and rims[wide].max() < _EVEN * rims[wide].min()
    )
