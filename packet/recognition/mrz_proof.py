"""From scores of signs at places to lines that are proved, repaired or left in doubt.

The likeliest lines that the grammar allows are taken; their check digits must fit. Digits are
blind to signs whose values differ by ten (6 and G, 8 and I, 4 and O, 0 and the filler), and see
neither names nor codes: there, and between any two readings that fit all digits, the scores must
tell them apart by a margin. Costs are natural logarithms of odds: 0 for the likeliest sign.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import combinations

import numpy as np

from packet.readings import MrzLines, ReadState
from packet.recognition.mrz_names import likeliest_names, without_inner_fillers
from packet.recognition.sign_scores import Scores
from packet.rules.codes import state_codes
from packet.rules.mrz_format import SIGNS, Format

MARGIN = 2.2  # between the lines taken and the next ones that fit as well
PLAIN_MARGIN = 1.6  # at a place that no digit covers and where letters stand alone
MIXED_MARGIN = 2.9  # where digits may stand too
_REACH = 9.0  # changes that cost more are not thought of
_REPAIR_REACH = 7.0  # what a repair may cost in all
_MOST_CHANGES = 2
_MOST_CANDIDATES = 40


@dataclass(frozen=True, slots=True, kw_only=True)
class _Change:
    line: int
    place: int
    sign: str = field(repr=False)
    cost: float


def prove(shape: Format, scores: Sequence[Scores]) -> MrzLines:
    """The lines of a format from (places, 37) log probabilities a line, with their state."""
    lines = tuple(_likeliest(shape, number, one) for number, one in enumerate(scores))
    fits = sorted(_fitting(shape, lines, scores), key=lambda fit: fit[0])
    if not fits:
        return MrzLines(mrz_format=shape.name, lines=lines, state=ReadState.UNSURE)
    cost, taken = fits[0]
    clear = all(other - cost >= MARGIN for other, _ in fits[1:])
    plain = _plain_places_clear(shape, taken, scores) and _codes_known(shape, taken)
    if not clear or not plain:
        state = ReadState.UNSURE
    elif taken == lines:
        state = ReadState.READ
    else:
        state = ReadState.REPAIRED if cost <= _REPAIR_REACH else ReadState.UNSURE
    return MrzLines(mrz_format=shape.name, lines=taken, state=state)


def _likeliest(shape: Format, line: int, scores: Scores) -> str:
    """The likeliest signs of a line, names and numbers by their grammar."""
    best = [SIGNS[column] for column in scores.argmax(1)]
    names = shape.places("n", line)
    if names:
        best[names.start : names.stop] = likeliest_names(scores[names.start : names.stop])
    number = shape.places("w", line)
    if number:
        part = slice(number.start, number.stop)
        best[part] = without_inner_fillers(scores[part])
    states = shape.places("l", line)
    if states:
        part = slice(states.stop - 3, states.stop)
        best[part] = _likeliest_state(scores[part])
    return "".join(best)


def _likeliest_state(scores: Scores) -> str:
    """The likeliest code of a state; the likeliest signs where none comes near."""
    free = "".join(SIGNS[column] for column in scores.argmax(1))
    if free.rstrip("<") in state_codes():
        return free
    codes = [code.ljust(3, "<") for code in state_codes()]
    rated = [(sum(scores[i, SIGNS.index(s)] for i, s in enumerate(code)), code) for code in codes]
    best = max(rated)
    return best[1] if best[0] > float(scores.max(1).sum()) - _REACH else free


def _fitting(
    shape: Format, lines: tuple[str, ...], scores: Sequence[Scores]
) -> Iterator[tuple[float, tuple[str, ...]]]:
    """Lines with at most two signs changed whose digits all fit, with their cost."""
    if not shape.faults(lines):
        yield 0.0, lines
    changes = sorted(_changes(shape, lines, scores), key=lambda one: one.cost)[:_MOST_CANDIDATES]
    for count in range(1, _MOST_CHANGES + 1):
        for some in combinations(changes, count):
            cost = sum(one.cost for one in some)
            if cost > _REACH or len({(one.line, one.place) for one in some}) < count:
                continue
            changed = _with(lines, some)
            if not shape.faults(changed):
                yield cost, changed


def _changes(shape: Format, lines: tuple[str, ...], scores: Sequence[Scores]) -> Iterator[_Change]:
    """Other signs at the places that digits cover, and at the digits themselves."""
    covered = {digit.at for digit in shape.digits}
    for digit in shape.digits:
        for line, start, end in digit.parts:
            covered.update((line, place) for place in range(start, end))
    for line, place in sorted(covered):
        taken = scores[line][place, SIGNS.index(lines[line][place])]
        for sign in shape.may_stand(line, place):
            cost = float(taken - scores[line][place, SIGNS.index(sign)])
            if sign != lines[line][place] and cost < _REACH:
                yield _Change(line=line, place=place, sign=sign, cost=cost)


def _with(lines: tuple[str, ...], changes: Sequence[_Change]) -> tuple[str, ...]:
    out = [list(line) for line in lines]
    for one in changes:
        out[one.line][one.place] = one.sign
    return tuple("".join(line) for line in out)


def _plain_places_clear(shape: Format, lines: tuple[str, ...], scores: Sequence[Scores]) -> bool:
    """True where each sign that no digit covers stands out from the others."""
    covered = {digit.at for digit in shape.digits}
    for digit in shape.digits:
        for line, start, end in digit.parts:
            covered.update((line, place) for place in range(start, end))
    for line, row in enumerate(scores):
        for place in range(len(row)):
            if (line, place) in covered:
                continue
            own = SIGNS.index(lines[line][place])
            others = np.delete(row[place], own)
            letters = shape.lines[line][place] in "ln"
            margin = PLAIN_MARGIN if letters else MIXED_MARGIN
            if row[place, own] - float(others.max()) < margin:
                return False
    return True


def _codes_known(shape: Format, lines: tuple[str, ...]) -> bool:
    """True where state and nationality are codes that passports use."""
    for line, text in enumerate(lines):
        places = shape.places("l", line)
        if places and text[places.stop - 3 : places.stop].rstrip("<") not in state_codes():
            return False
    return True
