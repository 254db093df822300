"""The sixteen signs of a tax code in recognised lines of text.

Letters and digits have their places (Finance Ministry decree of 23 December 1976: six letters, two
digits, a letter, two digits, a letter, three digits, a letter; in a clash code letters stand in
digit places). A sign that cannot stand in its place is exchanged for one that looks like it; one
that can is never touched. python-stdnum judges shape, date and check letter, and only what it
accepts is given as read.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterable, Iterator, Sequence

from packet.readings import CodeRead, ReadState

LENGTH = 16
_PLACES = "LLLLLLDDMDDLDDDL"  # letter, digit, month
_MAY_STAND = {
    "L": frozenset("ABCDEFGHIJKLMNOPQRSTUVWXYZ"),
    "D": frozenset("0123456789LMNPQRSTUV"),  # the letters: of clash codes
    "M": frozenset("ABCDEHLMPRST"),
}
_SAME = {"0": "O", "1": "I", "O": "0", "I": "1"}  # one shape in many typefaces: no repair
_LIKE = {
    "0": "QD", "1": "LT", "2": "Z", "4": "A", "5": "S", "6": "G", "7": "T", "8": "B",
    "A": "4", "B": "8", "D": "0", "G": "6", "J": "1", "O": "D", "Z": "2", "I": "L", "F": "P",
    "K": "R",
}  # fmt: skip
_MOST_REPAIRS = 2
_SURE = 0.80  # mean score of a line, 0 to 1; below, what is read is not to be used
_LEAST_DIGITS = 4  # of seven places: words alone can look like a clash code
_LAST_DAY = 71  # 31, and 40 more for women
_DIGITS_STAND = re.compile(r"[A-Z0]{6}\d\d[A-Z]\d\d[A-Z]\d{3}[A-Z]")
_TRUST = (ReadState.READ, ReadState.REPAIRED, ReadState.UNSURE)  # best first
_DIGITS = str.maketrans("LMNPQRSTUV", "0123456789")


def codes_in(lines: Iterable[tuple[str, float]]) -> tuple[CodeRead, ...]:
    """Tax codes in lines of (text, mean score 0 to 1); each code once, in its best state."""
    found: dict[str, ReadState] = {}
    for text, score in lines:
        for code, state in _codes_of(text):
            told = state if score >= _SURE else ReadState.UNSURE
            known = found.get(code)
            if known is None or _TRUST.index(told) < _TRUST.index(known):
                found[code] = told
    kept = {code: state for code, state in found.items() if state is not ReadState.UNSURE}
    return tuple(
        CodeRead(value=code, source="text", state=state) for code, state in (kept or found).items()
    )


def agreed(codes: Sequence[CodeRead]) -> tuple[CodeRead, ...]:
    """Text and bars of one card together: where both are sound and differ, neither is sure."""
    sound = [one for one in codes if one.state is not ReadState.UNSURE]
    texts = {one.value for one in sound if one.source == "text"}
    bars = {one.value for one in sound if one.source == "barcode"}
    if not texts or not bars or texts & bars:
        return tuple(codes)
    return tuple(
        CodeRead(value=one.value, source=one.source, state=ReadState.UNSURE) for one in codes
    )


def is_code(code: str) -> bool:
    """Sixteen signs of a right shape with a possible date and a check letter that fits."""
    from stdnum.it import codicefiscale

    if len(code) != LENGTH or not codicefiscale.is_valid(code):
        return False
    return int(code[9:11].translate(_DIGITS)) <= _LAST_DAY


def _codes_of(text: str) -> Iterator[tuple[str, ReadState]]:
    seen = set()
    for window in _windows(text):
        for code, state in _as_code(window):
            if code not in seen:
                seen.add(code)
                yield code, state


def _windows(text: str) -> Iterator[str]:
    """Sixteen signs that begin and end where words do, or that stand in a longer word.

    Spaces inside a code are allowed: cards print it in groups.
    """
    words = re.findall(r"[A-Z0-9]+", text.upper())
    for start in range(len(words)):
        joined = ""
        for word in words[start:]:
            joined += word
            if len(joined) >= LENGTH:
                break
        if len(joined) == LENGTH:
            yield joined
    for word in words:
        for at in range(len(word) - LENGTH + 1):
            part = word[at : at + LENGTH]
            if len(word) > LENGTH and _DIGITS_STAND.fullmatch(part):
                yield part


def _as_code(window: str) -> Iterator[tuple[str, ReadState]]:
    """The code that sixteen signs stand for, if any; nothing where they cannot be one."""
    choices = [_choices(sign, place) for sign, place in zip(window, _PLACES, strict=True)]
    if not all(choices):
        return
    repairs = sum(choice[0][1] for choice in choices)
    if repairs > _MOST_REPAIRS:
        return
    sound = []
    for chosen in itertools.product(*choices):
        code = "".join(sign for sign, _ in chosen)
        if is_code(code):
            sound.append(code)
    if len(sound) == 1 and _digits_in(sound[0]) >= _LEAST_DIGITS:
        yield sound[0], ReadState.REPAIRED if repairs else ReadState.READ
    elif _digits_in(window) >= _LEAST_DIGITS or sound:
        yield from ((code, ReadState.UNSURE) for code in sound or [window])


def _digits_in(code: str) -> int:
    return sum(sign.isdigit() for sign in code)


def _choices(sign: str, place: str) -> list[tuple[str, int]]:
    """Signs that may stand in the place for the one seen, each with 1 where it is a repair."""
    allowed = _MAY_STAND[place]
    if sign in allowed:
        return [(sign, 0)]
    same = [(other, 0) for other in _SAME.get(sign, "") if other in allowed]
    return same or [(other, 1) for other in _LIKE.get(sign, "") if other in allowed]
