"""What is missing: documents, sides of cards, the name, the form."""

from __future__ import annotations

from dataclasses import replace

import pytest

from checks.making import HOME, ID_CARD, form, image, item, packet, spec, whole
from packet.checks.completeness import check_documents
from packet.model import Applicant, CountChoice, FormChoice, Kind, Severity


def found(given, items):
    """(code, severity, subject) of each finding, the standing note about the form left away."""
    return [
        (f.code, f.severity.value, f.subject)
        for f in check_documents(given, items)
        if f.code != "form-not-scanned"
    ]


def test_a_whole_packet_lacks_only_the_form():
    findings = check_documents(packet(), whole())

    assert [(f.code, f.severity) for f in findings] == [("form-not-scanned", Severity.NOTE)]


def test_a_required_document_without_pages_is_an_error_with_its_source():
    findings = check_documents(packet(), whole(home=()))

    assert (findings[0].code, findings[0].severity) == ("missing-document", Severity.ERROR)
    assert findings[0].subject == "home/"
    assert findings[0].source == HOME.source


def test_an_if_held_document_is_asked_for_until_the_user_says_it_is_not_held():
    assert found(packet(), whole(id_card=())) == [("missing-document", "warning", "id-card/")]
    assert found(packet(not_held=("id-card",)), whole(id_card=())) == []


def test_a_required_document_stays_missing_even_if_listed_as_not_held():
    assert found(packet(not_held=("home",)), whole(home=())) == [
        ("missing-document", "error", "home/")
    ]


def test_scans_of_a_document_that_is_not_held_are_a_contradiction():
    assert found(packet(not_held=("id-card",)), whole()) == [
        ("held-after-all", "warning", "not_held")
    ]


@pytest.mark.parametrize(
    ("kind", "side"), [(Kind.ID_CARD_FRONT, "back"), (Kind.ID_CARD_BACK, "front")]
)
def test_a_card_with_one_side_names_the_other(kind, side):
    findings = check_documents(packet(), whole(id_card=(item(kind),)))

    assert findings[0].code == "missing-side"
    assert findings[0].subject == item(kind).subject
    assert f"the {side} of the card" in findings[0].message


def test_the_side_of_a_required_card_is_an_error():
    required = replace(ID_CARD, need="required")
    given = packet((required,))

    assert found(given, {"id-card": (item(Kind.ID_CARD_FRONT),)})[0][:2] == (
        "missing-side",
        "error",
    )


def test_the_same_picture_twice_is_no_second_side():
    twice = (item(Kind.ID_CARD_FRONT, seed=1), item(Kind.ID_CARD_BACK, seed=1))

    assert [code for code, *_ in found(packet(), whole(id_card=twice))] == ["missing-side"]


def test_both_cards_on_one_glass_are_complete():
    """Two cards on one flatbed scan: two items of one page."""
    both = (
        item(Kind.ID_CARD_FRONT, folder="id-card", item=1),
        item(Kind.ID_CARD_BACK, folder="id-card", item=2),
    )

    assert found(packet(), whole(id_card=both)) == []


def test_a_tax_code_on_an_a4_paper_is_complete_by_itself():
    """Foreigners often hold an A4 certificate, not a card (common practice, no source)."""
    assert found(packet(), whole(tax_card=(item(Kind.A4_PAGE, folder="tax-card"),))) == []


def test_the_index_needs_a_name():
    assert found(packet(applicant=Applicant()), whole()) == [
        ("missing-name", "warning", "applicant.surname")
    ]


def test_a_paper_of_the_users_own_is_looked_for_too():
    own = spec("letters", Kind.A4_PAGE, source="")

    assert found(packet((own,)), {}) == [("missing-document", "error", "letters/")]


# --- the form ------------------------------------------------------------------------------


def test_leaves_nobody_counted_stand_beside_the_number():
    """MOD. 209, note (g): the forms are part of the number."""
    given = packet(count=CountChoice(form_leaves=4, form_leaves_confirmed=False))
    findings = check_documents(given, whole())

    assert findings[0].code == "form-leaves-unconfirmed"
    assert findings[0].severity is Severity.WARNING
    assert findings[0].subject == "count.form_leaves"
    assert findings[0].source == "MOD. 209, note (g)"


def test_a_form_copied_by_hand_is_not_asked_for():
    given = packet(form=FormChoice(copied_by_hand=True))

    assert check_documents(given, whole()) == ()


@pytest.mark.parametrize(
    ("modules", "wanted"),
    [((1,), 8), ((1, 2), 11)],  # printed pages of the kit's forms: 8 and 3
)
def test_a_scanned_form_has_its_printed_pages(modules, wanted):
    given = packet(form=FormChoice(modules=modules))

    assert [c for c, *_ in found(given, whole(form=form(wanted)))] == ["form-signature"]
    for pages in (wanted - 1, wanted + 1):
        first = check_documents(given, whole(form=form(pages)))[0]
        assert (first.code, first.severity) == ("form-pages", Severity.WARNING)
        assert (first.measured, first.limit) == (pages, wanted)
        assert first.message.startswith(("Form 1 should", "Forms 1 and 2 should"))


def test_the_signature_is_asked_for_once_the_form_is_scanned():
    """MOD. 209, note (f): not signed, not accepted at the counter."""
    findings = check_documents(packet(), whole(form=form(8)))

    assert [(f.code, f.severity, f.source) for f in findings] == [
        ("form-signature", Severity.NOTE, "MOD. 209, note (f)")
    ]
    assert "box 29" in findings[0].message


def test_no_message_carries_a_value_from_an_identity_paper():
    given = packet(
        applicant=Applicant(surname="ERIKSSON", given_names="ANNA MARIA", tax_code="X" * 16)
    )
    for items in ({}, whole(), whole(form=form(3), passport=())):
        for finding in check_documents(given, items):
            text = " ".join((finding.message, finding.remedy, finding.subject))
            assert "ERIKSSON" not in text
            assert "ANNA" not in text
            assert "X" * 16 not in text


def test_pictures_of_different_items_stay_apart():
    assert image(1).digest != image(2).digest
