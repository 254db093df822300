"""Dates of packet.toml against each other and against one day. Pure; the day is passed in."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from packet.model import Finding, Packet, Severity

# (earlier, later, may they be the same day): what must stand in this order.
_ORDER = (
    ("applicant.date_of_birth", "visa.valid_from", False),
    ("applicant.date_of_birth", "entry.date", False),
    ("applicant.date_of_birth", "passport.expires", False),
    ("applicant.date_of_birth", "permit.first_issued", True),
    ("visa.valid_from", "visa.valid_to", True),
    ("visa.valid_from", "entry.date", True),
    ("entry.date", "visa.valid_to", True),
    ("entry.date", "passport.expires", True),
    ("entry.date", "receipt.date", True),
    ("receipt.date", "appointment.date", True),
    ("receipt.date", "new_permit.issued", True),
    ("permit.first_issued", "permit.expires", False),
    ("permit.expires", "new_permit.expires", False),
    ("new_permit.issued", "new_permit.expires", False),
)
_PAST = ("applicant.date_of_birth", "receipt.date", "permit.first_issued", "new_permit.issued")
_OLDEST_YEARS = 120


def known_dates(packet: Packet) -> dict[str, date]:
    """Key path -> date, of those that are given."""
    found = {
        "applicant.date_of_birth": packet.applicant.date_of_birth,
        "passport.expires": packet.passport.expires,
        "visa.valid_from": packet.visa.valid_from,
        "visa.valid_to": packet.visa.valid_to,
        "entry.date": packet.entry.date,
        "receipt.date": packet.receipt.date,
        "appointment.date": packet.appointment.date,
        "permit.first_issued": packet.permit.first_issued,
        "permit.expires": packet.permit.expires,
        "new_permit.issued": packet.new_permit.issued,
        "new_permit.expires": packet.new_permit.expires,
    }
    return {key: day for key, day in found.items() if day is not None}


def check_dates(packet: Packet, today: date) -> Iterator[Finding]:
    """``date-order``: two dates that contradict each other; ``date-doubt``: one to look at."""
    days = known_dates(packet)
    yield from _order(days)
    yield from _against_today(days, today)
    yield from _duration(packet)
    yield from _ends(packet, days, today)


def _order(days: dict[str, date]) -> Iterator[Finding]:
    for earlier, later, same in _ORDER:
        if earlier not in days or later not in days:
            continue
        first, second = days[earlier], days[later]
        if first > second or (first == second and not same):
            yield _contradiction(
                later, f"{earlier} and {later} disagree: the first must not lie after the second."
            )


def _against_today(days: dict[str, date], today: date) -> Iterator[Finding]:
    for key in _PAST:
        if key in days and days[key] > today:
            yield _contradiction(key, f"{key} lies in the future.")
    born = days.get("applicant.date_of_birth")
    if born is not None and today.year - born.year > _OLDEST_YEARS:
        yield _doubt(
            "applicant.date_of_birth",
            f"applicant.date_of_birth lies more than {_OLDEST_YEARS} years back.",
            "Compare it with the passport.",
        )
    entry = days.get("entry.date")
    if entry is not None and entry > today:
        yield _doubt(
            "entry.date",
            "entry.date lies in the future.",
            "Write the day of the entry stamp, when you have it.",
        )


def _duration(packet: Packet) -> Iterator[Finding]:
    """The days that a visa allows cannot be more than those between its two dates."""
    visa = packet.visa
    if visa.duration_days is None or visa.valid_from is None or visa.valid_to is None:
        return
    window = (visa.valid_to - visa.valid_from).days + 1  # both days count
    if 0 < window < visa.duration_days:
        yield _contradiction(
            "visa.duration_days",
            "visa.duration_days disagrees with visa.valid_from and visa.valid_to: there are fewer "
            "days between them.",
        )


def _ends(packet: Packet, days: dict[str, date], today: date) -> Iterator[Finding]:
    passport, visa = days.get("passport.expires"), days.get("visa.valid_to")
    if packet.rule_set.is_renewal:
        visa = None  # the permit has taken its place
    if passport is not None and passport < today:
        yield _doubt(
            "passport.expires",
            "passport.expires is past: the passport has ended.",
            "Ask the office and your consulate before you apply: a valid passport is needed.",
        )
    elif passport is not None and visa is not None and passport < visa:
        yield _doubt(
            "passport.expires",
            "passport.expires lies before visa.valid_to: the passport ends before the visa.",
            "Compare both with the paper; ask the office what it means for the permit.",
        )
    if visa is not None and visa < today and "receipt.date" not in days:
        yield _doubt(
            "visa.valid_to",
            "visa.valid_to is past and no receipt.date is given: the visa has ended.",
            "If the application was handed in, write the day as date under [receipt]; if not, "
            "get licensed legal help now.",
        )
    for folder, day in packet.valid_until.items():
        if day < today:
            yield _doubt(
                f"valid_until.{folder}",
                f"valid_until.{folder} is past: the paper in {folder}/ has ended.",
                "Get the new one, scan it, and correct the date.",
            )


def _contradiction(key: str, message: str) -> Finding:
    return Finding(
        code="date-order",
        severity=Severity.ERROR,
        subject=key,
        message=message,
        remedy="Compare both with the papers and correct packet.toml.",
    )


def _doubt(key: str, message: str, remedy: str) -> Finding:
    return Finding(
        code="date-doubt", severity=Severity.WARNING, subject=key, message=message, remedy=remedy
    )
