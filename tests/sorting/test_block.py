"""The plan in packet.toml: blocks of its own, the user's lines and comments stay."""

from __future__ import annotations

import tomllib
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from packet.errors import PacketError
from packet.intake.packet_file import packet_of
from packet.intake.packet_text import packet_text
from packet.model import Kind, OrderEntry
from packet.sorting.block import find_blocks, with_plan
from packet.sorting.run import carried_out, plan_for, prove, without_proposals
from sorting.making import PACKET, heap, item, read

NEW = packet_text(PACKET, rule_set=PACKET.rule_set.name)


def parsed(text):
    return packet_of(tomllib.loads(text), PACKET.root)


def sort(text, items):
    """What packet sort does to the text."""
    packet = without_proposals(parsed(text), text)
    plan = plan_for(packet, items)
    own = [folder for folder in plan.order if packet.order.get(folder)]
    new = with_plan(text, plan, own)
    prove(packet, plan, new)
    return new


def test_the_file_of_packet_new_takes_the_plan():
    items, _ = heap()
    plan = plan_for(PACKET, items)
    made = parsed(sort(NEW, items))

    assert len(made.overrides) == 25
    assert {one.document for one in made.overrides} == {
        "passport", "id-card", "tax-card", "home", "means", "insurance",
    }  # fmt: skip
    assert [entry.file for entry in made.order["passport"]] == [
        leaf.item.scan for leaf in plan.order["passport"]
    ]
    assert replace(made, overrides=(), order={}, values_digest="") == replace(
        parsed(NEW), values_digest=""
    )


def test_every_line_of_the_user_stays():
    items, _ = heap()
    new = sort(NEW, items).split("\n")
    kept = iter(new)

    assert all(line in kept for line in NEW.rstrip("\n").split("\n"))


def test_sorting_again_changes_nothing():
    items, _ = heap()
    once = sort(NEW, items)

    assert sort(once, items) == once


def test_a_new_scan_finds_its_place_in_an_untouched_plan():
    items, names = heap()
    late = next(one for one in items if names[one.scan] == "12-13")
    once = sort(NEW, [one for one in items if one is not late])
    again = parsed(sort(once, items))

    assert [entry.file for entry in again.order["passport"]][7] == late.scan
    assert len(again.overrides) == 25


def test_a_line_that_the_user_changed_stays_for_good():
    items, names = heap()
    late = next(one for one in items if names[one.scan] == "insurance")
    home = next(one for one in items if names[one.scan] == "home")
    once = sort(NEW, [one for one in items if one is not late])
    table = f'scan = "{home.scan}"\ndocument = "home"'
    mine = once.replace(table, f"{table.replace('home', 'means')}  # mine")
    assert mine != once
    new = sort(sort(mine, items), items)
    made = {one.scan: one.document for one in parsed(new).overrides}

    assert "# mine" in new
    assert made[home.scan] == "means"
    assert made[late.scan] == "insurance"
    assert find_blocks(new)["items"].edited


def test_an_order_that_the_user_changed_stays():
    items, _ = heap()
    once = sort(NEW, items)
    lines = once.split("\n")
    at = next(n for n, line in enumerate(lines) if line.startswith("passport = ["))
    lines[at + 1], lines[at + 2] = lines[at + 2], lines[at + 1]
    mine = "\n".join(lines)

    assert sort(mine, items) == mine


def test_an_order_of_the_users_own_stays():
    items, _ = heap()
    first = items[0].scan
    own = NEW.replace("[order]", f'[order]\npassport = ["{first}"]\n', 1)
    made = parsed(sort(own, items))

    assert made.order == {"passport": (OrderEntry(file=first),)}


def test_a_file_without_an_order_section():
    items, _ = heap()
    bare = 'rule_set = "elective-residence-first-issue"\n[passport]\nbooklet_pages = 28'
    made = parsed(sort(bare, items))

    assert len(made.order["passport"]) == 16
    assert len(made.overrides) == 25


def test_what_is_not_sure_stands_as_comments():
    text = sort(NEW, [item("scans/a b.jpg", Kind.A4_PAGE, read(Kind.A4_PAGE))])

    assert parsed(text).overrides == ()
    assert '# scan = "scans/a b.jpg"' in text


def test_a_twin_is_a_comment_to_take_the_sign_off():
    items, names = heap()
    twin = next(one for one in items if names[one.scan] == "12-13")
    text = sort(NEW, [*items, replace(twin, scan="scans/Z.jpg")])
    line = next(line for line in text.split("\n") if "take the # off to copy" in line)
    left_out = parsed(text.replace(line, line.removeprefix("# ")))

    assert [one.scan for one in left_out.overrides if one.leave_out] == ["scans/Z.jpg"]


def test_line_ends_of_windows_stay():
    items, _ = heap()
    text = sort(NEW.replace("\n", "\r\n"), items)

    assert text.replace("\r\n", "").count("\n") == 0
    assert sort(text, items) == text


@given(
    st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=12).filter(
        lambda name: "/" not in name and "\0" not in name
    )
)
def test_any_name_reads_back_or_is_refused(name):
    one = item(f"scans/{name}", Kind.A4_PAGE, read(Kind.A4_PAGE, terms=("home",)))
    try:
        text = sort(NEW, [one])
    except PacketError:
        return
    assert [table.scan for table in parsed(text).overrides] == [one.scan]


def test_a_name_that_toml_cannot_hold_changes_nothing():
    one = item("scans/\udcff.jpg", Kind.A4_PAGE, read(Kind.A4_PAGE, terms=("home",)))

    with pytest.raises(PacketError, match="nothing was changed"):
        sort(NEW, [one])


def test_carried_out_is_what_the_file_says():
    items, _ = heap()
    plan = plan_for(PACKET, items)
    told = carried_out(PACKET, plan)

    assert dict(told.order) == dict(parsed(sort(NEW, items)).order)
