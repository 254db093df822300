"""The dates as an iCalendar file (RFC 5545), which any calendar program reads.

It holds no name and no number of the applicant. The same packet on the same day gives the same
bytes. An event keeps its UID when its date changes, so that importing the file again moves it.
"""

from __future__ import annotations

import hashlib
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from packet.guides.calendar import CAUTION, KeyDay, long_day, reading_words

if TYPE_CHECKING:
    from icalendar import Event

ROME = "Europe/Rome"
APPOINTMENT_LENGTH = timedelta(hours=1)
_DAYS_AHEAD = {"entry-term": 2, "appointment": 7, "renewal": 30, "five-years": 30}


def calendar_bytes(days: tuple[KeyDay, ...], root: Path, today: date) -> bytes:
    """The file. Days that are over or done are left out. ``root`` tells packets apart."""
    import icalendar

    calendar = icalendar.Calendar()
    calendar.add("prodid", "-//packet//dates//EN")
    calendar.add("version", "2.0")
    for one in days:
        if one.state in ("ahead", "today", "late", "missed"):
            calendar.add_component(_event(one, root, today))
    data: bytes = calendar.to_ical()
    return data


def _event(one: KeyDay, root: Path, today: date) -> Event:
    import icalendar

    event = icalendar.Event()
    event.add("uid", _uid(one, root))
    event.add("dtstamp", datetime.combine(today, time.min, UTC))
    event.add("summary", one.title)
    event.add("description", _description(one))
    begin, end = _when(one)
    event.add("dtstart", begin)
    event.add("dtend", end)
    event.add("transp", "OPAQUE" if one.time else "TRANSPARENT")
    if one.place:
        event.add("location", one.place)
    event.add_component(_alarm(one))
    return event


def _when(one: KeyDay) -> tuple[date, date]:
    """A whole day, or an hour of it in UTC (which needs no time zone beside it)."""
    if not one.time:
        return one.day, one.day + timedelta(days=1)
    hour, minute = map(int, one.time.split(":"))
    local = datetime.combine(one.day, time(hour, minute), ZoneInfo(ROME))
    begin = local.astimezone(UTC)
    return begin, begin + APPOINTMENT_LENGTH


def _alarm(one: KeyDay) -> Any:
    import icalendar

    alarm = icalendar.Alarm()
    alarm.add("action", "DISPLAY")
    alarm.add("description", one.title)
    alarm.add("trigger", -timedelta(days=_DAYS_AHEAD.get(one.kind, 60)))
    return alarm


def _description(one: KeyDay) -> str:
    lines = [one.note] if one.note else []
    lines += [f"{long_day(r.last_day)}: {reading_words(r)}." for r in one.readings]
    if one.source:
        lines.append(f"Source: {one.source}.")
    if CAUTION not in lines and "office's word" not in one.note:
        lines.append(CAUTION)
    return "\n".join(lines)


def _uid(one: KeyDay, root: Path) -> str:
    """The same for the same kind of date of the same packet folder; nothing personal in it."""
    mark = hashlib.sha256(root.resolve().name.encode("utf-8", "surrogateescape")).hexdigest()[:16]
    about = f"-{hashlib.sha256(one.about.encode()).hexdigest()[:8]}" if one.about else ""
    return f"{one.kind}{about}-{mark}@packet.invalid"
