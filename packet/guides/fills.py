"""The words of ``fill`` in ``rules/boxes.toml``, each with the function that fills the box."""

from __future__ import annotations

from collections.abc import Mapping

from packet.guides import choices, texts
from packet.guides.filled import Context, Fill, Filled
from packet.rules.boxes import Box


def fill(context: Context, box: Box) -> Filled | None:
    """What stands in ``box``; None where the box stays empty and is named with the others."""
    return FILLS[box.fill](context, box)


FILLS: Mapping[str, Fill] = {
    "province-seat": texts.letters("address.province_seat"),
    "province": texts.province,
    "stamp": choices.stamp,
    "surname": texts.letters("applicant.surname"),
    "given-names": texts.letters("applicant.given_names"),
    "town": texts.letters("address.town"),
    "cross": choices.cross,
    "cross-no": choices.cross_no,
    "reason-code": texts.reason_code,
    "permit-number": texts.code("permit.number"),
    "permit-code": texts.permit_code,
    "permit-expires": texts.date_of("permit.expires", lambda p: p.permit.expires),
    "box-22": choices.box_22,
    "module-1": choices.module(1),
    "module-2": choices.module(2),
    "count": choices.count_number,
    "signing-day": choices.signing_day,
    "signature": choices.signature,
    "tax-code": texts.tax_code,
    "civil-status": choices.civil_status,
    "sex": choices.sex,
    "birth-date": texts.date_of("applicant.date_of_birth", lambda p: p.applicant.date_of_birth),
    "birth-state": texts.table_code(
        "applicant.country_of_birth", lambda p: p.applicant.country_of_birth
    ),
    "citizenship": texts.table_code("applicant.citizenship", lambda p: p.applicant.citizenship),
    "birth-place": texts.letters("applicant.place_of_birth"),
    "passport-number": texts.code("passport.number"),
    "passport-expires": texts.date_of("passport.expires", lambda p: p.passport.expires),
    "issued-by": choices.issued_by,
    "entry-date": texts.date_of("entry.date", lambda p: p.entry.date),
    "entry-border": texts.letters("entry.border"),
    "visa-number": texts.code("visa.number"),
    "visa-type": texts.code("visa.type"),
    "single-entry": choices.entries(choices.SINGLE),
    "multiple-entries": choices.entries(choices.MANY),
    "visa-purpose": texts.letters("visa.purpose"),
    "visa-days": texts.visa_days,
    "visa-from": texts.date_of("visa.valid_from", lambda p: p.visa.valid_from),
    "visa-to": texts.date_of("visa.valid_to", lambda p: p.visa.valid_to),
    "street": texts.street,
    "house-number": texts.house_number,
    "look": choices.look,
    "email": texts.letters("address.email"),
}

# The key of packet.toml behind a fill, where there is one: a check that doubts it marks the box.
KEYS: Mapping[str, str] = {
    "province": "address.province",
    "surname": "applicant.surname",
    "given-names": "applicant.given_names",
    "town": "address.town",
    "permit-number": "permit.number",
    "permit-expires": "permit.expires",
    "tax-code": "applicant.tax_code",
    "sex": "applicant.sex",
    "birth-date": "applicant.date_of_birth",
    "birth-state": "applicant.country_of_birth",
    "citizenship": "applicant.citizenship",
    "birth-place": "applicant.place_of_birth",
    "passport-number": "passport.number",
    "passport-expires": "passport.expires",
    "entry-date": "entry.date",
    "entry-border": "entry.border",
    "visa-number": "visa.number",
    "visa-purpose": "visa.purpose",
    "visa-days": "visa.duration_days",
    "visa-from": "visa.valid_from",
    "visa-to": "visa.valid_to",
    "street": "address.street",
    "house-number": "address.house_number",
    "email": "address.email",
}
