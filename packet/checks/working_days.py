"""Terms in working days, in every reading that is met.

National holidays come from the ``holidays`` package (4 October from 2026 on); local ones are the
user's to name. A Sunday never counts.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cache

from packet.rules.terms import entry_term

ONE_DAY = timedelta(days=1)
_SATURDAY, _SUNDAY = 5, 6


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """The last day of a term under one reading of Saturday and of the day of entry."""

    last_day: date
    saturday_counts: bool
    entry_day_counts: bool


def last_working_day(
    start: date,
    days: int,
    *,
    saturday_counts: bool,
    start_counts: bool,
    local_holidays: Collection[date] = (),
) -> date:
    """The day on which the last of ``days`` working days from ``start`` falls.

    ``start_counts``: ``start`` itself is the first one, where it is a working day.
    """
    day = start if start_counts else start + ONE_DAY
    left = days
    while True:
        if is_working_day(day, saturday_counts=saturday_counts, local_holidays=local_holidays):
            left -= 1
            if left == 0:
                return day
        day += ONE_DAY


def is_working_day(
    day: date, *, saturday_counts: bool, local_holidays: Collection[date] = ()
) -> bool:
    """False on Sundays, national and local holidays, and on Saturdays unless they count."""
    if day.weekday() == _SUNDAY or (day.weekday() == _SATURDAY and not saturday_counts):
        return False
    return day not in local_holidays and not is_national_holiday(day)


def is_national_holiday(day: date) -> bool:
    """True on a national holiday of Italy."""
    return day in _national_holidays(day.year)


@cache
def _national_holidays(year: int) -> frozenset[date]:
    import holidays

    return frozenset(holidays.country_holidays("IT", years=year))


def entry_readings(entry: date, local_holidays: Collection[date] = ()) -> tuple[Reading, ...]:
    """The last day to hand the application in, under all four readings, the safest first."""
    days = entry_term().length
    readings = [
        Reading(
            last_day=last_working_day(
                entry,
                days,
                saturday_counts=saturday,
                start_counts=start,
                local_holidays=local_holidays,
            ),
            saturday_counts=saturday,
            entry_day_counts=start,
        )
        for saturday in (True, False)
        for start in (True, False)
    ]
    return tuple(sorted(readings, key=lambda reading: reading.last_day))
