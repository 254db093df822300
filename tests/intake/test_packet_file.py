"""packet.toml -> Packet."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from packet.errors import PacketError, PacketFileError
from packet.intake.packet_file import parse_order_entry, read_packet
from packet.model import CountChoice, Kind, OrderEntry

FIRST = 'rule_set = "elective-residence-first-issue"\n'
STUDY = Path(__file__).parents[1] / "rules" / "study-first-issue.toml"


@pytest.fixture
def packet_of(tmp_path):
    """A function: text of packet.toml (after rule_set) -> Packet."""

    def read(text: str = "", rule_set: str = FIRST):
        (tmp_path / "packet.toml").write_text(rule_set + text, "utf-8")
        return read_packet(tmp_path)

    return read


@pytest.fixture
def problems_of(packet_of):
    """A function: text of packet.toml -> its problems, joined by line breaks."""

    def read(text: str, rule_set: str = FIRST) -> str:
        with pytest.raises(PacketFileError) as caught:
            packet_of(text, rule_set)
        return "\n".join(caught.value.problems)

    return read


def test_rule_set_alone_is_enough(packet_of):
    packet = packet_of()

    assert packet.count == CountChoice()
    assert not packet.count.form_leaves_confirmed
    assert packet.form.modules == (1,)
    assert packet.passport.booklet_pages is None
    assert packet.applicant.surname == ""
    assert len(packet.values_digest) == 64


def test_the_whole_file(packet_of):
    packet = packet_of(
        """
not_held = ["id-card"]
[applicant]
surname = "Eriksson"
given_names = "Anna Maria"
sex = "F"
civil_status = "married"
date_of_birth = 1974-08-12
country_of_birth = "UTO"
citizenship = "UTO"
[passport]
number = "L898902C3"
expires = 2031-05-02
booklet_pages = 28
pages = "written"
openings_per_sheet = 2
[visa]
valid_from = 2026-02-01
duration_days = 365
[entry]
date = 2026-03-02
[address]
province = "RM"
[form]
modules = [2, 1]
copied_by_hand = true
[count]
form_leaves = 6
copies_printed = "two-sided"
index_in_envelope = true
extra_leaves = 1
[order]
passport = ["b.jpg", "both.pdf#2", "cards.jpg#1.2"]
[[document]]
folder = "extra"
title = "Atto"
kind = "permit-back"
in_envelope = false
[[item]]
scan = "passport/IMG_0012.jpg"
page = 2
item = 3
turn = 180
corners = [[0, 0], [10, 0], [10.5, 20], [-1, 20]]
kind = "passport-spread"
size_mm = [105, 74]
document = "id-card"
leave_out = true
tone = "colour"
accept = ["blurred", "near-edge"]
"""
    )

    assert packet.not_held == ("id-card",)
    assert packet.applicant.date_of_birth == date(1974, 8, 12)
    assert packet.passport.openings_per_sheet == 2
    assert packet.form.modules == (1, 2)
    assert packet.count.form_leaves_confirmed
    assert packet.order["passport"] == (
        OrderEntry(file="b.jpg"),
        OrderEntry(file="both.pdf", page=2),
        OrderEntry(file="cards.jpg", page=1, item=2),
    )
    extra = packet.documents[-1]
    assert (extra.folder, extra.title_it, extra.in_envelope) == ("extra", "Atto", False)
    assert extra.kinds == (Kind.PERMIT_BACK, Kind.PERMIT_FRONT)
    (override,) = packet.overrides
    assert override.corners == ((0, 0), (10, 0), (10.5, 20), (-1, 20))
    assert override.size_mm == (105.0, 74.0)
    assert override.accept == ("blurred", "near-edge")


def test_identity_values_stay_out_of_repr(packet_of):
    packet = packet_of(
        '[applicant]\nsurname = "Qxsurname"\ntax_code = "Qxtax"\n'
        '[passport]\nnumber = "Qxnumber"\n[address]\nstreet = "Qxstreet"\n'
    )

    assert "Qx" not in repr(packet)


def test_every_fault_is_reported_at_once(problems_of):
    text = problems_of(
        """
not_held = ["passport", "idcard", 3]
colour = 1
[applicant]
surnme = "Qx"
sex = "Qxfemale"
civil_status = "maried"
date_of_birth = "Qx1958-07-14"
country_of_birth = "Qxtopia"
tax_code = 12345
[passport]
booklet_pages = 27
openings_per_sheet = true
pages = "some"
[visa]
duration_days = "12"
[address]
province = "Qxome"
[form]
modules = [1, 3]
copied_by_hand = "yes"
[count]
form_leaves = 0
extra_leaves = -1
copies_printed = "duplex"
[order]
pasport = ["a"]
home = "a"
[[document]]
folder = "Form"
[[document]]
folder = "out"
title = "x\\ny"
kind = "form-page"
[[item]]
scan = "passport/../a.jpg"
page = 0
turn = 45
corners = [[0,0],[0,1],[1,1],[1,0]]
size_mm = [1, 2, 3]
document = "nowhere"
tone = "gray"
accept = ["Blurred!"]
"""
    )
    for part in (
        'not_held[0]: found "passport", expected one of "id-card", "tax-card": this one is req',
        'not_held[1]: found "idcard", expected one of "id-card", "tax-card" (perhaps id-card)',
        "not_held[2]: found 3",
        "colour: found an unknown key",
        "applicant.surnme: found an unknown key (perhaps surname)",
        "applicant.sex: found a text of 8 characters",
        'applicant.civil_status: found a text of 6 characters, expected one of "single", "married"',
        '(perhaps "married")',
        "applicant.date_of_birth: found a text of 12 characters, expected a date without quotes",
        "applicant.country_of_birth: found a text of 7 characters, expected three capital letters",
        "applicant.tax_code: found a whole number, expected a text in double quotes",
        "passport.booklet_pages: found 27, expected an even number",
        "passport.openings_per_sheet: found true, expected one of 1, 2",
        'passport.pages: found "some", expected one of "all", "written"',
        "visa.duration_days: found a text of 2 characters",
        "address.province: found a text of 5 characters, expected two capital letters",
        "form.modules[1]: found 3",
        'form.copied_by_hand: found "yes", expected true or false',
        "count.form_leaves: found 0, expected a whole number from 1 to 99",
        "count.extra_leaves: found -1",
        'count.copies_printed: found "duplex"',
        "order.pasport: found an unknown key (perhaps passport)",
        'order.home: found "a", expected a list',
        'document[0].folder: found "Form", expected a name that no other document',
        "document[0].title: found nothing",
        'document[1].folder: found "out"',
        "document[1].title: found",
        'document[1].kind: found "form-page"',
        'item[0].scan: found "passport/../a.jpg"',
        "item[0].page: found 0",
        "item[0].turn: found 45, expected one of 0, 90, 180, 270",
        "item[0].corners: found a list of 4, expected the four corners",
        "item[0].size_mm: found a list of 3",
        'item[0].document: found "nowhere"',
        'item[0].tone: found "gray", expected one of "grey", "colour", "bilevel" (perhaps "grey")',
        'item[0].accept[0]: found "Blurred!"',
    ):
        assert part in text, f"{part!r} is not in\n{text}"
    assert "Qx" not in text


def test_faults_of_other_sections_are_reported_with_an_unknown_rule_set(problems_of):
    text = problems_of(_FAULTS, 'rule_set = "elective-residense"\nnot_held = ["id-crd", 3]\n')

    assert 'rule_set: found "elective-residense", expected one of "elective-residence-fir' in text
    near = "perhaps elective-residence-renewal or elective-residence-first-issue"
    for part in (near, 'not_held[0]: found "id-crd"', *_FOUND, "order.x: found an unknown key"):
        assert part in text, text
    assert 'item[0].scan: found "nowhere/a.jpg"' in text
    assert "order.permit" not in text  # a document of another set: this fault depends on the set


def test_with_a_broken_rule_set_of_ones_own_any_folder_may_be_right(problems_of):
    text = problems_of(_FAULTS, 'rule_set = "gone.toml"\nnot_held = ["cat", 3]\n')

    assert "rule_set: gone.toml" in text
    for part in (*_FOUND, "order.x: found 1, expected a list"):
        assert part in text, text
    for folder in ("cat", "nowhere", "permit"):
        assert folder not in text


_FAULTS = """[count]
extra_leaves = -1
[form]
modules = ["one"]
[order]
x = 1
permit = ["a.jpg"]
[[document]]
folder = "extra"
[[item]]
scan = "nowhere/a.jpg"
turn = 45
accept = ["fuzzy", "blured"]
"""
_FOUND = (
    "not_held[1]: found 3",
    "count.extra_leaves",
    "form.modules[0]",
    "document[0].title: found nothing",
    "item[0].turn: found 45",
    'item[0].accept[0]: found "fuzzy", expected the code of a finding, such as "blurred".',
    'item[0].accept[1]: found "blured", expected the code of a finding, such as "blurred" (perhaps',
)


def test_the_nearest_code_is_named(problems_of):
    text = problems_of('[[item]]\nscan = "passport/a.jpg"\naccept = ["blured"]\n')

    assert "(perhaps blurred)" in text


def test_missing_rule_set(problems_of):
    assert problems_of("", "").startswith("rule_set: found nothing, expected one of")


def test_own_rule_set_lies_relative_to_the_packet(packet_of, problems_of, tmp_path):
    (tmp_path / "mine.toml").write_bytes(STUDY.read_bytes())

    assert packet_of("", 'rule_set = "mine.toml"\n').documents[1].folder == "enrolment"
    assert "without control" in problems_of("", 'rule_set = "a\\u0000.toml"\n')
    assert "rule_set: gone.toml: is not a file" in problems_of("", 'rule_set = "gone.toml"\n')


def test_no_packet_file(tmp_path):
    with pytest.raises(PacketError, match="holds no packet"):
        read_packet(tmp_path)
    with pytest.raises(PacketError, match="there is no such folder"):
        read_packet(tmp_path / "gone")
    (tmp_path / "file").write_text("")
    with pytest.raises(PacketError, match="is not a folder"):
        read_packet(tmp_path / "file")


def test_empty_texts_are_values_not_given(packet_of):
    empty = packet_of(
        '[applicant]\nsurname = ""\nsex = ""\ndate_of_birth = ""\n'
        '[passport]\nbooklet_pages = ""\n[visa]\nduration_days = ""\n[count]\nform_leaves = ""\n'
    )

    assert empty == packet_of()


def test_the_digest_sees_values_that_are_read_and_no_others(packet_of):
    base = packet_of().values_digest

    for unread in (
        "# a comment\n",
        '[visa]\nnumber = "1"\n',
        '[entry]\nborder = "x"\n',
        '[address]\ntown = "x"\n',
        '[passport]\nnumber = "1"\nexpires = 2031-01-01\n',
        '[applicant]\nsex = "F"\n',
    ):
        assert packet_of(unread).values_digest == base, unread
    seen = {base}
    for read in (
        'not_held = ["id-card"]\n',
        '[applicant]\nsurname = "x"\n',
        '[applicant]\ngiven_names = "x"\n',
        "[passport]\nbooklet_pages = 28\n",
        '[passport]\npages = "written"\n',
        "[passport]\nopenings_per_sheet = 2\n",
        "[form]\nmodules = [1, 2]\n",
        "[form]\ncopied_by_hand = true\n",
        "[count]\nform_leaves = 4\n",  # the default, but now confirmed
        "[count]\nform_leaves = 5\n",
        '[count]\ncopies_printed = "two-sided"\n',
        "[count]\nextra_leaves = 1\n",
        '[order]\nhome = ["a"]\n',
        '[[document]]\nfolder = "x"\ntitle = "y"\n',
        '[[item]]\nscan = "home/a"\nturn = 90\n',
        '[[item]]\nscan = "home/a"\naccept = ["blank"]\n',
    ):
        digest = packet_of(read).values_digest
        assert digest not in seen, read
        seen.add(digest)


def test_the_digest_sees_a_changed_rule_set_of_the_user(packet_of, tmp_path):
    text = STUDY.read_text("utf-8")
    name = 'rule_set = "mine.toml"\n'
    (tmp_path / "mine.toml").write_text(text, "utf-8")
    before = packet_of("", name).values_digest

    (tmp_path / "mine.toml").write_text("# comment\n" + text, "utf-8")
    assert packet_of("", name).values_digest == before
    (tmp_path / "mine.toml").write_text(text.replace("in_envelope = false", ""), "utf-8")
    assert packet_of("", name).values_digest != before


def test_a_character_that_the_typeface_lacks_is_named(problems_of, packet_of):
    assert packet_of('[applicant]\nsurname = "Łódź Ǻ Ελλάς Юлия"\n').applicant.surname

    text = problems_of('[applicant]\nsurname = "王 Wang"\n[passport]\nbooklet_pages = 3\n')
    assert "applicant.surname holds a character that the printed pages cannot show: 王" in text
    assert "Wang" not in text
    assert "passport.booklet_pages" in text
    assert "document[0].title" in problems_of('[[document]]\nfolder = "x"\ntitle = "証"\n')


@pytest.mark.parametrize("sign", ["\\n", "\\u0007", "\\u202e", "\\u0085"])
def test_control_characters_are_refused(problems_of, sign):
    assert "without control characters" in problems_of(f'[applicant]\nsurname = "a{sign}b"\n')


def test_two_tables_for_one_item(problems_of):
    text = problems_of('[[item]]\nscan = "home/a"\n[[item]]\nscan = "home/a"\npage = 1\n')

    assert text.startswith("item[1].scan")


@pytest.mark.parametrize(
    ("text", "entry"),
    [
        ("a.jpg", ("a.jpg", None, None)),
        ("a.pdf#2", ("a.pdf", 2, None)),
        ("a.pdf#12.3", ("a.pdf", 12, 3)),
        ("a#2.jpg", ("a#2.jpg", None, None)),
        ("a#1#2", ("a#1", 2, None)),
        ("a#0", ("a#0", None, None)),
        ("a#1.0", ("a#1.0", None, None)),
        ("a#", ("a#", None, None)),
        ("#3", ("#3", None, None)),
        ("a#٣", ("a#٣", None, None)),
    ],
)
def test_order_entries(text, entry):
    found = parse_order_entry(text)

    assert (found.file, found.page, found.item) == entry


@settings(deadline=None, derandomize=True)
@given(st.text(min_size=1))
def test_an_order_entry_never_loses_a_character(text):
    found = parse_order_entry(text)
    page = "" if found.page is None else f"#{found.page}"

    assert found.file + page + ("" if found.item is None else f".{found.item}") == text
