"""Where the items of a picture are: as the user says, as found, or the picture itself."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from packet.imaging.around import FITS
from packet.imaging.card_scale import with_scale_of_card
from packet.imaging.expected import Expected
from packet.imaging.find import SURE, Found, find_items
from packet.imaging.flush import with_flush
from packet.imaging.geometry import (
    Quads,
    from_top_left,
    meeting,
    overlap,
    same_size,
    side_lengths,
    signed_area,
    top_angle_deg,
    whole_picture,
)
from packet.imaging.glass import LIKE_GLASS, page_around_print, page_on_glass, page_pushed_over
from packet.imaging.page_parts import (
    PLAIN,
    is_certain_on_cloth,
    is_part_of_page,
    lies_alone,
)
from packet.imaging.score import side_edges
from packet.imaging.skew import PagePrint, page_print, straightened
from packet.imaging.table import is_other_paper
from packet.imaging.view import View, rim_of
from packet.intake.picture import Picture
from packet.model import ItemOverride, Kind

PAGE_KINDS = {Kind.A4_PAGE, Kind.LETTER_PAGE, Kind.FORM_PAGE, Kind.OTHER}
_WRITTEN = 0.5  # of a picture of a page's size: no card, opening or A5 sheet on a glass has that
_ASKEW_DEG = 0.3  # of print; a page that lies so leaves wedges beside it
_AGAINST_PRINT_DEG = 0.6  # of a page against its print, however carelessly printed
_SAME_PAPER, _MOST_PAPER = 24, 0.98  # levels; of the picture's rim
_RIM_PX = 3  # of the view
_ON_PAGE, _SAME_PAGE = 0.98, 0.99
_MUCH_SMALLER = 0.8
_OFF_LID = 0.6  # of it
_GOES_ON = 0.7  # share with an edge, of the sides of a strip
_DARK = 80  # L, of 255; paper is lighter however it was lit


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Outline:
    """An outline as shown, and how it was found.

    ``whole``: it is the whole picture; ``plausible``: that has the shape of a wanted kind;
    ``page``: and its size too, by a scale that can be trusted.
    """

    quad: Quads
    whole: bool = False
    plausible: bool = True
    page: bool = False
    from_user: bool = False
    cut: bool = False


def find_outlines(
    picture: Picture,
    view: View,
    expected: Expected,
    *,
    any_kind: Expected,
    kinds: Sequence[Kind],
    overrides: Sequence[ItemOverride],
) -> list[Outline]:
    """The outlines of a picture's items; the whole picture where nothing else is found.

    ``view``: of the picture; ``expected``: of the kinds; ``any_kind``: of those it may be
    mistaken for, too.
    """
    given = [one for one in overrides if one.corners is not None]
    if given:
        given.sort(key=lambda one: one.item)
        return [_given_outline(one) for one in given]
    plausible = bool(_whole_scales(expected))
    page = _has_page_size(expected)
    printed = page_print(view.levels) if page else None
    found = _found(picture, view, any_kind, expected, printed)
    pages = set(kinds) <= PAGE_KINDS
    if plausible and not _several_alike(found):
        stands_out = any(_stands_out(view, one, expected, kinds) for one in found)
        found = found if stands_out or (not pages and lies_alone(view, found)) else []
    if found and is_part_of_page(view, found, expected, plausible=plausible):
        found = []
    if page and not any(_is_item_on_glass(one, expected) for one in found):
        quad = page_on_glass(picture.pixels, view, expected)
        if quad is not None and all(_is_of_page(view, quad, one) for one in found):
            return [Outline(quad=quad, page=True)]
        quad = page_pushed_over(picture.pixels, view, expected) if not found else None
        if quad is not None:
            return [Outline(quad=quad, cut=True)]
    if found:
        return [Outline(quad=one.quad, cut=one.cut) for one in found]
    outline = whole_picture(picture.width_px, picture.height_px)
    plausible = plausible and not _is_dark(view)
    page = page and plausible
    if plausible and _square_pixels(picture):
        printed = printed or page_print(view.levels)
        outline, _ = straightened(printed, width_px=picture.width_px, height_px=picture.height_px)
        if page:
            outline = page_around_print(view, outline, printed.points, expected)
    return [Outline(quad=outline, whole=True, plausible=plausible, page=page)]


def _found(
    picture: Picture, view: View, any_kind: Expected, expected: Expected, printed: PagePrint | None
) -> list[Found]:
    """The items; at the edges of the glass nothing is looked for beside a page full of print."""
    fills = printed is not None and _fills(view, printed)
    found = find_items(picture.pixels, view, any_kind, expected, page=fills)
    found = with_scale_of_card(picture.pixels, view, found, any_kind, expected)
    if printed is None or printed.share < _WRITTEN:
        found = with_flush(picture.pixels, view, found, any_kind, expected)
    if printed is None:
        return found
    return [one for one in found if _runs_with_print(one, printed, expected)]


def _runs_with_print(one: Found, printed: PagePrint, expected: Expected) -> bool:
    """False for an outline of nearly the whole page, none of the surest, that its own lines of text
    stand askew to: its sides are then those of the lid's shadow, or of no paper at all."""
    glass = expected.width_px * expected.height_px
    small = abs(signed_area(one.quad)) < _MUCH_SMALLER * glass
    if printed.skew_deg is None or small or one.score >= SURE:
        return True
    askew = (top_angle_deg(one.quad) - printed.skew_deg + 45) % 90 - 45
    return abs(askew) < _AGAINST_PRINT_DEG


def _is_item_on_glass(one: Found, expected: Expected) -> bool:
    """A whole item of a wanted size, beyond doubt, on a glass much larger than it is; or by a true
    scale of that very size and off the lid: a picture cut to little more than a card may be as
    large as a larger format."""
    if one.cut or one.score < SURE:
        return False
    glass = expected.width_px * expected.height_px
    small = abs(signed_area(one.quad)) < _MUCH_SMALLER * glass
    return (small and one.shape > FITS) or (
        one.off_ground > _OFF_LID and expected.is_whole(one.quad, slack_mm=0.0)
    )


def _is_of_page(view: View, page: Quads, one: Found) -> bool:
    """Printed on the page; or the page itself, of which a line printed across it may have been
    taken for the end, so that it seems cut off."""
    if not one.cut:
        return overlap(page, one.quad)[1] > _ON_PAGE
    return overlap(page, one.quad)[0] > _SAME_PAGE or _goes_on(view, page, one.quad)


def _goes_on(view: View, page: Quads, cut: Quads) -> bool:
    """The sides of a page go on beyond what was taken for the end of one that is cut off."""
    size = np.array([view.width_px, view.height_px])
    cut, page = view.to_view(cut), view.to_view(page)
    middles = (cut + np.roll(cut, -1, axis=0)) / 2
    end = int(np.argmax(np.minimum(middles, size - middles).min(axis=1)))
    others = (page + np.roll(page, -1, axis=0)) / 2
    far = int(np.argmin(np.linalg.norm(others - middles[end], axis=1)))
    border = page[[far, (far + 1) % 4]]
    before, after = cut[[end - 1, end]], cut[[(end + 1) % 4, (end + 2) % 4]]
    beyond = meeting(after, border), meeting(before, border)
    if beyond[0] is None or beyond[1] is None:
        return False
    strip = from_top_left(np.array([cut[end], cut[(end + 1) % 4], *beyond]))
    sides = side_edges(view, strip[None])[0][0, [1, 3] if end % 2 == 0 else [0, 2]]
    return bool(sides.min() > _GOES_ON)


def _fills(view: View, printed: PagePrint) -> bool:
    """A page that plainly fills the picture: print is spread over it and stands straight, and
    paper of one colour reaches all edges. A page fed askew does not."""
    if printed.share < _WRITTEN or abs(printed.skew_deg or 0.0) > _ASKEW_DEG:
        return False
    paper = np.median(view.lab[::4, ::4].reshape(-1, 3), axis=0)
    rim = rim_of(view.lab, _RIM_PX)
    return float((np.abs(rim - paper).max(axis=1) < _SAME_PAPER).mean()) > _MOST_PAPER


def _several_alike(found: Sequence[Found]) -> bool:
    """Two items of one wanted shape and one size: cards on a glass, whatever its size."""
    plain = [one.quad for one in found if one.shape > 0.7 and not one.cut]
    return any(same_size(a, b) for a, b in combinations(plain, 2))


def _given_outline(override: ItemOverride) -> Outline:
    quad = np.array(override.corners, dtype=np.float64)
    if signed_area(quad) < 0:
        quad = np.roll(quad[::-1], 1, axis=0)
    return Outline(quad=quad, from_user=True)


def _whole_scales(expected: Expected) -> list[float]:
    """Pixels per mm of the picture, for each wanted size that the whole picture may be."""
    wide, high = side_lengths(whole_picture(expected.width_px, expected.height_px))
    if expected.px_per_mm is not None and _has_page_size(expected):
        return [math.sqrt(expected.px_per_mm[0] * expected.px_per_mm[1])]
    return [
        wide / w
        for w, h in expected.sizes_mm
        if abs(math.log(wide / high * h / w)) < LIKE_GLASS / 2
    ]


def _has_page_size(expected: Expected) -> bool:
    """True where the trusted dpi makes the whole picture as large as a wanted kind."""
    if expected.px_per_mm is None:
        return False
    wide, high = expected.measured_mm(whole_picture(expected.width_px, expected.height_px))
    return any(
        max(abs(math.log(wide / w)), abs(math.log(high / h))) < LIKE_GLASS
        for w, h in expected.sizes_mm
    )


def _stands_out(view: View, one: Found, expected: Expected, kinds: Sequence[Kind]) -> bool:
    """On a picture that may itself be the page: is this an item on it, or only printed on it?

    It is an item when it takes up much of the picture, has a wanted size at the picture's own
    scale or, in a photo, lies on cloth; among pages only the first counts, for a page is no part
    of a page. What takes much of a glass of a page's size and seems to be cut off by it, without
    plain sides, is a frame printed on the page.
    """
    share = abs(signed_area(one.quad)) / (expected.width_px * expected.height_px)
    if one.cut and share > 0.5 and one.score < PLAIN and _has_page_size(expected):
        return False
    if set(kinds) <= PAGE_KINDS:
        return share > 0.5 and one.shape > 0.6
    if expected.perspective and is_certain_on_cloth(view, one):
        return True
    if one.shape < 0.6:  # an odd size, of another shade than what is around it
        plain = one.score > PLAIN and one.off_ground > 0.5
        return plain and is_other_paper(view, view.to_view(one.quad))
    if expected.px_per_mm is not None and one.shape > (0.8 if _has_page_size(expected) else 0.7):
        return True
    wide, high = side_lengths(one.quad)
    sizes_fit = any(
        max(abs(math.log(wide / scale / w)), abs(math.log(high / scale / h))) < 0.05
        for scale in _whole_scales(expected)
        for w, h in expected.sizes_mm
    )
    return share > 0.3 or sizes_fit


def _is_dark(view: View) -> bool:
    """No paper: an open lid, or a dark cover of which no side is seen there."""
    return float(np.median(view.lab[::4, ::4, 0])) < _DARK


def _square_pixels(picture: Picture) -> bool:
    return picture.dpi is None or abs(picture.dpi[0] / picture.dpi[1] - 1) < 0.02
