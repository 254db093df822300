"""Kinds and documents from size, machine-readable lines, words and page numbers.

Which words stand on which paper is common practice, no source; sizes: ISO/IEC 7810 and ISO 216;
formats of machine-readable lines: ICAO Doc 9303.
"""

from __future__ import annotations

import tomllib
from importlib.resources import files

import pytest
from hypothesis import given
from hypothesis import strategies as st

from packet.model import Kind
from packet.recognition.kinds import Seen, tell_kind
from packet.recognition.terms import TextLine, document_terms
from packet.recognition.vocabulary import (
    document_words,
    found,
    holds,
    kind_words,
    plain,
    plain_line,
)
from packet.rules.reader import load_rule_set, rule_set_names

ID1, ID2, PAGE, OPEN = (85.6, 53.98), (105.0, 74.0), (125.0, 88.0), (176.0, 125.0)
DATA_OPEN, A4 = (125.0, 176.0), (210.0, 297.0)


def lines(*texts: str, head: bool = True) -> tuple[TextLine, ...]:
    return tuple(
        TextLine(text=text, score=0.98, x=0.1, y=0.1 * at, width=0.5, height=0.03, head=head)
        for at, text in enumerate(texts)
    )


CASES = [
    (Kind.PASSPORT_SPREAD, {"size_mm": DATA_OPEN, "mrz": "TD3", "guess": Kind.A4_PAGE}),
    (Kind.PASSPORT_PAGE, {"size_mm": PAGE, "mrz": "TD3", "guess": Kind.ID_CARD_FRONT}),
    (Kind.VISA_PAGE, {"size_mm": PAGE, "mrz": "MRV-A", "guess": Kind.PASSPORT_PAGE}),
    (Kind.PASSPORT_SPREAD, {"size_mm": DATA_OPEN, "mrz": "MRV-B", "guess": Kind.PASSPORT_SPREAD}),
    (Kind.PASSPORT_SPREAD, {"size_mm": OPEN, "numbers": True, "guess": Kind.A4_PAGE}),
    (Kind.PASSPORT_COVER, {"size_mm": OPEN, "luma": 40.0, "guess": Kind.PASSPORT_SPREAD}),
    (
        Kind.PASSPORT_COVER,  # faded or overexposed: its print is still lighter than the stock
        {"size_mm": OPEN, "luma": 140.0, "light_signs": True, "guess": Kind.PASSPORT_SPREAD,
         "lines": lines("REISEPASS")},
    ),
    (Kind.ID_CARD_BACK, {"size_mm": ID1, "mrz": "TD1", "guess": Kind.ID_CARD_FRONT}),
    (
        Kind.PERMIT_BACK,
        {"size_mm": ID1, "mrz": "TD1", "code": "IR", "issuer": "ITA", "holder": "UTO",
         "guess": Kind.ID_CARD_BACK},
    ),
    (
        Kind.ID_CARD_BACK,
        {"size_mm": ID1, "mrz": "TD1", "code": "C<", "issuer": "ITA", "holder": "UTO",
         "guess": Kind.ID_CARD_BACK},
    ),
    (Kind.ID_CARD_FRONT, {"size_mm": ID2, "mrz": "TD2", "guess": Kind.PASSPORT_PAGE}),
    (Kind.TAX_CARD_BACK, {"size_mm": ID1, "tax_bars": True, "guess": Kind.ID_CARD_BACK}),
    (
        Kind.TAX_CARD_FRONT,
        {"size_mm": ID1, "tax_text": True, "guess": Kind.ID_CARD_FRONT,
         "lines": lines("TESSERA SANITARIA", "Cognome", "Nome", "Luogo di nascita")},
    ),
    (
        Kind.PERMIT_FRONT,
        {"size_mm": ID1, "guess": Kind.ID_CARD_FRONT, "lines": lines("PERMESSO DI SOGGIORNO")},
    ),
    (
        Kind.FORM_PAGE,
        {"size_mm": A4, "guess": Kind.A4_PAGE, "level": 40,
         "lines": lines("MODULO 1", "FIRMA DEL RICHIEDENTE", "COGNOME")},
    ),
    (
        Kind.A4_PAGE,
        {"size_mm": A4, "guess": Kind.A4_PAGE, "level": 40, "lines": lines("LEASE AGREEMENT")},
    ),
]  # fmt: skip


@pytest.mark.parametrize(
    ("kind", "what"), CASES, ids=[f"{k.value}-{i}" for i, (k, _) in enumerate(CASES)]
)
def test_kinds_are_told(kind, what):
    told = tell_kind(Seen(**what))

    assert told.kind is kind
    assert told.confidence > 0.7
    assert told.reason


def test_a_certificate_of_the_tax_code_is_no_card():
    """ISO 216 and ID-1 of ISO/IEC 7810 have shapes that are told apart."""
    words = lines("CODICE FISCALE", "TESSERA SANITARIA", "Cognome", "Nome", "Luogo di nascita")

    told = tell_kind(Seen(size_mm=A4, guess=Kind.A4_PAGE, tax_text=True, lines=words))

    assert told.kind is Kind.A4_PAGE


def test_a_zone_that_was_not_read_still_tells_the_back_of_a_card():
    words = lines("CODICE FISCALE / FISCAL CODE", "I<UTOD231458907<<<<<<")

    told = tell_kind(Seen(size_mm=ID1, guess=Kind.ID_CARD_FRONT, tax_text=True, lines=words))

    assert told.kind is Kind.ID_CARD_BACK
    assert told.confidence < 0.7  # an identity card or a permit


def test_only_a_wanted_kind_is_told():
    told = tell_kind(
        Seen(
            size_mm=ID1, guess=Kind.TAX_CARD_FRONT, kinds=(Kind.TAX_CARD_FRONT, Kind.TAX_CARD_BACK)
        )
    )

    assert told.kind in {Kind.TAX_CARD_FRONT, Kind.TAX_CARD_BACK}


def test_no_reason_holds_what_was_read():
    values = lines("CARTWRIGHT", "L898902C3", "RSSMRA45C12F205C", "IDENTITY CARD")

    told = tell_kind(Seen(size_mm=ID1, guess=Kind.ID_CARD_FRONT, lines=values))

    assert not any(line.text in told.reason for line in values)
    assert not any(line.text in repr(values) for line in values)


@pytest.mark.parametrize(
    ("folder", "head", "body"),
    [
        ("home", "CONTRATTO DI LOCAZIONE AD USO ABITATIVO", "Il locatore concede al conduttore"),
        ("home", "TENANCY AGREEMENT", "the landlord and the tenant"),
        ("means", "BANK STATEMENT", "closing balance"),
        ("means", "CEDOLINO DELLA PENSIONE", "importo netto"),
        ("insurance", "POLIZZA SANITARIA", "il contraente e l'assicurato"),
        ("insurance", "HEALTH INSURANCE POLICY", "medical expenses"),
        ("tax-card", "ATTRIBUZIONE DEL CODICE FISCALE", "Cognome"),
    ],
)
def test_a_title_and_its_text_tell_the_document(folder, head, body):
    assert document_terms([*lines(head), *lines(body, head=False)]) == (folder,)


@pytest.mark.parametrize(
    "texts",
    [(), ("Gentile signora",), ("BOLLETTA ENERGIA ELETTRICA", "Totale da pagare"), ("1", "X", "")],
)
def test_other_papers_are_given_to_no_document(texts):
    assert document_terms(lines(*texts)) == ()


def test_two_documents_that_are_as_likely_are_both_named():
    assert set(document_terms(lines("LEASE AGREEMENT", "INSURANCE POLICY"))) == {
        "home",
        "insurance",
    }


def test_every_document_on_paper_has_words():
    """A new document of a rule set gets its words in words.toml."""
    sets = [load_rule_set(name) for name in rule_set_names()]
    folders = {
        spec.folder
        for one in sets
        for spec in one.documents
        if {Kind.A4_PAGE, Kind.LETTER_PAGE} & set(spec.kinds)
    }

    assert folders <= set(document_words())


def test_the_words_say_where_they_come_from():
    table = tomllib.loads((files("packet.recognition") / "words.toml").read_text("utf-8"))

    assert table["source"] == "common practice, no source"
    assert table["as_of"].year >= 2026
    assert {Kind(name) for name in kind_words()}


@pytest.mark.parametrize(
    ("text", "phrase", "stands"),
    [
        ("CARTA DI IDENTITÀ / IDENTITY CARD", "carta di identita", True),
        ("CARTADIDENTITA", "carta d'identita", True),
        ("PERMESSO DI SOGGIORN0", "permesso di soggiorno", True),
        ("PERMESS DI SOGGIORNO", "permesso di soggiorno", True),
        ("PERMESSO DI S0GGI0RN0", "permesso di soggiorno", False),
        ("REVISAL", "visa", False),
        ("VISA / VISTO", "visa", True),
        ("the tenants", "tenant", False),
    ],
)
def test_words_are_matched_as_they_are_misread(text, phrase, stands):
    assert holds(plain_line(text), plain(phrase)) is stands


@given(st.text(max_size=80), st.sampled_from(["health insurance", "visa", "canone"]))
def test_any_text_can_be_matched(text, phrase):
    line = plain_line(text)

    assert found([line], [plain(phrase)]) == int(holds(line, plain(phrase)))
