"""Codes of states and provinces, and how letters are transliterated."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

from packet.rules.data import table


@cache
def state_codes() -> frozenset[str]:
    """Three letters (one for Germany in passports): ISO 3166-1 and what passports add to it."""
    entry = table("places.toml")["states"]
    return frozenset((entry["codes"] + entry["further"]).split())


def state_code(code: str) -> str:
    """The code of ISO 3166-1 for one that a passport uses."""
    return str(table("places.toml")["states"]["alike"].get(code, code))


def same_state(one: str, other: str) -> bool:
    """False where two codes are of different states; an empty one is no contradiction."""
    return not (one and other) or state_code(one) == state_code(other)


@cache
def birth_states() -> Mapping[str, str]:
    """Birth place in a tax code (Z and three digits) -> code of ISO 3166-1."""
    words = table("birth_places.toml")["states"]["codes"].split()
    return dict(zip(words[::2], words[1::2], strict=True))


@cache
def province_codes() -> frozenset[str]:
    """Two letters of every Italian province."""
    entry = table("places.toml")["provinces"]
    return frozenset((entry["codes"] + entry["further"]).split())


@dataclass(frozen=True, slots=True, kw_only=True)
class Letters:
    """How one group of letters is written. ``source`` "" = from memory, never cited."""

    letters: Mapping[str, tuple[str, ...]]
    source: str


@cache
def letter_tables() -> tuple[Letters, ...]:
    """The table of letters: what was read, then what is from memory."""
    known = table("letters.toml")
    return tuple(
        Letters(
            letters={sign: tuple(forms) for sign, forms in known[name]["letters"].items()},
            source=known[name]["source"],
        )
        for name in ("read", "memory")
    )
