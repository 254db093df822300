"""The written files, read back by other libraries than the ones that wrote them."""

from __future__ import annotations

import hashlib
import io
import shutil
import subprocess
from dataclasses import replace

import img2pdf
import numpy as np
import pikepdf
import pypdf
import pypdfium2
import pypdfium2.raw as pdfium
import pytest
from PIL import Image

from packet.errors import PacketError
from packet.model import CountChoice, EncodedImage, FormChoice, Kind, Passport
from packet.sheets import assemble
from packet.sheets.count import count_sheets
from packet.sheets.layout import lay_out
from packet.sheets.sets import COPY_SETS, ENVELOPE, PRINT_SLIP

from .making import (
    FORM,
    ID_1,
    PASSPORT,
    form_items,
    item,
    packet,
    sets_of,
    spec,
    vector,
    worked_items,
)

A4_PT = (595.276, 841.890)  # ISO 216 at 72 / 25.4
WITHIN_MM = 0.3
SETS = (ENVELOPE, COPY_SETS[0])


def make(made, items, complete=True):
    plan = lay_out(made, items)
    return sets_of(made, plan, count_sheets(made, plan), complete)


@pytest.fixture(scope="module")
def worked():
    return make(packet(), worked_items())


@pytest.fixture(scope="module")
def with_form():
    return make(packet(), worked_items() | form_items())


@pytest.fixture(scope="module")
def two_sided():
    made = packet(count=CountChoice(copies_printed="two-sided", index_in_envelope=True))
    return make(made, worked_items() | form_items())


# --- pages ---------------------------------------------------------------------------------


def page_counts(data):
    yield "pypdf", len(pypdf.PdfReader(io.BytesIO(data)).pages)
    with pypdfium2.PdfDocument(data) as pdf:
        yield "pypdfium2", len(pdf)
    with pikepdf.open(io.BytesIO(data)) as pdf:
        yield "qpdf", len(pdf.pages)


def test_readers_agree_on_the_pages(worked, with_form, two_sided):
    for written in (worked, with_form, two_sided):
        for name, data in written.files.items():
            assert {pages for _, pages in page_counts(data)} == {written.file_pages[name]}


@pytest.mark.parametrize("tool", ["qpdf", "pdfinfo"])
def test_other_programs_accept_the_files(tool, two_sided, tmp_path):
    if shutil.which(tool) is None:
        pytest.skip(f"{tool} is not installed")
    for name, data in two_sided.files.items():
        (tmp_path / name).write_bytes(data)
        options = ["--check"] if tool == "qpdf" else []
        done = subprocess.run(
            [tool, *options, str(tmp_path / name)], capture_output=True, text=True, check=False
        )
        assert (done.returncode, done.stderr) == (0, ""), done.stdout
        if tool == "pdfinfo":
            assert f"Pages:           {two_sided.file_pages[name]}\n" in done.stdout


def test_what_the_sets_hold(worked, with_form):
    """Index, form, documents; the envelope has the documents alone."""
    assert worked.file_pages[ENVELOPE] == with_form.file_pages[ENVELOPE] == 27
    assert (worked.index_pages, worked.form_pages, worked.document_pages) == (1, 0, 27)
    assert (with_form.index_pages, with_form.form_pages, with_form.document_pages) == (1, 8, 27)
    assert with_form.file_pages[COPY_SETS[0]] == 36
    assert with_form.copy_pages[0] == "index"
    assert [page.folder for page in with_form.copy_pages[1:10]] == ["form"] * 8 + ["passport"]


def test_two_sided_printing_starts_each_document_on_a_new_sheet(two_sided):
    """1 index, 8 form pages, 16 + 1 + 1 + 3 + 4 + 2 pages: an empty back after each odd part."""
    assert two_sided.file_pages[ENVELOPE] == 2 * (1 + 15)
    assert two_sided.file_pages[COPY_SETS[0]] == 2 * (1 + 4 + 15)
    for sides in (two_sided.envelope_pages, two_sided.copy_pages):
        starts = [
            number
            for number, side in enumerate(sides)
            if side == "index" or (side != "blank" and side.page == 1)
        ]
        assert all(start % 2 == 0 for start in starts)
    with pypdfium2.PdfDocument(two_sided.files[ENVELOPE]) as pdf:
        for number, side in enumerate(two_sided.envelope_pages):
            assert (not list(pdf[number].get_objects())) == (side == "blank")


def test_every_page_is_a4(with_form, two_sided):
    for written in (with_form, two_sided):
        for data in written.files.values():
            with pypdfium2.PdfDocument(data) as pdf:
                for page in pdf:
                    assert page.get_size() == pytest.approx(A4_PT, abs=0.001)
                    assert page.get_rotation() == 0


# --- true size -----------------------------------------------------------------------------

SIZED = [
    pytest.param(Kind.ID_CARD_FRONT, ID_1, id="ISO/IEC 7810 ID-1"),
    pytest.param(Kind.ID_CARD_FRONT, (105.0, 74.0), id="ISO/IEC 7810 ID-2"),
    pytest.param(Kind.PASSPORT_PAGE, (88.0, 125.0), id="ISO/IEC 7810 ID-3"),
    pytest.param(Kind.PASSPORT_SPREAD, (176.0, 125.0), id="ID-3 open"),
    pytest.param(Kind.PASSPORT_SPREAD, (125.0, 176.0), id="ID-3 open, data page"),
    pytest.param(Kind.A4_PAGE, (210.0, 297.0), id="ISO 216 A4"),
    pytest.param(Kind.OTHER, (148.0, 210.0), id="ISO 216 A5"),
]


def picture_sizes_mm(data, page_number=0):
    """(width, height) of each picture on a page, by pdfium's own arithmetic."""
    with pypdfium2.PdfDocument(data) as pdf:
        for thing in pdf[page_number].get_objects(filter=[pdfium.FPDF_PAGEOBJ_IMAGE]):
            left, bottom, right, top = thing.get_bounds()
            yield ((right - left) / 72 * 25.4, (top - bottom) / 72 * 25.4)


@pytest.mark.parametrize(("kind", "size"), SIZED)
def test_printed_at_true_size(kind, size):
    docs = (spec("x", kind),)

    written = make(packet(docs), {"x": (item(kind, folder="x", size_mm=size),)})

    (measured,) = picture_sizes_mm(written.files[ENVELOPE])
    assert measured == pytest.approx(size, abs=WITHIN_MM)


def test_both_sides_of_a_card_at_true_size(worked):
    cards = list(picture_sizes_mm(worked.files[ENVELOPE], 16))

    assert cards == [pytest.approx(ID_1, abs=WITHIN_MM)] * 2


def test_placed_where_the_plan_says(worked):
    with pypdfium2.PdfDocument(worked.files[ENVELOPE]) as pdf:
        for number, side in enumerate(worked.envelope_pages):
            things = list(pdf[number].get_objects(filter=[pdfium.FPDF_PAGEOBJ_IMAGE]))
            for place, thing in zip(side.placements, things, strict=True):
                left, bottom, right, top = (v / 72 * 25.4 for v in thing.get_bounds())
                seen = (left, 297 - top, right - left, top - bottom)
                assert seen == pytest.approx(place.rect_mm, abs=WITHIN_MM)


def rendered(data, number=0, dpi=36):
    with pypdfium2.PdfDocument(data) as pdf:
        return pdf[number].render(scale=dpi / 72, grayscale=True).to_numpy().copy().squeeze()


def corner_picture():
    """A landscape A4 picture, black in its top-left ninth."""
    picture = Image.new("L", (297, 210), 255)
    picture.paste(0, (0, 0, 99, 70))
    buffer = io.BytesIO()
    picture.save(buffer, "PNG")
    data = buffer.getvalue()
    digest = hashlib.sha256(data).hexdigest()
    return EncodedImage(data=data, format="png", width_px=297, height_px=210, digest=digest)


def test_a_landscape_page_lies_with_its_top_to_the_left():
    made = item(Kind.A4_PAGE, folder="x", size_mm=(297.0, 210.0), image=corner_picture())

    page = rendered(make(packet((spec("x", Kind.A4_PAGE),)), {"x": (made,)}).files[ENVELOPE])

    height, width = page.shape
    assert page[int(height * 0.72) : int(height * 0.9), 5 : int(width * 0.3)].max() < 30
    assert page[: int(height * 0.6)].min() > 200


@pytest.mark.parametrize("rotate", [0, 90, 180, 270])
def test_a_vector_page_looks_as_a_viewer_shows_it(rotate):
    """Drawn by pdfium before and after: the same page, /Rotate and all."""
    page = vector(rotate=rotate)
    made = item(Kind.A4_PAGE, folder="x", image=page, margins_clear_mm=(0.0,) * 4)

    written = make(packet((spec("x", Kind.A4_PAGE),)), {"x": (made,)})

    before = rendered(page.pdf_bytes, dpi=72).astype(int)
    after = rendered(written.files[ENVELOPE], dpi=72).astype(int)
    assert before.shape == after.shape
    assert before.min() < 60
    assert np.mean(np.abs(before - after)) < 0.05
    with pypdfium2.PdfDocument(written.files[ENVELOPE]) as pdf:
        assert "Polizza" in pdf[0].get_textpage().get_text_range()


# --- sameness ------------------------------------------------------------------------------


def test_the_two_copy_sets_are_equal(with_form):
    one, two = (with_form.files[name] for name in COPY_SETS)
    assert one == two


def test_same_input_same_bytes(with_form):
    again = make(packet(), worked_items() | form_items())

    assert dict(again.files) == dict(with_form.files)


def test_the_envelope_does_not_know_the_form(worked, with_form):
    assert worked.files[ENVELOPE] == with_form.files[ENVELOPE]
    assert worked.files[COPY_SETS[0]] != with_form.files[COPY_SETS[0]]


def test_an_enclosed_index_does_not_know_the_form_either():
    made = packet(count=CountChoice(index_in_envelope=True))

    before, after = make(made, worked_items()), make(made, worked_items() | form_items())

    assert before.files[ENVELOPE] == after.files[ENVELOPE]
    assert before.envelope_pages[0] == "index"


def test_a_form_that_cannot_be_read_leaves_the_envelope():
    """The copy sets are incomplete then; the envelope holds the original form."""
    made = packet(count=CountChoice(index_in_envelope=True))
    plan = lay_out(made, worked_items())
    count = count_sheets(made, plan)

    good = sets_of(made, plan, count, True)
    bad = sets_of(made, plan, count, False, documents_complete=True)

    assert good.files[ENVELOPE] == bad.files[ENVELOPE]
    assert "INCOMPLETA" in first_page_text(bad.files[COPY_SETS[0]])


def streams(data, label):
    """The page's content stream and picture streams, undecoded, found by the page's label."""
    reader = pypdf.PdfReader(io.BytesIO(data))
    page = reader.pages[reader.page_labels.index(label)]
    pictures = page["/Resources"].get("/XObject", {})
    return (page["/Contents"]._data, [pictures[name]._data for name in pictures])


@pytest.mark.parametrize("label", ["1", "16", "17", "20", "27"])
def test_a_document_page_has_the_same_streams_in_all_files(label, worked, with_form):
    ours = streams(worked.files[ENVELOPE], label)

    assert ours == streams(worked.files[COPY_SETS[0]], label)
    assert ours == streams(with_form.files[COPY_SETS[0]], label)


def test_pictures_go_in_byte_for_byte(worked):
    """Encoded once after normalising: no picture is re-encoded on its way into a file."""
    for name in SETS:
        reader = pypdf.PdfReader(io.BytesIO(worked.files[name]))
        found = {
            bytes(picture._data)
            for page in reader.pages
            for picture in page["/Resources"].get("/XObject", {}).values()
            for picture in (picture.get_object(),)
        }
        items = [made for group in worked_items().values() for made in group]
        assert {made.image.data for made in items} == found


@pytest.mark.parametrize("mode", ["L", "RGB"])
def test_a_jpeg_has_the_entries_that_another_library_gives_it(mode):
    """img2pdf, which has wrapped JPEG files for many years, as the reference."""
    data = io.BytesIO()
    Image.new(mode, (30, 20), 200).save(data, "JPEG")
    theirs = pypdf.PdfReader(io.BytesIO(img2pdf.convert(data.getvalue()))).pages[0]
    (picture,) = theirs["/Resources"]["/XObject"].values()
    image = EncodedImage(data=data.getvalue(), format="jpeg", width_px=30, height_px=20, digest="x")

    assert assemble._wrap_jpeg(image) == (dict(picture.get_object()), data.getvalue())


@pytest.mark.parametrize("data", [b"", b"no picture", b"\xff\xd8\xff"])
def test_what_is_no_jpeg_is_refused(data):
    image = EncodedImage(data=data, format="jpeg", width_px=30, height_px=20, digest="x")
    with pytest.raises(PacketError, match="could not be put into a PDF"):
        assemble._wrap_jpeg(image)


def test_a_picture_that_comes_twice_is_stored_once():
    made = tuple(item(Kind.A4_PAGE, 1, folder="x", scan=f"x/{n}.jpg") for n in range(6))

    written = make(packet((spec("x", Kind.A4_PAGE),)), {"x": made})

    data = written.files[ENVELOPE]
    assert data.count(made[0].image.data) == 1
    assert written.file_pages[ENVELOPE] == 6


def test_bilevel_group_4():
    picture = Image.new("1", (1240, 1754), 1)
    picture.paste(0, (100, 100, 400, 300))
    buffer = io.BytesIO()
    picture.save(buffer, "TIFF", compression="group4", dpi=(150, 150))
    data = buffer.getvalue()
    digest = hashlib.sha256(data).hexdigest()
    image = EncodedImage(data=data, format="tiff", width_px=1240, height_px=1754, digest=digest)
    made = item(Kind.A4_PAGE, folder="x", image=image)

    written = make(packet((spec("x", Kind.A4_PAGE),)), {"x": (made,)})

    assert b"/CCITTFaxDecode" in written.files[ENVELOPE]
    page = rendered(written.files[ENVELOPE], dpi=150)
    assert page[200, 250] < 60
    assert page[800, 800] > 200


# --- around the pages ----------------------------------------------------------------------


def test_footers(worked, with_form):
    """Document, page i of n, copy k of K and mark; the form has document and page alone."""
    with pypdfium2.PdfDocument(with_form.files[COPY_SETS[0]]) as pdf:
        form = pdf[3].get_textpage().get_text_range()
        passport = pdf[11].get_textpage().get_text_range()
        for page in (pdf[3], pdf[11]):
            for thing in page.get_objects(filter=[pdfium.FPDF_PAGEOBJ_TEXT]):
                _, bottom, _, top = thing.get_bounds()
                assert bottom / 72 * 25.4 >= 5.0
                assert top / 72 * 25.4 <= 10.0

    assert form.split() == [*FORM.title_it.split(), "·", "pagina", "3", "di", "8"]
    mark = lay_out(packet(), worked_items()).mark
    words = ["Passaporto", "·", "pagina", "3", "di", "16", "copia", "3", "di", "27", "·", mark]
    assert passport.split() == words


def test_no_footer_over_content():
    """Where the bottom 10 mm hold content the number stands in outline and label only."""
    made = item(Kind.A4_PAGE, folder="x", margins_clear_mm=(9, 9, 9, 2))

    written = make(packet((spec("x", Kind.A4_PAGE),)), {"x": (made,)})

    with pypdfium2.PdfDocument(written.files[ENVELOPE]) as pdf:
        assert pdf[0].get_textpage().get_text_range() == ""
        assert pdf.get_page_label(0) == "1"
        assert [mark.get_title() for mark in pdf.get_toc()] == [
            "X",
            "pagina 1 di 1   ·   copia 1 di 1",
        ]


def test_outline_and_page_labels(two_sided):
    reader = pypdf.PdfReader(io.BytesIO(two_sided.files[COPY_SETS[0]]))

    documents = [mark.title for mark in reader.outline if not isinstance(mark, list)]
    assert documents[:3] == ["Indice", FORM.title_it, PASSPORT.title_it]
    assert reader.page_labels[:4] == ["I", "retro bianco", "M1", "M2"]
    assert [label for label in reader.page_labels if label.isdecimal()] == [
        str(number) for number in range(1, 28)
    ]


def test_what_is_not_enclosed_has_its_own_labels():
    docs = (spec("a", Kind.A4_PAGE), spec("b", Kind.A4_PAGE, in_envelope=False))
    items = {f: tuple(item(Kind.A4_PAGE, n, folder=f) for n in range(2)) for f in "ab"}

    written = make(packet(docs), items)

    reader = pypdf.PdfReader(io.BytesIO(written.files[COPY_SETS[0]]))
    assert reader.page_labels == ["I", "1", "2", "A1", "A2"]
    assert written.file_pages[ENVELOPE] == 2
    assert "copia" not in reader.pages[3].extract_text()


@pytest.mark.parametrize("printed", ["one-sided", "two-sided"])
def test_print_dialogs_start_at_100_percent(printed):
    made = packet(count=CountChoice(copies_printed=printed))

    written = make(made, worked_items())

    for name in SETS:
        root = pypdf.PdfReader(io.BytesIO(written.files[name])).trailer["/Root"]
        wishes = root["/ViewerPreferences"]
        assert wishes["/PrintScaling"] == "/None"
        assert (
            wishes["/Duplex"]
            == {
                "one-sided": "/Simplex",
                "two-sided": "/DuplexFlipLongEdge",
            }[printed]
        )
        assert wishes["/DisplayDocTitle"].value is True
        assert root["/Lang"] == "it-IT"


def test_no_dates_no_paths_no_names_in_the_metadata(with_form):
    for data in with_form.files.values():
        reader = pypdf.PdfReader(io.BytesIO(data))
        assert set(reader.metadata) == {"/Title", "/Producer"}
        assert reader.metadata["/Producer"] == "packet"
        assert "ERIKSSON" not in reader.metadata["/Title"]
        assert reader.xmp_metadata is None
        assert b"Date" not in data


def test_fonts_are_embedded(two_sided):
    """Every font in every file is a TrueType subset of the shipped face, each once."""
    for data in two_sided.files.values():
        with pikepdf.open(io.BytesIO(data)) as pdf:
            fonts = [
                thing
                for thing in pdf.objects
                if isinstance(thing, pikepdf.Dictionary) and thing.get("/Type") == "/Font"
            ]
            names = [str(font.BaseFont) for font in fonts]
            assert fonts
            assert len(set(names)) == len(names)
            for font in fonts:
                assert "+NotoSans-" in str(font.BaseFont)
                assert "/FontFile2" in font.FontDescriptor


def test_a_copy_made_by_hand_is_not_missed():
    made = packet(form=FormChoice(copied_by_hand=True))

    text = first_page_text(make(made, worked_items()).files[COPY_SETS[0]])

    assert "MANCA" not in text
    assert "fatta a parte" in text


def first_page_text(data):
    with pypdfium2.PdfDocument(data) as pdf:
        return pdf[0].get_textpage().get_text_range()


def test_an_item_without_a_picture_is_a_sentence():
    items = {"passport": (item(Kind.PASSPORT_SPREAD, folder="passport", image=False),)}

    with pytest.raises(PacketError, match=r"passport/scan-01\.jpg#1\.1 has no picture"):
        make(packet(), items)


def test_nothing_to_enclose_is_a_sentence():
    """A PDF without pages could not be opened by any viewer."""
    with pytest.raises(PacketError, match="nothing to put into the envelope"):
        make(packet(), form_items())


# --- the print slip ------------------------------------------------------------------------


def test_the_print_slip_tells_the_shop_what_to_print(with_form, two_sided):
    slip = first_page_text(with_form.files[PRINT_SLIP])
    other = first_page_text(two_sided.files[PRINT_SLIP])

    for words in ("A4", "100 %", "solo fronte", "envelope.pdf", "copy-set-2.pdf"):
        assert words in slip
    assert "fronte-retro" in other
    assert "solo fronte" not in other
    for pages in ("27", "36", str(27 + 2 * 36)):
        assert pages in slip.split()
    assert "bianco e nero" in slip
    assert "ERIKSSON" not in slip


def test_the_print_slip_uses_half_a_page(two_sided):
    with pypdfium2.PdfDocument(two_sided.files[PRINT_SLIP]) as pdf:
        assert len(pdf) == 1
        lowest = min(thing.get_bounds()[1] for thing in pdf[0].get_objects())
    assert lowest > A4_PT[1] / 2


def test_the_print_slip_says_that_the_form_is_missing(worked, with_form):
    assert "Manca ancora la copia del modulo" in first_page_text(worked.files[PRINT_SLIP])
    assert "Manca" not in first_page_text(with_form.files[PRINT_SLIP])


def test_without_the_form_only_the_envelope_is_to_be_printed(worked):
    """One copy of envelope.pdf is the total; the copy sets stand there with dashes."""
    words = first_page_text(worked.files[PRINT_SLIP]).split()

    assert words[words.index("copy-set-1.pdf") + 1 :][:3] == ["–", "–", "–"]
    assert words[words.index("totale") :][:6] == ["totale", "/", "in", "all", "1", "27"]


def test_a_page_in_colour_is_told_to_the_shop():
    items = worked_items()
    (first, *others) = items["income"]
    made = make(packet(), items | {"income": (replace(first, tone="colour"), *others)})

    slip = first_page_text(made.files[PRINT_SLIP])

    assert "a colori" in slip
    assert "bianco e nero" not in slip


def test_two_openings_halve_the_passport():
    made = packet(passport=Passport(booklet_pages=28, openings_per_sheet=2))

    written = make(made, worked_items())

    assert written.file_pages[ENVELOPE] == 27 - 8
    assert replace(written).document_pages == 19
