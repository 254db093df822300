"""The whole flow on a small drawn packet: build, count, form arrives, recount."""

from __future__ import annotations

import io
import json
import shutil

import pikepdf
import pypdf
import pypdfium2
import pytest
import small_packet
from PIL import Image, PngImagePlugin

from packet import pipeline
from packet.files import file_digest
from packet.sheets.recount import recount

SETS = ("envelope.pdf", "copy-set-1.pdf", "copy-set-2.pdf")


@pytest.fixture(scope="module")
def built(tmp_path_factory):
    root = small_packet.make(tmp_path_factory.mktemp("flow") / "packet")
    result = pipeline.build(root)
    return root, result


@pytest.fixture
def copy(built, tmp_path):
    root = tmp_path / "packet"
    shutil.copytree(built[0], root)
    return root


def outputs(root):
    return {path.name: path.read_bytes() for path in (root / "out").iterdir()}


def digests(root):
    """Of every output: a difference is told in a line, not in a diff of megabytes."""
    return {path.name: file_digest(path) for path in (root / "out").iterdir()}


def test_outputs_are_these_and_no_others(built):
    assert sorted(outputs(built[0])) == sorted(
        [*SETS, "print-slip.pdf", "review.html", "record.json"]
    )


def test_the_box_is_the_sum_of_its_terms(built):
    """MOD. 209, note (g): the sheets of the forms and of the photocopies together."""
    count = built[1].record["count"]

    assert count["form_leaves"] == 4
    assert count["envelope_pages"] == 4
    assert count["box"] == 4 + 4


def test_both_copy_sets_are_equal_byte_for_byte(built):
    files = digests(built[0])

    assert files["copy-set-1.pdf"] == files["copy-set-2.pdf"]


@pytest.mark.parametrize("name", SETS)
def test_three_readers_agree_on_the_pages(built, name):
    data = outputs(built[0])[name]
    planned = built[1].record["sets"]["file_pages"][name]

    assert len(pypdf.PdfReader(io.BytesIO(data)).pages) == planned
    assert len(pypdfium2.PdfDocument(data)) == planned
    with pikepdf.open(io.BytesIO(data)) as pdf:
        assert len(pdf.pages) == planned
        assert (
            pdf.check_pdf_syntax() == [] if hasattr(pdf, "check_pdf_syntax") else pdf.check() == []
        )


def test_same_scans_same_bytes(copy):
    before = digests(copy)
    shutil.rmtree(copy / "out")
    pipeline.build(copy)

    assert digests(copy) == before


def test_count_answers_from_the_files_and_from_the_plan_alike(copy):
    from_files, _, stale = pipeline.count(copy)
    shutil.rmtree(copy / "out")
    from_plan, _, stale_plan = pipeline.count(copy)

    assert (stale, from_files["basis"]) == ("", "files")
    assert (bool(stale_plan), from_plan["basis"]) == (True, "plan")
    assert {**from_files, "basis": None} == {**from_plan, "basis": None}


def test_form_arrives_and_neither_count_nor_envelope_changes(copy):
    before = digests(copy)
    pages_before = json.loads(outputs(copy)["record.json"])["sets"]["file_pages"]
    count_before = pipeline.count(copy)[0]
    small_packet.add_form(copy)
    assert pipeline.count(copy)[2] != ""
    built = pipeline.build(copy)
    after = digests(copy)

    assert after["envelope.pdf"] == before["envelope.pdf"]
    assert built.record["count"]["box"] == count_before["box"]
    assert (
        built.record["sets"]["file_pages"]["copy-set-1.pdf"] == pages_before["copy-set-1.pdf"] + 8
    )


def test_recount_agrees_then_sees_each_change(copy):
    assert recount(copy, copy / "out", written=8, paper=None).agrees
    assert not recount(copy, copy / "out", written=9, paper=None).agrees

    scan = copy / "means" / "p1.png"
    original = scan.read_bytes()
    scan.write_bytes(original + b"\0")
    assert not recount(copy, copy / "out", written=None, paper=None).agrees
    scan.write_bytes(original)
    assert recount(copy, copy / "out", written=None, paper=None).agrees

    envelope = copy / "out" / "envelope.pdf"
    envelope.write_bytes(envelope.read_bytes() + b"\n")
    assert not recount(copy, copy / "out", written=None, paper=None).agrees


def test_a_changed_comment_is_no_change_a_changed_value_is(copy):
    toml = copy / "packet.toml"
    toml.write_text("# only a remark\n" + toml.read_text("utf-8"), "utf-8")
    assert pipeline.count(copy)[0]["basis"] == "files"
    toml.write_text(toml.read_text("utf-8").replace("form_leaves = 4", "form_leaves = 8"), "utf-8")
    counted, _, stale = pipeline.count(copy)

    assert counted["basis"] == "plan"
    assert counted["box"] == 12
    assert "packet.toml" in stale


def test_a_bad_scan_never_loses_the_others(copy):
    (copy / "means" / "p3.jpg").write_text("only words, renamed")
    built = pipeline.build(copy)

    assert built.record["complete"] is False
    assert built.record["count"]["envelope_pages"] == 4
    assert any(f.subject == "means/p3.jpg" and f.needs_user for f in built.findings)


def test_no_mark_of_a_scan_survives(copy):
    """EXIF and XMP (CIPA DC-008; ISO 16684-1) and PNG text (ISO/IEC 15948) stay behind."""
    marker = "MARKER-OF-THE-CAMERA"
    exif = Image.Exif()
    exif[0x010F] = marker
    exif[0x8298] = marker
    with Image.open(copy / "passport" / "open_1.jpg") as picture:
        picture.load()
        picture.save(
            copy / "passport" / "open_1.jpg",
            exif=exif,
            xmp=f"<x:xmpmeta xmlns:x='adobe:ns:meta/'>{marker}</x:xmpmeta>".encode(),
            comment=marker.encode(),
            quality=90,
            dpi=(150, 150),
        )
    text = PngImagePlugin.PngInfo()
    text.add_text("Author", marker)
    text.add_itxt("XML:com.adobe.xmp", marker)
    with Image.open(copy / "means" / "p1.png") as picture:
        picture.load()
        picture.save(copy / "means" / "p1.png", pnginfo=text, dpi=(150, 150))
    pipeline.build(copy)

    for name, data in outputs(copy).items():
        assert marker.encode() not in data, name
        if name.endswith(".pdf"):
            with pikepdf.open(io.BytesIO(data)) as pdf:
                for thing in pdf.objects:
                    assert marker not in repr(thing), name
                    if isinstance(thing, pikepdf.Stream):
                        assert marker.encode() not in thing.read_raw_bytes(), name
                        if "/DCTDecode" not in repr(thing.get("/Filter")):
                            assert marker.encode() not in thing.read_bytes(), name


def test_outputs_name_no_place_of_this_machine(built):
    root, _ = built
    for name, data in outputs(root).items():
        assert str(root).encode() not in data, name
        assert str(root.parent.name).encode() not in data, name


def test_scans_are_never_written_to(copy):
    before = {p: (p.read_bytes(), p.stat().st_mtime_ns) for p in copy.rglob("*.jpg")}
    pipeline.build(copy)

    assert before == {p: (p.read_bytes(), p.stat().st_mtime_ns) for p in before}
