"""The recount: agreement of a fresh build, and every way in which it can be broken."""

from __future__ import annotations

import io
import json
from hashlib import sha256
from pathlib import Path

import pikepdf
import pytest
from PIL import Image

from packet.errors import PacketError, UsageError
from packet.files import Parts
from packet.intake.packet_file import read_packet
from packet.intake.scans import list_scans
from packet.model import Finding, Item, Kind, Severity
from packet.report.record import make_record, record_json
from packet.sheets.count import count_sheets
from packet.sheets.layout import lay_out
from packet.sheets.recount import count_pages, recount
from packet.sheets.sets import COPY_SETS, ENVELOPE, PRINT_SLIP, make_sets

from .making import item

TOML = """rule_set = "elective-residence-first-issue"
not_held = ["id-card", "tax-card"]
[applicant]
surname = "ERIKSSON"
given_names = "ANNA MARIA"
[passport]
booklet_pages = 28
[count]
form_leaves = 4
copies_printed = "{printed}"
index_in_envelope = {index}
extra_leaves = {extra}
"""
PAGES = {"passport": 5, "home": 3, "means": 2, "insurance": 1}


def kept_items(packet) -> dict[str, tuple[Item, ...]]:
    """One item per scan, as if each had been found and normalised."""
    scans, _ = list_scans(packet)
    items: dict[str, list[Item]] = {}
    for number, scan in enumerate(scans):
        passport = scan.folder == "passport"
        kind = Kind.PASSPORT_SPREAD if passport else Kind.A4_PAGE
        made = item(kind, number, folder=scan.folder, scan=scan.name)
        items.setdefault(scan.folder, []).append(made)
    return {folder: tuple(group) for folder, group in items.items()}


def build(root: Path, findings: tuple[Finding, ...] = ()) -> Path:
    """The packet's sets and record, with stand-ins for what imaging would have found."""
    complete = not findings
    packet = read_packet(root)
    scans, _ = list_scans(packet)
    items = kept_items(packet)
    plan = lay_out(packet, items)
    count = count_sheets(packet, plan)
    out = root / "out"
    out.mkdir(exist_ok=True)
    for name in (ENVELOPE, *COPY_SETS, PRINT_SLIP):
        (out / name).unlink(missing_ok=True)
    written = make_sets(packet, plan, count, complete, Parts(out))
    record = make_record(
        packet=packet,
        scans=scans,
        pages=(),
        items=items,
        plan=plan,
        count=count,
        findings=findings,
        complete=complete,
        written=written,
        files=written.files,
    )
    (out / "record.json").write_bytes(record_json(record))
    return out


@pytest.fixture
def make(tmp_path):
    """A built packet of 11 pages: passport 5, home 3, means 2, insurance 1."""

    def made(*, printed="one-sided", index=False, extra=0) -> Path:
        root = tmp_path / "packet"
        for folder, pages in PAGES.items():
            (root / folder).mkdir(parents=True)
            for number in range(pages):
                picture = Image.new("L", (8, 8), 10 * number)
                picture.save(root / folder / f"scan {number}.png")
            (root / folder / "SCAN-ME.txt").write_text("what to scan")
        (root / "form").mkdir()
        text = TOML.format(printed=printed, index=str(index).lower(), extra=extra)
        (root / "packet.toml").write_text(text)
        build(root)
        return root

    return made


def said(result):
    return " ".join(difference.what for difference in result.differences)


# --- agreement -----------------------------------------------------------------------------


def test_an_incomplete_build_is_never_called_complete(make):
    """Files that are as the build left them do not make up for a document that is missing."""
    root = make()
    for scan in (root / "means").glob("*.png"):
        scan.unlink()
    missing = Finding(
        code="missing-document",
        severity=Severity.ERROR,
        subject="means/",
        message="Means: required.",
        remedy="Scan it into means/.",
    )
    build(root, (missing,))

    result = recount(root, root / "out")

    assert (result.agrees, result.complete) == (True, False)
    (lacking,) = result.missing
    assert (lacking.what, lacking.remedy) == (missing.message, missing.remedy)
    title = "Proof of own means / Documentazione delle risorse economiche"
    assert result.tick[-1] == (title, 0, 0)


def test_what_is_right_is_said_too(make):
    root = make()

    notes = recount(root, root / "out", written=15).notes

    assert notes[0] == "You wrote 15: it agrees."
    assert "do not hold the copy of the form yet" in notes[1]
    assert len(notes) == 2


def test_a_fresh_build_agrees(make):
    root = make()

    result = recount(root, root / "out", written=15, paper={"passport": 5, "form": 4})

    assert result.agrees, result.differences
    assert result.box == 4 + 11
    assert [row[1:] for row in result.tick] == [(8, 4), (5, 5), (3, 3), (2, 2), (1, 1)]


@pytest.mark.parametrize("index", [False, True])
@pytest.mark.parametrize("extra", [0, 2])
def test_two_sided_with_every_term(make, index, extra):
    """Passport 3, home 2, means 1, insurance 1 sheets; 4 leaves of the form; index; extra."""
    root = make(printed="two-sided", index=index, extra=extra)

    result = recount(root, root / "out")

    assert result.agrees, result.differences
    assert result.box == 4 + 7 + index + extra
    assert sum(sheets for _, _, sheets in result.tick) == result.box


def test_the_form_on_the_scanner_leaves_the_number(make):
    root = make()
    before = (root / "out" / ENVELOPE).read_bytes()
    for number in range(8):
        Image.new("L", (8, 8), 100 + number).save(root / "form" / f"{number}.png")

    stale = recount(root, root / "out")
    build(root)
    fresh = recount(root, root / "out")

    assert not stale.agrees
    assert stale.box == fresh.box == 15
    assert fresh.agrees, fresh.differences
    assert (root / "out" / ENVELOPE).read_bytes() == before


# --- disagreement --------------------------------------------------------------------------


def test_another_number_on_the_form(make):
    root = make()

    result = recount(root, root / "out", written=14)

    assert not result.agrees
    assert "On the form stands 14; the files give 15" in said(result)
    assert result.differences[0].remedy


def test_another_number_of_sheets_on_paper(make):
    root = make()

    result = recount(root, root / "out", paper={"home": 4, "means": 2})

    title = "Proof of a home / Disponibilità di un alloggio"
    assert said(result) == f"{title}: 4 sheets on paper, 3 in the files."


def test_paper_of_an_unknown_document(make):
    root = make()

    with pytest.raises(UsageError, match=r"no document 'house'.*home"):
        recount(root, root / "out", paper={"house": 1})


def change_scan(root):
    (root / "home" / "scan 1.png").write_bytes(b"other")


def remove_scan(root):
    (root / "home" / "scan 1.png").unlink()


def add_scan(root):
    (root / "home" / "late.png").write_bytes(b"late")


def change_value(root):
    path = root / "packet.toml"
    path.write_text(path.read_text().replace("form_leaves = 4", "form_leaves = 5"))


def remove_output(root):
    (root / "out" / COPY_SETS[1]).unlink()


def damage_output(root):
    (root / "out" / ENVELOPE).write_bytes(b"%PDF-1.7 nothing")


@pytest.mark.parametrize(
    ("breaks", "sentence"),
    [
        (change_scan, "The scan home/scan 1.png was changed after the build."),
        (remove_scan, "The scan home/scan 1.png was there at the build and is gone."),
        (add_scan, "The scan home/late.png came after the build and is in no copy."),
        (change_value, "A value in packet.toml, or in the rule set, was changed"),
        (remove_output, "copy-set-2.pdf is missing from the output folder."),
        (damage_output, "envelope.pdf cannot be opened by a second reader."),
    ],
)
def test_what_changed_is_said(make, breaks, sentence):
    root = make()
    breaks(root)

    result = recount(root, root / "out")

    assert not result.agrees
    assert sentence in said(result)
    assert all(difference.remedy for difference in result.differences)


def test_a_comment_in_packet_toml_changes_nothing(make):
    root = make()
    path = root / "packet.toml"
    path.write_text("# a note\n" + path.read_text())

    assert recount(root, root / "out").agrees


def test_what_a_finding_names_is_no_news(make):
    """A file that the build saw and refused (too large, say) is in its findings."""
    root = make()
    (root / "home" / "refused.bin").write_bytes(b"?")
    path = root / "out" / "record.json"
    record = json.loads(path.read_bytes())
    record["findings"] = [{"code": "not-a-scan", "subject": "home/refused.bin"}]
    path.write_text(json.dumps(record))

    assert recount(root, root / "out").agrees


# --- files that were tampered with, the record along with them ------------------------------


def rewrite(root, names, change):
    """Change a PDF and note its new digest in the record, as if the build had written it."""
    path = root / "out" / "record.json"
    record = json.loads(path.read_bytes())
    for name in names:
        with pikepdf.open(root / "out" / name) as pdf:
            change(pdf)
            buffer = io.BytesIO()
            pdf.save(buffer, deterministic_id=True)
            pages = len(pdf.pages)
        (root / "out" / name).write_bytes(buffer.getvalue())
        for entry in record["outputs"]:
            if entry["file"] == name:
                entry.update(digest=sha256(buffer.getvalue()).hexdigest(), pages=pages)
    path.write_text(json.dumps(record))


def drop_last(pdf):
    del pdf.pages[-1]


def swap_first(pdf):
    first, second = pdf.pages[-2].obj, pdf.pages[-1].obj
    first.Contents, second.Contents = second.Contents, first.Contents
    first.Resources, second.Resources = second.Resources, first.Resources


def enlarge(pdf):
    pdf.pages[-1].MediaBox = pikepdf.Array([0, 0, 612, 792])


def draw_over(pdf):
    pdf.pages[-1].contents_add(b"0 0 200 200 re f")


@pytest.mark.parametrize(
    ("names", "change", "sentence"),
    [
        ([ENVELOPE], drop_last, "the total is 14; the build said 15"),
        (list(COPY_SETS), drop_last, "does not hold the same document pages"),
        (list(COPY_SETS), swap_first, "differ on document page 10, 11."),
        (list(COPY_SETS[:1]), swap_first, "The two copy sets do not hold the same pages."),
        ([ENVELOPE], enlarge, "A page of envelope.pdf is not A4."),
        ([ENVELOPE], draw_over, "differ on document page 11."),
    ],
)
def test_tampered_files_do_not_agree(make, names, change, sentence):
    root = make()
    rewrite(root, names, change)

    result = recount(root, root / "out")

    assert not result.agrees
    assert sentence in said(result)


def test_documents_that_share_a_sheet(make):
    """Without its empty back a document of odd length lends its sheet to the next one."""
    root = make(printed="two-sided")

    def drop_back(pdf):
        del pdf.pages[5]

    rewrite(root, [ENVELOPE], drop_back)

    assert "shares a sheet with another document" in said(recount(root, root / "out"))


# --- no build ------------------------------------------------------------------------------


def test_without_a_build(make):
    root = make()
    (root / "out" / "record.json").unlink()

    with pytest.raises(PacketError, match="There is no build to recount"):
        recount(root, root / "out")


@pytest.mark.parametrize("data", [b"", b"[]", b'{"format": 2}', b'{"format": 1}', b"[" * 9999])
def test_a_damaged_record(make, data):
    root = make()
    (root / "out" / "record.json").write_bytes(data)

    with pytest.raises(PacketError, match="cannot be read"):
        recount(root, root / "out")


def test_pages_are_counted_by_the_second_reader(make):
    root = make()

    assert count_pages((root / "out" / ENVELOPE).read_bytes()) == 11
    with pytest.raises(PacketError, match="cannot be opened by a second reader"):
        count_pages(b"no pdf")
