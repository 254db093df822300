"""Is it the same name? Names of papers and of packet.toml, in any allowed transliteration."""

from __future__ import annotations

import re
from enum import StrEnum

from packet.checks.transliteration import forms_of

_PARTS = re.compile(r"[\s\-‐–]+")


class Likeness(StrEnum):
    """``part``: one of the two lacks parts that the other has (a middle or maiden name)."""

    SAME = "same"
    PART = "part"
    OTHER = "other"


def likeness(name: str, written: str, *, cut: bool = False) -> Likeness:
    """``name`` in any letters against ``written`` in A to Z, as machine-readable lines have it.

    ``cut``: ``written`` may lack its end, for the line was full. An empty name is no
    contradiction: it is the same as any.
    """
    letters = "".join(written.split())
    if not name or not letters:
        return Likeness.SAME
    for form in forms_of(name):
        if form == letters or (cut and form.startswith(letters)):
            return Likeness.SAME
    ours = [set(forms_of(part)) for part in _PARTS.split(name) if part]
    theirs = set(written.split())
    found = [part for part in ours if part & theirs]
    if len(found) == len(ours) or theirs <= {form for part in found for form in part}:
        return Likeness.PART
    return Likeness.OTHER


def both_forms_of(name: str, one: str, other: str) -> bool:
    """True where two ways of writing are both allowed forms of ``name``."""
    forms = set(forms_of(name)) - {""}
    return {"".join(one.split()), "".join(other.split())} <= forms
