"""batch.html: one table over all packets, one plan for the printer; self-contained, printable.

It loads nothing. The one script sorts the table; its digest stands in the page's content
security policy, so that no other can run, and without it the page is whole, in natural order.
"""

from __future__ import annotations

import hashlib
from base64 import b64encode
from collections.abc import Sequence
from datetime import date

from packet import __version__
from packet.checks.groups import said
from packet.checks.progress import plural
from packet.model import Finding
from packet.report.batch_rows import STATES, BatchRow, PrintFile
from packet.report.markup import name, safe
from packet.report.review_style import STYLE
from packet.rules.notes import count_box

_SORT = """
for (const button of document.querySelectorAll("th button")) {
  button.disabled = false;
  button.addEventListener("click", () => {
    const head = button.closest("th"), body = head.closest("table").tBodies[0];
    const at = head.cellIndex, down = head.getAttribute("aria-sort") === "ascending";
    const key = row => row.cells[at].dataset.key ?? row.cells[at].textContent;
    const rows = [...body.rows].sort((a, b) =>
      key(a).localeCompare(key(b), "en", {numeric: true}) * (down ? -1 : 1));
    for (const other of head.parentNode.cells) other.removeAttribute("aria-sort");
    head.setAttribute("aria-sort", down ? "descending" : "ascending");
    body.append(...rows);
  });
}
"""
_SORT_DIGEST = b64encode(hashlib.sha256(_SORT.encode()).digest()).decode("ascii")
_POLICY = (
    f"default-src 'none'; script-src 'sha256-{_SORT_DIGEST}'; style-src 'unsafe-inline'; "
    "base-uri 'none'; form-action 'none'"
)
_STYLE = """
main > section { display: block; }
.wide { overflow-x: auto; }
table.batch { border-collapse: collapse; width: 100%; font-size: .92rem; }
table.batch th, table.batch td { text-align: left; vertical-align: top;
  padding: .5rem .9rem .5rem 0; border-bottom: .06rem solid var(--line); }
table.batch th[scope=row] { min-width: 8rem; }
table.batch .number { text-align: right; font-variant-numeric: tabular-nums; }
th button { font: inherit; font-weight: 600; color: inherit; background: none; border: 0;
  padding: .3rem 0; margin: 0; text-align: inherit; }
th button:not(:disabled) { cursor: pointer; text-decoration: underline dotted; }
th[aria-sort=ascending] button::after { content: " \\2191"; }
th[aria-sort=descending] button::after { content: " \\2193"; }
.ready { color: var(--accent); } .needs-you { color: var(--warning); }
.failed { color: var(--error); } .state { font-weight: 600; }
td ul li { margin-bottom: .35rem; }
@media print { th button { text-decoration: none; } table.batch tr { break-inside: avoid; } }
"""
_ORDER = {"failed": "0", "needs-you": "1", "ready": "2"}


def batch_html(rows: Sequence[BatchRow], today: date) -> bytes:
    """The page as UTF-8 bytes; the same rows on the same day give the same bytes."""
    ready = sum(row.state == "ready" for row in rows)
    failed = sum(row.state == "failed" for row in rows)
    need = len(rows) - ready - failed
    text = f"""<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="{_POLICY}">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="referrer" content="no-referrer">
<meta name="robots" content="noindex">
<title>{plural(len(rows), "packet")}: {ready} ready</title>
<style>{STYLE}{_STYLE}</style>
</head>
<body>
<a class="skip" href="#packets">Skip to the packets</a>
<div class="page">
<header>
<p class="mark">On {today.isoformat()}</p>
<h1>{plural(len(rows), "packet")}: {ready} ready, {need} need you, {failed} could not be built</h1>
<div class="private" role="note"><p><strong>Private.</strong> It names your packets and what each
of them lacks. Keep it where the packets are.</p></div>
</header>
<main>
<section id="packets" aria-labelledby="packets-title" tabindex="-1">
<h2 id="packets-title">Packets</h2>
{_packets(rows)}
</section>
<section id="print" aria-labelledby="print-title" tabindex="-1">
<h2 id="print-title">For the printer</h2>
{_plan([row for row in rows if row.files])}
</section>
</main>
<footer><p>The office's own instructions come first: this page is not legal advice. The sheets of
the envelope set are in the number of the box; the copy sets are not.</p>
<p>Made by packet {safe(__version__)}.</p></footer>
</div>
<script>{_SORT}</script>
</body>
</html>
"""
    return text.encode("utf-8", "backslashreplace")


def _packets(rows: Sequence[BatchRow]) -> str:
    if not rows:
        return "<p>Nothing changed since the last build.</p>"
    titles = (
        ("Packet", ""),
        ("State", ""),
        (f"Box {count_box().number}", ' class="number"'),
        ("Sheets to print", ' class="number"'),
        ("Missing", ""),
        ("Doubtful", ""),
        ("Next date", ""),
    )
    heads = "".join(
        f'<th scope="col"{kind}><button type="button" disabled>{safe(title)}</button></th>'
        for title, kind in titles
    )
    body = "\n".join(map(_row, rows))
    return f"""<div class="wide" role="region" aria-labelledby="packets-title" tabindex="0">
<table class="batch"><thead><tr>{heads}</tr></thead>
<tbody>
{body}
</tbody></table></div>"""


def _row(row: BatchRow) -> str:
    day = "" if row.next_day is None else row.next_day.isoformat()
    when = f'<time datetime="{day}">{day}</time><br>{safe(row.next_what)}' if day else "–"
    doubtful = _list(row.doubtful)
    if row.error:
        doubtful = f"<p>{safe(row.error)}</p>{doubtful if row.doubtful else ''}"
    return (
        f'<tr><th scope="row">{name(row.name)}</th>'
        f'<td class="state {row.state}" data-key="{_ORDER[row.state]}">{STATES[row.state]}</td>'
        f'<td class="number">{"–" if row.box is None else row.box}</td>'
        f'<td class="number">{row.sheets or "–"}</td>'
        f'<td data-key="{len(row.missing)}">{_list(row.missing)}</td>'
        f'<td data-key="{len(row.doubtful) + bool(row.error)}">{doubtful}</td>'
        f'<td data-key="{day or "9999"}">{when}</td></tr>'
    )


def _list(findings: Sequence[Finding]) -> str:
    if not findings:
        return "–"
    lines = "".join(f"<li>{name(one.subject)}: {safe(said(one))}</li>" for one in findings)
    return f'<ul role="list">{lines}</ul>'


def _file(file: PrintFile) -> str:
    return f"{safe(file.name)} ({plural(file.sheets, 'sheet')})"


def _plan(rows: Sequence[BatchRow]) -> str:
    if not rows:
        return "<p>There is nothing to print.</p>"
    body = "\n".join(
        f'<tr><th scope="row">{name(row.name)}</th>'
        f"<td>{safe(row.copies_printed)}</td>"
        f"<td>{'; '.join(map(_file, row.files))}</td>"
        f'<td class="number">{row.sheets}</td>'
        f"<td>{'' if row.complete else 'Not complete: do not print yet.'}</td></tr>"
        for row in rows
    )
    total = sum(row.sheets for row in rows)
    return f"""<p>A4, at 100 %, each file by itself. Never two packets in one run: a page of
one person must not get into the envelope of another.</p>
<div class="wide" role="region" aria-labelledby="print-title" tabindex="0">
<table class="batch"><thead><tr><th scope="col">Packet</th><th scope="col">Printed</th>
<th scope="col">Files</th><th scope="col" class="number">Sheets</th><th scope="col">Note</th></tr>
</thead><tbody>
{body}
</tbody><tfoot><tr><th scope="row">In all</th><td></td><td></td>
<td class="number">{total}</td><td></td></tr></tfoot></table></div>"""
