"""The term of 8 working days: d.lgs. 286/1998, art. 5 c. 2."""

from __future__ import annotations

from datetime import date, timedelta

import holidays
import pytest
from hypothesis import given
from hypothesis import strategies as st

from packet.checks.working_days import (
    entry_readings,
    is_national_holiday,
    is_working_day,
    last_working_day,
)

DAYS = st.dates(date(2020, 1, 1), date(2035, 12, 31))


@pytest.mark.parametrize(
    ("entry", "with_saturday", "without"),
    [
        (date(2026, 3, 2), date(2026, 3, 11), date(2026, 3, 12)),
        (date(2026, 12, 4), date(2026, 12, 15), date(2026, 12, 17)),  # 8 December: holiday
        (date(2026, 12, 21), date(2027, 1, 2), date(2027, 1, 4)),
        (date(2026, 4, 2), date(2026, 4, 13), date(2026, 4, 15)),  # 6 April: Easter Monday
    ],
)
def test_dated_examples(entry, with_saturday, without):
    """Worked with the package holidays 0.109, the day of entry not counted."""
    found = {
        (one.saturday_counts, one.entry_day_counts): one.last_day for one in entry_readings(entry)
    }

    assert found[True, False] == with_saturday
    assert found[False, False] == without
    assert found[True, True] <= with_saturday
    assert found[False, True] <= without


@given(DAYS)
def test_the_safest_reading_comes_first(entry):
    readings = entry_readings(entry)

    assert len(readings) == 4
    assert [one.last_day for one in readings] == sorted(one.last_day for one in readings)
    assert (readings[0].saturday_counts, readings[0].entry_day_counts) == (True, True)
    assert readings[-1].last_day <= entry + timedelta(days=21)


@given(DAYS, st.integers(1, 12), st.booleans(), st.booleans())
def test_exactly_so_many_working_days_lie_in_between(start, days, saturday, counts):
    last = last_working_day(start, days, saturday_counts=saturday, start_counts=counts)

    first = start if counts else start + timedelta(days=1)
    between = [first + timedelta(days=n) for n in range((last - first).days + 1)]
    working = [day for day in between if is_working_day(day, saturday_counts=saturday)]
    assert len(working) == days
    assert working[-1] == last


@pytest.mark.parametrize(("year", "holiday"), [(2025, False), (2026, True), (2027, True)])
def test_saint_francis_is_a_holiday_from_2026(year, holiday):
    """Law 151/2025: 4 October."""
    assert is_national_holiday(date(year, 10, 4)) is holiday


def test_fourth_november_is_no_holiday():
    assert is_working_day(date(2026, 11, 4), saturday_counts=True)


def test_a_patron_saint_by_choice():
    """7 December, Milan, as the package has it."""
    patron = date(2026, 12, 7)
    assert patron in holidays.country_holidays("IT", subdiv="MI", years=2026)

    without = entry_readings(date(2026, 12, 1))[0].last_day
    with_it = entry_readings(date(2026, 12, 1), [patron])[0].last_day

    assert not is_national_holiday(patron)
    assert with_it > without
