"""What a blurred picture shows at a third of its size, where its edges are steep again: is it worth
a look, and what of it counts beside what was found at the full size."""

from __future__ import annotations

from collections.abc import Sequence

from packet.imaging.around import FITS, RING_APART, SOFT, alike, is_plain, may_be_printed_on
from packet.imaging.choose import is_off_cloth, is_whole, is_whole_paper
from packet.imaging.expected import Expected
from packet.imaging.geometry import overlap
from packet.imaging.score import Judged
from packet.imaging.table import is_motley_around
from packet.imaging.view import View

_AS_PLAIN, _MUCH_SMALLER = 0.05, 0.2  # score, and area, of a print against its paper's
_PLAIN_CARD, _UNLIKE = 0.85, 0.85  # score; in colours
_OVER = 0.12  # of the smaller of two, that may lie on the other


def may_be_soft(view: View, chosen: Sequence[Judged], expected: Expected) -> bool:
    """Nothing plain is found, nor a paper with four sharp sides: on a scan its tag lies then."""
    if any(one.score >= SOFT for one in chosen):
        return False
    if not expected.perspective:
        return not any(is_whole(one) for one in chosen)
    sharp = any(is_plain(one) and view.apart(one.quad) > RING_APART for one in chosen)
    return not sharp and not any(
        is_off_cloth(view, one) or is_whole_paper(view, one) for one in chosen
    )


def is_paper_of(coarse: View, inner: Judged, one: Judged, expected: Expected) -> bool:
    """A much larger paper of four plain sides that a quad lies on, and no item may there: white
    paper on a white table, of which nothing but a portrait stands out."""
    return (
        is_plain(one)
        and one.score > inner.score - _AS_PLAIN
        and may_be_printed_on(inner, one, least=0.0, most=_MUCH_SMALLER)
        and not expected.fits_on(coarse.to_source(one.quad), coarse.to_source(inner.quad))
    )


def is_pale_beside(coarse: View, inner: Judged, one: Judged, expected: Expected) -> bool:
    """A whole paper of a wanted shape beside a card, of the size that it may have by that, on a
    table of one colour: on another it may be a tile."""
    return (
        one.score > SOFT
        and one.shape > FITS
        and not one.cut
        and overlap(one.quad, inner.quad)[1] < _OVER
        and not is_motley_around(coarse, one.quad)
        and expected.fits_on(coarse.to_source(one.quad), coarse.to_source(inner.quad))
    )


def is_second_card(coarse: View, inner: Judged, one: Judged, expected: Expected) -> bool:
    """Another whole card of the size of a card that was found, unlike all around it, on any table:
    fingers hide a part of two of its sides."""
    return (
        one.score > _PLAIN_CARD
        and one.shape > FITS
        and not one.cut
        and expected.is_card(coarse.to_source(inner.quad))
        and overlap(one.quad, inner.quad)[1] < _OVER
        and alike(coarse, inner, one, expected)
        and coarse.apart(one.quad) > _UNLIKE
    )
