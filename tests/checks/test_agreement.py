"""One person a packet: passport, visa, cards and packet.toml against each other.

The machine-readable lines are the specimens of ICAO Doc 9303 parts 4, 5 and 7, or made from them
with the digits of the package mrz; tax codes are made by python-codicefiscale.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from codicefiscale import codicefiscale as reference
from hypothesis import given, settings
from hypothesis import strategies as st
from mrz.generator.mrva import MRVACodeGenerator
from mrz.generator.td1 import TD1CodeGenerator
from mrz.generator.td3 import TD3CodeGenerator

from checks.making import item as item_of
from packet.checks.agreement import check_read_values, check_scans
from packet.model import Applicant, Entry, Kind, Packet, Passport, Severity, Visa
from packet.readings import CodeRead, MrzLines, Reading, ReadState
from packet.rules.codes import letter_tables
from packet.rules.reader import load_rule_set

TODAY = date(2026, 11, 25)
RULES = load_rule_set("elective-residence-first-issue")
PERSON = Packet(
    root=Path("x"),
    rule_set=RULES,
    documents=RULES.documents,
    applicant=Applicant(
        surname="Veldaro",
        given_names="Mirela Ana",
        sex="F",
        date_of_birth=date(1958, 7, 14),
        country_of_birth="USA",
        citizenship="UTO",
    ),
    passport=Passport(number="UX4071936", expires=date(2031, 5, 2), booklet_pages=28),
    visa=Visa(number="UV0041820", valid_to=date(2027, 11, 9)),
)
BASE = {
    "surname": "VELDARO",
    "given_names": "MIRELA ANA",
    "nationality": "UTO",
    "birth": "580714",
    "sex": "F",
}


def passport(state=ReadState.READ, **changed):
    of = BASE | {"number": "UX4071936", "expires": "310502"} | changed
    text = TD3CodeGenerator(
        "P", "UTO", of["surname"], of["given_names"], of["number"], of["nationality"],
        of["birth"], of["sex"], of["expires"], force=True,
    )  # fmt: skip
    return _mrz("TD3", text, state)


def visa(state=ReadState.READ, **changed):
    of = BASE | {"number": "UV0041820", "expires": "271109", "by": "ITA"} | changed
    text = MRVACodeGenerator(
        "V", of["by"], of["surname"], of["given_names"], of["number"], of["nationality"],
        of["birth"], of["sex"], of["expires"], force=True,
    )  # fmt: skip
    return _mrz("MRV-A", text, state)


def card(state=ReadState.READ, **changed):
    of = BASE | {"number": "CA1234567", "expires": "300101"} | changed
    text = TD1CodeGenerator(
        "I", "UTO", of["number"], of["birth"], of["sex"], of["expires"], of["nationality"],
        of["surname"], of["given_names"], force=True,
    )  # fmt: skip
    return _mrz("TD1", text, state)


def _mrz(kind, text, state):
    return Reading(
        mrz=(MrzLines(mrz_format=kind, lines=tuple(str(text).split("\n")), state=state),)
    )


def tax_card(code=None, state=ReadState.READ, **changed):
    of = {
        "lastname": "Veldaro",
        "firstname": "Mirela Ana",
        "gender": "F",
        "birthdate": "14/07/1958",
        "birthplace": "Z404",  # born in the USA
    }
    code = code or reference.encode(**(of | changed))
    return Reading(tax_codes=(CodeRead(value=code, source="text", state=state),))


def items(**readings):
    kinds = {
        "passport": (Kind.PASSPORT_SPREAD, Kind.PASSPORT_SPREAD),
        "id_card": (Kind.ID_CARD_FRONT, Kind.ID_CARD_BACK),
        "tax_card": (Kind.TAX_CARD_FRONT, Kind.TAX_CARD_BACK),
        "home": (Kind.A4_PAGE, Kind.A4_PAGE),
    }
    found = {}
    for name, told in readings.items():
        folder = name.replace("_", "-")
        many = told if isinstance(told, list) else [told]
        found[folder] = tuple(
            replace(item_of(kinds[name][at % 2], scan=f"{folder}/{at}.jpg"), reading=one)
            for at, one in enumerate(many)
        )
    return found


def told(findings):
    return [(one.code, one.severity, one.subject) for one in findings]


WHOLE = items(passport=[passport(), visa()], id_card=[None, card()], tax_card=[tax_card()])
PASSPORT, VISA = "passport/0.jpg#1.1", "passport/1.jpg#1.1"


def test_one_person_throughout():
    assert check_scans(PERSON, WHOLE) == ()
    assert check_read_values(PERSON, WHOLE, TODAY) == ()


def test_what_was_not_read_contradicts_nothing():
    unread = items(
        passport=[passport(ReadState.UNREAD, number="AA0000000", birth="010101")],
        tax_card=[None, Reading()],
    )

    assert check_scans(PERSON, unread) == ()
    assert check_read_values(PERSON, unread, TODAY) == ()


@pytest.mark.parametrize(
    ("changed", "key", "severity"),
    [
        ({"number": "UX4071938"}, "passport.number", Severity.ERROR),  # a wrong digit
        ({"expires": "310503"}, "passport.expires", Severity.ERROR),
        ({"birth": "580715"}, "applicant.date_of_birth", Severity.ERROR),
        ({"nationality": "ITA"}, "applicant.citizenship", Severity.ERROR),
        ({"sex": "M"}, "applicant.sex", Severity.ERROR),
    ],
)
def test_packet_toml_against_the_passport(changed, key, severity):
    (finding,) = check_read_values(PERSON, items(passport=passport(**changed)), TODAY)

    assert (finding.code, finding.severity, finding.subject) == (
        "read-disagrees",
        severity,
        PASSPORT,
    )
    assert finding.message == f"{key} in packet.toml is not what this passport says."


@pytest.mark.parametrize("state", [ReadState.REPAIRED, ReadState.UNSURE])
def test_a_doubtful_reading_gives_doubts(state):
    read = items(passport=passport(state, number="UX4071938", birth="580715"))
    found = check_read_values(PERSON, read, TODAY)

    assert {one.severity for one in found} == {Severity.WARNING}
    assert len(found) == 2
    assert all("hard to read" in one.message for one in found)


@pytest.mark.parametrize(
    ("name", "written"),
    [("Müller", "MUELLER"), ("Müller", "MULLER"), ("D’Amico", "DAMICO"), ("Ñandú", "NXXANDU")],
)
def test_names_in_every_allowed_form(name, written):
    """ICAO Doc 9303 part 3: the table of transliterations."""
    person = replace(PERSON, applicant=replace(PERSON.applicant, surname=name))

    assert check_scans(person, items(passport=passport(surname=written))) == ()


def test_two_papers_may_write_a_name_in_two_allowed_ways():
    person = replace(PERSON, applicant=replace(PERSON.applicant, surname="Müller"))
    both = items(passport=[passport(surname="MUELLER"), visa(surname="MULLER")])

    assert check_scans(person, both) == ()


@pytest.mark.parametrize(
    "changed", [{"surname": "VELDARA"}, {"given_names": "MIRELA"}, {"given_names": "ANA MIRELA"}]
)
def test_a_name_that_differs_is_a_doubt(changed):
    (key,) = changed
    (finding,) = check_scans(PERSON, items(passport=passport(**changed)))

    assert told([finding]) == [("read-disagrees", Severity.WARNING, PASSPORT)]
    assert f"applicant.{key}" in finding.message


STRANGER = {"surname": "ORLANDEN", "given_names": "TOMAS", "birth": "910203", "sex": "M"}


def test_another_persons_passport():
    found = check_scans(PERSON, items(passport=passport(**STRANGER)))

    assert told(found) == [("other-person", Severity.ERROR, PASSPORT)]
    assert "packet.toml" in found[0].message
    assert check_read_values(PERSON, items(passport=passport(**STRANGER)), TODAY) == ()


@pytest.mark.parametrize("swapped", ["visa", "card"])
def test_another_persons_paper_among_the_scans(swapped):
    mixed = {
        "visa": items(passport=[passport(), visa(**STRANGER)], id_card=[None, card()]),
        "card": items(passport=[passport(), visa()], id_card=[None, card(**STRANGER)]),
    }[swapped]
    subject = {"visa": VISA, "card": "id-card/1.jpg#1.1"}[swapped]
    (finding,) = check_scans(PERSON, mixed)

    assert told([finding]) == [("other-person", Severity.ERROR, subject)]
    assert PASSPORT in finding.message


def test_another_persons_tax_card():
    code = tax_card(lastname="Orlanden", firstname="Tomas", gender="M", birthdate="03/02/1991")
    found = check_scans(PERSON, items(passport=passport(), tax_card=code))

    assert told(found) == [("other-person", Severity.ERROR, "tax-card/0.jpg#1.1")]


def test_another_persons_tax_card_where_no_passport_was_read():
    code = tax_card(lastname="Orlanden", firstname="Tomas", gender="M", birthdate="03/02/1991")
    found = check_scans(PERSON, items(tax_card=code))

    assert told(found) == [("other-person", Severity.ERROR, "tax-card/0.jpg#1.1")]


def test_a_landlords_card_among_the_papers_of_a_home_is_his():
    lease = items(passport=passport(), home=[card(**STRANGER), tax_card(lastname="Orlanden")])

    assert check_scans(PERSON, lease) == ()


def test_a_card_may_name_another_nationality():
    """Somebody with two nationalities holds a card of one state and a passport of the other."""
    (finding,) = check_scans(
        PERSON, items(passport=passport(), id_card=[None, card(nationality="ITA")])
    )

    assert told([finding]) == [("papers-disagree", Severity.WARNING, "id-card/1.jpg#1.1")]


@pytest.mark.parametrize(
    ("changed", "what"),
    [({"birth": "590714"}, "date of birth"), ({"nationality": "ITA"}, "nationality")],
)
def test_a_visa_that_contradicts_the_passport(changed, what):
    found = check_scans(PERSON, items(passport=[passport(), visa(**changed)]))

    assert told(found) == [("papers-disagree", Severity.ERROR, VISA)]
    assert what in found[0].message


def test_two_passports():
    found = check_scans(PERSON, items(passport=[passport(), passport(number="UX4071937")]))

    assert told(found) == [("papers-disagree", Severity.ERROR, VISA)]
    assert "passport number" in found[0].message


@pytest.mark.parametrize(
    ("number", "severity"),
    [
        ("UV0041821", Severity.ERROR),  # one sign: mistyped
        ("UX4071936", None),  # the visa may name the passport
        ("QQ9999999", Severity.WARNING),
    ],
)
def test_number_of_the_visa(number, severity):
    found = check_read_values(PERSON, items(passport=[passport(), visa(number=number)]), TODAY)

    assert [one.severity for one in found] == ([severity] if severity else [])


def test_old_visas_of_other_states_are_not_the_visa():
    old = visa(number="KK1111111", by="USA", expires="200101")

    assert check_read_values(PERSON, items(passport=[passport(), old]), TODAY) == ()
    assert check_read_values(PERSON, items(passport=[passport(), old, visa()]), TODAY) == ()


def test_read_days_by_the_rules_of_dates():
    """Passport valid through the visa, entry within it, its days against its dates."""
    typed = replace(
        PERSON,
        passport=Passport(number="UX4071936"),
        visa=Visa(number="UV0041820", valid_from=date(2027, 1, 1), duration_days=400),
        entry=Entry(date=date(2027, 11, 10)),
    )
    read = items(passport=[passport(expires="271001"), visa()])
    found = check_read_values(typed, read, TODAY)

    assert sorted((one.code, one.severity, one.subject) for one in found) == [
        ("date-doubt", Severity.WARNING, PASSPORT),
        ("date-order", Severity.ERROR, PASSPORT),
        ("date-order", Severity.ERROR, VISA),
        ("date-order", Severity.ERROR, VISA),
    ]


def test_tax_code_typed_and_on_the_card():
    other = reference.encode("Veldaro", "Mirela Ana", "F", "15/07/1958", "Z404")
    person = replace(PERSON, applicant=replace(PERSON.applicant, tax_code=other))
    (finding,) = check_read_values(person, items(passport=passport(), tax_card=tax_card()), TODAY)

    assert told([finding]) == [("read-disagrees", Severity.ERROR, "tax-card/0.jpg#1.1")]
    assert "applicant.tax_code" in finding.message


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"firstname": "Mirela"}, "the first given name alone"),
        ({"firstname": "Ana"}, "the second given name alone"),
        ({"lastname": "Ana"}, "the last given name (a maiden or middle name used as surname)"),
        ({"lastname": "Orlanden"}, None),
    ],
)
def test_a_code_that_does_not_follow_from_the_name_is_a_doubt(changed, said):
    """Vectors: python-codicefiscale."""
    found = check_scans(PERSON, items(passport=passport(), tax_card=tax_card(**changed)))

    assert [one.severity for one in found] == [Severity.WARNING]
    assert (f"it follows from {said}" in found[0].message) == (said is not None)


def test_a_code_with_another_birth_date_of_the_same_name_is_an_error():
    found = check_scans(
        PERSON, items(passport=passport(), tax_card=tax_card(birthdate="15/07/1958"))
    )

    assert told(found) == [("papers-disagree", Severity.ERROR, "tax-card/0.jpg#1.1")]


def test_the_place_of_birth():
    """Z and three digits for a birth abroad (decree of 23 December 1976)."""
    italian = tax_card(birthplace="H501")  # Rome
    (finding,) = check_read_values(PERSON, items(passport=passport(), tax_card=italian), TODAY)

    assert told([finding]) == [("read-disagrees", Severity.WARNING, "tax-card/0.jpg#1.1")]
    assert "applicant.country_of_birth" in finding.message


def test_clash_codes_agree_with_their_person():
    code = reference.encode("Veldaro", "Mirela Ana", "F", "14/07/1958", "Z404")
    for clash in reference.decode(code)["omocodes"]:
        read = items(passport=passport(), tax_card=tax_card(clash))
        assert check_scans(PERSON, read) == ()


def test_text_and_bar_code_that_differ_are_a_doubt():
    one = tax_card()
    clash = reference.decode(one.tax_codes[0].value)["omocodes"][5]
    other = CodeRead(value=clash, source="barcode", state=ReadState.READ)
    both = replace(one, tax_codes=(*one.tax_codes, other))
    (finding,) = check_scans(PERSON, items(passport=passport(), tax_card=both))

    assert told([finding]) == [("papers-disagree", Severity.WARNING, "tax-card/0.jpg#1.1")]


def test_no_message_holds_a_value():
    values = ("VELDARO", "ORLANDEN", "MIRELA", "UX40", "UV00", "580714", "910203", "1958", "CA12")
    mixed = items(
        passport=[passport(), passport(**STRANGER), visa(number="UV0041821", birth="590714")],
        id_card=[None, card(surname="VELDARA", sex="M")],
        tax_card=[tax_card(firstname="Ana"), tax_card(birthdate="15/07/1958")],
    )
    person = replace(PERSON, passport=Passport(number="UX4071938"))
    found = [*check_scans(person, mixed), *check_read_values(person, mixed, TODAY)]

    assert len(found) >= 7
    for finding in found:
        said = repr(finding).upper()
        assert not any(value in said for value in values)


LETTERS = [
    (sign, form)
    for table in letter_tables()
    for sign, forms in table.letters.items()
    for form in forms
    if sign.isalpha() and sign == sign.upper()
]
NAMES = st.lists(
    st.sampled_from([*LETTERS, *((sign, sign) for sign in "ABCDEFGHIKLMNOPRSTUVZ")]),
    min_size=3,
    max_size=7,
)


@settings(max_examples=60)
@given(NAMES, NAMES, NAMES)
def test_no_name_in_an_allowed_form_is_ever_doubted(surname, first, second):
    """Every letter of the table of ICAO Doc 9303 part 3, in every form that it allows."""

    def typed(name):
        return "".join(sign for sign, _ in name).capitalize()

    def written(name):
        return "".join(form for _, form in name)

    given_names = f"{written(first)} {written(second)}"
    person = replace(
        PERSON,
        applicant=replace(
            PERSON.applicant,
            surname=typed(surname),
            given_names=f"{typed(first)} {typed(second)}",
        ),
    )
    names = {"surname": written(surname), "given_names": given_names}
    read = items(passport=[passport(**names), visa(**names)], id_card=[None, card(**names)])

    assert check_scans(person, read) == ()
