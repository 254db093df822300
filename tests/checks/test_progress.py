"""The next step, at every stop of the job."""

from __future__ import annotations

from dataclasses import replace

import pytest

from packet.checks.progress import Progress, plural, status
from packet.model import SheetCount

COUNT = SheetCount(
    box=31,
    form_leaves=4,
    envelope_pages=27,
    blank_backs=0,
    envelope_sheets=27,
    index_leaves=0,
    extra_leaves=0,
    other_readings=(),
    documents=(),
)
EMPTY = Progress(folder="my packet", scans=0, documents_held=0)
SCANNED = replace(EMPTY, scans=25, documents_held=6, leaves_confirmed=True)
DOUBTFUL = replace(SCANNED, warnings=2, errors=1, documents_missing=("Proof of a home",))
BUILT = replace(SCANNED, built=True, current=True, count=COUNT)
STALE = replace(BUILT, current=False)
FORM_SCANNED = replace(STALE, form_scans=1)
FORM_BUILT = replace(FORM_SCANNED, current=True, form_in_build=True)
RECOUNTED = replace(FORM_BUILT, recounted=True)
BY_HAND = replace(BUILT, copied_by_hand=True)


@pytest.mark.parametrize(
    ("now", "words"),
    [
        (EMPTY, "Scan the documents"),
        (DOUBTFUL, "Scan what is missing: Proof of a home."),
        (SCANNED, "See what is missing or doubtful: packet check 'my packet'"),
        (BUILT, "Fill in the form, last of all box 25"),
        (STALE, "See what is missing"),
        (FORM_SCANNED, "See what is missing"),
        (FORM_BUILT, "Print envelope.pdf"),
        (BY_HAND, "Fill in the form"),
        (RECOUNTED, "At the counter"),
    ],
)
def test_the_next_step_comes_first(now, words):
    assert status(now).next[0].startswith(words)


@pytest.mark.parametrize("now", [EMPTY, DOUBTFUL, SCANNED, BUILT, STALE, FORM_BUILT, RECOUNTED])
def test_the_counter_is_always_last(now):
    assert status(now).next[-1].startswith("At the counter: hand the envelope over open")


def test_what_is_done_grows_along_the_way():
    stops = [EMPTY, SCANNED, BUILT, FORM_BUILT, RECOUNTED]
    lengths = [len(status(now).done) for now in stops]

    assert lengths == sorted(set(lengths))
    assert "Built: the number for box 25 is 31." in status(BUILT).done


@pytest.mark.parametrize(
    ("now", "words"),
    [
        (SCANNED, "Build the copies: packet build 'my packet'"),
        (STALE, "Build again, something changed since: packet build 'my packet'"),
        (FORM_SCANNED, "Build again, something changed since: packet build 'my packet'"),
    ],
)
def test_then_a_build(now, words):
    assert status(now).next[1] == words


def test_nothing_is_called_checked_before_the_scans_were_read():
    assert not any("Checked" in line for now in (SCANNED, STALE) for line in status(now).done)


def test_a_stale_number_is_not_shown():
    assert not any("31" in line for line in (*status(STALE).done, *status(STALE).next))


def test_findings_are_counted_in_the_order_of_weight():
    assert any("Look at 1 error and 2 warnings: packet check" in x for x in status(DOUBTFUL).next)


def test_the_date_to_keep_stands_before_the_steps():
    now = replace(BUILT, by_when="Hand it over by 11 March 2026.")

    assert status(now).next[0] == "Hand it over by 11 March 2026."


def test_a_form_copied_by_hand_is_never_asked_to_be_scanned():
    assert not any("Scan" in line for line in status(BY_HAND).next)


def test_plural():
    assert [plural(1, "leaf", "leaves"), plural(4, "leaf", "leaves")] == ["1 leaf", "4 leaves"]
