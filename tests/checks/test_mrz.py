"""Machine-readable lines: specimens of ICAO Doc 9303 parts 4 and 5, and a reference library."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from itertools import combinations
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from mrz.base.functions import hash_string
from mrz.checker.mrva import MRVACodeChecker
from mrz.checker.mrvb import MRVBCodeChecker
from mrz.checker.td3 import TD3CodeChecker

from packet.checks.mrz import check_digit, check_mrz, read_mrz
from packet.model import Applicant, Packet, Passport, Severity
from packet.rules.reader import load_rule_set

TD3 = (
    "P<UTOERIKSSON<<ANNA<MARIA<<<<<<<<<<<<<<<<<<<",
    "L898902C36UTO7408122F1204159ZE184226B<<<<<10",
)
TD3_2006 = (TD3[0], "L898902C<3UTO6908061F9406236ZE184226B<<<<<14")  # the edition of 2006
TD1 = (
    "I<UTOD231458907<<<<<<<<<<<<<<<",
    "7408122F1204159UTO<<<<<<<<<<<6",
    "ERIKSSON<<ANNA<MARIA<<<<<<<<<<",
)
TD2 = ("I<UTOERIKSSON<<ANNA<MARIA<<<<<<<<<<<", "D231458907UTO7408122F1204159<<<<<<<6")
RULES = load_rule_set("elective-residence-first-issue")
PERSON = Packet(
    root=Path("x"),
    rule_set=RULES,
    documents=RULES.documents,
    applicant=Applicant(
        surname="Eriksson",
        given_names="Anna Maria",
        sex="F",
        date_of_birth=date(1974, 8, 12),
        citizenship="UTO",
    ),
    passport=Passport(number="L898902C3", expires=date(2012, 4, 15), mrz=TD3),
)


@pytest.mark.parametrize(
    ("text", "digit"),
    [
        ("520727", 3),  # examples of part 3 (from memory; the arithmetic by hand)
        ("AB2134<<<", 5),
        ("L898902C3", 6),
        ("740812", 2),
        ("120415", 9),
        ("ZE184226B<<<<<", 1),
    ],
)
def test_digits(text, digit):
    assert check_digit(text) == digit


@pytest.mark.parametrize(
    ("lines", "kind"), [(TD3, "TD3"), (TD3_2006, "TD3"), (TD1, "TD1"), (TD2, "TD2")]
)
def test_specimens(lines, kind):
    mrz = read_mrz(lines)

    assert (mrz.kind, mrz.faults) == (kind, ())
    assert (mrz.surname, mrz.given_names) == ("ERIKSSON", "ANNA MARIA")
    assert (mrz.state, mrz.nationality, mrz.sex) == ("UTO", "UTO", "F")


def test_fields_of_the_passport():
    mrz = read_mrz(TD3)

    assert (mrz.number, mrz.birth, mrz.expires) == ("L898902C3", "740812", "120415")
    assert not mrz.names_full
    assert read_mrz(TD1).number == read_mrz(TD2).number == "D23145890"


def test_the_reference_library_agrees():
    assert bool(TD3CodeChecker("\n".join(TD3)))


@given(st.integers(0, 43), st.sampled_from("ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789<"))
def test_one_wrong_sign_is_seen_as_the_library_sees_it(at, sign):
    line = TD3[1][:at] + sign + TD3[1][at + 1 :]
    theirs = TD3CodeChecker(f"{TD3[0]}\n{line}").report.falses
    ours = read_mrz((TD3[0], line)).faults

    assert bool(ours) == any("hash" in name for name, _ in theirs)


def test_what_a_digit_never_catches():
    """52 of the 666 pairs of signs have values that are equal mod 10."""
    signs = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ<"
    pairs = list(combinations(signs, 2))
    blind = [pair for pair in pairs if check_digit(pair[0]) == check_digit(pair[1])]

    assert (len(pairs), len(blind)) == (666, 52)
    assert {("6", "G"), ("8", "I"), ("4", "O"), ("0", "<")} <= set(blind)
    assert not {("0", "O"), ("1", "I"), ("8", "B"), ("5", "S"), ("2", "Z")} & set(blind)
    assert check_digit("16") != check_digit("61") or abs(1 - 6) == 5


def test_the_specimen_agrees_with_its_person():
    assert list(check_mrz(PERSON)) == []
    assert list(check_mrz(replace(PERSON, passport=Passport()))) == []


@pytest.mark.parametrize(
    ("part", "changed", "subject", "severity"),
    [
        ("passport", {"number": "L898902C4"}, "passport.number", Severity.ERROR),
        ("passport", {"expires": date(2012, 4, 16)}, "passport.expires", Severity.ERROR),
        ("applicant", {"date_of_birth": date(1974, 8, 13)}, None, Severity.ERROR),
        ("applicant", {"sex": "M"}, "applicant.sex", Severity.ERROR),
        ("applicant", {"citizenship": "ITA"}, "applicant.citizenship", Severity.ERROR),
        ("applicant", {"surname": "Erikson"}, "applicant.surname", Severity.WARNING),
        ("applicant", {"given_names": "Anna"}, "applicant.given_names", Severity.WARNING),
    ],
)
def test_each_disagreement_names_both_places(part, changed, subject, severity):
    made = replace(PERSON, **{part: replace(getattr(PERSON, part), **changed)})
    (finding,) = check_mrz(made)

    assert finding.subject == (subject or "applicant.date_of_birth")
    assert finding.severity is severity
    assert finding.message == f"passport.mrz and {finding.subject} disagree."


@pytest.mark.parametrize(
    ("name", "written"),
    [("Müller", "MUELLER"), ("Müller", "MUXXLLER"), ("D’Amico", "DAMICO"), ("Åström", "AASTROEM")],
)
def test_names_agree_in_every_allowed_form(name, written):
    first = f"P<UTO{written}<<ANNA<MARIA".ljust(44, "<")
    made = replace(
        PERSON,
        applicant=replace(PERSON.applicant, surname=name),
        passport=replace(PERSON.passport, mrz=(first, TD3[1])),
    )

    assert list(check_mrz(made)) == []


def test_a_cut_name_is_no_contradiction():
    first = f"P<UTO{'WASSERWINKELHOFER'}<<{'MAXIMILIANAWILHELMINA'}"[:44]
    assert len(first) == 44
    made = replace(
        PERSON,
        applicant=replace(
            PERSON.applicant, surname="Wasserwinkelhofer", given_names="Maximiliana Wilhelmina"
        ),
        passport=replace(PERSON.passport, mrz=(first, TD3[1])),
    )

    assert list(check_mrz(made)) == []


@pytest.mark.parametrize("lines", [("A",), ("A" * 44,), (TD3[0], TD3[1][:-1]), (TD3[0], "é" * 44)])
def test_another_shape_is_one_sentence(lines):
    (finding,) = check_mrz(replace(PERSON, passport=replace(PERSON.passport, mrz=lines)))

    assert finding.code == "mrz"
    assert "two lines of 44 signs" in finding.message


def test_a_mistyped_sign_names_its_field():
    line = TD3[1].replace("L898902C3", "L898902C5")
    found = list(check_mrz(replace(PERSON, passport=replace(PERSON.passport, mrz=(TD3[0], line)))))

    assert "the check digit of the number" in found[0].message
    assert [one.subject for one in found if one.code == "mrz-disagrees"] == ["passport.number"]


# ICAO Doc 9303 part 7, the specimens of the two formats of visa (from memory; the digits by hand).
MRV_A = (
    "V<UTOERIKSSON<<ANNA<MARIA<<<<<<<<<<<<<<<<<<<",
    "L8988901C4XXX4009078F96121096ZE184226B<<<<<<",
)
MRV_B = ("V<UTOERIKSSON<<ANNA<MARIA<<<<<<<<<<<", "L8988901C4XXX4009078F9612109<<<<<<<<")


@pytest.mark.parametrize(
    ("lines", "kind", "checker"),
    [(MRV_A, "MRV-A", MRVACodeChecker), (MRV_B, "MRV-B", MRVBCodeChecker)],
)
def test_visas(lines, kind, checker):
    mrz = read_mrz(lines)
    theirs = checker("\n".join(lines))

    assert (mrz.kind, mrz.faults) == (kind, ())
    assert (mrz.number, mrz.birth, mrz.expires, mrz.sex) == ("L8988901C", "400907", "961210", "F")
    assert not [name for name, _ in theirs.report.falses if "hash" in name]


def test_a_long_number_goes_on_in_the_optional_data():
    """Doc 9303 part 5: a number of more than nine signs (digit by the library's own function)."""
    number = "D23145890734"
    digit = hash_string(number)
    first = f"I<UTO{number[:9]}<{number[9:]}{digit}".ljust(30, "<")
    whole = hash_string(first[5:] + TD1[1][:7] + TD1[1][8:15] + TD1[1][18:29])
    mrz = read_mrz((first, TD1[1][:29] + whole, TD1[2]))

    assert (mrz.number, mrz.faults) == (number, ())
