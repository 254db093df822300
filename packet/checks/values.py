"""Everything that the values of packet.toml can prove by themselves, for the form.

A contradiction is an error, a doubt a warning. No message holds a value of a person.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date

from packet.checks.dates import check_dates
from packet.checks.mrz import check_mrz
from packet.checks.severity import worst_first
from packet.checks.tax_code import check_tax_code
from packet.checks.transliteration import block_letters
from packet.model import Finding, Packet, Severity
from packet.rules.codes import province_codes, state_codes

_POSTCODE = re.compile(r"[0-9]{5}", re.ASCII)
_EMAIL = re.compile(r"[^\s@]+@[^\s@.]+(?:\.[^\s@.]+)+")


def check_values(packet: Packet, today: date) -> tuple[Finding, ...]:
    """Findings about the values, worst first; all at once."""
    return worst_first(
        (
            *check_dates(packet, today),
            *check_tax_code(packet.applicant),
            *check_mrz(packet),
            *_states(packet),
            *_address(packet),
            *_letters(packet),
        )
    )


def _states(packet: Packet) -> Iterator[Finding]:
    person = packet.applicant
    for key, code in (
        ("country_of_birth", person.country_of_birth),
        ("citizenship", person.citizenship),
    ):
        if code and code not in state_codes():
            yield Finding(
                code="unknown-state",
                severity=Severity.WARNING,
                subject=f"applicant.{key}",
                message=f"applicant.{key} is not a known code of a state.",
                remedy="Take the three letters from table 3 of your kit.",
            )


def _address(packet: Packet) -> Iterator[Finding]:
    address = packet.address
    if address.province and address.province not in province_codes():
        yield Finding(
            code="unknown-province",
            severity=Severity.WARNING,
            subject="address.province",
            message="address.province is not a known code of an Italian province.",
            remedy="Take the two letters from table 1 of your kit.",
        )
    if address.postcode and not _POSTCODE.fullmatch(address.postcode):
        yield Finding(
            code="postcode",
            severity=Severity.WARNING,
            subject="address.postcode",
            message="address.postcode is not five digits, as Italian postcodes are.",
            remedy="Write it in quotes, with its zeros in front.",
        )
    if address.email and not _EMAIL.fullmatch(address.email):
        yield Finding(
            code="email",
            severity=Severity.WARNING,
            subject="address.email",
            message="address.email does not have the shape of an e-mail address.",
            remedy="Correct it, or leave it empty: the box is optional.",
        )


def form_texts(packet: Packet) -> dict[str, str]:
    """Key path -> text that the worksheet writes in block letters."""
    person, visa, address = packet.applicant, packet.visa, packet.address
    return {
        "applicant.surname": person.surname,
        "applicant.given_names": person.given_names,
        "applicant.place_of_birth": person.place_of_birth,
        "passport.number": packet.passport.number,
        "visa.number": visa.number,
        "visa.type": visa.type,
        "visa.purpose": visa.purpose,
        "entry.border": packet.entry.border,
        "address.province_seat": address.province_seat,
        "address.town": address.town,
        "address.street": address.street,
        "address.house_number": address.house_number,
        "address.email": address.email,
        "permit.number": packet.permit.number,
    }


def _letters(packet: Packet) -> Iterator[Finding]:
    """Letters that have no form in A to Z (another script)."""
    for key, text in form_texts(packet).items():
        if block_letters(text).unknown:
            yield Finding(
                code="letters",
                severity=Severity.ERROR,
                subject=key,
                message=f"{key} holds a letter that cannot be written in the cells of the form.",
                remedy=(
                    "Write it in Latin letters, as in the machine-readable lines of the passport."
                ),
            )
