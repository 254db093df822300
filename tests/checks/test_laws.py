"""Order, acceptance, duplicates, groups: the laws that hold for any findings."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from checks.making import finding, item, packet
from packet.checks.accept import apply_accepts
from packet.checks.duplicates import find_duplicates
from packet.checks.groups import group_findings, said
from packet.checks.severity import needs_user, ready, worst_first
from packet.model import Finding, ItemOverride, Kind, Severity

CODES = ("blurred", "glare", "cut-off")
SUBJECTS = ("home/a.jpg", "home/a.jpg#1", "home/a.jpg#1.1", "home/a.jpg#1.2", "form/f.pdf#2.1")
FINDINGS = st.lists(
    st.builds(
        finding,
        code=st.sampled_from(CODES),
        severity=st.sampled_from(Severity),
        subject=st.sampled_from(SUBJECTS),
        accepted=st.booleans(),
    ),
    max_size=12,
)
RANK = {Severity.ERROR: 0, Severity.WARNING: 1, Severity.NOTE: 2}


@given(FINDINGS)
def test_worst_first_keeps_all_and_keeps_the_order_of_equals(findings):
    ordered = worst_first(findings)
    ranks = [3 if f.accepted else RANK[f.severity] for f in ordered]

    assert set(ordered) == set(findings)
    assert ranks == sorted(ranks)
    assert worst_first(ordered) == ordered
    for rank in set(ranks):
        group = [f for f, r in zip(ordered, ranks, strict=True) if r == rank]
        assert group == [f for f in dict.fromkeys(findings) if f in group]


@given(FINDINGS)
def test_ready_and_needs_user_are_what_the_design_says(findings):
    """ready = no unaccepted error, the form set aside; exit 1 = error or warning not accepted."""
    errors = [f for f in findings if f.severity is Severity.ERROR and not f.accepted]

    assert ready(findings) == (not [f for f in errors if not f.subject.startswith("form/")])
    assert needs_user(findings) == any(
        f.severity is not Severity.NOTE and not f.accepted for f in findings
    )


@given(FINDINGS, st.sampled_from(CODES), st.sampled_from([1, 2]))
def test_accepting_touches_the_named_code_and_subject_only(findings, code, number):
    override = ItemOverride(scan="home/a.jpg", page=1, item=number, accept=(code,))
    after = apply_accepts(packet(overrides=(override,)), findings)
    named = {f"home/a.jpg#1.{number}", "home/a.jpg#1", "home/a.jpg"}

    assert len(after) == len(findings)
    for old, new in zip(findings, after, strict=True):
        hit = old.code == code and old.subject in named
        assert new.accepted == (old.accepted or hit)
        assert (new.code, new.subject, new.severity) == (old.code, old.subject, old.severity)


@pytest.mark.parametrize("code", ["unreadable", "not-a-scan"])
def test_a_scan_that_cannot_be_read_is_never_accepted(code):
    """Its page would be missing from the sets without a word."""
    override = ItemOverride(scan="home/a.jpg", accept=(code,))
    finding = Finding(code=code, severity=Severity.ERROR, subject="home/a.jpg", message="m")

    assert not apply_accepts(packet(overrides=(override,)), (finding,))[0].accepted


def test_names_meet_whatever_form_the_file_system_gives_them():
    """Unicode NFC and NFD of one name (Unicode Standard Annex 15)."""
    override = ItemOverride(scan="home/Zo\u00eb.jpg", accept=("blurred",))
    (after,) = apply_accepts(
        packet(overrides=(override,)), [finding(subject="home/Zoe\u0308.jpg#1.1")]
    )

    assert after.accepted


def test_duplicates_name_the_first_and_are_said_of_the_later():
    first, other, again, third = (
        item(Kind.A4_PAGE, number, folder="home", seed=seed)
        for number, seed in ((1, "x"), (2, "y"), (3, "x"), (4, "x"))
    )
    findings = find_duplicates([first, other, again, third])

    assert [f.subject for f in findings] == [again.subject, third.subject]
    assert all(first.subject in f.message for f in findings)
    assert {(f.code, f.severity) for f in findings} == {("duplicate", Severity.WARNING)}


def test_items_without_a_picture_are_never_duplicates():
    assert find_duplicates([item(Kind.A4_PAGE, 1), item(Kind.A4_PAGE, 2)]) == ()


@given(FINDINGS)
def test_every_finding_is_in_one_group(findings):
    groups = group_findings(findings)

    assert sorted(map(repr, (f for g in groups for f in g.findings))) == sorted(
        map(repr, dict.fromkeys(findings))
    )
    for group in groups:
        assert len({(f.code, f.severity, f.remedy, f.accepted) for f in group.findings}) == 1


def test_messages_that_differ_in_the_measured_number_are_one():
    near, nearer = (
        finding(message=f"Within {value} mm of the 4 edges.", measured=value, limit=4.0)
        for value in (2.3, 0.5)
    )

    assert [g.message for g in group_findings([near, nearer])] == ["Within … mm of the 4 edges."]
    assert [g.message for g in group_findings([near])] == ["Within 2.3 mm of the 4 edges."]
    assert [g.message for g in group_findings([near, finding(message="Other.", measured=1.0)])] == [
        ""
    ]


def test_a_message_that_begins_with_its_subject_is_not_said_twice():
    assert said(finding(subject="a.jpg", message="a.jpg cannot be read.")) == "Cannot be read."
    assert said(finding(subject="a", message="an oak.")) == "an oak."
