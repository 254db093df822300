"""Plain text for the terminal: findings, the count, the recount, the status.

Pure functions from values to text: no colour, and the width is passed in. No text ends with a
newline, an empty text is "".
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from textwrap import fill
from typing import Any

from packet.checks.groups import Group, group_findings, said
from packet.checks.progress import plural
from packet.checks.severity import worst_first
from packet.intake.names import shown
from packet.model import Finding, Recount, Severity
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
    """Findings worst first; those that say the same together, with one remedy."""
    groups = group_findings(findings)
    parts = []
    for severity, (one, many) in _TITLES.items():
        open_ = [g for g in groups if g.first.severity is severity and not g.first.accepted]
        if open_:
            number = sum(len(group.findings) for group in open_)
            blocks = "\n".join(_group(group, width) for group in open_)
            parts.append(f"{plural(number, one, many).upper()}\n{blocks}")
    accepted = [f for group in groups for f in group.findings if f.accepted]
    if accepted:
        lines = [_wrapped(f"{f.subject}  [{f.code}]", width, "  ", hang=2) for f in accepted]
        parts.append("\n".join([f"ACCEPTED BY YOU: {len(accepted)}", *lines]))
    return "\n\n".join(parts)


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
    return f"{line}{f'; {accepted} accepted' if accepted else ''}."


def _group(group: Group, width: int) -> str:
    """One block: where, what, and what to do about it."""
    first = group.first
    if len(group.findings) == 1:
        lines = [
            _wrapped(f"{first.subject}  [{first.code}]", width, "  ", hang=2),
            _wrapped(f"{said(first)}{measure(first)}", width, "    "),
        ]
    else:
        lines = [f"  [{first.code}]  {len(group.findings)} times"]
        if group.message:
            lines.append(_wrapped(group.message, width, "    "))
        for finding in group.findings:
            own = "" if group.message else f": {said(finding)}"
            text = f"{finding.subject}{own}{measure(finding, beside=group.message)}"
            lines.append(_wrapped(text, width, "    ", hang=2))
    if first.remedy:
        lines.append(_wrapped(f"-> {first.remedy}", width, "    ", hang=3))
    if first.source:
        lines.append(_wrapped(f"Source: {first.source}", width, "    "))
    return "\n".join(lines)


def measure(finding: Finding, *, beside: str = "") -> str:
    """`` (measured 181 dpi, limit 200 dpi)``; "" where it is said already or nothing is known.

    ``beside``: the words it stands beside, where they are not the finding's own message.
    """
    if finding.measured is None:
        return ""
    unit = f" {finding.unit}" if finding.unit else ""
    numbers = [number(value) for value in (finding.measured, finding.limit) if value is not None]
    if set(numbers) <= set(re.findall(r"\d+(?:\.\d+)?", beside or finding.message)):
        return ""
    limit = "" if finding.limit is None else f", limit {numbers[1]}{unit}"
    return f" (measured {numbers[0]}{unit}{limit})"


def number(value: float) -> str:
    """A measured value for a reader: at most two decimals, no trailing zeros."""
    return f"{value:.2f}".rstrip("0").rstrip(".")


# --- the count -----------------------------------------------------------------------------


def count_text(
    count: Mapping[str, Any], findings: Iterable[Finding] | None = None, *, width: int = WIDTH
) -> str:
    """The number for the box, its sum term by term, other readings and cautions.

    ``count``: the JSON of ``packet.sheets.count.count_as_json``. ``findings``: those that go
    with it; ``form-leaves-unconfirmed`` among them is said beside the leaves. Without findings
    nothing is said of who counted them.
    """
    box = count_box()
    unconfirmed = None if findings is None else leaves_unconfirmed(findings)
    lines = [f"Box {box.number} (total number of sheets): {count['box']}"]
    lines += ["", *_sum(count, unconfirmed=unconfirmed, width=width)]
    lines += ["", *_documents(count)]
    if count["other_readings"]:
        lines += ["", *_readings(count["other_readings"], width)]
    for caution in _cautions(count, unconfirmed=unconfirmed):
        lines += ["", _wrapped(caution, width, "")]
    return "\n".join(lines)


def leaves_unconfirmed(findings: Iterable[Finding]) -> bool:
    """True when nobody has counted the leaves of the form yet."""
    return any(finding.code == "form-leaves-unconfirmed" for finding in findings)


def sum_terms(
    count: Mapping[str, Any], *, unconfirmed: bool | None
) -> tuple[tuple[str, int, str], ...]:
    """(term, sheets, how known) for every term of the box number; they add up to it.

    ``unconfirmed``: nobody has counted the leaves of the form; None where that is not known.
    """
    leaves = {
        True: "not counted yet: count them in your hand",
        False: "counted by you",
        None: "form_leaves in packet.toml",
    }
    pages = plural(count["envelope_pages"], "page")
    backs = count["blank_backs"]
    two_sided = count["envelope_sheets"] != count["envelope_pages"] or backs
    printed = "two-sided" if two_sided else "one-sided"
    empty = f", {plural(backs, 'empty back')}" if backs else ""
    index, extra = count["index_leaves"], count["extra_leaves"]
    return (
        (
            "leaves of the form",
            count["form_leaves"],
            leaves[unconfirmed],
        ),
        ("sheets of copies", count["envelope_sheets"], f"{pages}{empty}, printed {printed}"),
        ("index", index, "enclosed" if index else "stays out of the envelope"),
        ("extra leaves", extra, "added by you" if extra else "none"),
    )


def too_many(box_number: int) -> str:
    """The warning when the number does not fit the cells of the box; "" when it fits."""
    box = count_box()
    if box_number <= box.largest:
        return ""
    return (
        f"WARNING: {box_number} does not fit. Box {box.number} has {box.cells} cells in the "
        f"list of boxes that is known, so it holds {box.largest} at most: look at your form. To "
        "come below, first put two passport openings on a sheet (openings_per_sheet = 2 under "
        "[passport] in packet.toml), then print the copies two-sided (copies_printed under "
        "[count]); else ask at the post office before you write anything."
    )


def _sum(count: Mapping[str, Any], *, unconfirmed: bool | None, width: int) -> list[str]:
    terms = sum_terms(count, unconfirmed=unconfirmed)
    names = max(len(name) for name, _, _ in terms)
    lines = [
        _wrapped(f"{name:<{names}}  {sheets:>4}   {how}", width, "  ", hang=names + 9)
        for name, sheets, how in terms
    ]
    return [*lines, f"  {'':<{names}}  ----", f"  {'total':<{names}}  {count['box']:>4}"]


def _documents(count: Mapping[str, Any]) -> list[str]:
    if not count["documents"]:
        return ["  No document has a page yet."]
    head = "Copies in the envelope"
    titles = [_title(entry) for entry in count["documents"]]
    names = min(max(len(head), *map(len, titles)), 62)
    lines = [f"  {head:<{names}}  pages  sheets"]
    for entry, title in zip(count["documents"], titles, strict=True):
        lines.append(
            f"  {_short(title, names):<{names}}  {entry['pages']:>5}  {entry['sheets']:>6}"
        )
    return lines


def _title(document: Mapping[str, Any]) -> str:
    """English, which the user reads, then the Italian that stands on the paper."""
    titles = (document.get("title_en"), document["title"])
    return shown(" / ".join(dict.fromkeys(title for title in titles if title)))


def _readings(readings: Sequence[Mapping[str, Any]], width: int) -> list[str]:
    lines = ["  Other readings of the box, met in guides:"]
    for reading in readings:
        name = READINGS.get(reading["reading"], reading["reading"])
        text = f"{name:<14}  {reading['box']:>4}   {reading['why']}"
        lines.append(_wrapped(text, width, "  ", hang=23))
    return lines


def _cautions(count: Mapping[str, Any], *, unconfirmed: bool | None) -> Iterator[str]:
    if too_many(count["box"]):
        yield too_many(count["box"])
    if not count["complete"]:
        yield (
            "NOT FINAL: something is missing or could not be read (packet check says what). "
            "Do not write this number yet."
        )
    if unconfirmed:
        leaves = plural(count["form_leaves"], "leaf", "leaves")
        yield (
            f"NOT CONFIRMED: the form is taken as {leaves}. Count the pieces of paper of the form "
            "in your hand and write the number as form_leaves under [count] in packet.toml."
        )
    yield (
        "Counted in the written envelope.pdf."
        if count["basis"] == "files"
        else "Worked out from the scans: there is no build that agrees with them. Build before "
        "you print."
    )
    yield (
        f"Source: {count_box().source}: the forms and the photocopies of the documents. The paper "
        "form and the office win over this number: ask at the counter if in doubt."
    )


# --- build, recount, status, inspection ----------------------------------------------------


def built_text(record: Mapping[str, Any], out: Path, *, width: int = WIDTH) -> str:
    """What a build wrote, and the number."""
    lines = [f"Written to {shown(str(out))}:"]
    names = max(len(entry["file"]) for entry in record["outputs"])
    for entry in record["outputs"]:
        pages = "" if entry["pages"] is None else plural(entry["pages"], "page")
        lines.append(f"  {entry['file']:<{names}}  {pages}".rstrip())
    lines += ["", f"Box {count_box().number} (total number of sheets): {record['count']['box']}"]
    if not record["complete"]:
        text = "NOT COMPLETE: something is missing or could not be read. Do not use the sets yet."
        lines += ["", _wrapped(text, width, "")]
    text = (
        "Look through review.html before you print: it holds every identity page, keep it private."
    )
    return "\n".join([*lines, "", _wrapped(text, width, "")])


def recount_text(recount: Recount, *, width: int = WIDTH) -> str:
    """Agreement or what differs, then the list to thumb through the paper."""
    if not recount.agrees:
        lines = [f"DO NOT HAND IT OVER: {plural(len(recount.differences), 'difference')}."]
    elif recount.complete:
        lines = ["The files agree: nothing changed since the build."]
    else:
        reasons = plural(len(recount.missing), "reason")
        lines = [f"NOT COMPLETE: do not hand it over yet. {reasons}:"]
    for difference in (*recount.differences, *recount.missing):
        lines += ["", _wrapped(difference.what, width, "  ")]
        if difference.remedy:
            lines.append(_wrapped(f"-> {difference.remedy}", width, "  ", hang=3))
    if recount.box is not None:
        final = "" if recount.complete else " (provisional)"
        lines += ["", f"Box {count_box().number} (total number of sheets): {recount.box}{final}"]
    for note in recount.notes:
        lines += ["", _wrapped(note, width, "")]
    if recount.tick:
        lines += ["", *_tick(recount.tick, width)]
    text = (
        "The tool counts files; the paper is yours to count. Leave the envelope open: the clerk "
        "seals it."
    )
    return "\n".join([*lines, "", _wrapped(text, width, "")])


def _tick(rows: Sequence[tuple[str, int, int]], width: int) -> list[str]:
    names = min(max(len(title) for title, _, _ in rows), 53)
    lines = ["Thumb through the paper and tick:"]
    for title, pages, sheets in rows:
        if not pages and not sheets:
            lines.append(_wrapped(f"MISSING: {title}", width, "  ", hang=4))
            continue
        printed = f"  {plural(pages, 'page')}" if pages != sheets else ""
        name = _short(shown(title), names)
        lines.append(f"  [ ] {name:<{names}}  {plural(sheets, 'sheet'):>9}{printed}")
    return lines


def status_text(done: Sequence[str], following: Sequence[str], *, width: int = WIDTH) -> str:
    """One screen: what is done, then the next steps in order."""
    lines = ["Done"]
    lines += [_wrapped(f"x  {line}", width, "  ", hang=3) for line in done] or ["  nothing yet"]
    lines += ["", "Next"]
    hang = len(f"{len(following)}. ")
    lines += [
        _wrapped(f"{f'{place}.':<{hang}}{line}", width, "  ", hang=hang)
        for place, line in enumerate(following, start=1)
    ]
    return "\n".join(lines)


def inspection_text(answer: Mapping[str, Any], *, width: int = WIDTH) -> str:
    """What `packet inspect` saw in one scan."""
    scan = shown(answer["scan"])
    if "error" in answer:
        return _wrapped(f"{scan}: {answer['error'].removeprefix(f'{scan} ')}", width, "", hang=2)
    lines = [f"{scan}: {plural(len(answer['pages']), 'page')}"]
    lines += [_seen(item, width) for item in answer["items"]] or ["  nothing found"]
    return "\n".join(lines)


def _seen(item: Mapping[str, Any], width: int) -> str:
    w, h = item["size_mm"]
    turn = "turn unsure" if item["turn_deg"] is None else f"turn {item['turn_deg']}°"
    parts = [
        f"page {item['page']}: {item['kind']}",
        f"{number(w)} x {number(h)} mm",
        turn,
        f"skew {number(item['skew_deg'])}°",
        f"{item['dpi']:.0f} dpi",
    ]
    if item["measured_mm"]:
        parts.insert(2, "measured {} x {} mm".format(*map(number, item["measured_mm"])))
    if item["findings"]:
        parts.append(f"findings: {' '.join(item['findings'])}")
    return _wrapped(", ".join(parts), width, "  ", hang=2)


def _short(text: str, width: int) -> str:
    return text if len(text) <= width else f"{text[: width - 1]}…"


def _wrapped(text: str, width: int, indent: str, *, hang: int = 0) -> str:
    """``text`` in lines of ``width``; no control sign of a file name reaches the terminal."""
    return fill(
        shown(text),
        width=max(width, 20),
        initial_indent=indent,
        subsequent_indent=indent + " " * hang,
        break_long_words=False,
        break_on_hyphens=False,
    )
