"""Reading order: a permutation of the items that are not left out."""

from __future__ import annotations

import unicodedata
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from packet.intake.order import documents_of, order_findings, order_items
from packet.intake.packet_file import parse_order_entry
from packet.model import Item, ItemOverride, Kind, Packet, Scan
from packet.rules.reader import load_rule_set

RULES = load_rule_set("elective-residence-first-issue")
PACKET = Packet(root=Path("x"), rule_set=RULES, documents=RULES.documents)


def item(scan, page=1, number=1, kind=Kind.A4_PAGE, by_user=False):
    return Item(
        scan=scan,
        page=page,
        item=number,
        kind=kind,
        corners_px=((0, 0), (1, 0), (1, 1), (0, 1)),
        turn_deg=0,
        skew_deg=0.0,
        size_mm=(1.0, 1.0),
        measured_mm=None,
        dpi=300.0,
        kind_from_user=by_user,
    )


def packet(order=None, overrides=()):
    lines = {
        folder: tuple(parse_order_entry(line) for line in entries)
        for folder, entries in (order or {}).items()
    }
    return replace(PACKET, order=lines, overrides=tuple(overrides))


def subjects(ordered, folder):
    return [one.subject.removeprefix(f"{folder}/") for one in ordered[folder]]


def test_every_folder_is_a_key_in_printing_order():
    assert list(order_items(PACKET, [])) == [
        "passport", "id-card", "tax-card", "home", "means", "insurance", "form",
    ]  # fmt: skip


def test_natural_order_without_a_list():
    items = [item("home/IMG_10"), item("home/IMG_2", 2), item("home/IMG_2", 1, 2)]
    items += [item("home/IMG_2", 1, 1)]

    assert subjects(order_items(PACKET, items), "home") == [
        "IMG_2#1.1",
        "IMG_2#1.2",
        "IMG_2#2.1",
        "IMG_10#1.1",
    ]


def test_listed_first_the_others_follow():
    items = [item(f"home/{name}") for name in "abcd"]

    assert subjects(order_items(packet({"home": ["d", "b"]}), items), "home") == [
        "d#1.1",
        "b#1.1",
        "a#1.1",
        "c#1.1",
    ]


def test_pages_and_items():
    items = [item("home/a.pdf", page, number) for page in (1, 2, 3) for number in (1, 2)]
    items.append(item("home/b.jpg"))
    ordered = order_items(packet({"home": ["a.pdf#3", "b.jpg", "a.pdf#1.2"]}), items)

    assert subjects(ordered, "home") == [
        "a.pdf#3.1",
        "a.pdf#3.2",
        "b.jpg#1.1",
        "a.pdf#1.2",
        "a.pdf#1.1",
        "a.pdf#2.1",
        "a.pdf#2.2",
    ]


def test_the_most_exact_entry_decides():
    items = [item("home/a.pdf", page) for page in (1, 2, 3)] + [item("home/b.jpg")]
    ordered = order_items(packet({"home": ["a.pdf", "b.jpg", "a.pdf#1"]}), items)

    assert subjects(ordered, "home") == ["a.pdf#2.1", "a.pdf#3.1", "b.jpg#1.1", "a.pdf#1.1"]


def test_a_file_whose_name_ends_like_a_page():
    items = [item("home/a#2"), item("home/b")]

    assert subjects(order_items(packet({"home": ["b", "a#2"]}), items), "home") == [
        "b#1.1",
        "a#2#1.1",
    ]
    assert order_findings(packet({"home": ["a#2"]}), items) == ()


def test_names_compare_after_nfc():
    items = [item("home/a"), item("home/e\u0301.jpg")]

    assert subjects(order_items(packet({"home": ["\u00e9.jpg"]}), items), "home")[0].startswith("e")
    left_out = packet(overrides=[ItemOverride(scan="home/\u00e9.jpg", leave_out=True)])
    assert subjects(order_items(left_out, items), "home") == ["a#1.1"]


def test_an_item_of_another_document_comes_after_the_documents_own():
    items = [item("passport/a", 1, 2), item("passport/a"), item("id-card/z")]
    moved = packet(overrides=[ItemOverride(scan="passport/a", item=2, document="id-card")])
    ordered = order_items(moved, items)

    assert [one.subject for one in ordered["id-card"]] == ["id-card/z#1.1", "passport/a#1.2"]
    assert subjects(ordered, "passport") == ["a#1.1"]
    listed = replace(moved, order=packet({"id-card": ["passport/a#1.2"]}).order)
    assert order_items(listed, items)["id-card"][0].subject == "passport/a#1.2"


FRONT, BACK = Kind.ID_CARD_FRONT, Kind.ID_CARD_BACK


@pytest.mark.parametrize(
    ("kinds", "expected"),
    [
        ([FRONT, FRONT], [FRONT, BACK]),
        ([BACK, FRONT], [FRONT, BACK]),
        ([FRONT], [FRONT]),
        ([BACK], [BACK]),
        ([(BACK, True)], [BACK]),
        ([FRONT, BACK, BACK], [FRONT, BACK, BACK]),
        ([FRONT] * 4, [FRONT, BACK, FRONT, BACK]),
        ([(BACK, True), FRONT], [FRONT, BACK]),
        ([FRONT, (FRONT, True)], [FRONT, BACK]),
        ([(FRONT, True), (FRONT, True)], [FRONT, FRONT]),
        ([Kind.A4_PAGE, FRONT, FRONT], [Kind.A4_PAGE, FRONT, BACK]),
    ],
)
def test_card_sides_by_position(kinds, expected):
    pairs = [one if isinstance(one, tuple) else (one, False) for one in kinds]
    items = [
        item(f"id-card/{at}", kind=kind, by_user=user) for at, (kind, user) in enumerate(pairs)
    ]

    assert [one.kind for one in order_items(PACKET, items)["id-card"]] == expected


@pytest.mark.parametrize(
    "by_user", [(False, False), (True, False), (True, True)], ids=["told apart", "one", "both"]
)
def test_the_front_of_a_card_comes_first(by_user):
    """back.jpg stands before front.jpg by name; an [order] of the user's own is kept."""
    items = [
        item("id-card/back.jpg", kind=BACK, by_user=by_user[0]),
        item("id-card/front.jpg", kind=FRONT, by_user=by_user[1]),
    ]
    listed = packet({"id-card": ["back.jpg", "front.jpg"]})

    assert [one.kind for one in order_items(PACKET, items)["id-card"]] == [FRONT, BACK]
    assert order_items(PACKET, items)["id-card"][0].scan == "id-card/front.jpg"
    assert [one.kind for one in order_items(listed, items)["id-card"]] == [BACK, FRONT]


def test_sides_are_taken_in_reading_order():
    items = [item("id-card/a", kind=FRONT), item("id-card/b", kind=FRONT)]
    ordered = order_items(packet({"id-card": ["b"]}), items)["id-card"]

    assert [(one.scan, one.kind) for one in ordered] == [("id-card/b", FRONT), ("id-card/a", BACK)]


def test_lines_that_name_nothing():
    one = packet(
        {"home": ["a.jpg", "gone.jpg", "a.jpg#2", "silent.jpg", "silent.jpg#3"]},
        [
            ItemOverride(scan="home/a.jpg"),
            ItemOverride(scan="home/a.jpg", item=2),
            ItemOverride(scan="home/silent.jpg"),
        ],
    )
    silent = Scan(name="home/silent.jpg", path=Path("x"), folder="home", digest="0", size_bytes=1)

    found = order_findings(one, [item("home/a.jpg")], [silent])
    assert [finding.subject for finding in found] == [
        "order.home[1]",
        "order.home[2]",
        "item[1].scan",
    ]
    assert {finding.code for finding in found} == {"names-nothing"}


def test_a_line_may_name_an_item_that_is_left_out():
    one = packet({"home": ["a"]}, [ItemOverride(scan="home/a", leave_out=True)])

    assert order_items(one, [item("home/a")])["home"] == ()
    assert order_findings(one, [item("home/a")]) == ()


FILES = st.sampled_from(["a", "a#1", "IMG_2.jpg", "IMG_10.jpg", "e\u0301", "é", "\udcff", "x y"])
FOLDERS = st.sampled_from(["passport", "id-card", "home", "form"])
TARGETS = st.tuples(FOLDERS, FILES, st.integers(1, 3), st.integers(1, 2))
LINES = st.builds(
    lambda file, tail: file + tail, FILES, st.sampled_from(["", "#1", "#2", "#1.1", "#3.2", "#0"])
)


@settings(deadline=None, derandomize=True)
@given(
    targets=st.lists(TARGETS, unique=True, max_size=12),
    order=st.dictionaries(FOLDERS, st.lists(LINES, max_size=5)),
    changed=st.lists(
        st.tuples(TARGETS, st.booleans(), st.none() | FOLDERS),
        max_size=4,
        unique_by=lambda one: unicodedata.normalize("NFC", repr(one[0])),
    ),
    random=st.randoms(),
)
def test_order_is_a_permutation(targets, order, changed, random):
    """Whatever is listed, moved or misspelt: each item not left out comes exactly once."""
    items = [item(f"{folder}/{file}", page, number) for folder, file, page, number in targets]
    overrides = [
        ItemOverride(
            scan=f"{folder}/{file}", page=page, item=number, leave_out=out, document=document
        )
        for (folder, file, page, number), out, document in changed
    ]
    one = packet(order, overrides)

    ordered = order_items(one, items)

    def key(scan, page, number):
        return (unicodedata.normalize("NFC", scan), page, number)

    out = {key(o.scan, o.page, o.item) for o in overrides if o.leave_out}
    kept = [i.subject for i in items if key(i.scan, i.page, i.item) not in out]
    assert sorted(i.subject for group in ordered.values() for i in group) == sorted(kept)
    shuffled = list(items)
    random.shuffle(shuffled)
    assert order_items(one, shuffled) == ordered


# --- the heap: scans that belong to no document yet -----------------------------------------------


def test_items_of_the_heap_go_where_their_tables_say():
    items = [item(f"scans/{name}.jpg") for name in "abc"]
    tables = [
        ItemOverride(scan="scans/a.jpg", document="home"),
        ItemOverride(scan="scans/b.jpg", leave_out=True),
    ]
    made = packet(overrides=tables)
    ordered = order_items(made, items)

    assert subjects(ordered, "home") == ["scans/a.jpg#1.1"]
    assert sum(len(group) for group in ordered.values()) == 1
    (finding,) = order_findings(made, items)
    assert (finding.code, finding.subject) == ("not-sorted", "scans/c.jpg#1.1")


def test_the_heap_in_an_order():
    items = [item(f"scans/{name}.jpg") for name in "abc"]
    tables = [ItemOverride(scan=one.scan, document="home") for one in items]
    made = packet({"home": ["scans/c.jpg#1.1", "scans/a.jpg"]}, tables)

    assert subjects(order_items(made, items), "home") == [
        "scans/c.jpg#1.1",
        "scans/a.jpg#1.1",
        "scans/b.jpg#1.1",
    ]
    assert order_findings(made, items) == ()


def test_documents_of_a_scan():
    def scan(folder):
        name = f"{folder}/a.jpg"
        return Scan(name=name, path=Path(name), folder=folder, digest="", size_bytes=1)

    tables = [
        ItemOverride(scan="scans/a.jpg", document="home"),
        ItemOverride(scan="scans/a.jpg", item=2, document="id-card"),
        ItemOverride(scan="scans/a.jpg", item=3, document="means", leave_out=True),
    ]
    made = packet(overrides=tables)

    assert documents_of(made, scan("home")) == {"home"}
    assert documents_of(made, scan("scans")) == {"home", "id-card"}
    assert documents_of(packet(), scan("scans")) == frozenset()
