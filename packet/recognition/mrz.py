"""Machine-readable zones of an upright picture: found, read, proved (ICAO Doc 9303 parts 3 to 7).

A zone is read line by line; the reading model's scores are laid on the places of the format that
fits best, and ``mrz_proof`` says how far the result may be trusted.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cache
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from packet.readings import MrzLines, ReadState
from packet.recognition.boxes import Boxes, Pixels, cut
from packet.recognition.engine import STEP_PX
from packet.recognition.mrz_proof import prove
from packet.recognition.mrz_zone import Quad, Zone, evenness, is_whole, levelled, zones_of
from packet.recognition.sign_heights import with_heights
from packet.recognition.sign_scores import (
    PAUSE,
    Placed,
    Scores,
    columns_of,
    narrowed,
    place_signs,
    seen_against,
)
from packet.rules.mrz_format import SIGNS, Format, mrz_formats

if TYPE_CHECKING:
    from packet.recognition.engine import Engine

_MOST_ZONES = 2  # that are read of one picture
_MOST_TRIED = 3
_PLACE_PX = 18  # width of a place in the strip that the model sees
_DOUBTED_PX = 22  # the same where the first reading is doubted
_RIM_PX = 16
_LINE_PX = 48
_LARGER = 2  # for the heights of the signs
_LEAST_EVENNESS = 0.42  # of the evenest line: drawn zones 0.61 and more, drawn prose up to 0.29
_LEAST_MRZ_SHARE = 0.75  # of what is seen in a line: capitals, digits, fillers
_LEAST_LIKELIHOOD = -4.0  # natural logarithm per place
_AGAINST = 6.0  # natural logarithm of odds; signs that look alike reach 5.5 (``sign_scores``)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Strip:
    """What the model says of one line: (steps, 38) scores; ``first`` and ``last``: steps at which
    the first and the last sign show; ``count``: signs seen one by one."""

    seen: Scores = field(repr=False)
    first: float
    last: float
    count: int
    share: float
    large: Pixels = field(repr=False)


def read_mrz(engine: Engine, pixels: Pixels, boxes: Boxes) -> tuple[MrzLines, ...]:
    """The zones of an upright picture, the lowest first; without one an empty tuple.

    ``boxes``: its text boxes, as held upright.
    """
    found: list[MrzLines] = []
    for zone in zones_of(boxes, pixels.shape[1])[:_MOST_TRIED]:
        lines = read_zone(engine, pixels, zone)
        if lines is not None:
            found.append(lines)
        if len(found) == _MOST_ZONES:
            break
    return tuple(found)


def read_zone(engine: Engine, pixels: Pixels, zone: Zone) -> MrzLines | None:
    """The lines of one zone; None where it is none after all.

    Where they are doubted they are read once more at another width: they count as read where that
    proves the very same lines. Lines that the edge of the picture cuts stay in doubt.
    """
    quads = [levelled(pixels, quad) for quad in reversed(zone.lines)]
    if max(evenness(pixels, quad) for quad in quads) < _LEAST_EVENNESS:
        return None
    first = _read_lines(engine, pixels, quads, _PLACE_PX)
    if first is not None and not all(is_whole(quad, pixels.shape) for quad in quads):
        return replace(first, state=ReadState.UNSURE)
    if first is None or first.state is not ReadState.UNSURE:
        return first
    second = _read_lines(engine, pixels, quads, _DOUBTED_PX)
    return second if second is not None and second.lines == first.lines else first


def _read_lines(
    engine: Engine, pixels: Pixels, quads: Sequence[Quad], place_px: int
) -> MrzLines | None:
    """``quads``: the levelled lines, the lowest first."""
    strips = []
    for quad in quads:
        strip = _look(engine, pixels, quad, places=_GUESS[len(quads)], place_px=place_px)
        if strip.share < _LEAST_MRZ_SHARE or strip.count < 20:
            return None
        strips.append(strip)
    strips.reverse()
    best: tuple[float, Format, list[Placed]] | None = None
    for shape in _shapes(strips):
        placed = [
            place_signs(strip.seen, _allowed(shape, number), first=strip.first, last=strip.last)
            for number, strip in enumerate(strips)
        ]
        fit = sum(one.likelihood for one in placed) / len(placed)
        if best is None or fit > best[0]:
            best = fit, shape, placed
    if best is None or best[0] < _LEAST_LIKELIHOOD:
        return None
    scores = [
        with_heights(strip.large, placed, step_px=_LARGER * STEP_PX)
        for strip, placed in zip(strips, best[2], strict=True)
    ]
    proven = prove(best[1], scores)
    if proven.state is not ReadState.UNSURE and _is_against(strips, best[1], best[2]):
        proven = replace(proven, state=ReadState.UNSURE)
    return proven if any(_FILLERS in line for line in proven.lines) else None


def _is_against(strips: Sequence[_Strip], shape: Format, placed: Sequence[Placed]) -> bool:
    """Whether a sign is plainly seen where the format has no such sign: a line of another format,
    cut off, may have digits that fit."""
    return any(
        seen_against(strip.seen, _allowed(shape, number), one) > _AGAINST
        for number, (strip, one) in enumerate(zip(strips, placed, strict=True))
    )


_FILLERS = "<<"  # part the names, or follow a single one, in every zone (Doc 9303 part 3)
_GUESS = {2: 44, 3: 30}


def _shapes(strips: Sequence[_Strip]) -> list[Format]:
    """Formats of this number of lines whose width is near the number of signs seen."""
    counted = float(np.median([strip.count for strip in strips]))
    shapes = [shape for shape in mrz_formats() if len(shape.lines) == len(strips)]
    if not shapes:
        return []
    nearest = min(abs(shape.width - counted) for shape in shapes)
    return [shape for shape in shapes if abs(shape.width - counted) <= max(nearest, 3)]


@cache
def _allowed_of(name: str, line: int) -> NDArray[np.bool_]:
    shape = next(one for one in mrz_formats() if one.name == name)
    return np.array(
        [[sign in shape.may_stand(line, place) for sign in SIGNS] for place in range(shape.width)]
    )


def _allowed(shape: Format, line: int) -> NDArray[np.bool_]:
    return _allowed_of(shape.name, line)


def _look(engine: Engine, pixels: Pixels, quad: Quad, *, places: int, place_px: int) -> _Strip:
    rim = _RIM_PX / (places * place_px)
    x = (quad[1] - quad[0]) * rim
    wide = quad + np.array([-x, x, x, -x], np.float32)
    strip = cut(pixels, wide, _LINE_PX, places * place_px + 2 * _RIM_PX)
    columns, of = columns_of_engine(engine)
    seen_all = engine.sign_scores(strip)
    seen = narrowed(seen_all, columns, of)
    best = seen_all.argmax(1)
    shown = np.flatnonzero((seen[:, PAUSE] < 0.5) & (seen_all.max(1) > 0.3))
    starts = np.flatnonzero((best != np.r_[-1, best[:-1]]) & (seen[:, PAUSE] < 0.5))
    known = np.isin(best[starts], columns)
    return _Strip(
        seen=seen,
        first=float(shown[0]) if len(shown) else 0.0,
        last=float(shown[-1]) if len(shown) else float(len(seen) - 1),
        count=len(starts),
        share=float(known.mean()) if len(starts) else 0.0,
        large=cut(pixels, wide, _LARGER * _LINE_PX, _LARGER * strip.shape[1]),
    )


_columns: dict[int, tuple[NDArray[np.int64], NDArray[np.int64]]] = {}


def columns_of_engine(engine: Engine) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """``columns_of`` the engine's signs, worked out once."""
    if id(engine) not in _columns:
        _columns[id(engine)] = columns_of(engine.signs)
    return _columns[id(engine)]
