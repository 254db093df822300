"""The build record: complete, stable, without a person or a place in it."""

from __future__ import annotations

import json
import tempfile
from hashlib import sha256
from importlib import metadata
from pathlib import Path

import pytest
from checks.making import finding, packet
from hypothesis import given
from hypothesis import strategies as st

from packet.model import PrintedPage, Scan
from packet.report.record import (
    finding_json,
    make_record,
    read_record,
    record_json,
)
from packet.sheets.sets import WrittenSets
from packet.versions import SHAPING_LIBRARIES, library_versions
from report.making import view

FINDING_KEYS = {
    "code",
    "severity",
    "subject",
    "message",
    "measured",
    "limit",
    "unit",
    "remedy",
    "source",
    "accepted",
}


def made(**more):
    seen = view()
    documents = tuple(page for d in seen.plan.documents for page in d.pages)
    assert seen.plan.form is not None
    written = WrittenSets(
        files={},
        index_pages=1,
        form_pages=2,
        document_pages=len(documents),
        file_pages={"envelope.pdf": len(documents), "copy-set-1.pdf": 3 + len(documents)},
        envelope_pages=documents,
        copy_pages=("index", *seen.plan.form.pages, *documents),
    )
    items = {
        d.spec.folder: tuple(p.item for page in d.pages for p in page.placements)
        for d in (*seen.plan.documents, seen.plan.form)
    }
    values = {
        "packet": packet(values_digest="ab" * 32),
        "scans": [
            Scan(
                name="home/scan-01.jpg",
                path=packet().root / "home" / "scan-01.jpg",
                folder="home",
                digest="cd" * 32,
                size_bytes=5,
            )
        ],
        "pages": seen.pages,
        "items": items,
        "plan": seen.plan,
        "count": seen.count,
        "findings": seen.findings,
        "complete": False,
        "written": written,
    }
    with tempfile.TemporaryDirectory() as place:
        files = {name: Path(place, name) for name in ("envelope.pdf", "review.html")}
        for path, data in zip(files.values(), (b"one", b"two"), strict=True):
            path.write_bytes(data)
        return make_record(files=files, **(values | more))


def test_it_has_the_agreed_keys():
    assert set(made()) == {
        "format",
        "packet",
        "code",
        "versions",
        "rule_set",
        "values_digest",
        "mark",
        "complete",
        "texts_read",
        "looks_apart",
        "copies_printed",
        "scans",
        "outputs",
        "count",
        "sets",
        "items",
        "findings",
    }


def test_outputs_are_named_by_their_digest():
    """SHA-256, FIPS 180-4, as the standard library computes it."""
    outputs = made()["outputs"]

    assert outputs[0] == {
        "file": "envelope.pdf",
        "digest": sha256(b"one").hexdigest(),
        "bytes": 3,
        "pages": 4,
    }
    assert outputs[1]["pages"] is None


def test_items_say_where_they_are_printed():
    items = {(i["scan"], i["item"]): i for i in made()["items"]}
    front = items["id-card/scan-01.jpg", 1]
    back = items["id-card/scan-01.jpg", 2]

    assert front["placed"]["page"] == back["placed"]["page"] == 2
    assert front["placed"]["copy_page"] == 2 + 3  # behind the index and two pages of the form
    assert front["placed"]["rect_mm"][2:] == [85.6, 53.98]  # ISO/IEC 7810, ID-1
    assert front["placed"]["scale"] == 1.0


def test_form_pages_are_in_the_copy_sets_only():
    form = [i["placed"] for i in made()["items"] if i["document"] == "form"]

    assert [(place["page"], place["copy_page"]) for place in form] == [(None, 2), (None, 3)]


def test_an_item_that_was_left_out_is_recorded_as_left_out():
    left = [i for i in made()["items"] if i["left_out"]]

    assert [(i["scan"], i["placed"]) for i in left] == [("home/scan-09.jpg", None)]


def test_letter_is_recorded_with_its_scale():
    """ISO 216 A4 is 210 mm wide, US Letter 215.9 mm (ANSI/ASME Y14.1, from memory): 97.27 %."""
    (letter,) = [i for i in made()["items"] if i["kind"] == "letter-page"]

    assert letter["placed"]["scale"] == pytest.approx(210 / 215.9, abs=5e-7)


def test_same_values_same_bytes_and_back_again(tmp_path):
    data = record_json(made())

    assert data == record_json(made())
    assert data.endswith(b"}\n")
    (tmp_path / "record.json").write_bytes(data)
    assert read_record(tmp_path) == made()


def test_no_person_and_no_place_is_in_it():
    data = record_json(made())

    for word in (b"ERIKSSON", b"ANNA", b"nowhere", b"surname"):
        assert word not in data


@pytest.mark.parametrize(
    "damage",
    [b"", b"{", b"[]", b"null", b'{"format": 2}', b"\xff\xfe", b"[" * 100_000],
    ids=["empty", "cut", "list", "null", "other format", "not text", "deep"],
)
def test_a_damaged_record_is_no_record(tmp_path, damage):
    (tmp_path / "record.json").write_bytes(damage)

    assert read_record(tmp_path) is None
    assert read_record(tmp_path / "elsewhere") is None


def test_a_finding_has_the_keys_of_every_json_output():
    assert set(finding_json(finding())) == FINDING_KEYS
    assert finding_json(finding(measured=1 / 3))["measured"] == 0.3333


def test_a_name_that_is_not_utf_8_survives():
    data = record_json({"format": 1, "scan": "home/\udcff.jpg"})

    assert json.loads(data)["scan"] == "home/\udcff.jpg"
    data.decode("utf-8")


def test_versions_are_those_of_installed_libraries():
    versions = library_versions()

    assert "pillow" in versions
    assert "click" not in versions  # it shapes no byte of an output
    for name in SHAPING_LIBRARIES:  # as the standard library finds them
        try:
            known = metadata.version(name)
        except metadata.PackageNotFoundError:
            known = None
        assert versions.get(name) == known


@given(st.floats(-1e6, 1e6, allow_nan=False))
def test_numbers_are_stable(value):
    given_json = finding_json(finding(measured=value))

    assert finding_json(finding(measured=given_json["measured"])) == given_json
    assert repr(given_json["measured"]) != "-0.0"


def test_pages_are_printed_pages():
    assert all(isinstance(p, PrintedPage) for d in view().plan.documents for p in d.pages)
