"""Nothing that acts survives: every object of every output is looked at with pikepdf.

What may not be there is listed from ISO 32000-2: actions (12.6), annotations (12.5), forms and
XFA (12.7), embedded files (7.11), optional content (8.11), multimedia (13), references to other
files (8.10.4, 7.11), metadata (14.3).
"""

from __future__ import annotations

import io
import shutil
import subprocess

import numpy as np
import pikepdf
import pypdfium2
import pytest
import small_packet
from pikepdf import Array, Dictionary, Name, String

from packet import pipeline
from trust import seeds
from trust.looking import holds

MARK = "MARKER-HYGIENE"
NEVER_KEYS = frozenset(
    f"/{key}"
    for key in (
        "AA", "AcroForm", "AF", "Annots", "B", "Collection", "DocMDP", "EF", "EmbeddedFiles",
        "JavaScript", "JS", "Launch", "Metadata", "Movie", "NeedsRendering", "OC", "OCGs",
        "OCProperties", "OpenAction", "OPI", "PieceInfo", "PresSteps", "Ref", "Rendition",
        "Requirements", "RichMedia", "Sound", "StructTreeRoot", "Thumb", "Threads", "Trans",
        "UR3", "URI", "URLS", "XFA", "Perms", "Legal", "Encrypt", "Extensions",
    )
)  # fmt: skip
NEVER_TYPES = frozenset(
    f"/{word}"
    for word in (
        "3D", "Action", "Annot", "EmbeddedFile", "Filespec", "F", "Movie", "OCG", "OCMD", "PS",
        "Rendition", "RichMedia", "Screen", "Sig", "Sound", "Widget", "XFA",
    )
)  # fmt: skip
# An outline of the set's own goes to its pages by /Dest; no other action is written.
OWN_CATALOG = {
    "/Type", "/Pages", "/Outlines", "/PageLabels", "/PageMode", "/ViewerPreferences", "/Lang",
}  # fmt: skip


def javascript(pdf, page):
    pdf.Root.OpenAction = Dictionary(S=Name.JavaScript, JS=String(f"app.alert('{MARK}')"))
    names = Array([String("x"), pdf.make_indirect(Dictionary(S=Name.JavaScript, JS=String(MARK)))])
    pdf.Root.Names = Dictionary(JavaScript=Dictionary(Names=names))


def launch(pdf, page):
    page.AA = Dictionary(O=Dictionary(S=Name.Launch, F=String(MARK)))
    pdf.Root.AA = Dictionary(WC=Dictionary(S=Name.Launch, F=String(MARK)))


def open_action(pdf, page):
    pdf.Root.OpenAction = Dictionary(S=Name.URI, URI=String(f"https://example.invalid/{MARK}"))


def embedded_file(pdf, page):
    pdf.attachments[f"{MARK}.txt"] = MARK.encode()
    stream = pdf.make_stream(MARK.encode(), Type=Name.EmbeddedFile)
    page.AF = Array([Dictionary(Type=Name.Filespec, F=String(MARK), EF=Dictionary(F=stream))])


def form(pdf, page, kind="Tx"):
    look = pdf.make_stream(b"0.8 g 0 0 200 30 re f", Type=Name.XObject, Subtype=Name.Form)
    look.BBox = Array([0, 0, 200, 30])
    field = pdf.make_indirect(
        Dictionary(
            Type=Name.Annot, Subtype=Name.Widget, FT=Name(f"/{kind}"), T=String(MARK),
            V=String(MARK), Rect=Array([100, 100, 300, 130]), F=4, AP=Dictionary(N=look),
        )
    )  # fmt: skip
    page.Annots = Array([field])
    pdf.Root.AcroForm = Dictionary(Fields=Array([field]), NeedAppearances=True)


def xfa(pdf, page):
    form(pdf, page)
    pdf.Root.AcroForm.XFA = pdf.make_stream(f"<xdp>{MARK}</xdp>".encode())


def annotations(pdf, page):
    page.Annots = Array(
        [
            pdf.make_indirect(
                Dictionary(
                    Type=Name.Annot, Subtype=Name(f"/{kind}"), Rect=Array([10, 10, 90, 90]), F=4,
                    Contents=String(MARK), T=String(MARK), QuadPoints=Array([10, 10, 90, 90] * 2),
                    A=Dictionary(S=Name.URI, URI=String(f"https://example.invalid/{MARK}")),
                )
            )
            for kind in ("Text", "Link", "FreeText", "Highlight", "Square", "Stamp", "Popup")
        ]
    )  # fmt: skip


def multimedia(pdf, page):
    sound = pdf.make_stream(MARK.encode(), Type=Name.Sound, R=8000)
    page.Annots = Array(
        [
            Dictionary(Type=Name.Annot, Subtype=Name.Sound, Sound=sound, Rect=Array([0, 0, 9, 9])),
            Dictionary(
                Type=Name.Annot, Subtype=Name.Screen, Rect=Array([0, 0, 9, 9]),
                A=Dictionary(S=Name.Rendition, JS=String(MARK), OP=0),
            ),
            Dictionary(
                Type=Name.Annot, Subtype=Name.Movie, Rect=Array([0, 0, 9, 9]),
                Movie=Dictionary(F=String(MARK)),
            ),
            Dictionary(
                Type=Name.Annot, Subtype=Name.RichMedia, Rect=Array([0, 0, 9, 9]),
                RichMediaContent=Dictionary(Assets=String(MARK)),
            ),
        ]
    )  # fmt: skip


def hidden_layer(pdf, page):
    layer = pdf.make_indirect(Dictionary(Type=Name.OCG, Name=String(MARK)))
    pdf.Root.OCProperties = Dictionary(OCGs=Array([layer]), D=Dictionary(OFF=Array([layer])))
    page.Resources = page.get("/Resources", Dictionary())
    page.Resources.Properties = Dictionary(Hidden=layer)
    shown = page.Contents.read_bytes()
    page.Contents = pdf.make_stream(
        shown + b"\n/OC /Hidden BDC 1 0 0 rg 0 0 595 842 re f %" + MARK.encode() + b"\nEMC\n"
    )


def external_reference(pdf, page):
    outside = pdf.make_stream(b"", Type=Name.XObject, Subtype=Name.Image, Width=1, Height=1)
    outside.F = Dictionary(Type=Name.Filespec, F=String(MARK))
    other = pdf.make_stream(b"0 0 9 9 re f", Type=Name.XObject, Subtype=Name.Form)
    other.BBox = Array([0, 0, 9, 9])
    other.Ref = Dictionary(F=Dictionary(Type=Name.Filespec, F=String(MARK)), Page=0)
    resources = page.get("/Resources", Dictionary())
    held = resources.get("/XObject", Dictionary())
    held.Out, held.Other = outside, other
    resources.XObject = held
    page.Resources = resources
    page.Contents = pdf.make_stream(page.Contents.read_bytes() + b"\n/Other Do /Out Do")


def described(pdf, page):
    page.Metadata = pdf.make_stream(MARK.encode(), Type=Name.Metadata, Subtype=Name.XML)
    page.PieceInfo = Dictionary(Maker=Dictionary(Private=String(MARK), LastModified=String(MARK)))
    page.Thumb = seeds.jpeg_stream(pdf)
    page.ID = String(MARK)
    pdf.Root.PieceInfo = Dictionary(Maker=Dictionary(Private=String(MARK)))
    pdf.docinfo.Author = String(MARK)
    pdf.Root.Metadata = pdf.make_stream(
        f"<x:xmpmeta xmlns:x='adobe:ns:meta/'>{MARK}</x:xmpmeta>".encode(),
        Type=Name.Metadata, Subtype=Name.XML,
    )  # fmt: skip


def transition(pdf, page):
    page.Trans = Dictionary(S=Name.Dissolve)
    page.PresSteps = Dictionary(
        Type=Name.NavNode, NA=Dictionary(S=Name.JavaScript, JS=String(MARK))
    )


NASTY = (
    javascript, launch, open_action, embedded_file, form, xfa, annotations, multimedia,
    hidden_layer, external_reference, described, transition,
)  # fmt: skip
PAGES = {"image": seeds.image_page, "drawn": lambda pdf: seeds.drawn_page(pdf, "AA")}


@pytest.fixture(scope="module")
def built(tmp_path_factory):
    """One packet of every nasty thing, on a page that is a picture and on one that is drawn."""
    root = small_packet.make(tmp_path_factory.mktemp("nasty") / "p", openings=1, papers=0)
    for nasty in NASTY:
        for kind, make in PAGES.items():
            with pikepdf.new() as pdf:
                nasty(pdf, make(pdf))
                (root / "means" / f"{nasty.__name__}-{kind}.pdf").write_bytes(seeds.saved(pdf))
    result = pipeline.build(root, jobs=2)
    return root / "out", result


def pdfs(out):
    return sorted(path for path in out.iterdir() if path.suffix == ".pdf")


def test_every_nasty_page_is_printed(built):
    """It is cleaned, not lost; what cannot be shown at all would be an error finding."""
    unreadable = [f for f in built[1].findings if f.code in ("unreadable", "not-a-scan")]
    assert unreadable == []
    scans = {item["scan"] for item in built[1].record["items"] if item["placed"]}
    assert len([scan for scan in scans if scan.startswith("means/")]) == len(NASTY) * len(PAGES)


def test_no_object_acts_or_reaches_outside(built):
    for path in pdfs(built[0]):
        _look_through(path.read_bytes(), path.name)


def _look_through(data, where):
    with pikepdf.open(io.BytesIO(data)) as pdf:
        assert set(pdf.Root.keys()) <= OWN_CATALOG, where
        for thing in pdf.objects:
            _walk(thing, where, depth=0)


def _walk(thing, where, depth):
    assert depth < 30, where
    if isinstance(thing, pikepdf.Dictionary | pikepdf.Stream):
        assert not set(thing.keys()) & NEVER_KEYS, f"{where}: {sorted(thing.keys())}"
        kinds = {str(thing.get(key)) for key in ("/Type", "/Subtype", "/S", "/FT")}
        if str(thing.get("/Type")) not in ("/Group", "/PageLabel"):
            assert not kinds & NEVER_TYPES, f"{where}: {kinds}"
        if isinstance(thing, pikepdf.Stream):
            assert "/F" not in thing, f"{where}: a stream in another file"
        inner = [thing[key] for key in thing.keys()]  # noqa: SIM118
    elif isinstance(thing, pikepdf.Array):
        inner = list(thing)
    else:
        return
    for value in inner:
        if not getattr(value, "is_indirect", False):
            _walk(value, where, depth + 1)


def test_no_word_of_it_is_left(built):
    for path in built[0].iterdir():
        assert not holds(path.read_bytes(), MARK), path.name


def test_pdfium_sees_no_form_and_no_attachment(built):
    """A second reader: no form, no attachment, no annotation, no script."""
    from pypdfium2 import raw

    for path in pdfs(built[0]):
        with pypdfium2.PdfDocument(path) as pdf:
            assert pdf.get_formtype() == raw.FORMTYPE_NONE
            assert pdf.count_attachments() == 0
            assert raw.FPDFDoc_GetJavaScriptActionCount(pdf) == 0
            assert all(raw.FPDFPage_GetAnnotCount(pdf[n]) == 0 for n in range(len(pdf)))


@pytest.mark.skipif(shutil.which("qpdf") is None, reason="qpdf is not installed")
def test_qpdf_finds_nothing_wrong(built):
    for path in pdfs(built[0]):
        done = subprocess.run(
            ["qpdf", "--check", str(path)], capture_output=True, text=True, check=False
        )
        assert done.returncode == 0, done.stdout + done.stderr


def test_a_field_is_kept_as_it_looks(built):
    """What a viewer shows of a form stays, as appearance: the words in the field."""
    record = built[1].record
    page = next(i for i in record["items"] if i["scan"] == "means/form-drawn.pdf")["placed"]["page"]
    with pypdfium2.PdfDocument(built[0] / "envelope.pdf") as pdf:
        picture = pdf[page - 1].render(scale=1).to_pil().convert("L")
    field = np.asarray(picture.crop((100, 842 - 130, 300, 842 - 100)))
    assert (field < 128).any()


def test_a_hidden_layer_stays_hidden(built):
    record = built[1].record
    for kind in PAGES:
        scan = f"means/hidden_layer-{kind}.pdf"
        page = next(i for i in record["items"] if i["scan"] == scan)["placed"]["page"]
        with pypdfium2.PdfDocument(built[0] / "envelope.pdf") as pdf:
            picture = pdf[page - 1].render(scale=0.5).to_pil().convert("RGB")
        seen = np.asarray(picture)
        assert ((seen[..., 0] > 200) & (seen[..., 1] < 90)).mean() < 0.05


def test_it_would_be_seen():
    """The walk finds what it looks for in the inputs themselves."""
    for nasty in NASTY:
        with pikepdf.new() as pdf:
            nasty(pdf, seeds.drawn_page(pdf, "AA"))
            data = seeds.saved(pdf)
        with pytest.raises(AssertionError):
            _look_through(data, "input")
