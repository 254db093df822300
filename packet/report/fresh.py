"""Whether the written files still belong to the scans and values they were made from.

A number is never shown from a stale build: digests of the scans, of the values read from
packet.toml and of every output are compared with the record first.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import fields
from pathlib import Path
from typing import Any

import packet as package
from packet.files import file_digest
from packet.model import (
    DocumentCount,
    Finding,
    OtherReading,
    Packet,
    Scan,
    Severity,
    SheetCount,
)


def why_stale(
    packet: Packet, scans: Sequence[Scan], out: Path, record: Mapping[str, Any] | None
) -> str:
    """One sentence saying what changed since the build; empty when nothing did."""
    if record is None:
        return "There is no complete build yet."
    if record.get("packet") != package.__version__:
        return "The last build was made by another version of packet."
    if record.get("values_digest") != packet.values_digest:
        return "packet.toml changed since the last build."
    return _changed_scans(scans, record) or _changed_outputs(out, record)


def _changed_scans(scans: Sequence[Scan], record: Mapping[str, Any]) -> str:
    before = {entry["scan"]: entry["digest"] for entry in record["scans"]}
    now = {scan.name: scan.digest for scan in scans}
    new = len(now.keys() - before.keys())
    gone = len(before.keys() - now.keys())
    changed = sum(1 for name in now.keys() & before.keys() if now[name] != before[name])
    parts = [
        f"{number} {_scans(number)} {word}"
        for number, word in ((new, "new"), (changed, "changed"), (gone, "gone"))
        if number
    ]
    return f"Since the last build: {', '.join(parts)}." if parts else ""


def _changed_outputs(out: Path, record: Mapping[str, Any]) -> str:
    for entry in record["outputs"]:
        try:
            same = file_digest(out / entry["file"]) == entry["digest"]
        except OSError:
            return f"{entry['file']} of the last build is gone or cannot be read."
        if not same:
            return (
                f"{entry['file']} is not the one of the last build (changed, or left over from "
                "an interrupted build)."
            )
    return ""


def record_findings(record: Mapping[str, Any]) -> tuple[Finding, ...]:
    """The findings that a record holds, as values again."""
    return tuple(
        Finding(**{**entry, "severity": Severity(entry["severity"])})
        for entry in record["findings"]
    )


def counted_sheets(record: Mapping[str, Any]) -> SheetCount:
    """The count that a record holds, as a value again."""
    counted = record["count"]
    terms = {f.name: counted[f.name] for f in fields(SheetCount)}
    terms["other_readings"] = tuple(OtherReading(**entry) for entry in counted["other_readings"])
    terms["documents"] = tuple(DocumentCount(**entry) for entry in counted["documents"])
    return SheetCount(**terms)


def _scans(number: int) -> str:
    return "scan is" if number == 1 else "scans are"
