"""What a passport's machine-readable lines give for packet.toml: proposals, never values."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

from packet.checks.papers import Paper
from packet.checks.short_years import birth_date, end_date
from packet.readings import ReadState
from packet.rules.codes import state_code

_GOOD = (ReadState.READ, ReadState.REPAIRED)


def passports_of(papers: Sequence[Paper]) -> tuple[Paper, ...]:
    """The passports that were read well enough to propose a value: all check digits fit."""
    return tuple(
        paper
        for paper in papers
        if paper.what == "passport" and paper.state in _GOOD and not paper.mrz.faults
    )


def same_passport(papers: Sequence[Paper]) -> bool:
    """True where all of these are one book."""
    return len({(paper.mrz.number, paper.mrz.birth) for paper in papers}) <= 1


def first_values(paper: Paper, today: date) -> dict[str, Any]:
    """Key path -> value, of all that the lines say; unknown parts are left out."""
    mrz = paper.mrz
    values: dict[str, Any] = {
        "applicant.surname": mrz.surname,
        "applicant.given_names": "" if mrz.names_full else mrz.given_names,
        "applicant.sex": mrz.sex if mrz.sex in ("F", "M") else "",
        "applicant.date_of_birth": birth_date(mrz.birth, today),
        "applicant.citizenship": state_code(mrz.nationality),
        "passport.number": mrz.number,
        "passport.expires": end_date(mrz.expires, today),
    }
    return {key: value for key, value in values.items() if value}
