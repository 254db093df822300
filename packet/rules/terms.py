"""Terms that the law sets, read from ``terms.toml``."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from packet.rules.data import table


@dataclass(frozen=True, slots=True, kw_only=True)
class Term:
    """One term. ``length``: its days or years; ``missed``: what to say when it is over.

    ``ended``: what to say when the permit itself is over.
    """

    length: int
    title_en: str
    source: str
    as_of: date
    caution: str
    missed: str = ""
    ended: str = ""


def _term(name: str, length: str) -> Term:
    entry = dict(table("terms.toml")[name])
    return Term(length=entry.pop(length), **entry)


def entry_term() -> Term:
    """Working days after entry in which the application is handed in."""
    return _term("entry", "working_days")


def renewal_term() -> Term:
    """Days before the permit ends, by which its renewal is asked for."""
    return _term("renewal", "days_before")


def long_term() -> Term:
    """Years of permits after which a long-term one may be asked for."""
    return _term("long_term", "years")


def appointment_term() -> Term:
    """The appointment; ``length`` is the number of photos to bring."""
    return _term("appointment", "photos")
