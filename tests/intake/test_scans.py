"""Which files of a packet folder are scans."""

from __future__ import annotations

import hashlib
import os
import sys

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from packet.errors import PacketError
from packet.intake.names import natural_key, shown
from packet.intake.packet_file import read_packet
from packet.intake.picture import Limits
from packet.intake.scans import list_scans
from packet.model import Severity

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="POSIX names, links and pipes")


@pytest.fixture
def root(tmp_path):
    folder = tmp_path / "packet"
    folder.mkdir()
    (folder / "packet.toml").write_text('rule_set = "elective-residence-first-issue"\n', "utf-8")
    return folder


def put(root, name, data=b"x"):
    path = root / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(data)
    return path


def names(root, **kwargs):
    return [scan.name for scan in list_scans(read_packet(root), **kwargs)[0]]


def findings(root, **kwargs):
    return [
        (one.code, one.severity, one.subject) for one in list_scans(read_packet(root), **kwargs)[1]
    ]


def test_no_folders_no_scans(root):
    assert list_scans(read_packet(root)) == ((), ())


def test_natural_order_by_folder_the_form_last(root):
    for name in ("form/a", "home/IMG_10.jpg", "home/IMG_2.jpg", "home/img_3.JPG", "passport/z"):
        put(root, name)

    assert names(root) == [
        "passport/z",
        "home/IMG_2.jpg",
        "home/img_3.JPG",
        "home/IMG_10.jpg",
        "form/a",
    ]


def test_digest_and_size(root):
    put(root, "home/a", b"abc" * 1000)

    (scan,) = list_scans(read_packet(root))[0]
    assert scan.digest == hashlib.sha256(b"abc" * 1000).hexdigest()
    assert scan.size_bytes == 3000
    assert scan.folder == "home"
    assert scan.path.read_bytes() == b"abc" * 1000


def test_what_is_ignored(root):
    for name in ("SCAN-ME.txt", "scan-me.TXT", ".DS_Store", "._a.jpg", "Thumbs.db", "desktop.ini"):
        put(root, f"home/{name}")

    assert list_scans(read_packet(root)) == ((), ())


ODD_NAMES = [
    "with space.jpg",
    "-leading dash.jpg",
    "😀.jpg",
    "line\nbreak.jpg",
    "n" * 251 + ".jpg",
    "no-ending",
    "a#2.jpg",
    "e\u0301.jpg",
    os.fsdecode(b"byte\xff.jpg"),
    "%s{x}<b>.jpg",
]


def test_an_odd_name_never_leaves_a_scan_out(root):
    for name in ODD_NAMES:
        put(root, f"home/{name}")

    scans, found = list_scans(read_packet(root))
    assert sorted(scan.name for scan in scans) == sorted(f"home/{name}" for name in ODD_NAMES)
    assert all((root / scan.name).is_file() for scan in scans)
    assert found == ()


def test_sub_folder_is_not_entered(root):
    put(root, "home/more/a.jpg")

    assert names(root) == []
    assert findings(root) == [("not-a-scan", Severity.WARNING, "home/more")]


def test_links(root, tmp_path):
    outside = put(tmp_path, "secret.jpg")
    inside = put(root, "home/a.jpg")
    (root / "means").mkdir()
    (root / "means" / "out.jpg").symlink_to(outside)
    (root / "means" / "in.jpg").symlink_to(inside)
    (root / "means" / "gone.jpg").symlink_to(root / "nothing")
    (root / "means" / "loop.jpg").symlink_to(root / "means" / "loop.jpg")
    (root / "insurance").symlink_to(tmp_path)

    assert names(root) == ["home/a.jpg", "means/in.jpg"]
    found = findings(root)
    assert ("not-a-scan", Severity.ERROR, "means/out.jpg") in found
    assert ("not-a-scan", Severity.ERROR, "insurance") in found
    assert ("unreadable", Severity.ERROR, "means/gone.jpg") in found
    assert "means/loop.jpg" in {subject for _, _, subject in found}
    assert len(found) == 4


def test_pipe_is_not_opened(root):
    (root / "home").mkdir()
    os.mkfifo(root / "home" / "pipe.jpg")

    assert names(root) == []
    assert findings(root) == [("not-a-scan", Severity.ERROR, "home/pipe.jpg")]


@pytest.mark.skipif(hasattr(os, "geteuid") and os.geteuid() == 0, reason="root may read all")
def test_no_permission(root):
    put(root, "home/a.jpg").chmod(0)
    (root / "means").mkdir(mode=0)

    assert findings(root) == [
        ("unreadable", Severity.ERROR, "home/a.jpg"),
        ("unreadable", Severity.ERROR, "means"),
    ]
    (root / "means").chmod(0o700)
    root.chmod(0o300)
    with pytest.raises(PacketError, match="cannot be listed"):
        list_scans(read_packet(root))
    root.chmod(0o700)


def test_too_large_is_not_read(root):
    put(root, "home/a.jpg", b"x" * 100)

    assert names(root, limits=Limits(file_bytes=99)) == []
    assert findings(root, limits=Limits(file_bytes=99)) == [
        ("unreadable", Severity.ERROR, "home/a.jpg")
    ]
    assert names(root, limits=Limits(file_bytes=100)) == ["home/a.jpg"]


def test_file_where_a_folder_should_be(root):
    put(root, "home")

    assert findings(root) == [("not-a-scan", Severity.ERROR, "home")]


def test_what_lies_elsewhere_is_said(root):
    put(root, "scan.jpg")
    put(root, "Passport/a.jpg")
    put(root, "letters/a.jpg")
    put(root, "empty/SCAN-ME.txt")
    put(root, "notes.txt")
    put(root, "out/envelope.pdf")
    put(root, "print/record.json")
    put(root, "print/envelope.pdf")

    found = list_scans(read_packet(root))[1]
    assert {one.subject for one in found} == {"scan.jpg", "Passport", "letters"}
    assert {one.code for one in found} == {"not-used"}
    assert all(one.severity is Severity.WARNING for one in found)
    (near,) = [one for one in found if one.subject == "Passport"]
    assert near.remedy == "Move what belongs to the packet into passport."


def test_folder_of_the_users_own_document_in_another_unicode_form(root):
    with (root / "packet.toml").open("a", encoding="utf-8") as stream:
        stream.write('[[document]]\nfolder = "attivit\u00e0"\ntitle = "x"\n')
    put(root, "attivita\u0300/a.jpg")

    (scan,) = list_scans(read_packet(root))[0]
    assert scan.folder == "attivit\u00e0"
    assert (root / scan.name).is_file()


def test_findings_print_safely(root):
    (root / "home").mkdir()
    (root / "home" / os.fsdecode(b"a\x1b[31m\xff\n")).mkdir()

    (finding,) = list_scans(read_packet(root))[1]
    assert finding.subject == "home/a\\x1b[31m\\xff\\n"


@settings(deadline=None, derandomize=True)
@given(st.text(st.characters(exclude_categories=[])))
def test_shown_names_are_one_safe_line(name):
    text = shown(name)

    text.encode("utf-8")
    assert "\n" not in text
    assert "\x1b" not in text
    assert shown(text) == text


@pytest.mark.parametrize(
    "ordered",
    [
        ["IMG_2.jpg", "IMG_10.jpg"],
        ["scan.jpg", "scan 2.jpg"],
        ["scan.jpg", "scan (2).jpg", "scan (10).jpg"],
        ["a1b2", "a1b10", "a02b1"],
        ["1.jpg", "1.png", "2.jpg", "a.jpg"],
        ["A.jpg", "b.jpg", "C.jpg"],
        ["001.jpg", "2.jpg", "0010.jpg"],
    ],
)
def test_natural_order(ordered):
    """Common practice, no source: numbers by value, case ignored, the shorter stem first."""
    shuffled = ordered[1:] + ordered[:1]
    assert sorted(shuffled, key=natural_key) == ordered


@settings(deadline=None, derandomize=True)
@given(st.lists(st.text(st.characters(exclude_categories=[])), unique=True), st.randoms())
def test_natural_order_is_total(names, random):
    """Any names can be compared, and the result does not depend on the order before."""
    shuffled = list(names)
    random.shuffle(shuffled)

    assert sorted(shuffled, key=natural_key) == sorted(names, key=natural_key)


def test_the_heap_is_a_folder_of_scans(root):
    for name in ("scans/IMG_2.jpg", "scans/IMG_10.jpg", "home/a.jpg", "form/a.jpg"):
        put(root, name)

    assert names(root) == ["home/a.jpg", "form/a.jpg", "scans/IMG_2.jpg", "scans/IMG_10.jpg"]
    assert findings(root) == []


def test_a_document_may_have_the_name_of_the_heap(root):
    own = '[[document]]\nfolder = "scans"\ntitle = "Own"\n'
    with (root / "packet.toml").open("a", encoding="utf-8") as file:
        file.write(own)
    put(root, "scans/a.jpg")
    packet = read_packet(root)

    assert packet.heap == ""
    assert [scan.folder for scan in list_scans(packet)[0]] == ["scans"]
