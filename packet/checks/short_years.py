"""Dates with two digits for the year, as machine-readable lines write them: YYMMDD.

ICAO Doc 9303 gives no century. A birth lies in the past, an end near the day on which it is
looked at: common practice, no source.
"""

from __future__ import annotations

from datetime import date


def birth_date(digits: str, today: date) -> date | None:
    """The latest such day that is not after ``today``; None for an unknown part or no date."""
    days = [day for day in _candidates(digits, today) if day <= today]
    return max(days, default=None)


def end_date(digits: str, today: date) -> date | None:
    """The such day that is nearest to ``today``: papers last ten years or a little more."""
    return min(_candidates(digits, today), key=lambda day: abs(day - today), default=None)


def _candidates(digits: str, today: date) -> list[date]:
    if len(digits) != 6 or not (digits.isascii() and digits.isdigit()):
        return []
    year, month, day = (int(digits[at : at + 2]) for at in (0, 2, 4))
    century = today.year // 100 * 100
    found = []
    for start in (century - 100, century, century + 100):
        try:
            found.append(date(start + year, month, day))
        except ValueError:  # no such day in that year
            continue
    return found
