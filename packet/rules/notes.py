"""The boxes of the form that checks and reports speak of, read from ``notes.toml``."""

from __future__ import annotations

from dataclasses import dataclass

from packet.rules.data import table


@dataclass(frozen=True, slots=True, kw_only=True)
class CountBox:
    """The box that asks for the total of sheets: its number, cells and largest value."""

    number: int
    label_it: str
    cells: int
    largest: int
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SignatureBox:
    """The box that holds the signature."""

    number: int
    source: str


def count_box() -> CountBox:
    """The box for the total number of sheets."""
    entry = table("notes.toml")["count_box"]
    return CountBox(**{key: value for key, value in entry.items() if key != "as_of"})


def signature_box() -> SignatureBox:
    """The box for the applicant's signature."""
    entry = table("notes.toml")["signature_box"]
    return SignatureBox(number=entry["number"], source=entry["source"])
