"""Machine-readable lines: fields, check digits, and whether they agree with packet.toml.

ICAO Doc 9303 parts 3 to 7. A check digit proves little: pairs of signs whose values differ by
ten (6 and G, 8 and I, 4 and O, 0 and the filler) give the same digit, so a digit that fits is
never called a proof of a right reading.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date

from packet.checks.transliteration import forms_of
from packet.model import Finding, Packet, Severity
from packet.rules.mrz_format import check_digit

SOURCE = "ICAO Doc 9303"
KEY = "passport.mrz"
_SIGNS = re.compile(r"[A-Z0-9<]+", re.ASCII)
_SHAPES = {(3, 30): "TD1", (2, 36): "TD2", (2, 44): "TD3"}
_VISAS = {"TD3": "MRV-A", "TD2": "MRV-B"}  # by the shape of their lines
_GERMANY = {"D": "DEU"}  # the one state whose code in passports is not the one of ISO 3166-1


@dataclass(frozen=True, slots=True, kw_only=True)
class Mrz:
    """The fields as written, fillers taken off; dates are YYMMDD.

    ``names_full``: the name field has no filler at its end, so a name may be cut. ``faults``:
    fields whose check digit does not fit, ``whole`` for the digit over all of them.
    """

    kind: str
    state: str = field(repr=False)
    surname: str = field(repr=False)
    given_names: str = field(repr=False)
    number: str = field(repr=False)
    nationality: str = field(repr=False)
    birth: str = field(repr=False)
    sex: str = field(repr=False)
    expires: str = field(repr=False)
    names_full: bool
    faults: tuple[str, ...]


def read_mrz(lines: Sequence[str]) -> Mrz | None:
    """The fields of two lines of 44 or 36 signs, or of three of 30; None for another shape.

    Two lines that begin with V are a visa's (part 7: MRV-A, MRV-B).
    """
    rows = ["".join(line.split()).upper() for line in lines]
    shape = _SHAPES.get((len(rows), len(rows[0]) if rows else 0))
    if shape is None or any(len(row) != len(rows[0]) for row in rows):
        return None
    if not all(_SIGNS.fullmatch(row) for row in rows):
        return None
    if shape == "TD1":
        return _td1(rows)
    if rows[0].startswith("V"):
        return _two_lines(rows, _VISAS[shape])
    return _two_lines(rows, shape)


def _two_lines(rows: Sequence[str], kind: str) -> Mrz:
    """TD3 (part 4), TD2 (part 6) and visas: the second line holds the digits."""
    first, second = rows
    number, number_digit = _number(second[:9], second[9], second[28:35] if kind == "TD2" else "")
    digits = [
        ("number", number, number_digit),
        ("date of birth", second[13:19], second[19]),
        ("date of expiry", second[21:27], second[27]),
    ]
    if kind == "TD3":
        digits.append(("optional data", second[28:42], second[42]))
    if kind not in _VISAS.values():  # a visa has no digit over all fields
        digits.append(("whole", second[:10] + second[13:20] + second[21:-1], second[-1]))
    return _mrz(
        kind=kind,
        state=first[2:5],
        names=first[5:],
        number=number,
        nationality=second[10:13],
        birth=second[13:19],
        sex=second[20],
        expires=second[21:27],
        faults=_faults(digits),
    )


def _td1(rows: Sequence[str]) -> Mrz:
    """Cards (part 5): number in the first line, dates in the second, names in the third."""
    first, second, third = rows
    whole = first[5:] + second[:7] + second[8:15] + second[18:29]
    number, number_digit = _number(first[5:14], first[14], first[15:])
    return _mrz(
        kind="TD1",
        state=first[2:5],
        names=third,
        number=number,
        nationality=second[15:18],
        birth=second[:6],
        sex=second[7],
        expires=second[8:14],
        faults=_faults(
            [
                ("number", number, number_digit),
                ("date of birth", second[:6], second[6]),
                ("date of expiry", second[8:14], second[14]),
                ("whole", whole, second[29]),
            ]
        ),
    )


def _number(field: str, digit: str, further: str) -> tuple[str, str]:
    """(number, its digit). A longer one has a filler for its digit and goes on in the optional
    data, its digit last (parts 5 and 6).
    """
    rest = further.partition("<")[0]
    if digit != "<" or "<" in field or len(rest) < 2:
        return field, digit
    return field + rest[:-1], rest[-1]


def _mrz(
    *,
    kind: str,
    state: str,
    names: str,
    number: str,
    nationality: str,
    birth: str,
    sex: str,
    expires: str,
    faults: tuple[str, ...],
) -> Mrz:
    surname, _, given_names = names.partition("<<")
    return Mrz(
        kind=kind,
        state=state.rstrip("<"),
        surname=_plain(surname),
        given_names=_plain(given_names),
        number=number.rstrip("<"),
        nationality=nationality.rstrip("<"),
        birth=birth,
        sex=sex.replace("<", ""),
        expires=expires,
        names_full=not names.endswith("<"),
        faults=faults,
    )


def _plain(name: str) -> str:
    return " ".join(part for part in name.split("<") if part)


def _faults(digits: Sequence[tuple[str, str, str]]) -> tuple[str, ...]:
    return tuple(name for name, text, digit in digits if not _fits(text, digit))


def _fits(text: str, digit: str) -> bool:
    """An empty field may have a filler for its digit."""
    if digit == "<":
        return set(text) == {"<"}
    return digit.isdigit() and check_digit(text) == int(digit)


# --- agreement --------------------------------------------------------------------------------


def check_mrz(packet: Packet) -> Iterator[Finding]:
    """``mrz`` where the lines cannot be right, ``mrz-disagrees`` for each disagreement."""
    lines = packet.passport.mrz
    if not lines:
        return
    mrz = read_mrz(lines)
    if mrz is None:
        yield _wrong(f"{KEY} is not two lines of 44 signs (A to Z, 0 to 9 and <).")
        return
    for name in mrz.faults:
        of = "all fields together" if name == "whole" else f"the {name}"
        yield _wrong(f"{KEY}: the check digit of {of} does not fit: a sign was mistyped.")
    for key, severity in _disagreements(packet, mrz):
        yield Finding(
            code="mrz-disagrees",
            severity=severity,
            subject=key,
            message=f"{KEY} and {key} disagree.",
            remedy="Compare both with the passport, and correct the one that is wrong.",
            source=SOURCE,
        )


def _disagreements(packet: Packet, mrz: Mrz) -> Iterator[tuple[str, Severity]]:
    person, passport = packet.applicant, packet.passport
    if passport.number and "".join(passport.number.split()).upper() != mrz.number:
        yield "passport.number", Severity.ERROR
    if not _same_day(passport.expires, mrz.expires):
        yield "passport.expires", Severity.ERROR
    if not _same_day(person.date_of_birth, mrz.birth):
        yield "applicant.date_of_birth", Severity.ERROR
    if person.sex and mrz.sex and person.sex != mrz.sex:
        yield "applicant.sex", Severity.ERROR
    nationality = _GERMANY.get(mrz.nationality, mrz.nationality)
    if person.citizenship and nationality and person.citizenship != nationality:
        yield "applicant.citizenship", Severity.ERROR
    if not _same_name(person.surname, mrz.surname, cut=mrz.names_full):
        yield "applicant.surname", Severity.WARNING
    if not _same_name(person.given_names, mrz.given_names, cut=mrz.names_full):
        yield "applicant.given_names", Severity.WARNING


def _same_day(day: date | None, digits: str) -> bool:
    """Two-digit years are compared as such; an unknown part (fillers) contradicts nothing."""
    return day is None or "<" in digits or f"{day:%y%m%d}" == digits


def _same_name(name: str, written: str, *, cut: bool) -> bool:
    """True in any allowed transliteration; ``cut``: the written name may lack its end."""
    if not name:
        return True
    letters = written.replace(" ", "")
    return any(form == letters or (cut and form.startswith(letters)) for form in forms_of(name))


def _wrong(message: str) -> Finding:
    return Finding(
        code="mrz",
        severity=Severity.ERROR,
        subject=KEY,
        message=message,
        remedy=(
            "Copy the two lines at the foot of the passport's data page again, sign by sign, or "
            "take the key out."
        ),
        source=SOURCE,
    )
