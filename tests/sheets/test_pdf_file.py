"""The little of PDF that our own files need; other libraries are the measure."""

from __future__ import annotations

import io

import pikepdf
import pypdf
import pytest
from pypdf.generic import (
    ArrayObject,
    DecodedStreamObject,
    DictionaryObject,
    NameObject,
    NumberObject,
    TextStringObject,
)

from packet.errors import PacketError
from packet.sheets.pdf_file import PdfFile, Source, array, dictionary, reference, text

NASTY = "(1 0 R) >> stream\nendobj \\ 9 0 R <<"


def theirs():
    """What pypdf writes: strings, streams and circles that a careless reader trips over."""
    writer = pypdf.PdfWriter()
    stream = DecodedStreamObject()
    stream.set_data(b"endobj\n7 0 R\nendstream\n>> stream\n")
    made = writer._add_object(stream)
    held = DictionaryObject(
        {
            NameObject("/Words"): TextStringObject(NASTY),
            NameObject("/Far"): TextStringObject("à 3 0 R"),
            NameObject("/Stream"): made,
            NameObject("/Twice"): ArrayObject([made, made, NumberObject(5)]),
        }
    )
    known = writer._add_object(held)
    held[NameObject("/Self")] = known
    writer.root_object[NameObject("/X")] = known
    out = io.BytesIO()
    writer.write(out)
    return out.getvalue()


def finished(out, file, value):
    pages = file.reserve()
    entries = b"<< /Type /Page /Parent %d 0 R /MediaBox [ 0 0 9 9 ] /Resources << >> >>"
    page = file.put(entries % pages)
    file.put(b"<< /Type /Pages /Kids [ %d 0 R ] /Count 1 >>" % page, pages)
    root = file.put(dictionary({"Type": b"/Catalog", "Pages": reference(pages), "X": value}))
    info = file.put(dictionary({"Title": text("t")}))
    file.close(root=root, info=info, identity=bytes(16))
    return out.getvalue()


def copied(data):
    source = Source(data)
    catalog = source.entries(source.one(rb"/Root", source.trailer))
    out = io.BytesIO()
    file = PdfFile(out)
    first = file.copy(source, source.one(rb"/X", catalog))
    assert file.copy(source, source.one(rb"/X", catalog)) == first
    return finished(out, file, reference(first))


def test_what_is_copied_says_what_it_said():
    data = copied(theirs())
    seen = pypdf.PdfReader(io.BytesIO(data)).root_object["/X"]

    assert seen["/Words"] == NASTY
    assert seen["/Far"] == "à 3 0 R"
    assert seen["/Stream"].get_data() == b"endobj\n7 0 R\nendstream\n>> stream\n"
    assert seen["/Twice"][0].get_object() is seen["/Twice"][1].get_object()
    assert seen.raw_get("/Self") == seen.indirect_reference
    with pikepdf.open(io.BytesIO(data)) as pdf:
        assert not pdf.check_pdf_syntax()
        assert str(pdf.Root.X.Words) == NASTY
        assert pdf.Root.X.Stream.read_bytes() == b"endobj\n7 0 R\nendstream\n>> stream\n"
    assert data == copied(theirs())


def test_a_length_elsewhere_and_a_reference_to_nothing():
    body = [
        b"<< /Length 2 0 R /Nothing 9 0 R >>\nstream\nabc\nendstream",
        b"3",
        b"<< /Type /Catalog /X 1 0 R >>",
    ]
    data, places = b"%PDF-1.7\n", []
    for number, one in enumerate(body, start=1):
        places.append(len(data))
        data += b"%d 0 obj\n%s\nendobj\n" % (number, one)
    start = len(data)
    data += b"xref\n0 4\n0000000000 65535 f \n"
    data += b"".join(b"%010d 00000 n \n" % place for place in places)
    data += b"trailer\n<< /Size 4 /Root 3 0 R >>\nstartxref\n%d\n%%%%EOF\n" % start

    with pikepdf.open(io.BytesIO(copied(data))) as pdf:
        assert pdf.Root.X.read_bytes() == b"abc"
        assert not pdf.check_pdf_syntax()


@pytest.mark.parametrize("words", ["plain", NASTY, "Disponibilità dell’alloggio", "\x07", "𝔄", ""])
def test_texts_are_read_as_they_were_written(words):
    out = io.BytesIO()
    data = finished(out, PdfFile(out), array([text(words)]))

    assert pypdf.PdfReader(io.BytesIO(data)).root_object["/X"][0] == words
    with pikepdf.open(io.BytesIO(data)) as pdf:
        assert str(pdf.Root.X[0]) == words


@pytest.mark.parametrize(
    "data", [b"", b"startxref\n0\n", b"%PDF-1.5\n1 0 obj\n<<>>\nendobj\ntrailer\nstartxref\n9\n"]
)
def test_what_has_no_plain_table_is_refused(data):
    with pytest.raises(PacketError, match="could not be put into a PDF"):
        Source(data)
