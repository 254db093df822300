"""Does the tax code agree with the person? (Finance Ministry decree of 23 December 1976)

The code's shape and check letter are python-stdnum's to judge. Only the revenue agency issues a
code: where code and passport differ, the passport's data go on the form, and the doubt is the
user's to clear. Clash codes hold letters in digit places.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from packet.checks.name_forms import follows, other_given, other_surname
from packet.model import Applicant, Finding, Severity
from packet.rules.codes import birth_states

KEY = "applicant.tax_code"
SOURCE = "Finance Ministry decree of 23 December 1976"
_MONTHS = "ABCDEHLMPRST"  # January to December
_CLASH = str.maketrans("LMNPQRSTUV", "0123456789")  # letters of clash codes, in digit places
_VOWELS = "AEIOU"
_DIGIT_PLACES = frozenset({6, 7, 9, 10, 12, 13, 14})
_FEMALE = 40  # added to the day of birth


@dataclass(frozen=True, slots=True, kw_only=True)
class CodeParts:
    """What the letters of a code say. ``year``: two digits, no century in it."""

    surname: str
    given_names: str
    year: int
    month: int
    day: int
    sex: str
    place: str


def surname_letters(surname: str) -> str:
    """The three letters for a surname in A to Z: consonants, then vowels, then X."""
    consonants, vowels = _split(surname)
    return (consonants + vowels + "XXX")[:3]


def given_letters(given_names: str) -> str:
    """The three letters for the given names, all in one: of four consonants 1st, 3rd, 4th."""
    consonants, vowels = _split(given_names)
    if len(consonants) >= 4:
        return consonants[0] + consonants[2] + consonants[3]
    return (consonants + vowels + "XXX")[:3]


def _split(name: str) -> tuple[str, str]:
    return (
        "".join(sign for sign in name if sign not in _VOWELS),
        "".join(sign for sign in name if sign in _VOWELS),
    )


def compact(code: str) -> str:
    """The code in capitals without spaces."""
    return "".join(code.split()).upper()


def fault(code: str) -> str:
    """Why the code cannot be one, in words for "The tax code …"; "" when shape and letter hold."""
    from stdnum import exceptions
    from stdnum.it import codicefiscale

    number = compact(code)
    try:
        codicefiscale.validate(number)
    except exceptions.InvalidLength:
        return f"has {len(number)} characters where 16 are due"
    except exceptions.InvalidChecksum:
        return "has a last character that does not fit the rest: one of them was misread"
    except exceptions.ValidationError:
        return "does not have the shape of one"
    return ""


def parts_of(code: str) -> CodeParts | None:
    """What a sound code of 16 characters says; None for another (a provisional one is a number)."""
    number = compact(code)
    if len(number) != 16 or fault(number):
        return None
    day = int(number[9:11].translate(_CLASH))
    return CodeParts(
        surname=number[:3],
        given_names=number[3:6],
        year=int(number[6:8].translate(_CLASH)),
        month=_MONTHS.index(number[8]) + 1,
        day=day % _FEMALE,
        sex="F" if day > _FEMALE else "M",
        place=number[11] + number[12:15].translate(_CLASH),
    )


def without_clash(code: str) -> str:
    """The first 15 characters of a code with the digits that clash letters stand for.

    Two codes of one person, one of them given out against a clash, are equal so.
    """
    return "".join(
        sign.translate(_CLASH) if at in _DIGIT_PLACES else sign
        for at, sign in enumerate(compact(code)[:15])
    )


def check_tax_code(person: Applicant) -> Iterator[Finding]:
    """``tax-code`` where the code cannot be one, ``tax-code-disagrees`` for each disagreement."""
    if not person.tax_code:
        return
    if why := fault(person.tax_code):
        yield Finding(
            code="tax-code",
            severity=Severity.ERROR,
            subject=KEY,
            message=f"The tax code (tax_code) {why}.",
            remedy=(
                "Copy it again from the card or certificate into tax_code under [applicant] in "
                "packet.toml."
            ),
            source=SOURCE,
        )
        return
    parts = parts_of(person.tax_code)
    if parts is None:
        yield _provisional()
        return
    for key, differs in _disagreements(person, parts):
        yield _disagrees(key, differs)


def _disagreements(person: Applicant, parts: CodeParts) -> Iterator[tuple[str, str]]:
    """(key of [applicant], what it and the code differ in)."""
    surname, given = person.surname, person.given_names
    if surname and not follows(parts.surname, surname, surname_letters):
        form = other_surname(parts.surname, surname, given, surname_letters)
        yield "surname", name_doubt("surname", form)
    if given and not follows(parts.given_names, given, given_letters):
        form = other_given(parts.given_names, given, surname, given_letters)
        yield "given_names", name_doubt("given_names", form)
    if person.date_of_birth and not _born(person.date_of_birth, parts):
        yield "date_of_birth", "the date of birth (characters 7 to 11)"
    if person.sex and person.sex != parts.sex:
        yield "sex", "the sex (characters 10 and 11: 40 is added to the day for women)"
    if birth_place_differs(person.country_of_birth, parts):
        yield (
            "country_of_birth",
            "the place of birth (characters 12 to 15: Z and three digits for a state abroad)",
        )


def name_doubt(key: str, form: str) -> str:
    """What a code and a name differ in, in words, and the form of the name that would fit."""
    said = {
        "surname": "the surname (letters 1 to 3)",
        "given_names": "the given names (letters 4 to 6)",
    }[key]
    return f"{said}: it follows from {form}" if form else said


def birth_place_differs(country: str, parts: CodeParts) -> bool:
    """True where one of the two says born in Italy and the other abroad, or in another state.

    Only states that are known by their code contradict each other.
    """
    if not country:
        return False
    if (country != "ITA") != parts.place.startswith("Z"):
        return True
    states = birth_states()
    known = country in states.values() and parts.place in states
    return known and states[parts.place] != country


def _born(day: date, parts: CodeParts) -> bool:
    return (day.year % 100, day.month, day.day) == (parts.year, parts.month, parts.day)


def _disagrees(key: str, differs: str) -> Finding:
    return Finding(
        code="tax-code-disagrees",
        severity=Severity.WARNING,
        subject=KEY,
        message=f"{KEY} and applicant.{key} disagree about {differs}.",
        remedy=(
            "Compare both with the passport and the card. The passport's data go on the form; if "
            "the card is wrong, ask the revenue agency (Agenzia delle Entrate)."
        ),
        source=SOURCE,
    )


def _provisional() -> Finding:
    return Finding(
        code="tax-code-disagrees",
        severity=Severity.NOTE,
        subject=KEY,
        message="The tax code is a number of 11 digits, which cannot be compared with the person.",
        remedy="Ask the office whether it takes a provisional code on the form.",
    )
