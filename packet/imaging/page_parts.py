"""Is what was found an item, or only a part of a page: a box, a portrait, a block of print?"""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from packet.imaging.around import FITS, ink_within
from packet.imaging.choose import CERTAIN
from packet.imaging.expected import Expected
from packet.imaging.find import SURE, Found
from packet.imaging.geometry import Pixels, following, grown, signed_area
from packet.imaging.rectify import luma, shrunk
from packet.imaging.skew import angles_around, ink_points
from packet.imaging.table import is_motley_around, is_other_paper, lies_on_lid
from packet.imaging.upright import ANALYSIS_PX, Lines, read_print
from packet.imaging.view import View

PLAIN = 0.8
_PLAIN_ODD = 0.74  # for an odd shape no more than 0.86 can be
_ODD = 0.6  # the most that a shape counts that no kind has
_LEAST_INK = 400  # points of print, that they may tell
_MOST_AROUND = 0.04  # of the print; a few specks of dust lie on every glass
_ON_A_SIDE = 0.01  # of the print
_MUCH_AROUND = 0.5  # in a picture of no page's shape, around what is plainly of a wanted one
_APART = 0.6  # in colours, of an item and its table
_GROWN = 1.05  # of an item: its own shadow is no print
_MANY_LINES = 0.5  # long sides of the picture, of lines of text around what was found
_MANY_BESIDE = 0.2  # of those on it
_WRITTEN_ON = 0.1  # long sides; a portrait is not
_PAGE_OF_LINES = 3.0  # long sides
_ASKEW_DEG = 2.0  # on drawn pages photographed from near: up to 1.5 against a portrait or a box
_TURNED_DEG = 10.0
_WELL_OFF, _UNLIKE = 0.9, 0.95  # off the ground; in colours
_OFF, _RATHER_APART = 0.6, 0.8  # the same, of what is taken for an item with few lines around
_SPECK, _SHEET = 0.04, 0.2  # of the picture
_NO_COLOUR, _CLOTH_APART = 0.98, 0.5  # in colours


def lies_alone(view: View, found: Sequence[Found]) -> bool:
    """An odd size, all the print of the picture on it, though its ground looks like paper: a
    ticket under a white lid. Around a table or a box on a page the very same paper goes on."""
    plain = any(
        not one.cut
        and is_other_paper(view, view.to_view(one.quad))
        and (one.score > _PLAIN_ODD or lies_on_lid(view, view.to_view(one.quad)))
        for one in found
    )
    return plain and _printed_around(view, found) <= _MOST_AROUND


def is_part_of_page(
    view: View, found: Sequence[Found], expected: Expected, *, plausible: bool
) -> bool:
    """A box, a picture or a block of text on a page that fills the whole picture: print goes on
    around it, on paper of the same colours. In a picture of no page's shape that may be fingers
    and pens beside a paper, so that less is asked of one that has a wanted shape; nothing of one
    that stands turned in it, as print on a page that fills a picture does not. On a scan of a
    page's size coloured boxes of odd shapes are tables, where there is print on opposite sides of
    them."""
    if expected.perspective and not plausible and any(_is_turned(one) for one in found):
        return False
    if expected.perspective and _lines_go_on(view, found):
        return True
    if any(one.score >= SURE and one.shape > _ODD for one in found):
        return False
    if expected.perspective and all(_is_plain_on_cloth(view, one) for one in found):
        return False
    odd = plausible and not expected.perspective and all(one.shape < _ODD for one in found)
    table = odd and _is_amid_print(view, found)
    if not table and any(view.apart(view.to_view(one.quad)) > _APART for one in found):
        return False
    shaped = not plausible and any(one.score >= PLAIN and one.shape > FITS for one in found)
    return _printed_around(view, found) > (_MUCH_AROUND if shaped else _MOST_AROUND)


def _printed_around(view: View, found: Sequence[Found]) -> float:
    """The share of the print that lies around what was found; 0 where there is hardly any."""
    ink = ink_points(view.levels)
    if len(ink) < _LEAST_INK:
        return 0.0
    inside = np.zeros(len(ink), bool)
    for one in found:
        inside |= ink_within(ink, grown(one.quad, _GROWN))
    return float((~inside).mean())


def _is_amid_print(view: View, found: Sequence[Found]) -> bool:
    """Some of the print lies above all that was found, and some below; or left and right of it."""
    ink, corners = ink_points(view.levels), np.concatenate([one.quad for one in found])
    if len(ink) < _LEAST_INK:
        return False
    before = (ink < corners.min(axis=0)).mean(axis=0)
    after = (ink > corners.max(axis=0)).mean(axis=0)
    return bool(np.minimum(before, after).max() > _ON_A_SIDE)


def _lines_go_on(view: View, found: Sequence[Found]) -> bool:
    """Lines of text stand around what was found, and many of them: a page that fills the picture,
    of which a portrait, a box or a block of text has plain sides. A table is not written on, but a
    cloth's pattern may look like it; a paper beside is no doubt of what stands out plainly, a page
    full of print is. What is printed on one page stands straight on it."""
    if any(_is_certain(view, one) for one in found):
        return False
    within, around = _text_lengths(view, found)
    if around <= max(_PAGE_OF_LINES, within):
        if around <= max(_MANY_LINES, _MANY_BESIDE * within):
            return False
        if within > _WRITTEN_ON and any(_is_on_cloth(view, one) for one in found):
            return False
        if any(_stands_out(view, one) for one in found):
            return False
        if within > around and all(_is_unlike_all(view, one) for one in found):
            return False
    return _stands_straight(view, found)


def _stands_straight(view: View, found: Sequence[Found]) -> bool:
    """The print around runs along the sides of what was found, as all that is printed on one page
    does; on a newspaper below it hardly ever."""
    angles = angles_around(view.levels, [one.quad for one in found])
    return angles is None or any(abs(one) < _ASKEW_DEG for one in angles)


def _is_turned(one: Found) -> bool:
    """Plainly of a wanted shape, and no two opposite sides of it run along those of the picture."""
    if one.cut or one.score < PLAIN or one.shape < FITS:
        return False
    side = following(one.quad) - one.quad
    off = (np.degrees(np.arctan2(side[:, 1], side[:, 0])) + 45) % 90 - 45
    return bool(np.abs(off).reshape(2, 2).mean(axis=0).min() > _TURNED_DEG)


def _is_on_cloth(view: View, one: Found) -> bool:
    """Of a wanted shape, on what is of several colours, as paper around a part of it is not."""
    return one.shape > FITS and is_motley_around(view, view.to_view(one.quad))


def _is_plain_on_cloth(view: View, one: Found) -> bool:
    """The same, with plain sides and of other colours than that: stamps around a box on a page are
    of several colours, too, but its paper is on both sides of it."""
    on_cloth = one.score >= PLAIN and _is_on_cloth(view, one)
    return on_cloth and view.apart(view.to_view(one.quad)) > _CLOTH_APART


def _is_certain(view: View, one: Found) -> bool:
    """Well off a ground that is known; or of a wanted shape, and unlike all around it: a card on a
    letter."""
    if one.cut:
        return False
    if one.off_ground > _WELL_OFF and one.score > _PLAIN_ODD and _share(view, one) > _SPECK:
        return True
    if one.score < CERTAIN or one.shape < FITS:
        return False
    if one.off_ground > _WELL_OFF or view.apart(view.to_view(one.quad)) > _UNLIKE:
        return True
    return is_certain_on_cloth(view, one)


def is_certain_on_cloth(view: View, one: Found) -> bool:
    """Of a wanted shape with four plain sides, and unlike all around it, which is of several
    colours: no page is."""
    if one.cut or one.score < CERTAIN or not _is_on_cloth(view, one):
        return False
    return view.apart(view.to_view(one.quad)) > _RATHER_APART


def _stands_out(view: View, one: Found) -> bool:
    """Certain by its sides, or off the ground and unlike what lies around it, and no speck."""
    if one.score >= CERTAIN and not one.cut:
        return True
    apart = one.off_ground > _OFF and view.apart(view.to_view(one.quad)) > _RATHER_APART
    return apart and _share(view, one) > _SPECK


def _is_unlike_all(view: View, one: Found) -> bool:
    """Much of the picture, of a wanted shape, cut off or not, and with no colour of what is around
    it: with more lines of text on it than there, a written sheet on a cloth."""
    fits = one.shape > FITS and one.score > SURE and _share(view, one) > _SHEET
    return fits and view.apart(view.to_view(one.quad)) > _NO_COLOUR


def _share(view: View, one: Found) -> float:
    """Of the picture."""
    return abs(signed_area(one.quad)) / (view.factor**2 * view.width_px * view.height_px)


def _text_lengths(view: View, found: Sequence[Found]) -> tuple[float, float]:
    """(on what was found, around it): lengths of the lines of text, in long sides of the view."""
    grey = luma(view.levels[-1])
    scale = ANALYSIS_PX / max(grey.shape)
    grey = shrunk(grey, (round(grey.shape[1] * scale), round(grey.shape[0] * scale)))
    inside = np.zeros(grey.shape, np.uint8)
    for one in found:
        corners = grown(view.to_view(one.quad), _GROWN) * scale
        cv2.fillConvexPoly(inside, np.round(corners).astype(np.int32), 1)
    printed = read_print(grey)
    turned = np.asarray(cv2.rotate(inside, cv2.ROTATE_90_CLOCKWISE), np.uint8)
    within, around = _lengths(printed.across, inside) + _lengths(printed.down, turned)
    return float(within) / ANALYSIS_PX, float(around) / ANALYSIS_PX


def _lengths(lines: Lines, inside: Pixels) -> NDArray[np.float64]:
    """Of the lines that hold signs: (2,) pixels within a mask and outside it."""
    x, y, wide, high = lines.held.T
    limits = np.array(inside.shape) - 1
    at = np.minimum(np.stack([y + high // 2, x + wide // 2]).T, limits)
    within = inside[at[:, 0], at[:, 1]] == 1
    return np.array([wide[within].sum(), wide[~within].sum()], np.float64)
