"""Where a packet stands: what is done and what comes next. No scan is decoded."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from packet.files import sweep
from packet.model import Severity


def status(
    root: Path, out: Path | None = None, *, today: date | None = None
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """(what is done, what comes next): from the folder and the record, no scan is decoded.

    ``today``: the day on which the next date to keep is looked up; None = no date is named.
    """
    from packet.checks.progress import Progress as Facts
    from packet.checks.progress import status as sentences
    from packet.guides.calendar import by_when, key_days
    from packet.intake.order import documents_of
    from packet.intake.packet_file import read_packet
    from packet.intake.scans import list_scans
    from packet.report.fresh import counted_sheets, record_findings, why_stale
    from packet.report.record import read_record

    packet = read_packet(root)
    scans, listing = list_scans(packet)
    folder = out or root / "out"
    sweep(folder)
    record = read_record(folder)
    current = not why_stale(packet, scans, folder, record)
    form = packet.rule_set.form.folder
    places = [documents_of(packet, scan) for scan in scans]
    held = frozenset[str]().union(*places) - {form}
    findings = record_findings(record) if record is not None and current else listing
    open_ones = [finding for finding in findings if finding.needs_user]
    said = sentences(
        Facts(
            folder=str(root),
            scans=sum(place != {form} for place in places),
            documents_held=len(held),
            documents_missing=tuple(
                spec.title_en
                for spec in packet.documents
                if spec.folder not in held and spec.folder not in packet.not_held
            ),
            errors=sum(finding.severity is Severity.ERROR for finding in open_ones),
            warnings=sum(finding.severity is Severity.WARNING for finding in open_ones),
            leaves_confirmed=packet.count.form_leaves_confirmed,
            built=record is not None,
            current=current,
            count=counted_sheets(record) if record is not None and current else None,
            unsorted=sum(not place for place in places),
            form_scans=sum(form in place for place in places),
            form_in_build=bool(record and record["sets"]["form_pages"]),
            copied_by_hand=packet.form.copied_by_hand,
            by_when=by_when(key_days(packet, today)) if today is not None else "",
        )
    )
    return said.done, said.next
