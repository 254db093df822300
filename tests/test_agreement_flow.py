"""Whole packets whose scans were read: wrong person, wrong digit, swapped card, misplaced opening.

The readings are made by hand (specimens of ICAO Doc 9303 parts 4 and 5); folder, packet.toml,
order, pages, findings and accepts are the real ones.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
from checks.test_agreement import STRANGER, card, passport, tax_card
from small_packet import make
from sorting.making import item, read

from packet import pipeline
from packet.checks.accept import apply_accepts
from packet.checks.agreement import check_read_values
from packet.files import writing
from packet.model import Kind, PageResult, Severity
from packet.pipeline import lay_out_packet, write_build
from packet.reading import list_packet

TOML = """\
rule_set = "elective-residence-first-issue"
[applicant]
surname = "Veldaro"
given_names = "Mirela Ana"
date_of_birth = 1958-07-14
citizenship = "UTO"
[passport]
number = "UX4071936"
pages = "written"
"""
TODAY = date(2026, 11, 25)


def seen(tmp_path, readings, more=""):
    """What check finds in a packet of these scans: path -> (kind, reading)."""
    (tmp_path / "packet.toml").write_text(TOML + more, "utf-8")
    for name in readings:
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_bytes(name.encode())
    listed = list_packet(tmp_path, encode=False, preview=False)
    pages = [
        PageResult(
            scan=scan.name,
            page=1,
            width_px=1,
            height_px=1,
            items=(item(scan.name, readings[scan.name][0], readings[scan.name][1]),),
        )
        for scan in listed.scans
    ]
    made = lay_out_packet(listed, pages, ())
    values = apply_accepts(made.packet, check_read_values(made.packet, made.items, TODAY))
    found = [one for one in (*made.findings, *values) if one.code in CODES]
    return made, {(one.code, one.subject, one.severity, one.accepted) for one in found}


CODES = {
    "other-person", "papers-disagree", "read-disagrees", "wrong-document", "opening-order",
    "tax-code-disagrees",
}  # fmt: skip
RIGHT = {
    "passport/1.jpg": (Kind.PASSPORT_SPREAD, passport()),
    "id-card/1.jpg": (Kind.ID_CARD_FRONT, None),
    "id-card/2.jpg": (Kind.ID_CARD_BACK, card()),
    "tax-card/1.jpg": (Kind.TAX_CARD_FRONT, tax_card()),
}


def test_the_right_papers(tmp_path):
    assert seen(tmp_path, RIGHT)[1] == set()


def test_a_wrong_digit(tmp_path):
    wrong = RIGHT | {"passport/1.jpg": (Kind.PASSPORT_SPREAD, passport(number="UX4071938"))}

    assert seen(tmp_path, wrong)[1] == {
        ("read-disagrees", "passport/1.jpg#1.1", Severity.ERROR, False)
    }


def test_a_wrong_person(tmp_path):
    wrong = RIGHT | {"id-card/2.jpg": (Kind.ID_CARD_BACK, card(**STRANGER))}
    made, found = seen(tmp_path, wrong)

    assert found == {("other-person", "id-card/2.jpg#1.1", Severity.ERROR, False)}
    assert not made.ready


def test_a_swapped_card(tmp_path):
    """A tax card in the folder of the identity card."""
    tax = replace(tax_card(), kind=Kind.TAX_CARD_FRONT, kind_confidence=0.95)
    wrong = RIGHT | {"id-card/1.jpg": (Kind.ID_CARD_FRONT, tax)}

    assert seen(tmp_path, wrong)[1] == {
        ("wrong-document", "id-card/1.jpg#1.1", Severity.WARNING, False)
    }


def test_another_persons_tax_card(tmp_path):
    code = tax_card(lastname="Orlanden", firstname="Tomas", gender="M", birthdate="03/02/1991")
    wrong = RIGHT | {"tax-card/1.jpg": (Kind.TAX_CARD_FRONT, code)}

    assert seen(tmp_path, wrong)[1] == {
        ("other-person", "tax-card/1.jpg#1.1", Severity.ERROR, False)
    }


@pytest.mark.parametrize("code", ["other-person", "read-disagrees"])
def test_what_was_misread_can_be_accepted(tmp_path, code):
    name, readings = {
        "other-person": ("id-card/2.jpg", (Kind.ID_CARD_BACK, card(**STRANGER))),
        "read-disagrees": ("passport/1.jpg", (Kind.PASSPORT_SPREAD, passport(number="UX4071938"))),
    }[code]
    more = f'[[item]]\nscan = "{name}"\naccept = ["{code}"]\n'
    _, found = seen(tmp_path, RIGHT | {name: readings}, more)

    assert found == {(code, f"{name}#1.1", Severity.ERROR, True)}


def test_openings_out_of_order(tmp_path):
    spread = Kind.PASSPORT_SPREAD
    book = {
        f"passport/{at}.jpg": (spread, read(spread, numbers=numbers))
        for at, numbers in enumerate([(2, 3), (6, 7), (4, 5)])
    }

    assert seen(tmp_path, book)[1] == {
        ("opening-order", "passport/2.jpg#1.1", Severity.WARNING, False)
    }


def test_no_read_value_gets_into_a_build(tmp_path):
    """Record, review page and findings of a build whose scans were read."""
    root = make(tmp_path / "packet", openings=1, papers=1)
    listed = list_packet(root, encode=True, preview=True, read=True)
    pages = pipeline.gather(root, encode=True, preview=True).pages
    readings = {"passport": replace(passport(**STRANGER), page_numbers=(12, 13))}
    readings["means"] = tax_card()
    with_texts = [
        replace(
            page,
            items=tuple(
                replace(one, reading=readings[one.scan.partition("/")[0]]) for one in page.items
            ),
        )
        for page in pages
    ]
    out = root / "out"
    with writing(out):
        built = write_build(listed, with_texts, (), out)
    assert "other-person" in {one.code for one in built.findings}
    values = [b"ORLANDEN", b"TOMAS", b"UX4071936", b"910203", b"VLDMLN"]
    for path in out.iterdir():
        data = path.read_bytes()
        assert not any(value in data.upper() for value in values), path.name
