"""The dates of a packet: what must be done by when, each with its source and its caution.

The office's word stands before every date here. ``today`` is passed in: no clock.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any, Literal

from packet.checks.progress import plural
from packet.checks.working_days import Reading, entry_readings
from packet.model import Packet
from packet.rules.terms import appointment_term, entry_term, long_term, renewal_term

Kind = Literal[
    "entry-term",
    "appointment",
    "renewal",
    "permit-end",
    "visa-end",
    "passport-end",
    "paper-end",
    "five-years",
]
CAUTION = "What the office says comes first."
State = Literal["ahead", "today", "past", "late", "missed", "done"]


@dataclass(frozen=True, slots=True, kw_only=True)
class KeyDay:
    """One date to keep.

    ``about``: the folder it belongs to, for papers. ``readings``: other days that other readings
    of the law give, the safest first. ``state``: ``past`` is over and harmless, ``missed`` is
    not; ``late`` is over by the safest reading only.
    """

    kind: Kind
    day: date = field(repr=False)
    title: str
    state: State
    note: str = ""
    source: str = ""
    about: str = ""
    readings: tuple[Reading, ...] = field(default=(), repr=False)
    time: str = field(default="", repr=False)
    place: str = field(default="", repr=False)


def long_day(day: date) -> str:
    """``Monday 30 November 2026``."""
    return f"{day:%A} {day.day} {day:%B} {day.year:04d}"


def key_days(packet: Packet, today: date) -> tuple[KeyDay, ...]:
    """Every date that the values of the packet give, the earliest first."""
    days = (
        *_entry(packet, today),
        *_appointment(packet, today),
        *_permit(packet, today),
        *_ends(packet, today),
        *_five_years(packet, today),
    )
    return tuple(sorted(days, key=lambda one: one.day))


def _state(day: date, today: date) -> State:
    return "today" if day == today else "ahead" if day > today else "past"


def _entry(packet: Packet, today: date) -> Iterator[KeyDay]:
    entry = packet.entry.date
    if entry is None or packet.rule_set.is_renewal:
        return
    term = entry_term()
    readings = entry_readings(entry, packet.entry.local_holidays)
    safest, latest = readings[0].last_day, readings[-1].last_day
    handed_in = packet.receipt.date
    acted = today if handed_in is None else handed_in
    if acted > latest:
        state: State = "missed"
        note = term.missed
    elif handed_in is not None:
        state, note = "done", "Handed in: keep the receipt with the passport."
    else:
        state = _state(safest, today) if today <= safest else "late"
        note = term.caution
        if state == "late":
            note = (
                "By the strictest reading the term is over, by the others not yet: hand the "
                f"application in at once. {term.caution}"
            )
    yield KeyDay(
        kind="entry-term",
        day=safest,
        title=f"{term.title_en}, {term.length} working days after entry",
        state=state,
        note=note,
        source=term.source,
        readings=readings,
    )


def _appointment(packet: Packet, today: date) -> Iterator[KeyDay]:
    appointment = packet.appointment
    if appointment.date is None:
        return
    term = appointment_term()
    yield KeyDay(
        kind="appointment",
        day=appointment.date,
        title=term.title_en,
        state=_state(appointment.date, today),
        note=f"Bring {plural(term.length, 'photo')} and the originals of everything sent in copy. "
        f"{term.caution}",
        source=f"{term.source} (photos)",
        time=appointment.time,
        place=appointment.place,
    )


def permit_end(packet: Packet) -> date | None:
    """The last day of the permit that is held now: the new one, else the one to be renewed."""
    return packet.new_permit.expires or packet.permit.expires


def _permit(packet: Packet, today: date) -> Iterator[KeyDay]:
    ends = permit_end(packet)
    if ends is None:
        return
    term = renewal_term()
    asked = packet.receipt.date is not None and packet.new_permit.expires is None
    due = ends - timedelta(days=term.length)
    state: State = "done" if asked else "missed" if today > due else _state(due, today)
    note = term.caution
    if state == "missed":
        note = f"{term.ended if today > ends else term.missed} {term.caution}"
    elif asked:
        note = "Asked for: keep the receipt with the passport."
    yield KeyDay(
        kind="renewal",
        day=due,
        title=f"{term.title_en}, {term.length} days before the permit ends",
        state=state,
        note=note,
        source=term.source,
    )
    yield KeyDay(
        kind="permit-end",
        day=ends,
        title="The permit ends",
        state="missed" if today > ends and not asked else _state(ends, today),
        note=CAUTION,
        source="the permit, as printed",
    )


def _ends(packet: Packet, today: date) -> Iterator[KeyDay]:
    passport, visa = packet.passport.expires, packet.visa.valid_to
    if visa is not None and not packet.rule_set.is_renewal:
        yield KeyDay(
            kind="visa-end",
            day=visa,
            title="The visa ends",
            state=_state(visa, today),
            note=CAUTION,
            source="the visa, as printed",
        )
    if passport is not None:
        yield KeyDay(
            kind="passport-end",
            day=passport,
            title="The passport ends",
            state="missed" if today > passport else _state(passport, today),
            note="Renew it in good time: the permit needs a valid passport. Ask your consulate.",
            source="the passport, as printed",
        )
    titles = {spec.folder: spec.title_en for spec in packet.documents}
    for folder, day in packet.valid_until.items():
        if folder in titles:
            yield KeyDay(
                kind="paper-end",
                day=day,
                title=f"{titles[folder]}: valid until this day",
                state=_state(day, today),
                about=folder,
                source="the paper, by valid_until",
            )


def _five_years(packet: Packet, today: date) -> Iterator[KeyDay]:
    first = packet.permit.first_issued
    if first is None and not packet.rule_set.is_renewal:
        first = packet.new_permit.issued
    if first is None:
        return
    term = long_term()
    day = years_later(first, term.length)
    yield KeyDay(
        kind="five-years",
        day=day,
        title=term.title_en,
        state=_state(day, today),
        note=term.caution,
        source=term.source,
    )


def years_later(day: date, years: int) -> date:
    """The same day ``years`` later; 1 March for a 29 February that is not there."""
    try:
        return day.replace(year=day.year + years)
    except ValueError:
        return date(day.year + years, 3, 1)


# --- in words and in JSON ---------------------------------------------------------------------


def by_when(days: tuple[KeyDay, ...]) -> str:
    """One sentence about the date to keep next; "" when there is none.

    A missed term comes first, then the next thing to do.
    """
    duties = [one for one in days if one.kind in ("entry-term", "renewal", "appointment")]
    for one in duties:
        if one.state in ("missed", "late"):
            return f"{one.title}: the day was {long_day(one.day)}. {one.note}"
    for one in duties:
        if one.state in ("ahead", "today"):
            at = f" at {one.time}" if one.time else ""
            if one.kind == "appointment":
                return f"{one.title}: {long_day(one.day)}{at}."
            safest = ", the safest reading" if one.readings else ""
            return f"{one.title}: by {long_day(one.day)}{safest} ({one.source})."
    return ""


def days_json(days: tuple[KeyDay, ...], today: date) -> list[dict[str, Any]]:
    """One object a date; ``days_left`` is negative when it is past."""
    return [
        {
            "kind": one.kind,
            "date": one.day.isoformat(),
            "weekday": f"{one.day:%A}",
            "days_left": (one.day - today).days,
            "title": one.title,
            "state": one.state,
            "note": one.note,
            "source": one.source,
            "about": one.about,
            "time": one.time,
            "place": one.place,
            "readings": [reading_json(reading) for reading in one.readings],
        }
        for one in days
    ]


def reading_json(reading: Reading) -> dict[str, Any]:
    """One reading of a term."""
    return {
        "date": reading.last_day.isoformat(),
        "weekday": f"{reading.last_day:%A}",
        "saturday_counts": reading.saturday_counts,
        "entry_day_counts": reading.entry_day_counts,
    }


def reading_words(reading: Reading) -> str:
    """``Saturday counts, the day of entry does not``."""
    saturday = "Saturday counts" if reading.saturday_counts else "Saturday does not count"
    both = reading.saturday_counts == reading.entry_day_counts
    if both:
        verb = "counts too" if reading.entry_day_counts else "does not either"
    else:
        verb = "counts" if reading.entry_day_counts else "does not"
    return f"{saturday}, the day of entry {verb}"


def left_words(day: date, today: date) -> str:
    """``in 5 days``, ``today``, ``3 days ago``."""
    left = (day - today).days
    if left == 0:
        return "today"
    return f"in {plural(left, 'day')}" if left > 0 else f"{plural(-left, 'day')} ago"
