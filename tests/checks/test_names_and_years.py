"""Names that are the same, parts of names, and years of two digits."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from packet.checks.same_name import Likeness, likeness
from packet.checks.short_years import birth_date, end_date

TODAY = date(2026, 11, 25)


@pytest.mark.parametrize(
    ("name", "written", "cut", "like"),
    [
        ("Eriksson", "ERIKSSON", False, Likeness.SAME),
        ("Anna-Maria", "ANNA MARIA", False, Likeness.SAME),
        ("Åström", "AASTROEM", False, Likeness.SAME),  # Doc 9303 part 3, table
        ("Anna", "ANNA MARIA", False, Likeness.PART),
        ("Anna Maria", "MARIA", False, Likeness.PART),
        ("Anna Maria", "MARIA ANNA", False, Likeness.PART),
        ("Maximiliana Wilhelmina", "MAXIMILIANA WILHEL", True, Likeness.SAME),
        ("Maximiliana Wilhelmina", "MAXIMILIANA WILHEL", False, Likeness.OTHER),
        ("Eriksson", "ERIKSEN", False, Likeness.OTHER),
        ("", "ERIKSSON", False, Likeness.SAME),
        ("Eriksson", "", False, Likeness.SAME),
    ],
)
def test_likeness(name, written, cut, like):
    assert likeness(name, written, cut=cut) is like


@given(st.dates(date(1930, 1, 1), TODAY))
def test_a_birth_lies_in_the_last_hundred_years(day):
    assert birth_date(f"{day:%y%m%d}", TODAY) == day


@given(st.dates(date(1980, 1, 1), date(2075, 1, 1)))
def test_an_end_lies_near_today(day):
    found = end_date(f"{day:%y%m%d}", TODAY)

    assert found is not None
    assert abs(found - TODAY).days <= 50 * 366


def test_a_birth_of_today_and_one_of_tomorrow():
    assert birth_date("261125", TODAY) == TODAY
    assert birth_date("261126", TODAY) == date(1926, 11, 26)


@pytest.mark.parametrize("digits", ["", "58<<14", "581341", "5807", "5807144", "٥٨٠٧١٤"])
def test_what_is_no_date(digits):
    assert birth_date(digits, TODAY) is None
    assert end_date(digits, TODAY) is None


def test_the_29th_of_february():
    assert birth_date("000229", TODAY) == date(2000, 2, 29)
    assert end_date("280229", TODAY) == date(2028, 2, 29)
