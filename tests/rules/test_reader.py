"""Rule sets: those of the package, and a user's own."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from packet.errors import PacketFileError
from packet.model import Kind
from packet.rules.reader import load_rule_set, rule_set_names

HERE = Path(__file__).parent
FORBIDDEN_IN_SOURCES = ("http", "www.", ".com", ".it", ".org", "@")


def test_both_sets_are_there():
    assert rule_set_names() == ("elective-residence-first-issue", "elective-residence-renewal")


def test_renewal_is_the_first_issue_and_the_old_permit():
    first = [spec.folder for spec in load_rule_set("elective-residence-first-issue").documents]
    renewal = load_rule_set("elective-residence-renewal")

    assert first == ["passport", "id-card", "tax-card", "home", "means", "insurance"]
    assert [spec.folder for spec in renewal.documents] == [first[0], "permit", *first[1:]]
    assert renewal.is_renewal
    permit = renewal.documents[1]
    assert permit.two_sides
    assert permit.kinds[:2] == (Kind.PERMIT_FRONT, Kind.PERMIT_BACK)


@pytest.mark.parametrize("name", rule_set_names())
def test_every_document_names_who_asks_for_it(name):
    """Instruments and offices only: no web site, no address, nothing without a date."""
    rules = load_rule_set(name)
    for spec in (*rules.documents, rules.form):
        assert spec.source
        assert spec.as_of is not None
        assert spec.scan_note
        assert not any(word in spec.source.lower() for word in FORBIDDEN_IN_SOURCES)
        assert not any(word in rules.source.lower() for word in FORBIDDEN_IN_SOURCES)


@pytest.mark.parametrize("name", rule_set_names())
def test_printed_pages_of_the_form(name):
    """MOD. 209: Modulo 1 has 8 printed pages, Modulo 2 has 3."""
    assert load_rule_set(name).form_pages == {1: 8, 2: 3}


@pytest.mark.parametrize("name", rule_set_names())
def test_only_what_stays_valid_is_renewable(name):
    renewable = {spec.folder for spec in load_rule_set(name).documents if spec.renewable}

    assert renewable == {"id-card", "tax-card", "home"}


def test_cards_are_needed_only_if_held():
    rules = load_rule_set("elective-residence-first-issue")

    assert [spec.folder for spec in rules.documents if spec.need == "if-held"] == [
        "id-card",
        "tax-card",
    ]


def test_another_reason_of_stay_is_data_only():
    rules = load_rule_set(str(HERE / "study-first-issue.toml"))

    assert rules.name == "study-first-issue"
    assert [spec.folder for spec in rules.documents] == ["passport", "enrolment", "scholarship"]
    assert rules.documents[1].as_of == date(2026, 11, 25)
    assert rules.documents[2].as_of == date(2026, 1, 31)
    assert not rules.documents[2].in_envelope
    assert rules.form.kinds == (Kind.FORM_PAGE,)
    assert not rules.is_renewal


def test_unknown_name_is_told_the_nearest():
    with pytest.raises(PacketFileError, match="Perhaps elective-residence-first-issue"):
        load_rule_set("elective-residence-frist-issue")


def test_missing_file_is_one_sentence(tmp_path):
    with pytest.raises(PacketFileError, match=r"mine\.toml: is not a file"):
        load_rule_set(str(tmp_path / "mine.toml"))


def test_every_fault_of_a_set_is_reported(tmp_path):
    path = tmp_path / "faulty.toml"
    path.write_text(
        """
titel_it = "x"
title_en = "y"
source = "z"
as_of = "2026"
[form]
title_it = "m"
title_en = "f"
source = "s"
[form.pages]
one = 8
[[document]]
folder = "form"
title_it = "a"
title_en = "b"
kinds = ["a4-page", "a5-page"]
need = "always"
source = "s"
[[document]]
folder = "a/b"
title_it = "a"
title_en = "b"
kinds = []
source = "s"
""",
        "utf-8",
    )

    with pytest.raises(PacketFileError) as caught:
        load_rule_set(str(path))

    text = str(caught.value)
    for part in (
        "titel_it: found an unknown key (perhaps title_it)",
        "title_it: found nothing",
        "as_of: found",
        "form.pages.one: found 8, expected the number of a module",
        'document[0].folder: found "form"',
        'document[0].kinds[1]: found "a5-page"',
        'document[0].need: found "always", expected one of "required", "if-held"',
        'document[1].folder: found "a/b"',
        "document[1].kinds: found a list of 0",
    ):
        assert part in text, text
