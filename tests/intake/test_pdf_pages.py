"""PDF pages: true size, kept as vectors only where safe, else shown as a viewer shows them."""

from __future__ import annotations

import contextlib
import io
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pikepdf
import pypdf
import pypdfium2
import pytest
from PIL import Image
from quadrants import quadrants
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas
from small_pdf import assemble, image_object, image_pdf, page_pdf

from packet.errors import ScanError, ScanLimitError
from packet.intake.picture import Limits, Picture
from packet.intake.pictures import open_scan
from packet.model import VectorPage

FONT = sorted((Path(__file__).resolve().parents[2] / "fonts").glob("*.ttf"))[0]
A4_PT = (595.276, 841.89)
MARKER = b"MARKER-7f3a"


def pages_of(tmp_path, data, **options):
    (tmp_path / "page.pdf").write_bytes(data)
    return list(open_scan(tmp_path / "page.pdf", **options))


def only(tmp_path, data, **options):
    (page,) = pages_of(tmp_path, data, **options)
    return page


def letter(*, draw=None, pages=1, size=A4_PT):
    """A born-digital letter with an embedded font."""
    if "Letter" not in pdfmetrics.getRegisteredFontNames():
        # asciiReadable as the sets have it: reportlab remembers the choice by the font file
        pdfmetrics.registerFont(TTFont("Letter", str(FONT), asciiReadable=0))
    buffer = io.BytesIO()
    canvas = Canvas(buffer, pagesize=size, invariant=1)
    for number in range(1, pages + 1):
        canvas.setFont("Letter", 12)
        canvas.drawString(72, size[1] - 72, f"A letter, page {number}")
        canvas.rect(72, 100, 200, 50)
        if draw is not None:
            draw(canvas)
        canvas.showPage()
    canvas.save()
    return buffer.getvalue()


def edited(data, edit, **options):
    """``data`` after ``edit(pikepdf.Pdf)``."""
    with pikepdf.open(io.BytesIO(data)) as pdf:
        edit(pdf)
        out = io.BytesIO()
        pdf.save(out, **options)
    return out.getvalue()


# A font that is not embedded: such a page is rendered.
LOOSE_TEXT = "BT /F 9 Tf 110 210 Td (loose) Tj ET"
LOOSE = {
    "resources": "/Font << /F 5 0 R >>",
    "more": [b"<< /Type /Font /Subtype /Type1 /BaseFont /Helvetica >>"],
}


# --- size ----------------------------------------------------------------------------------


def test_a4_in_points_is_210_by_297_mm(tmp_path):
    """ISO 32000-2, 8.3.2.3: a unit is 1/72 inch. ISO 216: A4 is 210 x 297 mm."""
    page = only(tmp_path, page_pdf(""))
    assert page.size_mm == pytest.approx((210, 297), abs=0.01)
    assert (page.width_px, page.height_px) == (2480, 3508)
    assert page.dpi == pytest.approx((300, 300), abs=0.1)
    assert not page.native
    assert (page.pixels == 255).all()


@pytest.mark.parametrize(
    ("page", "size_mm"),
    [
        ("", (210, 297)),
        ("/Rotate 90", (297, 210)),
        ("/Rotate 270", (297, 210)),
        ("/Rotate 180", (210, 297)),
        ("/CropBox [100 200 300 500]", (70.556, 105.833)),
        ("/CropBox [100 200 300 500] /Rotate 90", (105.833, 70.556)),
        ("/UserUnit 0.5", (105, 148.5)),
        ("/CropBox [-50 -50 2000 2000]", (210, 297)),  # cut to the MediaBox, ISO 32000 14.11.2
    ],
)
def test_the_size_is_what_a_viewer_shows(tmp_path, page, size_mm):
    found = only(tmp_path, page_pdf(LOOSE_TEXT, page=page, **LOOSE))
    assert found.size_mm == pytest.approx(size_mm, abs=0.01)
    assert found.width_px == pytest.approx(size_mm[0] / 25.4 * 300, abs=1)


def test_a_rendered_page_is_turned_as_rotate_says(tmp_path):
    """/Rotate 90: what was at the bottom left stands at the top left (ISO 32000-2, table 31)."""
    blue = f"0 0 1 rg 0 0 200 200 re f 0 g {LOOSE_TEXT}"
    plain = only(tmp_path, page_pdf(blue, **LOOSE)).pixels
    turned = only(tmp_path, page_pdf(blue, page="/Rotate 90", **LOOSE)).pixels
    assert plain[-100, 100].tolist() == [0, 0, 255]
    assert turned[100, 100].tolist() == [0, 0, 255]
    assert np.array_equal(turned[400:600, 400:600], np.rot90(plain, -1)[400:600, 400:600])


def test_a_very_large_page_is_rendered_coarser_and_an_absurd_one_refused(tmp_path):
    large = page_pdf(LOOSE_TEXT, media=(0, 0, 3000, 3000), **LOOSE)
    found = only(tmp_path, large, limits=Limits(page_pixels=50_000_000))
    assert found.width_px * found.height_px <= 50_000_000
    assert found.dpi[0] == pytest.approx(169.7, abs=1)
    assert found.size_mm == pytest.approx((1058.33, 1058.33), abs=0.01)
    with pytest.raises(ScanLimitError, match="120 megapixels"):
        only(tmp_path, page_pdf("", media=(0, 0, 14_400, 14_400)))


# --- vectors -------------------------------------------------------------------------------


def test_a_born_digital_page_stays_vectors(tmp_path):
    data = letter(pages=2)
    first, second = pages_of(tmp_path, data)
    assert isinstance(first, VectorPage)
    assert first.size_mm == pytest.approx((210, 297), abs=0.01)
    assert first.digest != second.digest
    with pypdfium2.PdfDocument(second.pdf_bytes) as document:
        assert len(document) == 1
        assert document[0].get_size() == pytest.approx(A4_PT, abs=0.001)
        assert "A letter, page 2" in document[0].get_textpage().get_text_bounded()
    assert "page 2" in pypdf.PdfReader(io.BytesIO(second.pdf_bytes)).pages[0].extract_text()
    assert "page 1" not in pypdf.PdfReader(io.BytesIO(second.pdf_bytes)).pages[0].extract_text()


def test_the_same_page_gives_the_same_bytes(tmp_path):
    one, two = (only(tmp_path, letter()) for _ in range(2))
    assert one.pdf_bytes == two.pdf_bytes
    assert one.digest == two.digest
    assert b"/ID" not in one.pdf_bytes
    assert b"/Producer" not in one.pdf_bytes


def test_a_cleaned_page_is_a_valid_pdf(tmp_path):
    if shutil.which("qpdf") is None:
        pytest.skip("qpdf is not installed")
    (tmp_path / "clean.pdf").write_bytes(only(tmp_path, letter()).pdf_bytes)
    subprocess.run(["qpdf", "--check", "clean.pdf"], cwd=tmp_path, check=True, capture_output=True)


def streams_of(data):
    """Everything in a PDF, decoded: all streams and the text of all objects."""
    with pikepdf.open(io.BytesIO(data)) as pdf:
        for item in pdf.objects:
            if isinstance(item, pikepdf.Stream):
                yield item.read_raw_bytes()
                with contextlib.suppress(pikepdf.PdfError):  # an image
                    yield item.read_bytes()
            yield item.unparse(resolved=True)


def marked_jpeg():
    buffer = io.BytesIO()
    exif = Image.Exif()
    exif[270] = MARKER.decode()
    quadrants().save(buffer, "JPEG", exif=exif, comment=MARKER, xmp=MARKER)
    return buffer.getvalue()


def test_nothing_but_the_drawing_is_carried_over(tmp_path):
    """A marker in every place a PDF has for other things is absent from every stream."""

    def hide(pdf):
        text = MARKER.decode()
        page = pdf.pages[0]
        piece = pikepdf.Dictionary(LastModified="D:20260101", Private=text)
        page.obj["/PieceInfo"] = pikepdf.Dictionary(App=piece)
        page.obj["/Metadata"] = pdf.make_stream(MARKER)
        page.obj["/Thumb"] = pdf.make_stream(MARKER)
        image = pdf.make_stream(marked_jpeg())
        image.stream_dict = pikepdf.Dictionary(
            Type=pikepdf.Name.XObject, Subtype=pikepdf.Name.Image, Width=96, Height=64,
            BitsPerComponent=8, ColorSpace=pikepdf.Name.DeviceRGB, Filter=pikepdf.Name.DCTDecode,
            Metadata=pdf.make_stream(MARKER), PieceInfo=pikepdf.Dictionary(X=text),
        )  # fmt: skip
        page.resources["/XObject"] = pikepdf.Dictionary(Logo=image)
        page.contents_add(b"q 60 0 0 40 400 700 cm /Logo Do Q")
        pdf.docinfo["/Title"] = text
        pdf.Root["/OpenAction"] = pikepdf.Dictionary(S=pikepdf.Name.JavaScript, JS=text)
        pdf.attachments["a.txt"] = MARKER
        names = pikepdf.Array(["x", pikepdf.Dictionary(S=pikepdf.Name.JavaScript, JS=text)])
        pdf.Root.Names["/JavaScript"] = pikepdf.Dictionary(Names=names)

    data = edited(letter(), hide)
    assert any(MARKER in part for part in streams_of(data))
    page = only(tmp_path, data)
    assert isinstance(page, VectorPage)
    assert not any(MARKER in part for part in streams_of(page.pdf_bytes))
    for word in (b"/JavaScript", b"/EmbeddedFile", b"/PieceInfo", b"/Metadata", b"/OpenAction"):
        assert word not in page.pdf_bytes


def test_an_unbalanced_page_is_shut_in(tmp_path):
    """A stray Q of the page cannot reach what it is placed among: it is a form XObject."""

    def unbalance(pdf):
        pdf.pages[0].contents_add(b"q 0.5 0 0 0.5 0 0 cm q")

    page = only(tmp_path, edited(letter(), unbalance))
    assert isinstance(page, VectorPage)
    content = pypdf.PdfReader(io.BytesIO(page.pdf_bytes)).pages[0].get_contents().get_data()
    assert content.strip() == b"/P Do"


def annotate(pdf):
    look = pdf.make_stream(b"1 0 0 rg 0 0 100 100 re f")
    look.stream_dict = pikepdf.Dictionary(
        Type=pikepdf.Name.XObject, Subtype=pikepdf.Name.Form, BBox=[0, 0, 100, 100]
    )
    note = pikepdf.Dictionary(
        Type=pikepdf.Name.Annot, Subtype=pikepdf.Name.Stamp, Rect=[300, 300, 400, 400], F=4,
        AP=pikepdf.Dictionary(N=look),
    )  # fmt: skip
    pdf.pages[0].obj["/Annots"] = pdf.make_indirect([pdf.make_indirect(note)])


def set_page(**entries):
    def edit(pdf):
        for key, value in entries.items():
            pdf.pages[0].obj[f"/{key}"] = value

    return edit


def layers(pdf):
    layer = pdf.make_indirect(pikepdf.Dictionary(Type=pikepdf.Name.OCG, Name="Layer"))
    pdf.Root["/OCProperties"] = pikepdf.Dictionary(
        OCGs=[layer], D=pikepdf.Dictionary(OFF=[layer], Order=[layer])
    )


def action(pdf):
    script = pikepdf.Dictionary(S=pikepdf.Name.JavaScript, JS="app.alert(1)")
    pdf.pages[0].obj["/AA"] = pikepdf.Dictionary(O=script)


def loose_font(pdf):
    font = pikepdf.Dictionary(
        Type=pikepdf.Name.Font, Subtype=pikepdf.Name.Type1, BaseFont=pikepdf.Name.Helvetica
    )
    pdf.pages[0].resources["/Font"]["/Loose"] = pdf.make_indirect(font)
    pdf.pages[0].contents_add(b"BT /Loose 12 Tf 100 400 Td (loose) Tj ET")


UNSAFE = {
    "annotation": annotate,
    "crop box": set_page(CropBox=[10, 10, 500, 800]),
    "box not at the origin": set_page(MediaBox=[10, 10, 605.276, 851.89]),
    "turned": set_page(Rotate=90),
    "user unit": set_page(UserUnit=2),
    "layers": layers,
    "action": action,
    "font not embedded": loose_font,
}


@pytest.mark.parametrize("name", UNSAFE)
def test_a_page_that_is_not_safe_is_rendered(tmp_path, name):
    page = only(tmp_path, edited(letter(), UNSAFE[name]))
    assert isinstance(page, Picture)
    assert not page.native
    assert page.source == "pdf"
    assert page.pixels.min() < 60  # something is drawn


def test_annotations_are_drawn(tmp_path):
    page = only(tmp_path, edited(letter(), annotate))
    x, y = round(350 / 72 * 300), round((A4_PT[1] - 350) / 72 * 300)
    assert page.pixels[y, x].tolist() == [255, 0, 0]


def test_form_fields_are_drawn(tmp_path):
    def field(canvas):
        canvas.acroForm.textfield(
            name="f", value="FILLED", x=200, y=400, width=200, height=40, forceBorder=True
        )

    page = only(tmp_path, letter(draw=field))
    assert isinstance(page, Picture)
    left, top = round(200 / 72 * 300), round((A4_PT[1] - 440) / 72 * 300)
    field_pixels = page.pixels[top + 20 : top + 140, left + 20 : left + 780]
    assert (field_pixels < 100).any()


def test_a_page_that_is_mostly_an_image_is_a_scan_even_with_a_line_on_it(tmp_path):
    pixels = np.asarray(quadrants(960, 640))
    data = image_pdf(
        pixels, (300, 0, 0, 200, 0, 0), media=(0, 0, 300, 200), after="Q 0 G 2 w 9 9 m 99 99 l S q"
    )
    page = only(tmp_path, data)
    assert isinstance(page, Picture)
    assert page.dpi == pytest.approx((300, 300), abs=1)


# --- passwords, damage, limits ------------------------------------------------------------


def locked(revision=6):
    modern = revision >= 4
    lock = pikepdf.Encryption(user="sesame", owner="other", R=revision, aes=modern, metadata=modern)
    return edited(letter(), lambda pdf: None, encryption=lock)


@pytest.mark.parametrize("revision", [3, 4, 6])
def test_a_locked_pdf_opens_with_its_password(tmp_path, revision):
    data = locked(revision)
    for password in ("sesame", "other"):
        assert isinstance(only(tmp_path, data, password=password), VectorPage)


@pytest.mark.parametrize(
    ("password", "what"),
    [(None, "locked with a password"), ("", "locked with a password"), ("no", "does not open")],
)
def test_a_locked_pdf_says_what_to_do(tmp_path, password, what):
    with pytest.raises(ScanError, match=what) as caught:
        only(tmp_path, locked(), password=password)
    assert caught.value.code == "unreadable"
    assert "--password-file" in caught.value.remedy
    assert "PACKET_PASSWORD" in caught.value.remedy


def test_a_password_that_is_not_needed_does_no_harm(tmp_path):
    assert isinstance(only(tmp_path, letter(), password="sesame"), VectorPage)


NO_PAGES = [b"<< /Type /Catalog /Pages 2 0 R >>", b"<< /Type /Pages /Kids [] /Count 0 >>"]


@pytest.mark.parametrize(
    "data", [assemble(NO_PAGES), letter()[:400], b"%PDF-1.7\n" + bytes(300)],
    ids=["no pages", "cut short", "no structure"],
)  # fmt: skip
def test_a_pdf_without_pages_is_refused(tmp_path, data):
    with pytest.raises(ScanError) as caught:
        only(tmp_path, data)
    assert caught.value.code == "unreadable"
    assert caught.value.remedy


def test_a_pdf_without_pages_is_never_called_locked(tmp_path):
    """pdfium gives the code of the failure before, where its own reading went well."""
    with pytest.raises(ScanError, match="locked"):
        only(tmp_path, locked())
    with pytest.raises(ScanError, match="is a PDF that holds no page"):
        only(tmp_path, assemble(NO_PAGES))


def test_readers_that_count_differently_stop_it(tmp_path):
    """pdfium believes a node without a type to be a page, pypdf does not: 2 or 1?"""
    page = "<< /Type /Page /Parent 2 0 R /MediaBox [0 0 99 99] >>"
    data = assemble(
        [
            b"<< /Type /Catalog /Pages 2 0 R >>",
            b"<< /Type /Pages /Kids [3 0 R 4 0 R] /Count 2 >>",
            page.encode(),
            page.replace("/Type /Page ", "/Type /Pagina ").encode(),
        ]
    )
    with pytest.raises(ScanError, match="one reader finds 2 pages in it and another 1"):
        pages_of(tmp_path, data)


def test_limit_of_pages(tmp_path):
    with pytest.raises(ScanLimitError, match="has 3 pages; at most 2"):
        pages_of(tmp_path, letter(pages=3), limits=Limits(pages=2))


def test_a_huge_image_is_refused_before_it_is_decoded(tmp_path):
    small = image_object(np.zeros((4, 4), np.uint8))
    bomb = small.replace(b"/Width 4", b"/Width 30000").replace(b"/Height 4", b"/Height 30000")
    data = page_pdf("q 595 0 0 841 0 0 cm /Im Do Q", resources="/XObject << /Im 5 0 R >>",
                    more=[bomb])  # fmt: skip
    with pytest.raises(ScanLimitError, match="900 megapixels"):
        only(tmp_path, data)


def test_pages_come_one_at_a_time(tmp_path):
    (tmp_path / "page.pdf").write_bytes(letter(pages=3))
    scan = open_scan(tmp_path / "page.pdf")
    assert isinstance(next(scan), VectorPage)
    scan.close()


def test_a_pdf_after_a_few_bytes_of_junk(tmp_path):
    """ISO 32000-1 annex H.3.4.1: readers accept the header in the first 1024 bytes."""
    assert only(tmp_path, b"junk\n" * 20 + letter()).size_mm == pytest.approx((210, 297), abs=0.01)
