"""One packet of a batch in one row: ready or not, the box number, what to print, what is next."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any, Literal

from packet.checks.severity import worst_first
from packet.guides.calendar import KeyDay
from packet.intake.names import shown
from packet.model import CopiesPrinted, Finding, Packet

State = Literal["ready", "needs-you", "failed"]
STATES: dict[State, str] = {
    "ready": "ready",
    "needs-you": "needs you",
    "failed": "could not be built",
}
_MISSING = ("missing-document", "missing-side", "missing-openings")
_DUTIES = ("entry-term", "renewal", "appointment")


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintFile:
    """One file to print: its pages and the sheets they take."""

    name: str
    pages: int
    sheets: int


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchRow:
    """What a batch says of one packet. ``name``: its path below the common folder.

    ``built``: in this run; else its files were current. ``missing`` and ``doubtful`` are the
    findings that need the user, documents that are not there apart from all others.
    """

    name: str
    state: State
    built: bool = False
    error: str = ""
    complete: bool = False
    box: int | None = None
    copies_printed: CopiesPrinted = "one-sided"
    files: tuple[PrintFile, ...] = ()
    missing: tuple[Finding, ...] = ()
    doubtful: tuple[Finding, ...] = ()
    next_day: date | None = field(default=None, repr=False)
    next_what: str = ""

    @property
    def sheets(self) -> int:
        """Sheets of paper that the printer needs for all files."""
        return sum(file.sheets for file in self.files)


def failed_row(name: str, error: str, findings: Sequence[Finding] = ()) -> BatchRow:
    """A packet that could not be built, and why."""
    return BatchRow(name=name, state="failed", error=error, doubtful=tuple(findings))


def made_row(
    name: str,
    *,
    packet: Packet,
    record: Mapping[str, Any],
    findings: Sequence[Finding],
    days: Sequence[KeyDay],
    built: bool,
) -> BatchRow:
    """A packet with a current build. ``findings``: all of them, from every check."""
    open_ones = [one for one in worst_first(findings) if one.needs_user]
    two_sided = packet.count.copies_printed == "two-sided"
    day = _next_day(days)
    return BatchRow(
        name=name,
        state="needs-you" if open_ones or not record["complete"] else "ready",
        built=built,
        complete=record["complete"],
        box=record["count"]["box"],
        copies_printed=packet.count.copies_printed,
        files=tuple(
            PrintFile(
                name=entry["file"],
                pages=entry["pages"],
                sheets=(entry["pages"] + 1) // 2 if two_sided else entry["pages"],
            )
            for entry in record["outputs"]
            if entry["pages"]
        ),
        missing=tuple(one for one in open_ones if one.code in _MISSING),
        doubtful=tuple(one for one in open_ones if one.code not in _MISSING),
        next_day=None if day is None else day.day,
        next_what="" if day is None else day.title,
    )


def _next_day(days: Sequence[KeyDay]) -> KeyDay | None:
    """The duty to look at first: one that is over, else the next one."""
    duties = [one for one in days if one.kind in _DUTIES]
    over = [one for one in duties if one.state in ("missed", "late")]
    ahead = [one for one in duties if one.state in ("ahead", "today")]
    return next(iter(over or ahead), None)


def row_json(row: BatchRow) -> dict[str, Any]:
    """A row with the keys of ``--json`` and batch.json."""
    from packet.report.record import finding_json

    return {
        "packet": shown(row.name),
        "state": row.state,
        "built": row.built,
        "error": row.error or None,
        "complete": row.complete,
        "box": row.box,
        "copies_printed": row.copies_printed,
        "sheets": row.sheets,
        "files": [{"file": f.name, "pages": f.pages, "sheets": f.sheets} for f in row.files],
        "missing": [finding_json(one) for one in row.missing],
        "doubtful": [finding_json(one) for one in row.doubtful],
        "next_date": None if row.next_day is None else row.next_day.isoformat(),
        "next_what": row.next_what or None,
    }
