"""Which other form of a name yields the letters of a tax code: a part of it, or another order.

A code is computed from all given names in one, and from the maiden name: where it was asked for
with fewer names, or with a name as the state of origin wrote it, it follows from a part of what
stands in the passport. Common practice, no source. The answer never holds a name.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from itertools import permutations

from packet.checks.transliteration import forms_of

Letters = Callable[[str], str]  # letters A to Z of a name -> the three letters of the code
_PARTS = re.compile(r"[\s\-‐–]+")
_MAX_PARTS = 4  # orders of more parts than this are not tried
_PLACES = ("first", "second", "third", "fourth", "fifth", "sixth")


def follows(letters: str, name: str, rule: Letters) -> bool:
    """True where the whole name, in any transliteration, yields ``letters``."""
    return any(rule(form) == letters for form in forms_of(name))


def other_surname(letters: str, surname: str, given_names: str, rule: Letters) -> str:
    """The form that yields the letters of the surname, in words; "" where none does."""
    for form, said in _forms(surname, "part of the surname", "parts of the surname"):
        if follows(letters, form, rule):
            return said
    parts = _split(given_names)
    for at in range(len(parts)):
        if follows(letters, parts[at], rule):
            said = "last" if at == len(parts) - 1 and at else _PLACES[min(at, 5)]
            return f"the {said} given name (a maiden or middle name used as surname)"
    return ""


def other_given(letters: str, given_names: str, surname: str, rule: Letters) -> str:
    """The form that yields the letters of the given names, in words; "" where none does."""
    for form, said in _forms(given_names, "given name", "given names"):
        if follows(letters, form, rule):
            return said
    if follows(letters, f"{given_names} {surname}", rule):
        return "given names and surname in one"
    return "the surname" if follows(letters, surname, rule) else ""


def _forms(name: str, one: str, many: str) -> Iterator[tuple[str, str]]:
    """Each part alone, the first ones, all but the first, then other orders."""
    parts = _split(name)
    if len(parts) < 2:
        return
    for at, part in enumerate(parts):
        yield part, f"the {_PLACES[min(at, 5)]} {one} alone"
    for end in range(2, len(parts)):
        yield " ".join(parts[:end]), f"the first {end} {many} alone"
    if len(parts) > 2:
        yield " ".join(parts[1:]), f"the {many} without the first"
    for order in _orders(parts):
        yield " ".join(order), f"the {many} in another order"


def _orders(parts: Sequence[str]) -> Iterator[Sequence[str]]:
    if len(parts) <= _MAX_PARTS:
        yield from permutations(parts)


def _split(name: str) -> list[str]:
    return [part for part in _PARTS.split(name) if part]
