"""Plain text for the terminal: findings, the count, the recount, the status.

Pure functions from values to text; no colour, no width from the terminal (it is passed in).
Every text ends with a newline; an empty text is "".
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from textwrap import fill

from packet.checks.progress import Status, plural
from packet.checks.severity import worst_first
from packet.model import (
    CountChoice,
    Finding,
    OtherReading,
    Recount,
    Severity,
    SheetCount,
)
from packet.rules.notes import count_box

WIDTH = 80
_TITLES = {
    Severity.ERROR: ("error", "errors"),
    Severity.WARNING: ("warning", "warnings"),
    Severity.NOTE: ("note", "notes"),
}
READINGS = {
    "copies-only": "copies only",
    "form-one-sided": "form one-sided",
    "slip-counted": "slip counted",
}


# --- findings ------------------------------------------------------------------------------


def findings_text(findings: Iterable[Finding], *, width: int = WIDTH) -> str:
    """Findings worst first, those of one severity together, each with its remedy."""
    ordered = worst_first(findings)
    open_ = [finding for finding in ordered if not finding.accepted]
    parts = []
    for severity, (one, many) in _TITLES.items():
        group = [finding for finding in open_ if finding.severity is severity]
        if group:
            blocks = "\n".join(_finding(finding, width) for finding in group)
            parts.append(f"{plural(len(group), one, many).upper()}\n{blocks}")
    accepted = [finding for finding in ordered if finding.accepted]
    if accepted:
        lines = "\n".join(
            _wrapped(f"{finding.subject}: {finding.code}", width, "  ") for finding in accepted
        )
        parts.append(f"ACCEPTED BY YOU: {len(accepted)}\n{lines}")
    return "\n\n".join(parts) + "\n" if parts else ""


def summary_text(findings: Iterable[Finding]) -> str:
    """One line: ``2 errors, 1 warning, 3 notes; 1 accepted.``"""
    findings = worst_first(findings)
    counts = [
        plural(number, *_TITLES[severity])
        for severity in _TITLES
        if (number := sum(f.severity is severity and not f.accepted for f in findings))
    ]
    accepted = sum(finding.accepted for finding in findings)
    line = ", ".join(counts) or "Nothing needs you"
    return f"{line}{f'; {accepted} accepted' if accepted else ''}.\n"


def _finding(finding: Finding, width: int) -> str:
    lines = [
        _wrapped(f"{finding.subject}  [{finding.code}]", width, "  "),
        _wrapped(f"{finding.message}{measure(finding)}", width, "    "),
    ]
    if finding.remedy:
        lines.append(_wrapped(f"-> {finding.remedy}", width, "    ", hang=3))
    if finding.source:
        lines.append(_wrapped(f"Source: {finding.source}", width, "    "))
    return "\n".join(lines)


def measure(finding: Finding) -> str:
    """`` (measured 181 dpi, limit 200 dpi)``, or "" where nothing was measured."""
    if finding.measured is None:
        return ""
    unit = f" {finding.unit}" if finding.unit else ""
    limit = "" if finding.limit is None else f", limit {number(finding.limit)}{unit}"
    return f" (measured {number(finding.measured)}{unit}{limit})"


def number(value: float) -> str:
    """A measured value for a reader: at most two decimals, no trailing zeros."""
    return f"{value:.2f}".rstrip("0").rstrip(".")


# --- the count -----------------------------------------------------------------------------


def count_text(
    count: SheetCount,
    choice: CountChoice,
    *,
    complete: bool,
    basis: str,
    width: int = WIDTH,
) -> str:
    """The number for the box, its sum term by term, other readings and cautions.

    ``basis``: "files" (counted in the written envelope.pdf) or "plan" (worked out anew from
    the scans).
    """
    box = count_box()
    lines = [f"Box {box.number} (total number of sheets): {count.box}", ""]
    lines += _sum(count, choice, width)
    lines += ["", *_documents(count)]
    if count.other_readings:
        lines += ["", *_readings(count.other_readings, width)]
    notes = list(_cautions(count, choice, complete=complete, basis=basis))
    lines += [line for note in notes for line in ("", _wrapped(note, width, ""))]
    return "\n".join(lines) + "\n"


def sum_terms(count: SheetCount, choice: CountChoice) -> tuple[tuple[str, int, str], ...]:
    """(term, sheets, how known) for every term of the box number; they add up to it."""
    leaves = (
        "counted by you"
        if choice.form_leaves_confirmed
        else "not counted yet: count them in your hand"
    )
    pages = plural(count.envelope_pages, "page")
    backs = f", {plural(count.blank_backs, 'empty back')}" if count.blank_backs else ""
    return (
        ("leaves of the form", count.form_leaves, leaves),
        ("sheets of copies", count.envelope_sheets, f"{pages}{backs}, {choice.copies_printed}"),
        (
            "index",
            count.index_leaves,
            "goes into the envelope" if count.index_leaves else "stays out of the envelope",
        ),
        ("extra leaves", count.extra_leaves, "added by you" if count.extra_leaves else "none"),
    )


def too_many(count: SheetCount) -> str:
    """The warning when the number does not fit the cells of the box; "" when it fits."""
    box = count_box()
    if count.box <= box.largest:
        return ""
    return (
        f"WARNING: {count.box} does not fit. Box {box.number} has {box.cells} cells on the copies "
        f"of the form that are known, so {box.largest} is the most it holds: look at your form. "
        "To come below, first put two passport openings on a sheet (openings_per_sheet = 2 under "
        "[passport]), then print the copies two-sided (copies_printed under [count]); else ask "
        "the office before you write anything."
    )


def _sum(count: SheetCount, choice: CountChoice, width: int) -> list[str]:
    terms = sum_terms(count, choice)
    name_width = max(len(name) for name, _, _ in terms)
    lines = [
        _wrapped(f"{name:<{name_width}}  {sheets:>4}   {how}", width, "  ", hang=name_width + 9)
        for name, sheets, how in terms
    ]
    rule = "  " + " " * name_width + "  " + "-" * 4
    return [*lines, rule, f"  {'total':<{name_width}}  {count.box:>4}"]


def _documents(count: SheetCount) -> list[str]:
    if not count.documents:
        return ["  No document has a page yet."]
    titles = [document.title for document in count.documents]
    name_width = min(max(map(len, (*titles, "Document"))), 48)
    lines = [f"  {'Copies in the envelope':<{name_width}}  {'pages':>5}  {'sheets':>6}"]
    for document in count.documents:
        title = _short(document.title, name_width)
        lines.append(f"  {title:<{name_width}}  {document.pages:>5}  {document.sheets:>6}")
    return lines


def _readings(readings: Sequence[OtherReading], width: int) -> list[str]:
    lines = ["  Other readings of the box, met in guides:"]
    for reading in readings:
        name = READINGS.get(reading.reading, reading.reading)
        lines.append(_wrapped(f"{name:<16}{reading.box:>4}   {reading.why}", width, "  ", hang=23))
    return lines


def _cautions(
    count: SheetCount, choice: CountChoice, *, complete: bool, basis: str
) -> Iterator[str]:
    if too_many(count):
        yield too_many(count)
    if not complete:
        yield (
            "NOT FINAL: something is missing or unreadable (packet check says what). "
            "Do not write this number yet."
        )
    if not choice.form_leaves_confirmed:
        yield (
            f"NOT CONFIRMED: the form is taken as {plural(count.form_leaves, 'leaf', 'leaves')}. "
            "Count the pieces of paper of the form in your hand and write the number as "
            "form_leaves under [count] in packet.toml."
        )
    yield (
        "Counted in the written envelope.pdf."
        if basis == "files"
        else "Worked out from the scans: there is no current build. Build, then ask again."
    )
    yield (
        f"Source: {count_box().source}: the forms and the photocopies of the documents. The paper "
        "form and the office win over this number; ask at the counter if in doubt."
    )


# --- recount and status --------------------------------------------------------------------


def recount_text(recount: Recount, *, width: int = WIDTH) -> str:
    """Agreement or what differs, then the list to thumb through the paper."""
    lines: list[str] = []
    box = count_box().number
    if recount.agrees:
        lines.append("The files agree: nothing changed since the build.")
    else:
        lines.append(f"DO NOT HAND IT OVER: {plural(len(recount.differences), 'difference')}.")
        for difference in recount.differences:
            lines += ["", _wrapped(difference.what, width, "  ")]
            if difference.remedy:
                lines.append(_wrapped(f"-> {difference.remedy}", width, "  ", hang=3))
    if recount.box is not None:
        lines += ["", f"Box {box} (total number of sheets): {recount.box}"]
    if recount.tick:
        lines += ["", *_tick(recount)]
    lines += [
        "",
        _wrapped(
            "The tool has counted the files; the paper is yours to count. Leave the envelope "
            "open: the clerk seals it.",
            width,
            "",
        ),
    ]
    return "\n".join(lines) + "\n"


def _tick(recount: Recount) -> list[str]:
    name_width = min(max(len(title) for title, _, _ in recount.tick), 48)
    lines = ["Thumb through the paper and tick:"]
    for title, pages, sheets in recount.tick:
        printed = plural(pages, "page") if pages != sheets else ""
        name = f"{_short(title, name_width):<{name_width}}"
        lines.append(f"  [ ] {name}  {plural(sheets, 'sheet'):>9}  {printed}".rstrip())
    return lines


def status_text(status: Status, *, width: int = WIDTH) -> str:
    """One screen: what is done, then the next steps in order."""
    lines = ["Done"]
    lines += [_wrapped(f"x {line}", width, "  ", hang=2) for line in status.done] or ["  nothing"]
    lines += ["", "Next"]
    lines += [
        _wrapped(f"{place}. {line}", width, "  ", hang=3)
        for place, line in enumerate(status.next, start=1)
    ]
    return "\n".join(lines) + "\n"


def _short(text: str, width: int) -> str:
    return text if len(text) <= width else f"{text[: width - 1]}…"


def _wrapped(text: str, width: int, indent: str, *, hang: int = 0) -> str:
    """``text`` in lines of ``width``; control characters of a file name never reach a terminal."""
    clean = "".join(sign if sign.isprintable() else "\N{REPLACEMENT CHARACTER}" for sign in text)
    return fill(
        clean,
        width=max(width, 20),
        initial_indent=indent,
        subsequent_indent=indent + " " * hang,
        break_long_words=False,
        break_on_hyphens=False,
        drop_whitespace=True,
    )
