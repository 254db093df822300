"""Permits, receipt, appointment, ends of papers: read, written back, carried over."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from packet.errors import PacketFileError
from packet.intake.carry import carry
from packet.intake.packet_file import read_packet
from packet.intake.packet_text import packet_text
from packet.rules.reader import load_rule_set

FIRST = "elective-residence-first-issue"
LATER = """
fee_table = "fees.toml"
[passport]
expires = 2027-01-31
issued_by = "own-state"
[entry]
local_holidays = [2026-09-04]
[address]
province_seat = "VITERBO"
house_number = "12"
[form]
box_22 = "number"
[form.cells]
3 = 28
[permit]
number = "P1"
type_code = "21"
expires = 2027-02-28
first_issued = 2026-03-01
[receipt]
date = 2026-03-09
user_id = "u"
password = "p"
[appointment]
date = 2026-05-04
time = "09:40"
place = "x"
[new_permit]
number = "P2"
issued = 2026-07-01
expires = 2027-06-30
[valid_until]
home = 2028-01-31
id-card = 2026-12-31
"""


@pytest.fixture
def packet_of(tmp_path):
    def read(text, rule_set=FIRST):
        (tmp_path / "packet.toml").write_text(f'rule_set = "{rule_set}"\n{text}', "utf-8")
        return read_packet(tmp_path)

    return read


def test_every_new_key_is_read_and_written_back(packet_of):
    packet = packet_of(LATER)

    assert packet.permit.first_issued == date(2026, 3, 1)
    assert packet.new_permit.number == "P2"
    assert packet.appointment.time == "09:40"
    assert packet.form.cells == {"3": 28}
    assert packet.valid_until == {"home": date(2028, 1, 31), "id-card": date(2026, 12, 31)}
    again = packet_text(packet, rule_set=FIRST).split("\n", 5)
    (packet.root / "packet.toml").write_text("\n".join(again), "utf-8")
    back = read_packet(packet.root)
    assert replace(back, count=packet.count, values_digest="") == replace(packet, values_digest="")


def test_none_of_them_makes_a_build_stale(packet_of):
    assert packet_of(LATER).values_digest == packet_of("").values_digest


def test_personal_values_stay_out_of_repr(packet_of):
    shown = repr(packet_of(LATER))

    for word in ("P1", "P2", "2026-05-04", "2027", "09:40"):
        assert word not in shown


@pytest.mark.parametrize(
    ("text", "where"),
    [
        ('[appointment]\ntime = "25:10"\n', "appointment.time"),
        ('[permit]\ntype_code = "twenty-one"\n', "permit.type_code"),
        ("[form.cells]\nthree = 28\n", "form.cells.three"),
        ("[form.cells]\n3 = 400\n", "form.cells.3"),
        ('[form]\nbox_22 = "both"\n', "form.box_22"),
        ('[passport]\nissued_by = "me"\n', "passport.issued_by"),
        ('[entry]\nlocal_holidays = ["4 September"]\n', "entry.local_holidays[0]"),
        ("[entry]\nlocal_holidays = 2026-09-04\n", "entry.local_holidays"),
        ("[valid_until]\ninsurence = 2026-09-04\n", "valid_until.insurence"),
        ('fee_table = "fees.csv"\n', "fee_table"),
    ],
)
def test_each_fault_is_one_sentence_with_its_key(packet_of, text, where):
    with pytest.raises(PacketFileError) as caught:
        packet_of(text)
    (problem,) = caught.value.problems
    assert problem.startswith(f"{where}: found ")


def test_a_renewal_takes_the_card_and_drops_what_ended(packet_of):
    """The new card becomes the permit held; a paper whose last day is past is not carried."""
    old = packet_of(LATER)
    for folder in ("home", "id-card"):
        (old.root / folder).mkdir()
        (old.root / folder / "a.jpg").write_bytes(b"scan")

    carried = carry(old, load_rule_set("elective-residence-renewal"), date(2027, 4, 1))

    new = carried.packet
    assert (new.permit.number, new.permit.expires) == ("P2", date(2027, 6, 30))
    assert new.permit.first_issued == date(2026, 3, 1)
    assert new.new_permit.number == new.receipt.user_id == new.appointment.place == ""
    assert new.form.cells == {}
    assert [scan.folder for scan in carried.scans] == ["home"]
    assert new.valid_until == {"home": date(2028, 1, 31)}
    again = "\n".join(carried.again)
    assert "id-card: its last valid day (valid_until) is past" in again
    assert "[passport]: the book has expired" in again
    assert "means: it must be up to date" in again
    assert "permit: nothing was there" in again
    assert any(line.startswith("home: 1 scan carried over; still valid") for line in carried.check)


def test_a_first_permit_begins_the_five_years(packet_of):
    old = packet_of("[new_permit]\nissued = 2026-07-01\n")
    carried = carry(old, load_rule_set("elective-residence-renewal"))

    assert carried.packet.permit.first_issued == date(2026, 7, 1)
