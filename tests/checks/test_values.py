"""What the values of packet.toml prove about each other."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from packet.checks.values import check_values
from packet.model import (
    Address,
    Applicant,
    Appointment,
    Entry,
    NewPermit,
    Packet,
    Passport,
    Permit,
    Receipt,
    Severity,
    Visa,
)
from packet.rules.reader import load_rule_set

TODAY = date(2026, 11, 25)
RULES = load_rule_set("elective-residence-first-issue")
GOOD = Packet(
    root="x",
    rule_set=RULES,
    documents=RULES.documents,
    applicant=Applicant(
        surname="Veldaro",
        given_names="Mirela Ana",
        sex="F",
        date_of_birth=date(1958, 7, 14),
        country_of_birth="UTO",
        citizenship="UTO",
        tax_code="VLDMLN58L54Z999Q",
    ),
    passport=Passport(number="UX4071936", expires=date(2031, 5, 2)),
    visa=Visa(valid_from=date(2026, 11, 10), valid_to=date(2027, 11, 9), duration_days=365),
    entry=Entry(date=date(2026, 11, 20)),
    address=Address(province="VT", postcode="01100", email="a.b@example.org"),
)


def codes(packet, today=TODAY):
    return [(finding.code, finding.subject) for finding in check_values(packet, today)]


def test_nothing_to_say_about_sound_values():
    assert check_values(GOOD, TODAY) == ()
    assert check_values(Packet(root="x", rule_set=RULES, documents=()), TODAY) == ()


def test_the_length_may_be_the_whole_window():
    """10 November to 9 November of the next year are 365 days, both ends counted."""
    visa = replace(GOOD.visa, duration_days=366)

    assert codes(replace(GOOD, visa=visa)) == [("date-order", "visa.duration_days")]


@pytest.mark.parametrize(
    ("changed", "subject"),
    [
        ({"visa": Visa(valid_from=date(2027, 1, 2), valid_to=date(2027, 1, 1)),
          "entry": Entry()}, "visa.valid_to"),
        ({"entry": Entry(date=date(2026, 11, 9))}, "entry.date"),
        ({"receipt": Receipt(date=date(2026, 11, 19))}, "receipt.date"),
        ({"appointment": Appointment(date=date(2026, 11, 1)),
          "receipt": Receipt(date=date(2026, 11, 24))}, "appointment.date"),
        ({"new_permit": NewPermit(issued=date(2026, 11, 1), expires=date(2026, 10, 1))},
         "new_permit.expires"),
        ({"permit": Permit(first_issued=date(2026, 1, 1), expires=date(2025, 1, 1))},
         "permit.expires"),
        ({"new_permit": NewPermit(issued=date(2026, 12, 24))}, "new_permit.issued"),
    ],
)  # fmt: skip
def test_contradictions_are_errors_and_name_both_places(changed, subject):
    found = check_values(replace(GOOD, **changed), TODAY)

    (finding,) = [one for one in found if one.code == "date-order"]
    assert finding.severity is Severity.ERROR
    assert finding.subject == subject
    assert subject in finding.message


def test_both_places_stand_in_the_message():
    visa = Visa(valid_from=date(2027, 1, 2), valid_to=date(2027, 1, 1))
    found = check_values(replace(GOOD, visa=visa, entry=Entry()), TODAY)

    assert "visa.valid_from and visa.valid_to disagree" in found[0].message


@pytest.mark.parametrize(
    ("changed", "code", "subject"),
    [
        ({"passport": Passport(expires=date(2026, 11, 24))}, "date-doubt", "passport.expires"),
        ({"passport": Passport(expires=date(2027, 11, 8))}, "date-doubt", "passport.expires"),
        ({"entry": Entry(date=date(2026, 11, 26))}, "date-doubt", "entry.date"),
        ({"valid_until": {"home": date(2026, 11, 24)}}, "date-doubt", "valid_until.home"),
        ({"address": Address(province="QQ")}, "unknown-province", "address.province"),
        ({"address": Address(postcode="1100")}, "postcode", "address.postcode"),
        ({"address": Address(email="a@b")}, "email", "address.email"),
        ({"address": Address(email="a b@example.org")}, "email", "address.email"),
    ],
)
def test_doubts_are_warnings(changed, code, subject):
    found = check_values(replace(GOOD, **changed), TODAY)

    assert [(one.code, one.subject) for one in found] == [(code, subject)]
    assert found[0].severity is Severity.WARNING
    assert found[0].remedy


def test_at_a_renewal_the_visa_is_history():
    later = date(2027, 12, 1)

    assert codes(GOOD, later) == [("date-doubt", "visa.valid_to")]
    assert codes(replace(GOOD, rule_set=replace(RULES, is_renewal=True)), later) == []


def test_aosta_is_a_province():
    assert codes(replace(GOOD, address=Address(province="AO"))) == []


def test_a_state_that_is_not_known():
    person = replace(GOOD.applicant, citizenship="QQQ")

    assert codes(replace(GOOD, applicant=person)) == [("unknown-state", "applicant.citizenship")]


def test_a_name_in_another_script_and_all_at_once():
    packet = replace(
        GOOD,
        applicant=replace(GOOD.applicant, place_of_birth="京都", tax_code="VLDMLN58L54Z999A"),
        address=Address(province="QQ", postcode="x"),
    )

    assert codes(packet) == [
        ("tax-code", "applicant.tax_code"),
        ("letters", "applicant.place_of_birth"),
        ("unknown-province", "address.province"),
        ("postcode", "address.postcode"),
    ]


def test_no_message_holds_a_value():
    packet = replace(
        GOOD,
        applicant=replace(GOOD.applicant, tax_code="VLDMLN58L54Z999A", citizenship="QQQ"),
        address=Address(postcode="9876", email="nobody", province="ZZ"),
        passport=Passport(expires=date(2001, 2, 3)),
    )
    text = " ".join(f"{one.message} {one.remedy}" for one in check_values(packet, TODAY))

    for value in ("VLDMLN", "QQQ", "9876", "nobody", "ZZ", "2001"):
        assert value not in text
