"""The texts for the terminal."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from checks.making import finding
from hypothesis import given
from hypothesis import strategies as st

from packet.model import Difference, Recount, Severity
from packet.report.text import (
    built_text,
    count_text,
    findings_text,
    inspection_text,
    measure,
    number,
    recount_text,
    status_text,
    sum_terms,
    summary_text,
)


def count(**more):
    """The worked sum (invented applicant): 27 copies one-sided and 4 leaves of the form, 31."""
    pages = {"Passaporto": 16, "Carta d’identità": 1, "Codice fiscale": 1, "Alloggio": 3}
    pages |= {"Risorse": 4, "Assicurazione": 2}
    values = {
        "box": 31,
        "form_leaves": 4,
        "envelope_pages": 27,
        "blank_backs": 0,
        "envelope_sheets": 27,
        "index_leaves": 0,
        "extra_leaves": 0,
        "complete": True,
        "basis": "files",
        "other_readings": [
            {"reading": "copies-only", "box": 27, "why": "Some guides count copies only."},
            {"reading": "form-one-sided", "box": 35, "why": "8 printed pages, 8 sheets."},
        ],
        "documents": [
            {"folder": "f", "kind": "a4-page", "title": title, "pages": n, "sheets": n}
            for title, n in pages.items()
        ],
    }
    return values | more


TWO_SIDED = {"box": 19, "envelope_pages": 27, "envelope_sheets": 15, "blank_backs": 3}


@pytest.mark.parametrize(
    ("given", "box"),
    [
        (count(), 31),
        (count(box=35, form_leaves=8), 35),
        (count(**TWO_SIDED), 19),
    ],
)
def test_the_sum_is_written_out(given, box):
    """MOD. 209, note (g), on the worked sums: every term is a line, and they add up."""
    text = count_text(given)

    assert text.startswith(f"Box 25 (total number of sheets): {box}\n")
    block = text.split("\n\n")[1]
    numbers = [int(n) for n in re.findall(r"(?m)^  [a-z ]+?  +(\d+)", block)]
    assert sum(numbers[:-1]) == numbers[-1] == box


def test_pages_and_sides_are_said():
    assert "27 pages, printed one-sided" in count_text(count())
    assert "27 pages, 3 empty backs, printed two-sided" in count_text(count(**TWO_SIDED))


def test_other_readings_stand_beside():
    text = count_text(count())

    assert re.search(r"copies only +27 +Some guides", text)
    assert re.search(r"form one-sided +35 ", text)


def test_a_number_nobody_confirmed_says_so_twice():
    text = count_text(count(), [finding("form-leaves-unconfirmed")])

    assert "not counted yet: count them in your hand" in text
    assert "NOT CONFIRMED: the form is taken as 4 leaves" in text
    assert "counted by you" in count_text(count(), [])
    assert "NOT CONFIRMED" not in count_text(count(), [])


def test_who_counted_is_not_claimed_without_findings():
    assert "counted by you" not in count_text(count())


@pytest.mark.parametrize(("box", "loud"), [(99, False), (100, True), (131, True)])
def test_the_warning_from_100_up_gives_the_remedies_in_order(box, loud):
    """Two cells in one public list of the boxes of the form."""
    text = " ".join(count_text(count(box=box)).split())

    assert (f"WARNING: {box} does not fit" in text) is loud
    if loud:
        assert text.index("two passport openings") < text.index("copies two-sided")


def test_a_number_of_an_incomplete_packet_is_not_final():
    assert "NOT FINAL" in count_text(count(complete=False))
    assert "no build that agrees" in " ".join(count_text(count(basis="plan")).split())


def test_the_office_wins():
    assert "The paper form and the office win" in " ".join(count_text(count()).split())


@given(
    form=st.integers(1, 20),
    sheets=st.integers(0, 99),
    index=st.integers(0, 2),
    extra=st.integers(0, 9),
)
def test_terms_are_the_ones_that_add_up(form, sheets, index, extra):
    given_count = count(
        form_leaves=form, envelope_sheets=sheets, index_leaves=index, extra_leaves=extra
    )

    terms = sum_terms(given_count, unconfirmed=False)
    assert sum(value for _, value, _ in terms) == form + sheets + index + extra


# --- findings ------------------------------------------------------------------------------


def test_findings_worst_first_with_remedies():
    text = findings_text(
        [
            finding("blank", Severity.NOTE, "passport/a.jpg#1.1"),
            finding("blurred", Severity.WARNING, "home/a.jpg#1.1", source="FADGI 2023"),
            finding("unreadable", Severity.ERROR, "home/b.jpg"),
            finding("glare", Severity.WARNING, "home/c.jpg#1.1", accepted=True),
        ]
    )

    heads = ["1 ERROR", "1 WARNING", "1 NOTE", "ACCEPTED BY YOU: 1"]
    assert [line for line in text.splitlines() if line and line[0] != " "] == heads
    assert "    -> Cure unreadable." in text
    assert "    Source: FADGI 2023" in text
    assert "Cure glare." not in text


def test_the_same_remedy_is_said_once():
    text = findings_text([finding(subject=f"home/{n}.jpg#1.1") for n in range(4)])

    assert text.startswith("4 WARNINGS\n  [blurred]  4 times\n    It is blurred.\n")
    assert text.count("Cure blurred.") == 1
    assert all(f"home/{n}.jpg#1.1" in text for n in range(4))


def test_measured_values_and_limits():
    one = finding(measured=186.64, limit=190.0, unit="dpi")

    assert measure(one) == " (measured 186.64 dpi, limit 190 dpi)"
    assert measure(finding(measured=7, limit=8, message="7 of 8 pages.")) == ""
    assert measure(finding()) == ""
    assert [number(v) for v in (1.0, 0.5, 186.638, 0.0, 100.0)] == [
        "1",
        "0.5",
        "186.64",
        "0",
        "100",
    ]


def test_nothing_found_nothing_said():
    assert findings_text([]) == ""
    assert summary_text([]) == "Nothing needs you."


def test_summary():
    findings = [
        finding("a", Severity.ERROR),
        finding("b", Severity.ERROR),
        finding("c", Severity.NOTE),
        finding("d", accepted=True),
    ]
    assert summary_text(findings) == "2 errors, 1 note; 1 accepted."


@given(
    st.lists(
        st.builds(
            finding,
            code=st.sampled_from(["blurred", "glare"]),
            severity=st.sampled_from(Severity),
            subject=st.text(st.characters(), max_size=30),
            message=st.text(st.characters(), max_size=200),
            accepted=st.booleans(),
        ),
        max_size=6,
    ),
    st.integers(40, 120),
)
def test_no_name_can_drive_the_terminal(findings, width):
    """No control, format or surrogate sign of a name or message reaches the terminal."""
    text = findings_text(findings, width=width)

    text.encode("utf-8")
    assert not any(sign != "\n" and ord(sign) < 32 for sign in text)
    assert "\x1b" not in text
    assert "\x9b" not in text
    assert "\u202e" not in text


@given(st.lists(st.text(st.characters(categories=["Ll"]), min_size=1, max_size=12), min_size=1))
def test_lines_keep_to_the_width(words):
    text = findings_text([finding(message=" ".join(words))], width=60)

    assert all(len(line) <= 60 for line in text.splitlines())


# --- the rest ------------------------------------------------------------------------------


def test_recount_agrees():
    text = recount_text(
        Recount(agrees=True, box=31, differences=(), tick=(("Passaporto", 16, 16), ("Casa", 3, 2)))
    )

    assert text.startswith("The files agree")
    assert "[ ] Passaporto  16 sheets" in text
    assert "[ ] Casa         2 sheets  3 pages" in text
    assert "Leave the envelope open" in " ".join(text.split())


def test_recount_disagrees_loudly_and_says_what_to_do():
    text = recount_text(
        Recount(
            agrees=False,
            box=31,
            differences=(Difference(what="The form says 30.", remedy="Write 31."),),
        )
    )

    assert text.startswith("DO NOT HAND IT OVER: 1 difference.")
    assert "  The form says 30.\n  -> Write 31." in text


def test_recount_of_an_incomplete_build_is_no_green_light():
    text = recount_text(
        Recount(
            agrees=True,
            complete=False,
            box=12,
            differences=(),
            missing=(Difference(what="Passport: required.", remedy="Scan it."),),
            notes=("You wrote 12: it agrees.",),
            tick=(("Home / Casa", 3, 3), ("Passport / Passaporto", 0, 0)),
        )
    )

    assert text.startswith("NOT COMPLETE: do not hand it over yet. 1 reason:")
    assert "  Passport: required.\n  -> Scan it." in text
    assert "12 (provisional)" in text
    assert "You wrote 12: it agrees." in text
    assert "  MISSING: Passport / Passaporto" in text


def test_titles_are_english_first_and_said_once():
    entry = {"folder": "f", "kind": "a4-page", "pages": 2, "sheets": 2}
    titles = [{"title": "Passaporto", "title_en": "Passport"}, {"title": "X", "title_en": "X"}]

    text = count_text(count(documents=[entry | title for title in titles]))

    assert "  Passport / Passaporto " in text
    assert "  X   " in text


def test_status_is_numbered():
    assert status_text(["Scanned."], ["Build.", "Print."]) == (
        "Done\n  x  Scanned.\n\nNext\n  1. Build.\n  2. Print."
    )
    assert "nothing yet" in status_text([], ["Scan."])


def test_built():
    record = {
        "outputs": [
            {"file": "envelope.pdf", "pages": 27},
            {"file": "review.html", "pages": None},
        ],
        "count": {"box": 31},
        "complete": False,
    }
    text = built_text(record, Path("trial/out"))

    assert "  envelope.pdf  27 pages\n  review.html\n" in text
    assert "Box 25 (total number of sheets): 31" in text
    assert "NOT COMPLETE" in text


def test_inspection():
    seen = {
        "scan": "a.jpg",
        "pages": [{"width_px": 10, "height_px": 10}],
        "items": [
            {
                "page": 1,
                "kind": "id-card-front",
                "size_mm": [85.6, 53.98],
                "measured_mm": None,
                "turn_deg": None,
                "skew_deg": -0.5,
                "dpi": 300.0,
                "findings": ["blurred"],
            }
        ],
    }

    text = inspection_text(seen)
    assert text.startswith("a.jpg: 1 page\n  page 1: id-card-front, 85.6 x 53.98 mm, turn unsure")
    assert "findings: blurred" in text
    assert inspection_text({"scan": "b", "error": "b is empty."}) == "b: is empty."
    assert "nothing found" in inspection_text({"scan": "c", "pages": [], "items": []})


def test_ten_steps_and_more_are_set_apart_from_their_numbers():
    lines = status_text([], ["Scan."] * 10).splitlines()

    assert lines[-1] == "  10. Scan."
    assert lines[-2] == "  9.  Scan."


def test_a_scan_that_cannot_be_read_is_named_once():
    answer = {"scan": "nope.jpg", "error": "nope.jpg cannot be opened (no such file)."}

    assert inspection_text(answer) == "nope.jpg: cannot be opened (no such file)."
