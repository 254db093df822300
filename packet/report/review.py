"""The review page: one self-contained HTML file to look through before anything is printed.

It holds pictures of every identity page, so it says at its head that it is private. It loads
nothing, runs nothing and links nowhere: pictures are data URIs, styles are inline, and its
content security policy forbids everything else. Every text from outside is escaped.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from packet import __version__
from packet.checks.groups import Group, group_findings, said
from packet.checks.progress import plural
from packet.checks.severity import worst_first
from packet.intake.names import shown
from packet.model import (
    CopyPlan,
    DocumentPages,
    DocumentSpec,
    Finding,
    Packet,
    PageResult,
    SheetCount,
)
from packet.report.markup import italian, name, safe
from packet.report.review_sheets import (
    Shelf,
    document_section,
    set_aside_section,
    sheet_id,
)
from packet.report.review_style import STYLE
from packet.report.text import READINGS, measure, sum_terms, too_many
from packet.rules.notes import count_box
from packet.sheets.count import count_as_json

_POLICY = (
    "default-src 'none'; img-src data:; style-src 'unsafe-inline'; base-uri 'none'; "
    "form-action 'none'"
)
_UNREAD = frozenset({"unreadable", "not-a-scan"})
_MARKS = {"error": "Error", "warning": "Warning", "note": "Note", "accepted": "Accepted"}


@dataclass(frozen=True, slots=True, kw_only=True)
class ReviewInput:
    """All that the page shows.

    ``pages``: every scan page with its small preview, in reading order. Items of ``pages`` that
    ``plan`` places nowhere are shown as left out; an item without a preview is drawn as an empty
    outline. ``findings``: all of them, accepted ones too.
    """

    packet: Packet
    plan: CopyPlan
    pages: tuple[PageResult, ...]
    count: SheetCount
    findings: tuple[Finding, ...]
    complete: bool


def review_pieces(view: ReviewInput) -> Iterator[str]:
    """The page in pieces, one after another, for a file: not all pictures are in memory at once.

    The same input gives the same text.
    """
    return _Page(view).pieces()


class _Page:
    """One page while it is put together: the input, and the anchors that its parts share."""

    def __init__(self, view: ReviewInput) -> None:
        self.view = view
        self.findings = worst_first(view.findings)
        self.sections = tuple(_sections(view.plan))
        self.anchors = _anchors(self.sections)
        self.shelf = Shelf(
            sources={(page.scan, page.page): page for page in view.pages},
            notes=_notes(self.findings),
        )

    def pieces(self) -> Iterator[str]:
        set_aside = self._set_aside()
        yield self._start("set-aside" if set_aside else "")
        for part in (self._number(), self._missing(), self._findings()):
            if part:
                yield f"{part}\n"
        for anchor, document, form in self.sections:
            yield from document_section(document, self.shelf, anchor, form=form)
        if set_aside:
            yield f"{set_aside}\n"
        yield f"""</main>
{self._foot()}
</div>
</body>
</html>
"""

    def _start(self, aside: str) -> str:
        return f"""<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="{_POLICY}">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="referrer" content="no-referrer">
<meta name="robots" content="noindex">
<title>Review of packet {safe(self.view.plan.mark)}</title>
<style>{STYLE}</style>
</head>
<body>
<a class="skip" href="#number">Skip to the number</a>
<div class="page">
{self._head()}
{self._contents(aside)}
<main>
"""

    @cached_property
    def count(self) -> dict[str, Any]:
        return count_as_json(self.view.count, complete=self.view.complete, basis="files")

    @property
    def unconfirmed(self) -> bool:
        return not self.view.packet.count.form_leaves_confirmed

    # --- head and foot ---------------------------------------------------------------------

    def _head(self) -> str:
        rules = self.view.packet.rule_set
        alarm = ""
        if not self.view.complete:
            alarm = """
<div class="alarm" role="note"><p><strong>Not complete.</strong> Something is missing or could not
be read. Do not print it for the envelope and do not write the number yet.</p></div>"""
        return f"""<header>
<p class="mark">Packet {safe(self.view.plan.mark)}</p>
<h1>Look through it before you print</h1>
<p>{safe(rules.title_en)}<br>{italian(rules.title_it)}</p>
<div class="private" role="note"><p><strong>Private.</strong> This page holds a picture of every
identity page. Keep it on your own device, send it to nobody, delete it after the
appointment.</p></div>{alarm}
</header>"""

    def _contents(self, aside: str) -> str:
        links = [("number", "The number")]
        if self.view.plan.missing:
            links.append(("missing", "Missing"))
        if self.findings:
            links.append(("findings", f"Findings ({len(self.findings)})"))
        links += [(anchor, document.spec.title_en) for anchor, document, _ in self.sections]
        if aside:
            links.append((aside, "Not printed"))
        listed = "".join(f'<li><a href="#{anchor}">{safe(text)}</a></li>' for anchor, text in links)
        return f'<nav aria-label="Contents"><ul role="list">{listed}</ul></nav>'

    def _foot(self) -> str:
        rules = self.view.packet.rule_set
        return f"""<footer>
<p>Rules: {safe(rules.name)}, as of {rules.as_of.isoformat()}. {safe(rules.source)}</p>
<p>Rules and amounts change and differ from office to office: the paper form, the post office and
the police office win over this page. It is not legal advice.</p>
<p>Made by packet {safe(__version__)}.</p>
</footer>"""

    # --- the number ------------------------------------------------------------------------

    def _number(self) -> str:
        count = self.view.count
        box = count_box()
        digits = str(count.box).rjust(box.cells)
        over = " over" if count.box > box.largest else ""
        cells = "".join(f"<span>{digit.strip()}</span>" for digit in digits)
        provisional = "" if self.view.complete else '<p class="provisional">provisional</p>'
        rows = "\n".join(
            f'<tr><th scope="row">{safe(term)}</th><td class="number">{sheets}</td>'
            f'<td class="quiet">{safe(how)}</td></tr>'
            for term, sheets, how in sum_terms(self.count, unconfirmed=self.unconfirmed)
        )
        return f"""<section id="number" aria-labelledby="number-title" tabindex="-1">
<header><h2 id="number-title">Box {box.number}, total number of sheets: {count.box}</h2>
<p lang="it" class="label">{safe(box.label_it)}</p></header>
<div>{self._number_alarms()}
<div class="sum">
<div><div class="cells{over}" aria-hidden="true">{cells}</div>{provisional}</div>
<table><caption class="label">How the number adds up</caption>
<thead><tr><th scope="col">Term</th><th scope="col" class="number">Sheets</th>
<th scope="col">How it is known</th></tr></thead>
<tbody>
{rows}
</tbody>
<tfoot><tr><th scope="row">Total</th><td class="number">{count.box}</td><td></td></tr></tfoot>
</table></div>
{self._readings()}
<p class="label">Source: {safe(box.source)}: the forms and the photocopies of the documents. Two
more sets, for your own file and for the appointment, are never in this number.</p>
</div></section>"""

    def _number_alarms(self) -> str:
        alarms = [too_many(self.view.count.box)]
        if self.unconfirmed:
            leaves = plural(self.view.count.form_leaves, "leaf", "leaves")
            alarms.append(
                f"Not confirmed: the form is taken as {leaves}. Count the pieces of paper of the "
                "form in your hand and write the number as form_leaves in packet.toml."
            )
        lines = "".join(f"<p>{safe(alarm)}</p>" for alarm in alarms if alarm)
        return f'<div class="alarm" role="note">{lines}</div>' if lines else ""

    def _readings(self) -> str:
        readings = self.view.count.other_readings
        if not readings:
            return ""
        rows = "\n".join(
            f'<tr><th scope="row">{safe(READINGS[reading.reading])}</th>'
            f'<td class="number">{reading.box}</td><td class="quiet">{safe(reading.why)}</td></tr>'
            for reading in readings
        )
        return f"""<table class="readings"><caption class="label">What other
readings of the box, met in guides, would give</caption>
<thead><tr><th scope="col">Reading</th><th scope="col" class="number">Sheets</th>
<th scope="col">Why</th></tr></thead>
<tbody>
{rows}
</tbody></table>"""

    # --- missing and findings --------------------------------------------------------------

    def _missing(self) -> str:
        if not self.view.plan.missing:
            return ""
        listed = "\n".join(
            f"<li>{_both(spec)}: "
            f"{'required' if spec.need == 'required' else 'wanted if you hold it'}; "
            f"folder {name(spec.folder)}</li>"
            for spec in self.view.plan.missing
        )
        return f"""<section id="missing" aria-labelledby="missing-title" tabindex="-1">
<header><h2 id="missing-title">Missing</h2></header>
<ul class="plain" role="list">
{listed}
</ul>
</section>"""

    def _findings(self) -> str:
        if not self.findings:
            return ""
        listed = "\n".join(self._group(group) for group in group_findings(self.findings))
        return f"""<section id="findings" aria-labelledby="findings-title" tabindex="-1">
<header><h2 id="findings-title">Findings</h2><p class="label">Worst first</p></header>
<ol class="findings" role="list">
{listed}
</ol>
</section>"""

    def _group(self, group: Group) -> str:
        """What, where, what to do: one entry for findings that say the same."""
        first = group.first
        mark = _mark(first)
        places = "".join(self._place(finding, group.message) for finding in group.findings)
        message = f"<p>{safe(group.message)}</p>" if group.message else ""
        remedy = f'<p class="remedy">{safe(first.remedy)}</p>' if first.remedy else ""
        source = f'<p class="label">Source: {safe(first.source)}</p>' if first.source else ""
        return f"""<li><span class="{mark} tag">{_MARKS[mark]}</span>
<div>{message}<ul role="list">{places}</ul>{remedy}{source}</div></li>"""

    def _place(self, finding: Finding, message: str) -> str:
        """The thing that a finding is about, with what is true of it alone."""
        number = self.findings.index(finding) + 1
        subject = name(finding.subject)
        anchor = self.anchors.get(shown(finding.subject))
        if anchor:
            subject = f'<a href="#{anchor}">{subject}</a>'
        own = "" if message else f": {said(finding)}"
        own += measure(finding, beside=message)
        return f'<li id="finding-{number}" tabindex="-1">{subject}{safe(own)}</li>'

    def _set_aside(self) -> str:
        unread = [
            f'<strong>{name(finding.subject)}</strong>: <a href="#finding-{number}">'
            f"{safe(said(finding))}</a>"
            for number, finding in enumerate(self.findings, start=1)
            if finding.code in _UNREAD
        ]
        return set_aside_section(self.shelf, _printed(self.sections), unread)


def _both(spec: DocumentSpec) -> str:
    """English, and the Italian in brackets where it says something else."""
    if spec.title_en == spec.title_it:
        return safe(spec.title_en)
    return f"{safe(spec.title_en)} ({italian(spec.title_it)})"


Section = tuple[str, DocumentPages, bool]


def _sections(plan: CopyPlan) -> Iterator[Section]:
    """(anchor, document, is the form) in the order of the page: the form last."""
    for number, document in enumerate(plan.documents, start=1):
        yield f"document-{number}", document, False
    if plan.form is not None:
        yield "form", plan.form, True


def _anchors(sections: tuple[Section, ...]) -> dict[str, str]:
    """Subject of a finding -> the anchor that shows it; an item, its page, its scan, a folder."""
    anchors: dict[str, str] = {}
    for anchor, document, form in sections:
        anchors.setdefault(f"{document.spec.folder}/", anchor)
        for page in document.pages:
            place = sheet_id(page, form=form)
            for item in (placement.item for placement in page.placements):
                for subject in (item.subject, f"{item.scan}#{item.page}", item.scan):
                    anchors.setdefault(shown(subject), place)
    return anchors


def _notes(findings: tuple[Finding, ...]) -> dict[str, tuple[str, ...]]:
    """Subject -> links to the findings about it."""
    notes: dict[str, tuple[str, ...]] = {}
    for number, finding in enumerate(findings, start=1):
        mark = _mark(finding)
        link = (
            f'<a class="{mark} tag" href="#finding-{number}">{_MARKS[mark]}: '
            f"{safe(finding.code)}</a>"
        )
        subject = shown(finding.subject)
        notes[subject] = (*notes.get(subject, ()), link)
    return notes


def _printed(sections: tuple[Section, ...]) -> frozenset[str]:
    return frozenset(
        placement.item.subject
        for _, document, _ in sections
        for page in document.pages
        for placement in page.placements
    )


def _mark(finding: Finding) -> str:
    return "accepted" if finding.accepted else finding.severity.value
