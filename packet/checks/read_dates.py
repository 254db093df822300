"""Dates of packet.toml against those that the scans say: the same rules, read days filled in.

Passport valid through the visa, entry within the visa, the visa's days against its dates
(``checks.dates``). A day that packet.toml gives itself is compared there, not here.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date

from packet.checks.dates import check_dates
from packet.checks.papers import Paper
from packet.checks.short_years import birth_date, end_date
from packet.intake.names import shown
from packet.model import Finding, Packet, Severity


def read_date_findings(
    packet: Packet, person: Paper, visa: Paper | None, today: date
) -> Iterator[Finding]:
    """``date-order`` and ``date-doubt`` that only the read days bring out."""
    filled, sources = _filled(packet, person, visa, today)
    if not sources:
        return
    known = {(one.code, one.message) for one in check_dates(packet, today)}
    for finding in check_dates(filled, today):
        if (finding.code, finding.message) in known:
            continue
        paper = next((sources[key] for key in sources if key in finding.message), person)
        yield replace(
            finding,
            severity=finding.severity if paper.sure else Severity.WARNING,
            subject=paper.subject,
            message=f"{finding.message[:-1]} ({_where(sources, finding)}).",
            remedy="Compare both with the papers. If the scan was misread, write the day under its "
            "key in packet.toml.",
        )


def _filled(
    packet: Packet, person: Paper, visa: Paper | None, today: date
) -> tuple[Packet, dict[str, Paper]]:
    """The packet with the days that it lacks as they were read, and where each was."""
    sources: dict[str, Paper] = {}
    days: dict[str, date] = {}

    def fill(key: str, given: date | None, read: date | None, paper: Paper) -> None:
        if given is None and read is not None:
            days[key] = read
            sources[key] = paper

    born = birth_date(person.says("birth"), today)
    fill("applicant.date_of_birth", packet.applicant.date_of_birth, born, person)
    if person.what == "passport":
        ends = end_date(person.says("expires"), today)
        fill("passport.expires", packet.passport.expires, ends, person)
    if visa is not None:
        ends = end_date(visa.says("expires"), today)
        fill("visa.valid_to", packet.visa.valid_to, ends, visa)
    filled = replace(
        packet,
        applicant=replace(
            packet.applicant,
            date_of_birth=days.get("applicant.date_of_birth", packet.applicant.date_of_birth),
        ),
        passport=replace(
            packet.passport, expires=days.get("passport.expires", packet.passport.expires)
        ),
        visa=replace(packet.visa, valid_to=days.get("visa.valid_to", packet.visa.valid_to)),
    )
    return filled, sources


def _where(sources: dict[str, Paper], finding: Finding) -> str:
    """Which of the days that the message names come from a scan."""
    parts = [
        f"{key} as {shown(paper.subject)} says"
        for key, paper in sources.items()
        if key in finding.message
    ]
    return ", ".join(parts) or "as the scans say"
