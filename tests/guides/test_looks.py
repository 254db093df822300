"""Every word stays in its own place, measured with the widths of the embedded font."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pypdfium2
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from packet.checks.values import check_values
from packet.guides.counter import counter
from packet.guides.counter_page import appointment_page, appointment_pdf, counter_page, counter_pdf
from packet.guides.worksheet import worksheet
from packet.guides.worksheet_page import worksheet_pages, worksheet_pdf
from packet.model import Address, Appointment, DocumentSpec, FormChoice, Kind
from packet.rules.fees import fee_table
from packet.sheets.flow import BOTTOM

from .making import COUNT, TODAY, drawn, out_of_cell, outside, overlaps, packet, renewal

SIGNS = "ABCÜÑßŁ WIJ-'. "
TEXTS = st.text(SIGNS, max_size=90)
A4_PT = (pytest.approx(595.2756, abs=1e-3), pytest.approx(841.8898, abs=1e-3))


def the_worksheet(made, count=COUNT):
    return worksheet(made, fee_table(), check_values(made, TODAY), count)


def assert_tidy(pages):
    for page, pen in zip(pages, drawn(pages), strict=True):
        assert page.y <= BOTTOM + 0.05
        assert outside(pen.marks) == []
        assert list(overlaps(pen.marks)) == []
        assert out_of_cell(pen) == []


def worst():
    """Every value long, doubted or cut."""
    made = packet()
    return replace(
        made,
        applicant=replace(
            made.applicant,
            surname="Wilhelmsdotter-Mühlenbäcker von und zu Wasserwinkel " * 3,
            given_names="Maximiliana Wilhelmina Konstantina Theodora Annabella",
            tax_code="VLDMLN58L54Z999A",
            citizenship="QQQ",
        ),
        passport=replace(made.passport, expires=date(2020, 1, 1), number="W" * 40),
        visa=replace(made.visa, valid_to=date(2020, 1, 1), purpose="W" * 120),
        address=Address(province="QQ", street="W" * 80, email="w" * 70, postcode="x"),
        form=FormChoice(modules=(1, 2), cells={"4": 20, "44": 9, "34": 6}),
    )


@pytest.mark.parametrize("made", [packet(), renewal(), worst()], ids=["first", "renewal", "worst"])
def test_worksheet_is_tidy(made):
    assert_tidy(worksheet_pages(the_worksheet(made)))


@settings(max_examples=25)
@given(TEXTS, TEXTS, TEXTS, st.integers(1, 30))
def test_worksheet_is_tidy_with_any_text(surname, street, place, cells):
    made = packet()
    made = replace(
        made,
        applicant=replace(made.applicant, surname=surname, place_of_birth=place),
        address=replace(made.address, street=street),
        form=FormChoice(cells={"3": cells, "68": cells}),
    )

    assert_tidy(worksheet_pages(the_worksheet(made)))


def test_cells_hold_one_sign_each():
    pens = drawn(worksheet_pages(the_worksheet(packet())))

    inside = [
        mark.text
        for pen in pens
        for left, top, right, bottom in pen.boxes
        if right - left < 6
        for mark in pen.marks
        if left < (mark.left + mark.right) / 2 < right and top < mark.top < bottom
    ]
    assert all(len(sign) == 1 for sign in inside)
    joined = "".join(inside)
    for value in ("VELDARO", "MIRELAANA", "14071958", "VLDMLN58L54Z999Q", "RESIDENZAELETTIVA"):
        assert value in joined


def test_worksheet_says_what_its_json_says():
    """Read back with another reader than the writer."""
    with pypdfium2.PdfDocument(worksheet_pdf(the_worksheet(packet()))) as pdf:
        text = "\n".join(page.get_textpage().get_text_range() for page in pdf)
        sizes = [page.get_size() for page in pdf]

    assert sizes == [A4_PT] * 3
    flat = " ".join(text.split())
    for words in (
        "Foglio di lavoro",
        "INDICARE IL NUMERO TOTALE DI FOGLI",
        "Write this number last of all",
        "Lasciare vuote",
        "look at your form",
        "does not go into the envelope",
    ):
        assert words in flat


def many_documents(number):
    made = packet()
    more = tuple(
        DocumentSpec(
            folder=f"extra-{at}",
            title_it=f"Documento aggiuntivo numero {at} con un titolo lungo da leggere",
            title_en=f"Further document number {at} with a long title to read",
            kinds=(Kind.A4_PAGE,),
            need="required",
        )
        for at in range(number)
    )
    return replace(made, documents=made.documents + more)


@pytest.mark.parametrize("today", [TODAY, date(2027, 1, 4), date(2029, 1, 1)])
@pytest.mark.parametrize(
    "made",
    [packet(), renewal(), many_documents(3), many_documents(30)],
    ids=["first", "renewal", "three-more", "thirty-more"],
)
def test_counter_and_appointment_fill_one_page_each(made, today):
    sheet = counter(made, fee_table(), today, COUNT)

    assert_tidy([counter_page(sheet)])
    assert_tidy([appointment_page(sheet)])


def test_a_long_list_says_how_many_more_there_are():
    sheet = counter(many_documents(30), fee_table(), TODAY, COUNT)
    texts = [mark.text for mark in drawn([counter_page(sheet)])[0].marks]

    (more,) = [text for text in texts if "as on the index" in text]
    copies = [text for text in texts if text.startswith("copy:")]
    assert int(more.split()[1]) + len(copies) == 36
    assert any(text.startswith("31 sheets in all") for text in texts)


def test_place_of_the_appointment_is_printed():
    made = packet(
        appointment=Appointment(date=date(2027, 3, 4), time="09:40", place="Via Esempio 1")
    )
    sheet = counter(made, fee_table(), TODAY)
    with pypdfium2.PdfDocument(appointment_pdf(sheet)) as pdf:
        assert len(pdf) == 1
        text = pdf[0].get_textpage().get_text_range()

    assert "Thursday 4 March 2027, 09:40" in text
    assert "Via Esempio 1" in text


def test_same_input_same_bytes():
    sheet = counter(packet(), fee_table(), TODAY, COUNT)

    assert counter_pdf(sheet) == counter_pdf(sheet)
    assert worksheet_pdf(the_worksheet(packet())) == worksheet_pdf(the_worksheet(packet()))
