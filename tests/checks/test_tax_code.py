"""The tax code: decree of 23 December 1976, against two reference packages.

python-stdnum judges shape and check letter in the tool itself; python-codicefiscale is a second,
independent implementation.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from itertools import combinations

import pytest
from codicefiscale import codicefiscale as reference
from hypothesis import given
from hypothesis import strategies as st
from stdnum.it import codicefiscale as stdnum

from packet.checks.tax_code import (
    birth_place_differs,
    check_tax_code,
    fault,
    given_letters,
    parts_of,
    surname_letters,
    without_clash,
)
from packet.model import Applicant, Severity
from packet.rules.codes import birth_states, state_codes

# Published examples: two from an encyclopedia's article (the origin is unverified), one printed
# in many guides, one each from the documentation of python-stdnum and of python-codicefiscale.
SPECIMENS = [
    "MRTMTT25D09F205Z",
    "MLLSNT82P65Z404U",
    "RSSMRA80A01H501U",
    "RCCMNL83S18D969H",
    "CCCFBA85D03L219P",
]
DIGIT_PLACES = (6, 7, 9, 10, 12, 13, 14)
CLASH = "LMNPQRSTUV"
PERSON = Applicant(
    surname="Veldaro",
    given_names="Mirela Ana",
    sex="F",
    date_of_birth=date(1958, 7, 14),
    country_of_birth="UTO",
    tax_code="VLDMLN58L54Z999Q",
)
NAMES = st.text("ABCDEFGHIJKLMNOPQRSTUVWXYZ", min_size=2, max_size=12)


def findings(**changed):
    return list(check_tax_code(replace(PERSON, **changed)))


@pytest.mark.parametrize("code", SPECIMENS)
def test_published_examples_hold_in_all_three(code):
    assert fault(code) == ""
    assert reference.is_valid(code)
    assert stdnum.is_valid(code)


@pytest.mark.parametrize(("code", "total"), [("MRTMTT25D09F205Z", 155), ("MLLSNT82P65Z404U", 176)])
def test_check_letter_from_the_table(code, total):
    """Worked by the table of the decree: the sum of the values, mod 26, as a letter."""
    odd = dict(zip("0123456789", (1, 0, 5, 7, 9, 13, 15, 17, 19, 21), strict=True))
    odd |= dict(
        zip(
            "ABCDEFGHIJKLMNOPQRSTUVWXYZ",
            (
                *(1, 0, 5, 7, 9, 13, 15, 17, 19, 21, 2, 4, 18, 20),
                *(11, 3, 6, 8, 12, 14, 16, 10, 22, 25, 24, 23),
            ),
            strict=True,
        )
    )
    even = {sign: int(sign) for sign in "0123456789"}
    even |= {sign: at for at, sign in enumerate("ABCDEFGHIJKLMNOPQRSTUVWXYZ")}

    found = sum((odd if at % 2 == 0 else even)[sign] for at, sign in enumerate(code[:15]))

    assert found == total
    assert chr(ord("A") + found % 26) == code[15]
    assert fault(code) == ""


@pytest.mark.parametrize(
    ("surname", "letters"),
    [
        ("ROSSI", "RSS"),
        ("RIVA", "RVI"),
        ("RE", "REX"),
        ("FO", "FOX"),
        ("GIORDANO", "GRD"),
        ("AIELLO", "LLA"),
        ("DAMICO", "DMC"),
        ("HU", "HUX"),
        ("LI", "LIX"),
    ],
)
def test_letters_of_surnames(surname, letters):
    """Examples of public guides to the decree; AIELLO, HU, LI measured with a reference."""
    assert surname_letters(surname) == letters


@pytest.mark.parametrize(
    ("name", "letters"),
    [
        ("VINCENZO", "VCN"),
        ("MARTA", "MRT"),
        ("SARA", "SRA"),
        ("AL", "LAX"),
        ("ALESSANDRO", "LSN"),
        ("GIANFRANCO", "GFR"),
    ],
)
def test_letters_of_given_names(name, letters):
    """Four consonants or more: the 1st, 3rd and 4th. Examples of public guides."""
    assert given_letters(name) == letters


@given(NAMES, NAMES, st.dates(date(1930, 1, 1), date(2020, 12, 31)), st.sampled_from("FM"))
def test_the_reference_encodes_what_we_read(surname, given_names, born, sex):
    code = reference.encode(
        lastname=surname,
        firstname=given_names,
        gender=sex,
        birthdate=born.isoformat(),
        birthplace="Stati Uniti d'America",
    )
    assert code[11:15] == "Z404"  # the United States' cadastral code
    person = Applicant(
        surname=surname,
        given_names=given_names,
        sex=sex,
        date_of_birth=born,
        country_of_birth="USA",
        tax_code=code,
    )

    assert list(check_tax_code(person)) == []


def clash_forms(code):
    for size in range(len(DIGIT_PLACES) + 1):
        for places in combinations(DIGIT_PLACES, size):
            body = "".join(
                CLASH[int(sign)] if at in places else sign for at, sign in enumerate(code[:15])
            )
            yield body + stdnum.calc_check_digit(body)


def test_clash_codes_are_codes_too():
    """128 forms, the base among them; letters in digit places are read back as digits."""
    base = "MRTMTT25D09F205Z"
    forms = set(clash_forms(base))

    assert len(forms) == 128
    assert "MRTMTT25D09F20RU" in forms
    assert {parts_of(code) for code in forms} == {parts_of(base)}
    assert all(reference.is_valid(code) for code in forms)


def test_day_of_a_woman_and_state_of_birth():
    parts = parts_of("MLLSNT82P65Z404U")

    assert (parts.year, parts.month, parts.day) == (82, 9, 25)
    assert (parts.sex, parts.place) == ("F", "Z404")


def test_the_demo_person_agrees():
    assert findings() == []
    assert findings(tax_code="") == []
    assert findings(tax_code="vldmln 58l54 z999q") == []


@pytest.mark.parametrize(
    "code", ["VLDMLN58L54Z999A", "VLDMLN58L54Z99", "1234567890123456", "VLDMLN58L54Z999QQ", "山"]
)
def test_a_code_that_cannot_be_one(code):
    (finding,) = findings(tax_code=code)

    assert finding.code == "tax-code"
    assert finding.severity is Severity.ERROR
    assert finding.subject == "applicant.tax_code"
    assert code not in finding.message + finding.remedy


@pytest.mark.parametrize(
    ("changed", "key"),
    [
        ({"surname": "Rossi"}, "surname"),
        ({"given_names": "Ana"}, "given_names"),
        ({"sex": "M"}, "sex"),
        ({"date_of_birth": date(1958, 7, 15)}, "date_of_birth"),
        ({"date_of_birth": date(1959, 7, 14)}, "date_of_birth"),
        ({"country_of_birth": "ITA"}, "country_of_birth"),
    ],
)
def test_each_disagreement_names_its_two_places(changed, key):
    (finding,) = findings(**changed)

    assert finding.code == "tax-code-disagrees"
    assert finding.severity is Severity.WARNING  # the passport's data go on the form
    assert finding.message.startswith(f"applicant.tax_code and applicant.{key} disagree")


def test_any_allowed_form_of_a_name_agrees():
    code = reference.encode(
        lastname="Muller",
        firstname="Rene",
        gender="M",
        birthdate="1958-07-14",
        birthplace="Stati Uniti d'America",
    )
    person = Applicant(surname="Müller", given_names="René", tax_code=code)

    assert list(check_tax_code(person)) == []


def test_a_provisional_code_is_a_number():
    """11 digits with the check digit of Italian VAT numbers (python-stdnum)."""
    (finding,) = findings(tax_code="00743110157")

    assert finding.severity is Severity.NOTE


@pytest.mark.parametrize(
    ("lastname", "firstname", "said"),
    [
        ("Veldaro", "Mirela", "the first given name alone"),
        ("Veldaro", "Ana", "the second given name alone"),
        ("Veldaro", "Ana Mirela", "the given names in another order"),
        ("Ana", "Mirela Ana", "the last given name (a maiden or middle name used as surname)"),
        ("Veldaro", "Orlanden", ""),
    ],
)
def test_the_form_of_the_name_that_would_fit_is_said(lastname, firstname, said):
    """Codes by python-codicefiscale."""
    code = reference.encode(lastname, firstname, "F", "14/07/1958", "Z404")
    (finding,) = findings(tax_code=code, country_of_birth="USA")

    assert finding.severity is Severity.WARNING
    assert finding.message.partition(": it follows from ")[2].rstrip(".") == said
    assert "MIRELA" not in finding.message.upper()


def test_a_clash_code_is_known_as_the_code_of_the_same_person():
    base = "MRTMTT25D09F205Z"
    assert {without_clash(code) for code in clash_forms(base)} == {base[:15]}
    assert without_clash("MLLSNT82P65Z404U") != base[:15]


def test_states_of_birth_are_those_of_the_reference():
    """Names of python-codicefiscale against those of ISO 3166-1 (pycountry), where they are one."""
    alike = {"Stati Uniti d'America": "USA", "Regno Unito": "GBR", "Francia": "FRA",
             "Germania": "DEU", "Brasile": "BRA", "Canada": "CAN", "Australia": "AUS",
             "Giappone": "JPN", "Svizzera": "CHE", "Argentina": "ARG"}  # fmt: skip
    for name, code in alike.items():
        made = reference.encode("Rossi", "Mario", "M", "01/01/1980", name)
        assert birth_states()[made[11:15]] == code
    assert birth_states()["Z404"] == "USA"  # in the published example above
    assert set(birth_states().values()) <= state_codes()
    assert len(set(birth_states().values())) == len(birth_states()) == 212


@pytest.mark.parametrize(
    ("place", "country", "differs"),
    [
        ("Z404", "USA", False),
        ("Z114", "USA", True),
        ("Z999", "USA", False),  # a code that is not known
        ("Z114", "UTO", False),  # a state that is not known
        ("H501", "ITA", False),
        ("Z404", "ITA", True),
        ("H501", "USA", True),
        ("H501", "", False),
    ],
)
def test_place_of_birth(place, country, differs):
    parts = replace(parts_of("MLLSNT82P65Z404U"), place=place)

    assert birth_place_differs(country, parts) is differs
