"""What a batch says as a whole: the table on the terminal, the printer's plan, CSV and JSON."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Sequence
from datetime import date
from typing import Any

from packet.checks.progress import plural
from packet.intake.names import shown
from packet.model import Finding
from packet.report.batch_rows import STATES, BatchRow, row_json

FORMAT = 1
_COLUMNS = (
    "packet", "state", "box", "copies_printed", "sheets", "files", "missing", "doubtful",
    "next_date", "next_what", "error",
)  # fmt: skip
_NOT_A_FORMULA = ("=", "+", "-", "@", "\t", "\r")


def batch_json(rows: Sequence[BatchRow], today: date) -> bytes:
    """batch.json: the rows, and what the printer needs for all of them."""
    value = {
        "format": FORMAT,
        "today": today.isoformat(),
        "packets": [row_json(row) for row in rows],
        "sheets": sum(row.sheets for row in rows),
    }
    text = json.dumps(value, ensure_ascii=False, sort_keys=True, indent=1)
    return (text + "\n").encode("utf-8", "backslashreplace")


def batch_csv(rows: Sequence[BatchRow]) -> bytes:
    """batch.csv (RFC 4180, UTF-8 with its mark, which spreadsheets look for).

    A text that a spreadsheet would take for a formula gets an apostrophe before it.
    """
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow(_COLUMNS)
    for row in rows:
        writer.writerow([_cell(value) for value in _values(row)])
    return b"\xef\xbb\xbf" + out.getvalue().encode("utf-8", "backslashreplace")


def _values(row: BatchRow) -> tuple[Any, ...]:
    return (
        shown(row.name),
        STATES[row.state],
        row.box,
        row.copies_printed,
        row.sheets or None,
        "; ".join(f"{file.name} {file.pages}" for file in row.files),
        "; ".join(one.subject for one in row.missing),
        "; ".join(f"{one.subject} {one.code}" for one in row.doubtful),
        row.next_day,
        row.next_what,
        row.error,
    )


def _cell(value: Any) -> str:
    text = "" if value is None else str(value)
    return f"'{text}" if text.startswith(_NOT_A_FORMULA) else text


def doubts(findings: Sequence[Finding]) -> str:
    """``3 doubtful`` or "": a number for a narrow column."""
    return str(len(findings)) if findings else "–"


def batch_text(rows: Sequence[BatchRow]) -> str:
    """The table, the plan for the printer, and why packets could not be built."""
    head = ("packet", "state", "box 25", "missing", "doubtful", "next date")
    lines = [
        (
            shown(row.name),
            STATES[row.state],
            "–" if row.box is None else str(row.box),
            doubts(row.missing),
            doubts(row.doubtful),
            "–" if row.next_day is None else row.next_day.isoformat(),
        )
        for row in rows
    ]
    parts = [_table([head, *lines])] if rows else ["Nothing changed since the last build."]
    parts += [f"{shown(row.name)}: {row.error}" for row in rows if row.error]
    printed = [row for row in rows if row.files]
    if printed:
        parts.append(_plan(printed))
    ready = sum(row.state == "ready" for row in rows)
    failed = sum(row.state == "failed" for row in rows)
    parts.append(
        f"{plural(len(rows), 'packet')}: {ready} ready, {len(rows) - ready - failed} need you, "
        f"{failed} could not be built."
    )
    return "\n\n".join(parts)


def _plan(rows: Sequence[BatchRow]) -> str:
    lines = ["TO PRINT (A4, 100 %, each file by itself)"]
    for row in rows:
        files = ", ".join(f"{file.name} {plural(file.sheets, 'sheet')}" for file in row.files)
        careful = "" if row.complete else " NOT COMPLETE: do not print yet."
        lines.append(f"  {shown(row.name)}, {row.copies_printed}: {files}.{careful}")
    lines.append(f"  In all: {plural(sum(row.sheets for row in rows), 'sheet')} of paper.")
    return "\n".join(lines)


def _table(lines: Sequence[Sequence[str]]) -> str:
    widths = [max(len(line[at]) for line in lines) for at in range(len(lines[0]))]
    return "\n".join(
        "  ".join(text.ljust(width) for text, width in zip(line, widths, strict=True)).rstrip()
        for line in lines
    )
