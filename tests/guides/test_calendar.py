"""Dates to keep, and the calendar file read back by another reader."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
import vobject
from hypothesis import given, settings
from hypothesis import strategies as st

from packet.guides.calendar import by_when, days_json, key_days, reading_words, years_later
from packet.guides.icalendar_file import calendar_bytes
from packet.model import Appointment, NewPermit, Permit, Receipt

from .making import RENEWAL, TODAY, packet, renewal


def by_kind(made, today=TODAY):
    return {one.kind: one for one in key_days(made, today)}


def events(made, today=TODAY, root=Path("demo")):
    data = calendar_bytes(key_days(made, today), root, today).decode("utf-8")
    return {one.uid.value: one for one in vobject.readOne(data).vevent_list}


def test_renewal_sixty_days_before_the_permit_ends():
    """d.lgs. 286/1998, art. 5 c. 4: at least 60 days before; 2027-02-28 -> 2026-12-30."""
    days = by_kind(renewal())

    assert days["renewal"].day == date(2026, 12, 30)
    assert days["permit-end"].day == date(2027, 2, 28)
    assert days["renewal"].source == "d.lgs. 286/1998, art. 5 c. 4"


def test_the_new_card_counts_once_it_is_there():
    made = packet(new_permit=NewPermit(issued=date(2027, 3, 1), expires=date(2027, 11, 9)))
    days = by_kind(made)

    assert days["renewal"].day == date(2027, 11, 9) - timedelta(days=60)
    assert days["five-years"].day == date(2032, 3, 1)  # art. 9: 5 years of permits


def test_five_years_are_counted_from_the_first_permit():
    permit = Permit(expires=date(2028, 2, 28), first_issued=date(2024, 2, 29))
    made = packet(RENEWAL, permit=permit)

    assert by_kind(made)["five-years"].day == date(2029, 3, 1)
    assert years_later(date(2024, 2, 28), 5) == date(2029, 2, 28)


def test_entry_term_shows_every_reading_the_safest_first():
    """d.lgs. 286/1998, art. 5 c. 2; entry on 20 November 2026, worked by hand."""
    term = by_kind(packet())["entry-term"]

    assert term.day == date(2026, 11, 28)
    assert [one.last_day for one in term.readings] == [
        date(2026, 11, 28),
        date(2026, 11, 30),
        date(2026, 12, 1),
        date(2026, 12, 2),
    ]
    assert "office's word stands" in term.note
    (json_,) = days_json((term,), TODAY)
    assert json_["days_left"] == 3
    assert json_["readings"][0]["weekday"] == "Saturday"
    assert {reading_words(one) for one in term.readings} == {
        "Saturday counts, the day of entry counts too",
        "Saturday counts, the day of entry does not",
        "Saturday does not count, the day of entry counts",
        "Saturday does not count, the day of entry does not either",
    }


@pytest.mark.parametrize(
    ("today", "state", "words"),
    [
        (date(2026, 11, 27), "ahead", "keep to the first"),
        (date(2026, 11, 28), "today", "keep to the first"),
        (date(2026, 11, 30), "late", "at once"),
        (date(2026, 12, 2), "late", "at once"),
        (date(2026, 12, 3), "missed", "licensed legal help"),
    ],
)
def test_a_missed_term_is_said_plainly(today, state, words):
    term = by_kind(packet(), today)["entry-term"]

    assert term.state == state
    assert words in term.note
    assert words in by_when((term,)) or state in ("ahead", "today")


@pytest.mark.parametrize(
    ("handed_in", "state"), [(date(2026, 11, 27), "done"), (date(2026, 12, 3), "missed")]
)
def test_handed_in(handed_in, state):
    made = packet(receipt=Receipt(date=handed_in))

    assert by_kind(made, date(2027, 1, 10))["entry-term"].state == state


def test_renewal_has_no_entry_term():
    assert "entry-term" not in by_kind(renewal(), TODAY)


def test_ended_permit():
    gone = by_kind(renewal(), date(2027, 3, 1))

    assert gone["permit-end"].state == gone["renewal"].state == "missed"
    assert "licensed legal help" in gone["renewal"].note
    asked = renewal(receipt=Receipt(date=date(2026, 12, 1)))
    assert by_kind(asked, date(2027, 3, 1))["renewal"].state == "done"


def test_ends_of_papers():
    made = packet(valid_until={"insurance": date(2027, 3, 1)})

    assert by_kind(made)["paper-end"].title == (
        "Health and accident insurance: valid until this day"
    )


def test_every_date_has_a_source_and_a_caution():
    made = packet(
        appointment=Appointment(date=date(2027, 1, 8)),
        new_permit=NewPermit(issued=date(2027, 3, 1), expires=date(2027, 11, 9)),
        valid_until={"insurance": date(2027, 3, 1)},
    )
    for one in key_days(made, TODAY):
        assert one.source, one.kind


def test_by_when_names_the_next_duty():
    assert by_when(key_days(packet(), TODAY)).startswith(
        "Hand the application in, 8 working days after entry: by Saturday 28 November 2026"
    )
    done = packet(
        receipt=Receipt(date=TODAY), appointment=Appointment(date=date(2027, 1, 8), time="09:40")
    )
    assert "Friday 8 January 2027 at 09:40" in by_when(key_days(done, TODAY))
    assert by_when(()) == ""


# --- the calendar file: RFC 5545, written by icalendar, read by vobject -----------------------


def test_the_file_is_read_back_by_another_reader():
    made = packet(
        appointment=Appointment(date=date(2027, 7, 8), time="09:40", place="Via Esempio, 1; A"),
        new_permit=NewPermit(issued=date(2027, 3, 1), expires=date(2027, 11, 9)),
    )
    found = {uid.rsplit("-", 1)[0]: event for uid, event in events(made).items()}

    days = {one.kind: one.day for one in key_days(made, TODAY)}
    assert set(found) == set(days)
    for kind, event in found.items():
        if kind != "appointment":
            assert event.dtstart.value == days[kind]
            assert event.dtend.value == days[kind] + timedelta(days=1)
        assert event.dtstamp.value == datetime(2026, 11, 25, tzinfo=UTC)
    meeting = found["appointment"]
    assert meeting.dtstart.value == datetime(2027, 7, 8, 7, 40, tzinfo=UTC)  # summer: UTC + 2
    assert meeting.location.value == "Via Esempio, 1; A"
    assert "Saturday counts" in found["entry-term"].description.value


def test_lines_are_short_and_end_as_rfc_5545_wants():
    """RFC 5545, 3.1: lines of at most 75 octets, ended by CR LF."""
    data = calendar_bytes(key_days(packet(), TODAY), Path("demo"), TODAY)

    assert data.endswith(b"END:VCALENDAR\r\n")
    assert all(len(line) <= 75 for line in data.split(b"\r\n"))
    assert b"\n" not in data.replace(b"\r\n", b"")


def test_an_event_keeps_its_uid_when_its_date_moves():
    moved = packet(entry=replace(packet().entry, date=date(2026, 11, 23)))

    assert set(events(packet())) == set(events(moved))
    assert set(events(packet())) != set(events(packet(), root=Path("other")))


def test_same_day_same_bytes_and_nothing_personal():
    made = packet(receipt=Receipt(user_id="U777", password="P888"))
    data = calendar_bytes(key_days(made, TODAY), Path("demo"), TODAY)

    assert data == calendar_bytes(key_days(made, TODAY), Path("demo"), TODAY)
    for value in (b"VELDARO", b"Veldaro", b"UX4071936", b"U777", b"P888", b"demo"):
        assert value not in data


def test_what_is_done_is_left_out():
    made = packet(receipt=Receipt(date=date(2026, 11, 27)))

    assert not any(uid.startswith("entry-term") for uid in events(made, date(2026, 11, 28)))


@settings(max_examples=25)
@given(st.dates(date(2020, 1, 1), date(2040, 12, 31)), st.text(max_size=60))
def test_any_text_survives_the_round_trip(day, place):
    made = packet(appointment=Appointment(date=day, time="23:30", place=place))
    seen = calendar_bytes(key_days(made, day), Path("x"), day).decode("utf-8")

    assert seen.count("BEGIN:VEVENT") == seen.count("END:VEVENT")
    (meeting,) = [
        one for one in vobject.readOne(seen).vevent_list if one.uid.value.startswith("appointment")
    ]
    assert (meeting.dtend.value - meeting.dtstart.value) == timedelta(hours=1)
