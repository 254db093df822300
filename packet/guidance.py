"""The flow around the copies: packet folder -> worksheet, counter sheets, dates.

Each function reads packet.toml, makes its files in memory and writes them whole. None of these
files belongs to a build: the record does not name them, and recount does not look at them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from packet import pipeline
from packet.files import write_all_whole, writing
from packet.guides.calendar import KeyDay
from packet.model import Finding, Packet, Severity
from packet.rules.fees import FeeTable

WORKSHEET, COUNTER, APPOINTMENT, DATES = (
    "worksheet.pdf",
    "counter.pdf",
    "appointment.pdf",
    "dates.ics",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Guide:
    """What was written, the same values for ``--json``, and what the user should look at."""

    files: tuple[Path, ...]
    values: Mapping[str, Any]
    findings: tuple[Finding, ...] = ()
    days: tuple[KeyDay, ...] = ()


def make_worksheet(
    root: Path,
    out: Path | None = None,
    *,
    today: date,
    jobs: int | None = None,
    password: str | None = None,
    progress: pipeline.Progress | None = None,
    use_cache: bool = True,
    read: bool = False,
) -> Guide:
    """``worksheet.pdf``; the number of sheets comes from the count engine.

    ``read``: what the scans say is compared with the values too.
    """
    from packet.checks.accept import apply_accepts
    from packet.checks.agreement import check_read_values
    from packet.checks.severity import worst_first
    from packet.checks.values import check_values
    from packet.guides.worksheet import worksheet, worksheet_json
    from packet.guides.worksheet_page import worksheet_pdf
    from packet.intake.packet_file import read_packet

    folder = pipeline.out_folder(root, out)
    packet = read_packet(root)
    fees = fees_of(packet)
    how: dict[str, Any] = {
        "jobs": jobs,
        "password": password,
        "progress": progress,
        "use_cache": use_cache,
        "read": read,
    }
    count, counted, stale = pipeline.count(root, out, **how)
    findings = check_values(packet, today)
    if read:
        seen = pipeline.gather(root, encode=False, **how)
        said = check_read_values(seen.packet, seen.items, today)
        findings = worst_first((*findings, *apply_accepts(seen.packet, said)))
    sheet = worksheet(packet, fees, findings, count, stale)
    return Guide(
        files=_written(folder, {WORKSHEET: worksheet_pdf(sheet)}),
        values=worksheet_json(sheet),
        findings=worst_first((*findings, *(one for one in counted if _about_number(one)))),
    )


def _about_number(finding: Finding) -> bool:
    """Errors, and doubts about a term of the count: the rest is for `packet check`."""
    return finding.severity is Severity.ERROR or finding.subject.startswith("count.")


def make_counter(root: Path, out: Path | None = None, *, today: date) -> Guide:
    """``counter.pdf`` and ``appointment.pdf``; no scan is read."""
    from packet.guides.counter import counter, counter_json
    from packet.guides.counter_page import appointment_pdf, counter_pdf
    from packet.intake.packet_file import read_packet

    folder = pipeline.out_folder(root, out)
    packet = read_packet(root)
    sheet = counter(packet, fees_of(packet), today, pipeline.current_count(packet, folder))
    files = {COUNTER: counter_pdf(sheet), APPOINTMENT: appointment_pdf(sheet)}
    return Guide(files=_written(folder, files), values=counter_json(sheet))


def make_dates(root: Path, out: Path | None = None, *, today: date) -> Guide:
    """``dates.ics`` and the same dates as values."""
    from packet.guides.calendar import days_json, key_days
    from packet.guides.icalendar_file import calendar_bytes
    from packet.intake.packet_file import read_packet

    folder = pipeline.out_folder(root, out)
    packet = read_packet(root)
    days = key_days(packet, today)
    return Guide(
        files=_written(folder, {DATES: calendar_bytes(days, root, today)}),
        values={"today": today.isoformat(), "dates": days_json(days, today)},
        days=days,
    )


def days_of(root: Path, today: date) -> tuple[KeyDay, ...]:
    """The dates of a packet; nothing is written."""
    from packet.guides.calendar import key_days
    from packet.intake.packet_file import read_packet

    return key_days(read_packet(root), today)


def fees_of(packet: Packet) -> FeeTable:
    """The user's own table of amounts, where packet.toml names one; else the package's."""
    from packet.rules.fees import fee_table, read_fees

    if packet.fee_table:
        return read_fees(packet.root / packet.fee_table, packet.fee_table)
    return fee_table()


def _written(folder: Path, files: Mapping[str, bytes]) -> tuple[Path, ...]:
    with writing(folder):
        write_all_whole(folder, files, last=[*files][-1])
    return tuple(folder / name for name in files)
