"""Dates and amounts as plain text for the terminal."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from textwrap import fill
from typing import Any

from packet.guides.calendar import KeyDay, left_words, long_day, reading_words

WIDTH = 80
_LOUD = {"missed": "OVER", "late": "PERHAPS OVER", "done": "done", "today": "TODAY"}


def days_text(days: Sequence[KeyDay], today: date, *, width: int = WIDTH) -> str:
    """Every date with its readings, its source and its caution."""
    if not days:
        return (
            "No dates are known yet: write entry.date, visa, passport and appointment dates into "
            "packet.toml."
        )
    return "\n\n".join("\n".join(_day(one, today, width)) for one in days)


def _day(one: KeyDay, today: date, width: int) -> Iterator[str]:
    mark = f"  {_LOUD[one.state]}" if one.state in _LOUD else ""
    at = f", {one.time}" if one.time else ""
    yield f"{long_day(one.day)}{at} ({left_words(one.day, today)}){mark}"
    yield _wrapped(f"{one.title}.", width)
    if one.place:
        yield _wrapped(one.place, width)
    for reading in one.readings:
        yield _wrapped(f"- {long_day(reading.last_day)}: {reading_words(reading)}", width)
    if one.note:
        yield _wrapped(one.note, width)
    if one.source:
        yield _wrapped(f"Source: {one.source}.", width)


def short_days_text(days: Sequence[KeyDay], today: date, *, width: int = WIDTH) -> str:
    """One line a date, those that are done or harmlessly past left out."""
    return "\n".join(
        _wrapped(
            f"{one.day.isoformat()} {one.day:%a}  {one.title} ({left_words(one.day, today)})"
            f"{'  ' + _LOUD[one.state] if one.state in ('late', 'missed') else ''}",
            width,
        )
        for one in days
        if one.state not in ("done", "past")
    )


def counter_text(values: Mapping[str, Any], *, width: int = WIDTH) -> str:
    """The sums and the warnings; the lists are on the sheets."""
    lines = [f"{one['what']}: {one['note']}" for one in values["warnings"]]
    for one in values["sums"]:
        lines.append(
            f"Permit {one['contribution']}: {one['cash_at_counter']} EUR at the counter "
            f"(slip {one['slip']}), {one['with_stamp']} EUR with the stamp bought before."
        )
    lines.append(
        f"Carry {values['cash_to_carry']} EUR in cash. The office sets the length of the permit; "
        "amounts change: ask before you pay."
    )
    return "\n".join(_wrapped(line, width, indent="") for line in lines)


def _wrapped(text: str, width: int, *, indent: str = "  ") -> str:
    return fill(
        text,
        width=width,
        initial_indent=indent,
        subsequent_indent=indent + "  ",
        break_long_words=False,
        break_on_hyphens=False,
    )
