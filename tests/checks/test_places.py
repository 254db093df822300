"""A paper in the folder of another document."""

from __future__ import annotations

from dataclasses import replace

import pytest

from checks.making import HOME, ID_CARD, PASSPORT, item, packet
from packet.checks.places import check_places, is_personal
from packet.model import Kind
from packet.readings import MrzLines, Reading, ReadState

TD3 = (  # the specimen of ICAO Doc 9303 part 4
    "P<UTOERIKSSON<<ANNA<MARIA<<<<<<<<<<<<<<<<<<<",
    "L898902C36UTO7408122F1204159ZE184226B<<<<<10",
)


def found(folder, item_kind, **reading):
    one = replace(item(item_kind, folder=folder), reading=Reading(**reading))
    return list(check_places(packet(), {folder: (one,)}))


def test_a_tax_card_among_the_identity_cards():
    (finding,) = found(
        "id-card", Kind.ID_CARD_FRONT, kind=Kind.TAX_CARD_FRONT, kind_confidence=0.95
    )

    assert finding.code == "wrong-document"
    assert 'document = "tax-card"' in finding.remedy


def test_a_passport_is_known_by_its_lines():
    lines = MrzLines(mrz_format="TD3", lines=TD3, state=ReadState.READ)
    (finding,) = found("home", Kind.OTHER, mrz=(lines,))

    assert 'document = "passport"' in finding.remedy


@pytest.mark.parametrize(
    ("folder", "kind", "seen", "confidence"),
    [
        ("id-card", Kind.ID_CARD_FRONT, Kind.ID_CARD_BACK, 0.99),
        ("passport", Kind.PASSPORT_SPREAD, Kind.VISA_PAGE, 0.99),
        ("home", Kind.A4_PAGE, Kind.FORM_PAGE, 0.99),
        ("id-card", Kind.ID_CARD_FRONT, Kind.TAX_CARD_FRONT, 0.5),
        ("id-card", Kind.ID_CARD_FRONT, None, 0.99),
    ],
)
def test_what_fits_or_is_unsure_is_left(folder, kind, seen, confidence):
    assert found(folder, kind, kind=seen, kind_confidence=confidence) == []


def test_papers_of_one_person_alone():
    assert is_personal(PASSPORT)
    assert is_personal(ID_CARD)
    assert not is_personal(HOME)
    assert is_personal(replace(HOME, identity=True))
