"""The number for the box: the worked sums, and laws of the sum."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from packet.model import CountChoice, FormChoice, Kind, Passport
from packet.sheets.count import count_as_json, count_findings, count_sheets
from packet.sheets.layout import lay_out

from .making import form_items, item, packet, spec, worked_items


def counted(made, items):
    return count_sheets(made, lay_out(made, items))


# Worked sums of MOD. 209, note (g): the sheets the application consists of, forms and
# photocopies of the documents. Form 1 has 8 printed pages; 4 leaves as the kit prints it is
# inferred, common practice, no source.


def test_one_sided_is_31():
    count = counted(packet(), worked_items(image=False))

    assert (count.form_leaves, count.envelope_pages, count.blank_backs) == (4, 27, 0)
    assert (count.envelope_sheets, count.index_leaves, count.extra_leaves) == (27, 0, 0)
    assert count.box == 31


def test_a_form_of_eight_leaves_is_35():
    made = packet(count=CountChoice(form_leaves=8))

    assert counted(made, worked_items(image=False)).box == 35


def test_two_sided_by_document_is_19():
    """Passport 8, cards 1 and 1, housing 2, income 2, insurance 1: 15 sheets and 4."""
    count = counted(
        packet(count=CountChoice(copies_printed="two-sided")), worked_items(image=False)
    )

    assert [document.sheets for document in count.documents] == [8, 1, 1, 2, 2, 1]
    assert (count.envelope_pages, count.blank_backs, count.envelope_sheets) == (27, 3, 15)
    assert count.box == 19


def test_the_form_on_the_scanner_changes_nothing():
    assert counted(packet(), worked_items(image=False)) == counted(
        packet(), worked_items(image=False) | form_items(image=False)
    )


def test_what_stays_out_of_the_envelope_is_not_counted():
    docs = (spec("a", Kind.A4_PAGE), spec("b", Kind.A4_PAGE, in_envelope=False))
    items = {
        name: tuple(item(Kind.A4_PAGE, n, folder=name, image=False) for n in range(3))
        for name in "ab"
    }

    count = counted(packet(docs), items)

    assert count.box == 4 + 3
    assert [document.folder for document in count.documents] == ["a"]


@pytest.mark.parametrize("printed", ["one-sided", "two-sided"])
def test_an_enclosed_index_is_a_sheet(printed):
    choice = CountChoice(copies_printed=printed)
    with_index = CountChoice(copies_printed=printed, index_in_envelope=True)

    without = counted(packet(count=choice), worked_items(image=False))
    count = counted(packet(count=with_index), worked_items(image=False))

    assert count.index_leaves == 1
    assert count.box == without.box + 1


# Sheets for a passport of N pages, one opening a sheet: N/2 + 2 scans (N/2 + 1 openings and
# the outer covers), arithmetic on the ICAO Doc 9303-4 book.
@pytest.mark.parametrize(
    ("pages", "scans"),
    [(26, 15), (28, 16), (32, 18), (34, 19), (36, 20), (48, 26), (50, 27), (52, 28)],
)
def test_a_whole_passport(pages, scans):
    openings = pages // 2 + 1
    book = spec("passport", Kind.PASSPORT_SPREAD)
    items = [item(Kind.PASSPORT_COVER, 0, folder="passport", image=False)]
    items += [
        item(Kind.PASSPORT_SPREAD, n + 1, folder="passport", image=False) for n in range(openings)
    ]

    count = counted(packet((book,)), {"passport": tuple(items)})

    assert count.envelope_sheets == scans


@given(
    st.lists(st.integers(1, 9), min_size=1, max_size=6),
    st.integers(1, 20),
    st.integers(0, 9),
    st.sampled_from(["one-sided", "two-sided"]),
    st.sampled_from([1, 2]),
)
def test_the_box_is_the_sum_of_its_terms(sizes, form_leaves, extra, printed, openings):
    docs = tuple(spec(f"d{n}", Kind.PASSPORT_SPREAD) for n in range(len(sizes)))
    items = {
        f"d{n}": tuple(
            item(Kind.PASSPORT_SPREAD, i, folder=f"d{n}", image=False) for i in range(size)
        )
        for n, size in enumerate(sizes)
    }
    made = packet(
        docs,
        passport=Passport(openings_per_sheet=openings),
        count=CountChoice(form_leaves=form_leaves, extra_leaves=extra, copies_printed=printed),
    )

    count = counted(made, items)

    assert count.box == (
        count.form_leaves + count.envelope_sheets + count.index_leaves + count.extra_leaves
    )
    assert count.envelope_sheets == sum(document.sheets for document in count.documents)
    assert count.envelope_pages == sum(document.pages for document in count.documents)
    sides = 2 if printed == "two-sided" else 1
    assert count.envelope_pages + count.blank_backs == sides * count.envelope_sheets
    assert sum(-(-size // openings) for size in sizes) == count.envelope_pages


def test_other_readings_stand_beside_the_number():
    count = counted(packet(), worked_items(image=False))

    assert {other.reading: other.box for other in count.other_readings} == {
        "copies-only": 27,
        "form-one-sided": 35,
        "slip-counted": 32,
    }


def test_two_forms_one_sided():
    """Form 1 has 8 printed pages, Form 2 has 3."""
    made = packet(form=FormChoice(modules=(1, 2)), count=CountChoice(form_leaves=6))

    count = counted(made, worked_items(image=False))

    assert {o.reading: o.box for o in count.other_readings}["form-one-sided"] == 27 + 11


def test_no_reading_that_says_the_same():
    count = counted(packet(count=CountChoice(form_leaves=8)), worked_items(image=False))

    assert [other.reading for other in count.other_readings] == ["copies-only", "slip-counted"]


@pytest.mark.parametrize(("extra", "warned"), [(68, False), (69, True)])
def test_a_hundred_does_not_fit_two_cells(extra, warned):
    """The box has two cells in the one public list of boxes seen: 99 fits."""
    count = counted(packet(count=CountChoice(extra_leaves=extra)), worked_items(image=False))

    findings = count_findings(count)

    assert [finding.code for finding in findings] == (["two-cells"] if warned else [])
    if warned:
        openings, sides = (findings[0].remedy.index(w) for w in ("openings_per", "two-sided"))
        assert openings < sides


def test_json_has_exactly_the_agreed_keys():
    count = counted(packet(), worked_items(image=False))

    answer = count_as_json(count, complete=True, basis="plan")

    assert list(answer) == [
        "box",
        "form_leaves",
        "envelope_pages",
        "blank_backs",
        "envelope_sheets",
        "index_leaves",
        "extra_leaves",
        "complete",
        "basis",
        "other_readings",
        "documents",
    ]
    keys = {"folder", "kind", "title", "title_en", "pages", "sheets"}
    assert set(answer["documents"][0]) == keys
    assert set(answer["other_readings"][0]) == {"reading", "box", "why"}
