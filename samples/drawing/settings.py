"""packet.toml of each demo packet, with invented values."""

from __future__ import annotations

from .people import Person, iso

TEXT = """\
# Invented data: the specimen state UTO, an invented person, drawn papers.
rule_set = "{rule_set}"
not_held = []

[applicant]
surname = "{p.surname}"
given_names = "{p.given_names}"
sex = "{p.sex}"
civil_status = "{civil_status}"
date_of_birth = {born}
place_of_birth = "{p.birthplace}"
country_of_birth = "UTO"
citizenship = "UTO"
tax_code = "{p.tax_code}"

[passport]
number = "{p.passport_number}"
expires = {expires}
booklet_pages = 28
pages = "{pages}"
issued_by = "own-state"

[visa]
number = "{p.visa_number}"
type = "D"
purpose = "RESIDENZA ELETTIVA"
valid_from = {visa_from}
valid_to = {visa_to}
duration_days = 365
entries = "MULT"

[entry]
date = {entered}
border = "FIUMICINO"

[address]
province = "{p.province}"
province_seat = "{p.town}"
town = "{p.town}"
street = "{street}"
house_number = "{house_number}"
postcode = "{p.postcode}"
email = "{email}"

[form]
modules = [1]
box_22 = "number"

[count]
form_leaves = 4
"""


def packet_toml(person: Person, *, rule_set: str, pages: str, civil_status: str) -> str:
    """The text of packet.toml for a demo packet."""
    name = person.given_names.split()[0].lower() + "." + person.surname.lower()
    street, _, house_number = person.street.rpartition(" ")
    return TEXT.format(
        p=person, rule_set=rule_set, pages=pages, civil_status=civil_status, born=iso(person.born),
        expires=iso(person.passport_expires), visa_from=iso(person.visa_from),
        visa_to=iso(person.visa_to), entered=iso(person.entered), email=f"{name}@example.org",
        street=street, house_number=house_number,
    )  # fmt: skip
