"""The plan for a heap: document, kind, turn, order, duplicates, what is missing. Pure."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from packet.intake.order import order_items
from packet.model import ItemOverride, Kind, Passport
from packet.readings import Reading, ReadState
from packet.sorting.run import carried_out, plan_for
from sorting.making import PACKET, contents, heap, item, read


def documents(plan):
    return {one.item.scan: one.document for one in plan.placed}


def book(plan, names):
    return [names[leaf.item.scan] for leaf in plan.order["passport"]]


@pytest.mark.parametrize("seed", range(5))
def test_a_shuffled_heap(seed):
    """A 28-page passport, two cards, five papers: every item in its document, the order right."""
    items, names = heap(seed)
    plan = plan_for(PACKET, items)
    right = [what for what, _, _ in contents()][:16]

    assert plan.unsure == plan.loose == plan.twice == ()
    for scan, document in documents(plan).items():
        what = names[scan]
        folder = what.split()[0] if what.split()[0] in {"id-card", "tax-card"} else what
        assert document == (folder if not folder[0].isdigit() and folder != "cover" else "passport")
    assert book(plan, names) == right
    assert [one.code for one in plan.missing] == []


def test_kind_and_turn_are_written_as_read():
    items, _ = heap()
    plan = plan_for(PACKET, items)

    assert all(one.kind is one.item.reading.kind for one in plan.placed)
    assert {one.turn for one in plan.placed} == {0}  # the item's own turn, after the reading


def test_what_is_missing_is_said():
    items, _ = heap(leave=("12-13", "insurance", "id-card back"))
    plan = plan_for(PACKET, items)

    assert {(one.code, one.message) for one in plan.missing if one.code == "opening-not-seen"} == {
        ("opening-not-seen", "Opening 12-13 not seen.")
    }
    assert {one.code for one in plan.missing} == {
        "missing-document", "missing-side", "missing-openings", "opening-not-seen",
    }  # fmt: skip


def test_the_only_opening_left_has_its_place_by_exclusion():
    items, names = heap()
    silent = [
        replace(one, reading=read(Kind.PASSPORT_SPREAD)) if names[one.scan] == "12-13" else one
        for one in items
    ]
    plan = plan_for(PACKET, silent)

    assert plan.loose == ()
    assert book(plan, names)[7] == "12-13"


def test_two_openings_without_numbers_are_loose():
    items, names = heap()
    silent = [
        replace(one, reading=read(Kind.PASSPORT_SPREAD))
        if names[one.scan] in ("12-13", "20-21")
        else one
        for one in items
    ]
    plan = plan_for(PACKET, silent)

    assert {names[one.item.scan] for one in plan.loose} == {"12-13", "20-21"}
    assert set(book(plan, names)[-2:]) == {"12-13", "20-21"}


def test_numbers_that_are_not_sure_are_not_used():
    items, names = heap()
    doubtful = [
        replace(one, reading=replace(one.reading, page_numbers_state=ReadState.UNSURE))
        if names[one.scan] in ("12-13", "20-21")
        else one
        for one in items
    ]

    assert len(plan_for(PACKET, doubtful).loose) == 2


def test_the_same_opening_twice_is_only_proposed_to_be_left_out():
    items, names = heap()
    twin = next(one for one in items if names[one.scan] == "12-13")
    plan = plan_for(PACKET, [*items, replace(twin, scan="scans/Z.jpg")])
    (twice,) = plan.twice

    assert twice.item.scan == "scans/Z.jpg"
    assert twice.document == "passport"
    assert twice.twin == f"The same page numbers as {twin.subject}"


@pytest.mark.parametrize(
    ("reading", "guess"),
    [
        (None, ""),
        (Reading(), ""),
        (read(Kind.A4_PAGE), ""),
        (read(Kind.A4_PAGE, terms=("home", "means")), "home"),
        (read(Kind.A4_PAGE, terms=("elsewhere",)), ""),
    ],
)
def test_what_is_not_sure_is_left_to_the_user(reading, guess):
    (one,) = plan_for(PACKET, [item("scans/a.jpg", Kind.A4_PAGE, reading)]).placed

    assert (one.document, one.guess) == (None, guess)
    assert (one.kind is None) is (guess == "")
    assert one.why


def test_a_kind_read_with_little_confidence_decides_nothing():
    weak = read(Kind.TAX_CARD_FRONT, confidence=0.4)
    (one,) = plan_for(PACKET, [item("scans/a.jpg", Kind.TAX_CARD_FRONT, weak)]).placed

    assert (one.document, one.guess) == (None, "tax-card")


def test_without_the_reader_only_a_measured_book_is_sure():
    items = [
        item("scans/a.jpg", Kind.PASSPORT_SPREAD, measured=True),
        item("scans/b.jpg", Kind.PASSPORT_SPREAD),
        item("scans/c.jpg", Kind.ID_CARD_FRONT, measured=True),
    ]
    plan = plan_for(PACKET, items)

    assert documents(plan) == {"scans/a.jpg": "passport", "scans/b.jpg": None, "scans/c.jpg": None}
    assert [one.guess for one in plan.unsure] == ["passport", "id-card"]


def test_pages_of_one_file_follow_each_other():
    a4 = Kind.A4_PAGE
    pages = [
        item("scans/lease.pdf", a4, read(a4, terms=("home",))),
        item("scans/lease.pdf", a4, read(a4), page=2),
        item("scans/lease.pdf", a4, read(a4, terms=("means",)), page=3),
    ]
    plan = plan_for(PACKET, pages[:2])
    assert [one.document for one in plan.placed] == ["home", "home"]
    assert "another page of scans/lease.pdf" in plan.placed[1].why

    mixed = plan_for(PACKET, pages)
    assert sorted(str(one.document) for one in mixed.placed) == ["None", "home", "means"]


def test_what_packet_toml_says_stays():
    items, names = heap()
    cover = next(one for one in items if names[one.scan] == "cover")
    home = next(one for one in items if names[one.scan] == "home")
    tables = (
        ItemOverride(scan=cover.scan, leave_out=True),
        ItemOverride(scan=home.scan, document="means"),
    )
    plan = plan_for(replace(PACKET, overrides=tables), items)

    assert cover.scan not in documents(plan)
    assert home.scan not in documents(plan)
    assert "cover" not in book(plan, names)


def test_a_table_of_the_users_own_gets_no_second_one():
    items, names = heap()
    home = next(one for one in items if names[one.scan] == "home")
    table = ItemOverride(scan=home.scan, turn=90)
    plan = plan_for(replace(PACKET, overrides=(table,)), items)
    (one,) = plan.unsure

    assert (one.item.scan, one.guess) == (home.scan, "home")


def test_a_book_of_unknown_length():
    items, names = heap()
    plan = plan_for(replace(PACKET, passport=Passport()), items)

    assert book(plan, names)[:4] == ["cover", "1", "2-3", "4-5"]


def test_without_numbers_the_order_of_the_names_stays():
    items, _ = heap()
    silent = [replace(one, reading=replace(one.reading, page_numbers=())) for one in items]
    silent = [
        replace(one, reading=replace(one.reading, page_numbers_state=ReadState.UNREAD))
        for one in silent
    ]
    plan = plan_for(PACKET, silent)

    assert plan.order == {}
    assert plan.loose == ()


@st.composite
def heaps(draw):
    """Items of any kind, read in any way, on scans of one to three pages."""
    items = []
    for number in range(draw(st.integers(1, 8))):
        for page in range(1, draw(st.integers(1, 3)) + 1):
            kind = draw(st.sampled_from(Kind))
            left = draw(st.integers(1, 40))
            told = read(
                draw(st.none() | st.sampled_from(Kind)),
                numbers=draw(st.sampled_from([(), (left,), (left, left + 1)])),
                terms=draw(st.sampled_from([(), ("home",), ("home", "means"), ("x",)])),
                confidence=draw(st.sampled_from([0.1, 0.9])),
            )
            reading = draw(st.sampled_from([None, told]))
            items.append(item(f"scans/{number}.pdf", kind, reading, page=page))
    return items


@settings(max_examples=60)
@given(heaps(), st.none() | st.sampled_from([8, 28, 48]))
def test_no_item_is_lost_and_none_decided_twice(items, pages):
    packet = replace(PACKET, passport=Passport(booklet_pages=pages))
    plan = plan_for(packet, items)

    assert sorted(one.subject for one in plan.placed) == sorted(one.subject for one in items)
    for folder, leaves in plan.order.items():
        theirs = [one.subject for one in plan.placed if one.document == folder]
        assert sorted(leaf.item.subject for leaf in leaves) == sorted(theirs)
    assert all((one.document is None) or one.kind is not None for one in plan.placed)
    made = carried_out(packet, plan)
    ordered = order_items(made, items)
    kept = [one.subject for group in ordered.values() for one in group]
    assert sorted(kept) == sorted(one.subject for one in plan.placed if one.document is not None)


def in_name_order(turned=False):
    """The book scanned from cover to cover, or backwards."""
    whole = contents()[:16]
    whole = whole[::-1] if turned else whole
    items = [item(f"scans/{at:03}.jpg", kind, reading) for at, (_, kind, reading) in
             enumerate(whole)]  # fmt: skip
    return items, {one.scan: what for one, (what, _, _) in zip(items, whole, strict=True)}


@pytest.mark.parametrize("turned", [False, True])
def test_names_tell_the_place_where_numbers_rise_with_them(turned):
    items, names = in_name_order(turned)
    unread = {"4-5", "12-13", "14-15", "26-27"}
    items = [
        replace(one, reading=read(Kind.PASSPORT_SPREAD)) if names[one.scan] in unread else one
        for one in items
    ]
    plan = plan_for(PACKET, items)

    assert plan.loose == ()
    assert book(plan, names) == [what for what, _, _ in contents()[:16]]


def test_names_tell_nothing_where_an_opening_more_is_missing():
    items, names = in_name_order()
    items = [
        replace(one, reading=read(Kind.PASSPORT_SPREAD)) if names[one.scan] == "12-13" else one
        for one in items
        if names[one.scan] != "14-15"
    ]

    assert [names[one.item.scan] for one in plan_for(PACKET, items).loose] == ["12-13"]
