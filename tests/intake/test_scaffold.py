"""``packet new``."""

from __future__ import annotations

import os
import re
import stat
import sys
import tomllib
import unicodedata
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from packet.errors import OutputError, PacketFileError, UsageError
from packet.intake import scaffold
from packet.intake.packet_file import read_packet
from packet.intake.packet_text import packet_text, toml_value
from packet.intake.scaffold import Answers, new_packet
from packet.intake.scans import list_scans
from packet.model import Address, Applicant, OrderEntry, Packet, Passport
from packet.rules.reader import load_rule_set

STUDY = Path(__file__).parents[1] / "rules" / "study-first-issue.toml"
FULL = """
rule_set = "elective-residence-first-issue"
not_held = ["tax-card"]
[applicant]
surname = "Eriksson"
given_names = "Anna Maria"
sex = "F"
date_of_birth = 1974-08-12
[passport]
number = "L898902C3"
expires = 2031-05-02
booklet_pages = 32
pages = "written"
openings_per_sheet = 2
[visa]
number = "V1"
[entry]
date = 2026-03-02
[address]
town = "Roma"
[form]
modules = [1, 2]
copied_by_hand = true
[count]
form_leaves = 6
copies_printed = "two-sided"
[order]
passport = ["b.jpg", "a.jpg"]
home = ["lease.pdf#2", "id-card/both.jpg#1.2"]
[[document]]
folder = "birth"
title = "Atto di nascita"
kind = "other"
[[item]]
scan = "passport/a.jpg"
item = 2
document = "id-card"
[[item]]
scan = "id-card/both.jpg"
turn = 90
corners = [[0.5, 0], [10, 0], [10, 5], [0, 5]]
size_mm = [85.6, 53.98]
accept = ["blurred"]
[[item]]
scan = "id-card/both.jpg"
item = 3
document = "passport"
"""
OLD_SCANS = (
    "passport/a.jpg",
    "passport/b.jpg",
    "id-card/both.jpg",
    "home/lease.pdf",
    "means/pension.png",
    "insurance/policy.pdf",
    "birth/act.jpg",
    "form/form.pdf",
)


@pytest.fixture
def old(tmp_path):
    root = tmp_path / "old"
    root.mkdir()
    (root / "packet.toml").write_text(FULL, "utf-8")
    for name in OLD_SCANS:
        path = root / name
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(name.encode())
    (root / "home" / "more").mkdir()
    return root


def content(root):
    return {
        str(path.relative_to(root)): path.read_bytes() if path.is_file() else None
        for path in root.rglob("*")
    }


def test_what_is_made(tmp_path):
    made = new_packet(tmp_path / "deep" / "anna")

    root = tmp_path / "deep" / "anna"
    assert sorted(path.name for path in root.iterdir()) == sorted(
        ["packet.toml", "passport", "id-card", "tax-card", "home", "means", "insurance", "form"]
    )
    assert all((folder / "SCAN-ME.txt").is_file() for folder in root.iterdir() if folder.is_dir())
    assert made.paths[0] == root
    assert set(made.paths[1:]) == set(root.rglob("*"))
    assert made.again == ()
    assert [path.name for path in root.parent.iterdir()] == ["anna"]


@pytest.mark.skipif(sys.platform == "win32", reason="POSIX permissions")
def test_only_the_owner_may_read_it(tmp_path):
    new_packet(tmp_path / "anna")

    for path in [tmp_path / "anna", *(tmp_path / "anna").rglob("*")]:
        assert stat.S_IMODE(path.stat().st_mode) & 0o077 == 0, path


def test_nothing_given_stays_empty(tmp_path):
    """An example never becomes a value."""
    new_packet(tmp_path / "anna")
    packet = read_packet(tmp_path / "anna")

    rules = load_rule_set("elective-residence-first-issue")
    empty = Packet(root=tmp_path / "anna", rule_set=rules, documents=rules.documents)
    assert replace(packet, values_digest="") == empty
    assert not packet.count.form_leaves_confirmed
    assert list_scans(packet) == ((), ())


def test_every_section_and_key_of_the_file_is_there(tmp_path):
    new_packet(tmp_path / "anna", answers=Answers(form_leaves=4))
    tables = tomllib.loads((tmp_path / "anna" / "packet.toml").read_text("utf-8"))

    assert {name: sorted(keys) for name, keys in tables.items() if isinstance(keys, dict)} == {
        "applicant": sorted(Applicant.__dataclass_fields__),
        "passport": sorted(Passport.__dataclass_fields__),
        "visa": ["duration_days", "entries", "number", "purpose", "type", "valid_from", "valid_to"],
        "entry": ["border", "date", "local_holidays"],
        "address": sorted(Address.__dataclass_fields__),
        "form": ["box_22", "copied_by_hand", "modules"],
        "permit": ["expires", "first_issued", "number", "type_code"],
        "receipt": ["date", "password", "user_id"],
        "appointment": ["date", "place", "time"],
        "new_permit": ["expires", "issued", "number", "type_code"],
        "valid_until": [],
        "count": ["copies_printed", "extra_leaves", "form_leaves", "index_in_envelope"],
        "order": [],
    }


def test_answers_are_written(tmp_path):
    answers = Answers(
        surname='O"Neil \\ Łó',
        given_names="Zoë",
        booklet_pages=52,
        form_leaves=8,
        not_held=("id-card",),
    )
    new_packet(tmp_path / "anna", answers=answers)
    packet = read_packet(tmp_path / "anna")

    assert (packet.applicant.surname, packet.applicant.given_names) == ('O"Neil \\ Łó', "Zoë")
    assert packet.passport.booklet_pages == 52
    assert (packet.count.form_leaves, packet.count.form_leaves_confirmed) == (8, True)
    assert packet.not_held == ("id-card",)
    assert "leave this folder empty" in (tmp_path / "anna" / "id-card" / "SCAN-ME.txt").read_text()


@pytest.mark.parametrize(
    ("pages", "scans"),
    [(26, 15), (28, 16), (32, 18), (34, 19), (36, 20), (48, 26), (50, 27), (52, 28)],
)
def test_scan_me_says_how_many_openings(tmp_path, pages, scans):
    """N / 2 + 1 openings and 1 scan of the covers, worked by hand."""
    new_packet(tmp_path / "anna", answers=Answers(booklet_pages=pages))
    text = (tmp_path / "anna" / "passport" / "SCAN-ME.txt").read_text("utf-8")

    assert f"A book of {pages} pages: {scans} opening scans" in " ".join(text.split())


def test_scan_me_says_how_to_scan(tmp_path):
    new_packet(tmp_path / "anna")
    passport = (tmp_path / "anna" / "passport" / "SCAN-ME.txt").read_text("utf-8")
    form = (tmp_path / "anna" / "form" / "SCAN-ME.txt").read_text("utf-8")

    flat = " ".join(passport.split())
    for words in ("300 dpi", "1 cm", "dark", "entry stamp", "A book of 28 pages: 16 opening scans"):
        assert words in flat
    assert "8: the printed pages of module 1" in form
    assert all(len(line) <= 80 for line in passport.splitlines())


def test_a_folder_that_is_not_empty_is_refused_and_untouched(tmp_path):
    root = tmp_path / "full"
    root.mkdir()
    (root / "x.txt").write_text("mine")

    with pytest.raises(UsageError, match="is not empty"):
        new_packet(root)
    assert content(root) == {"x.txt": b"mine"}
    with pytest.raises(UsageError, match="is not a folder"):
        new_packet(root / "x.txt")


def test_an_empty_folder_is_filled_in_place(tmp_path, monkeypatch):
    root = tmp_path / "here"
    root.mkdir()
    (root / ".DS_Store").write_bytes(b"")
    monkeypatch.chdir(root)
    inode = root.stat().st_ino

    new_packet(Path("."))

    assert root.stat().st_ino == inode
    assert read_packet(Path(".")).documents
    assert not [path for path in root.iterdir() if path.name.startswith(".packet")]


def test_no_packet_inside_a_packet(tmp_path):
    new_packet(tmp_path / "anna")

    with pytest.raises(UsageError, match="inside another packet"):
        new_packet(tmp_path / "anna" / "passport" / "ben")


@pytest.mark.parametrize(
    ("answers", "words"),
    [
        (Answers(booklet_pages=27), "passport.booklet_pages: found 27"),
        (Answers(form_leaves=0), "count.form_leaves: found 0"),
        (Answers(surname="王"), "U\\+738B"),
        (Answers(given_names="a\nb"), "without control characters"),
        (Answers(not_held=("passport",)), "this one is required"),
    ],
)
def test_an_answer_that_cannot_be_used_makes_nothing(tmp_path, answers, words):
    with pytest.raises(PacketFileError, match=words):
        new_packet(tmp_path / "anna", answers=answers)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("exists", [False, True])
def test_a_failure_leaves_nothing_behind(tmp_path, monkeypatch, exists):
    """The disk fills up at the last step."""
    if exists:
        (tmp_path / "anna").mkdir()
    rename = Path.rename

    def full(self, target):
        if self.name in {"packet.toml"} or self.name == "new":
            raise OSError(28, "No space left on device")
        return rename(self, target)

    monkeypatch.setattr(Path, "rename", full)
    with pytest.raises(OutputError, match="no space left on device"):
        new_packet(tmp_path / "anna")
    assert list(tmp_path.rglob("*")) == ([tmp_path / "anna"] if exists else [])


def test_interruption_leaves_nothing_behind(tmp_path, monkeypatch):
    def interrupted(packet, spec):
        raise KeyboardInterrupt

    monkeypatch.setattr(scaffold, "scan_note", interrupted)
    with pytest.raises(KeyboardInterrupt):
        new_packet(tmp_path / "anna")
    assert list(tmp_path.iterdir()) == []


def test_own_rule_set_is_copied_into_the_packet(tmp_path):
    new_packet(tmp_path / "anna", rule_set=str(STUDY))
    packet = read_packet(tmp_path / "anna")

    assert packet.rule_set == load_rule_set(str(STUDY))
    assert (tmp_path / "anna" / "enrolment" / "SCAN-ME.txt").is_file()
    assert list_scans(packet) == ((), ())


def test_a_renewal_takes_over_what_still_holds(old, tmp_path):
    before = content(old)
    made = new_packet(tmp_path / "new", old=old)
    packet = read_packet(tmp_path / "new")

    assert content(old) == before
    first = read_packet(old)
    assert packet.rule_set.name == "elective-residence-renewal"
    assert packet.applicant == first.applicant
    assert packet.passport == first.passport
    assert packet.address == first.address
    assert packet.form == first.form
    assert packet.count.copies_printed == "two-sided"
    assert packet.not_held == ("tax-card",)
    assert packet.documents[-1] == first.documents[-1]
    assert packet.visa == type(packet.visa)()  # MOD. 209, note (n): for a first issue only
    assert packet.entry == type(packet.entry)()
    assert not packet.count.form_leaves_confirmed  # the new form is another paper
    assert [scan.name for scan in list_scans(packet)[0]] == [
        "id-card/both.jpg",
        "home/lease.pdf",
        "birth/act.jpg",
    ]
    assert made.again == (
        "passport: its pages have changed since: later stamps and stickers must show.",
        "permit: nothing was there to carry over.",
        "means: it must be up to date: the newest statements.",
        "insurance: it must cover the time of the new permit.",
        "form: a new application has a new form.",
        "id-card: a part of it lies on passport/a.jpg, which stays behind.",
    )
    assert made.check == (
        "id-card: 1 scan carried over; check that the card has not expired or been replaced, "
        "else scan it anew.",
        "home: 1 scan carried over; check that the lease has not expired and that you still live "
        "there, else scan it anew.",
        "birth: 1 scan carried over; check that it is still valid and still asked for, else scan "
        "it anew.",
        "home/more: stays behind. This is a sub-folder, and sub-folders are not entered.",
        "[permit]: write number, type_code and expires of the card that you hold now.",
        "form_leaves: count the leaves of the new form in your hand and write the number.",
        "[passport] and [address]: correct them if the book or the address is a new one.",
    )


def test_order_and_items_of_carried_scans_come_along(old, tmp_path):
    new_packet(tmp_path / "new", old=old)
    packet = read_packet(tmp_path / "new")

    assert packet.order == {
        "home": (
            OrderEntry(file="lease.pdf", page=2),
            OrderEntry(file="id-card/both.jpg", page=1, item=2),
        )
    }
    first = read_packet(old)
    assert packet.overrides[0] == first.overrides[1]
    other = packet.overrides[1]  # a passport's part on a carried scan: the passport is scanned anew
    assert (other.scan, other.item, other.leave_out, other.document) == (
        "id-card/both.jpg", 3, True, None,
    )  # fmt: skip
    assert len(packet.overrides) == 2


@pytest.mark.skipif(sys.platform == "win32", reason="POSIX links")
def test_carried_scans_are_copies_never_links(old, tmp_path):
    (old / "home" / "second.pdf").symlink_to(old / "home" / "lease.pdf")
    new_packet(tmp_path / "new", old=old)

    for name in ("home/lease.pdf", "home/second.pdf"):
        copy = tmp_path / "new" / name
        assert not copy.is_symlink()
        assert copy.read_bytes() == b"home/lease.pdf"
        assert copy.stat().st_ino != (old / "home" / "lease.pdf").stat().st_ino
        assert stat.S_IMODE(copy.stat().st_mode) == 0o600


def test_answers_win_over_the_old_packet(old, tmp_path):
    new_packet(tmp_path / "new", old=old, answers=Answers(booklet_pages=50, not_held=()))
    packet = read_packet(tmp_path / "new")

    assert packet.passport.booklet_pages == 50
    assert packet.applicant.surname == "Eriksson"
    assert packet.not_held == ()


def test_faults_of_the_old_packet_name_its_file(old, tmp_path):
    (old / "packet.toml").write_text("rule_set = 1")

    with pytest.raises(PacketFileError, match=r"old.packet\.toml: rule_set"):
        new_packet(tmp_path / "new", old=old)
    assert not (tmp_path / "new").exists()


def test_an_old_packet_with_an_own_rule_set_needs_a_name(tmp_path):
    new_packet(tmp_path / "old", rule_set=str(STUDY))

    with pytest.raises(UsageError, match="--rule-set"):
        new_packet(tmp_path / "new", old=tmp_path / "old")
    made = new_packet(tmp_path / "new", old=tmp_path / "old", rule_set=str(STUDY))
    assert "enrolment: nothing was there to carry over." in made.again


PLAIN = st.characters(exclude_categories=["Cc", "Cf", "Cs", "Zl", "Zp"])


@settings(deadline=None, derandomize=True)
@given(st.text(st.characters(exclude_categories=["Cs"])))
def test_any_text_goes_through_toml_unchanged(text):
    """TOML 1.0: what is written as a basic string reads back as the same text."""
    assert tomllib.loads(f"a = {toml_value(text)}")["a"] == text


@settings(deadline=None, derandomize=True)
@given(name=st.text(PLAIN, max_size=60), street=st.text(PLAIN, max_size=200))
def test_any_value_reads_back(tmp_path_factory, name, street):
    """Any text without control characters reads back, trimmed and in NFC."""
    rules = load_rule_set("elective-residence-first-issue")
    root = tmp_path_factory.mktemp("packet")
    packet = Packet(
        root=root,
        rule_set=rules,
        documents=rules.documents,
        applicant=Applicant(place_of_birth=name, tax_code=street),
    )
    (root / "packet.toml").write_text(packet_text(packet, rule_set=rules.name), "utf-8")

    read = read_packet(root).applicant
    assert read.place_of_birth == unicodedata.normalize("NFC", name.strip())
    assert read.tax_code == unicodedata.normalize("NFC", street.strip())


def test_a_whole_packet_reads_back(old):
    packet = read_packet(old)
    (old / "packet.toml").write_text(
        packet_text(packet, rule_set="elective-residence-first-issue"), "utf-8"
    )

    assert read_packet(old) == packet


@pytest.mark.skipif(
    sys.platform == "win32" or os.geteuid() == 0, reason="a read-only folder, not as root"
)
def test_read_only_place(tmp_path):
    tmp_path.chmod(0o500)
    try:
        with pytest.raises(OutputError, match="could not be made"):
            new_packet(tmp_path / "anna")
    finally:
        tmp_path.chmod(0o700)


def test_what_build_and_count_need_stands_first(tmp_path):
    """The sections that only worksheet and dates read stand under one comment line at the end."""
    new_packet(tmp_path / "p")

    text = (tmp_path / "p" / "packet.toml").read_text("utf-8")
    first, later = text.split("# For the worksheet and the dates, later\n")
    sections = re.compile(r"(?m)^\[([a-z_]+)\]")
    assert sections.findall(first) == ["applicant", "passport", "count", "form", "order"]
    assert set(sections.findall(later)) == {
        "visa", "entry", "address", "permit", "receipt", "appointment", "new_permit", "valid_until",
    }  # fmt: skip
    keys = ("not_held", "surname", "given_names", "booklet_pages", "# form_leaves", "modules")
    places = [first.index(f"\n{key} = ") for key in keys]
    assert places == sorted(places)
    assert first.index("\nbooklet_pages") < first.index("\nnumber = ")


def test_a_renewal_takes_from_the_heap_what_is_still_valid(tmp_path):
    old = tmp_path / "old"
    (old / "scans").mkdir(parents=True)
    for name in ("card.jpg", "stamp.jpg", "both.jpg", "loose.jpg"):
        (old / "scans" / name).write_bytes(name.encode())
    tables = [
        ("card.jpg", 1, "id-card"), ("stamp.jpg", 1, "passport"),
        ("both.jpg", 1, "home"), ("both.jpg", 2, "passport"),
    ]  # fmt: skip
    text = 'rule_set = "elective-residence-first-issue"\n'
    text += '[order]\nhome = ["scans/both.jpg#1.1"]\npassport = ["scans/stamp.jpg"]\n'
    for name, number, document in tables:
        text += f'[[item]]\nscan = "scans/{name}"\nitem = {number}\ndocument = "{document}"\n'
    (old / "packet.toml").write_text(text, "utf-8")
    made = new_packet(tmp_path / "new", old=old)
    packet = read_packet(tmp_path / "new")

    copied = sorted(path.name for path in (tmp_path / "new" / "scans").iterdir())
    assert copied == ["both.jpg", "card.jpg"]
    assert [(one.scan, one.item, one.document, one.leave_out) for one in packet.overrides] == [
        ("scans/card.jpg", 1, "id-card", False),
        ("scans/both.jpg", 1, "home", False),
        ("scans/both.jpg", 2, None, True),
    ]
    assert list(packet.order) == ["home"]
    assert any(line.startswith("passport:") for line in made.again)
    assert not any(line.startswith(("home:", "id-card:")) for line in made.again)
