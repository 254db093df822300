"""The index: what it says, and that every word stays in its own place on the page."""

from __future__ import annotations

from itertools import pairwise

import pypdfium2
import pypdfium2.raw as pdfium
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from packet.model import Applicant, CountChoice, Kind
from packet.sheets.count import count_sheets
from packet.sheets.cover import index_page_count, index_pdf
from packet.sheets.layout import lay_out
from packet.sheets.typesetting import BOLD, REGULAR, fit, width_pt, wrap

from .making import form_items, item, packet, spec, worked_items

MARGIN_PT = 17 / 25.4 * 72


def index(made, items, *, complete=True, enclosed=False):
    plan = lay_out(made, items)
    return index_pdf(made, plan, count_sheets(made, plan), complete, enclosed=enclosed)


def text_of(data):
    with pypdfium2.PdfDocument(data) as pdf:
        return "\n".join(page.get_textpage().get_text_range() for page in pdf)


def words(text):
    return " ".join(text.split())


# --- what it says --------------------------------------------------------------------------


def test_two_totals_and_the_sum_behind_the_box():
    text = words(text_of(index(packet(), worked_items(image=False) | form_items(image=False))))

    assert "Fogli nella busta" in text
    assert "31 casella 25 del modulo" in text
    assert "modulo originale / original form * 4" in text
    assert "copie dei documenti / copies of documents 27" in text
    assert "Facciate stampate in questa copia" in text
    assert "36 fogli di carta: 36" in text
    assert "copia del modulo / copy of the form 8" in text


def test_sheet_ranges_of_this_set():
    """Index 1, form 2 to 9, passport 10 to 25 (copies 1 to 16 of the envelope), and so on."""
    text = words(text_of(index(packet(), worked_items(image=False) | form_items(image=False))))

    assert "Copia del modulo Copy of the form 8 8 2–9" in text
    assert "Passaporto Passport 16 16 10–25 1–16" in text
    assert "Carta d’identità Identity card 1 1 26 17" in text


def test_until_the_form_is_scanned_it_is_missed_in_large_type():
    before = index(packet(), worked_items(image=False))
    after = index(packet(), worked_items(image=False) | form_items(image=False))

    assert "MANCA LA COPIA DEL MODULO" in text_of(before)
    assert "MANCA" not in text_of(after)
    with pypdfium2.PdfDocument(before) as pdf:
        page = pdf[0]
        words_ = page.get_textpage()
        texts = page.get_objects(filter=[pdfium.FPDF_PAGEOBJ_TEXT], textpage=words_)
        (loud,) = (thing for thing in texts if thing.extract().startswith("MANCA"))
        assert loud.get_font_size() >= 15


def test_missing_documents_are_named():
    items = {"passport": worked_items(image=False)["passport"]}

    text = text_of(index(packet(), items, complete=False))

    assert "MANCANO 5 DOCUMENTI" in text
    assert "Codice fiscale / Tax code" in text
    assert "provvisorio" in text


def test_a_title_that_is_the_same_in_both_languages_stands_once():
    own = spec("club", Kind.A4_PAGE, title_it="Tessera 9", title_en="Tessera 9")
    page = item(Kind.A4_PAGE, folder="club")

    text = text_of(index(packet((own,)), {"club": (page,)}))

    assert text.count("Tessera 9") == 1


def test_an_incomplete_set_says_so():
    items = worked_items(image=False) | form_items(image=False)

    for enclosed in (False, True):
        assert "INCOMPLETA" in text_of(index(packet(), items, complete=False, enclosed=enclosed))
        assert "INCOMPLETA" not in text_of(index(packet(), items, enclosed=enclosed))


def test_leaves_that_nobody_counted_are_marked():
    items = worked_items(image=False)
    sure = packet(count=CountChoice(form_leaves=4, form_leaves_confirmed=True))

    assert "* Numero presunto" in text_of(index(packet(), items))
    assert "* Numero presunto" not in text_of(index(sure, items))


def test_only_what_the_clerk_needs():
    """Name and citizenship; no number, date or place of a person stands on the index."""
    made = packet(
        applicant=Applicant(
            surname="ERIKSSON",
            given_names="ANNA MARIA",
            citizenship="UTO",
            place_of_birth="ZENITH",
            tax_code="AAABBB00A00A000A",
        )
    )

    text = text_of(index(made, worked_items(image=False)))

    assert "ERIKSSON" in text
    assert "ANNA MARIA" in text
    assert "UTO" in text
    assert "ZENITH" not in text
    assert "AAABBB00A00A000A" not in text


def test_the_rule_is_100_mm_long():
    """Drawn once, ticks at every millimetre: read back as line objects."""
    with pypdfium2.PdfDocument(index(packet(), worked_items(image=False))) as pdf:
        boxes = [
            thing.get_bounds() for thing in pdf[0].get_objects(filter=[pdfium.FPDF_PAGEOBJ_PATH])
        ]
    ticks = sorted((left + right) / 2 for left, low, right, high in boxes if right - left < 2)
    steps = [(b - a) / 72 * 25.4 for a, b in pairwise(ticks)]
    assert len(ticks) == 101
    assert (ticks[-1] - ticks[0]) / 72 * 25.4 == pytest.approx(100, abs=0.05)
    assert steps == [pytest.approx(1, abs=0.05)] * 100


def test_two_sided_sheets():
    made = packet(count=CountChoice(copies_printed="two-sided"))

    text = words(text_of(index(made, worked_items(image=False))))

    assert "Passaporto Passport 16 8 2–9 1–16" in text
    assert "28 fogli di carta: 16" in text


# --- how it stands on the page -------------------------------------------------------------


def overlaps(data):
    """Pairs of text objects whose boxes meet, and texts that leave the margins."""
    bad = []
    with pypdfium2.PdfDocument(data) as pdf:
        for page in pdf:
            texts = [
                (thing.get_bounds(), thing.extract())
                for thing in page.get_objects(
                    filter=[pdfium.FPDF_PAGEOBJ_TEXT], textpage=page.get_textpage()
                )
            ]
            width, _ = page.get_size()
            for number, ((x0, y0, x1, y1), words_) in enumerate(texts):
                if x0 < MARGIN_PT or x1 > width - MARGIN_PT or y0 < 14:
                    bad.append(words_)
                bad += [
                    (words_, other)
                    for (a0, b0, a1, b1), other in texts[number + 1 :]
                    if min(x1, a1) - max(x0, a0) > 0.5 and min(y1, b1) - max(y0, b0) > 0.5
                ]
    return bad


LONG_NAME = "Wolfeschlegelsteinhausen" * 5  # 120 letters without a space


@pytest.mark.parametrize("enclosed", [False, True])
@pytest.mark.parametrize("documents", [1, 6, 25])
@pytest.mark.parametrize("name", ["ERIKSSON", LONG_NAME, "Łukasz Ștefan İbrahim Владимир " * 4])
def test_no_text_leaves_its_place(name, documents, enclosed):
    titles = (
        "Documentazione " + "x" * 70,
        "Dichiarazione di ospitalità dell’alloggio " * 3,
        "Breve",
    )
    docs = tuple(
        spec(f"d{n}", Kind.A4_PAGE, title_it=titles[n % 3], title_en=titles[(n + n // 3) % 3],
             in_envelope=n % 5 != 4)
        for n in range(documents)
    )  # fmt: skip
    items = {
        doc.folder: tuple(
            item(Kind.A4_PAGE, n, folder=doc.folder, image=False) for n in range(1 + at % 3)
        )
        for at, doc in enumerate(docs)
        if at % 8 != 5
    }
    made = packet(
        docs,
        applicant=Applicant(surname=name, given_names=name, citizenship=name),
        count=CountChoice(extra_leaves=90, index_in_envelope=True),
    )

    assert overlaps(index(made, items, enclosed=enclosed)) == []


def test_one_page_where_it_can():
    """The rule set's own documents fit one page, also when the form's copy is still missing."""
    assert index_page_count(packet(), lay_out(packet(), worked_items(image=False))) == 1


def test_a_long_table_goes_on_with_its_heading():
    docs = tuple(spec(f"d{n}", Kind.A4_PAGE, title_it="T" * 90) for n in range(30))
    items = {d.folder: (item(Kind.A4_PAGE, 1, folder=d.folder, image=False),) for d in docs}
    made = packet(docs)

    with pypdfium2.PdfDocument(index(made, items)) as pdf:
        pages = [words(page.get_textpage().get_text_range()) for page in pdf]

    assert len(pages) == index_page_count(made, lay_out(made, items)) > 1
    assert "contati counted" in pages[1]
    assert f"pagina 2 di {len(pages)}" in pages[1]
    assert f"Indice This index {len(pages)} {len(pages)} 1–{len(pages)}" in pages[0]


@settings(max_examples=10, deadline=None)
@given(st.integers(1, 40), st.booleans())
def test_the_index_has_the_pages_that_were_counted(documents, complete):
    """The count comes before the index is drawn, and does not know what will be complete."""
    docs = tuple(spec(f"d{n}", Kind.A4_PAGE) for n in range(documents))
    items = {d.folder: (item(Kind.A4_PAGE, 1, folder=d.folder, image=False),) for d in docs}
    made = packet(docs, count=CountChoice(index_in_envelope=True))

    data = index(made, items, complete=complete, enclosed=True)

    with pypdfium2.PdfDocument(data) as pdf:
        assert len(pdf) == index_page_count(made, lay_out(made, items), enclosed=True)


# --- lines ---------------------------------------------------------------------------------

texts = st.text(alphabet="aWi è’Ж\u00a0-", max_size=80)


@given(texts, st.floats(20, 200))
def test_wrapped_lines_fit_and_lose_nothing(text, width):
    lines = wrap(text, REGULAR, 9, width)

    assert all(width_pt(line, REGULAR, 9) <= width or len(line) == 1 for line in lines)
    assert "".join(lines).replace(" ", "") == text.replace(" ", "")


@given(texts, st.floats(20, 200))
def test_a_fitted_line_fits(text, width):
    line = fit(text, BOLD, 9, width)

    assert width_pt(line, BOLD, 9) <= width
    assert line == text or line.endswith("…")


def test_every_style_has_the_signs_of_the_index():
    for sign in "–…·’è%*/ŁȘİЖΩ":
        assert width_pt(sign, REGULAR, 9) > 0
