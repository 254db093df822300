"""The print slip: half a page in Italian that tells a copy shop what to print, and how.

It names no person: who prints it does not need to know.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from packet.model import CopyPlan, Packet
from packet.sheets.typesetting import BOLD, ITALIC, REGULAR, Pen, new_canvas

LEFT, RIGHT = 18.0, 192.0
COL_COPIES, COL_PAGES, COL_ALL = 120.0, 152.0, 192.0


def slip_pdf(packet: Packet, plan: CopyPlan, file_pages: Mapping[str, int]) -> bytes:
    """One A4 page, the upper half used. ``file_pages``: pages of each file to print once."""
    canvas, buffer = new_canvas()
    pen = Pen(canvas)
    pen.text(LEFT, 24, "Foglio di stampa", BOLD, 21)
    pen.text(LEFT, 29.5, "Print slip for the copy shop", ITALIC, 10)
    pen.text_right(RIGHT, 24, plan.mark, BOLD, 21)
    pen.text_right(RIGHT, 29.5, "contrassegno / mark", ITALIC, 7.5)
    pen.line(LEFT, 34, RIGHT, 34, 1.4)
    two_sided = packet.count.copies_printed == "two-sided"
    _how(pen, two_sided)
    y = _table(pen, file_pages, two_sided)
    for italian, english in _notes(packet, plan, two_sided):
        pen.text(LEFT, y, italian, REGULAR, 8.5)
        pen.text(LEFT, y + 3.6, english, ITALIC, 7.5)
        y += 8.6
    canvas.showPage()
    canvas.save()
    return buffer.getvalue()


def _how(pen: Pen, two_sided: bool) -> None:
    columns = (
        ("A4", "carta bianca", "white paper"),
        ("100 %", "nessun adattamento alla pagina", "no fitting to the page"),
        ("solo fronte", "una facciata per foglio", "one-sided"),
    )
    if two_sided:
        sides = ("fronte-retro", "rilegatura sul lato lungo", "two-sided, long edge")
        columns = (*columns[:2], sides)
    for x, (large, italian, english) in zip((LEFT, 58.0, 128.0), columns, strict=True):
        pen.text(x, 45, large, BOLD, 17)
        pen.text(x, 50.5, italian, REGULAR, 9)
        pen.text(x, 54.3, english, ITALIC, 8)


def _table(pen: Pen, file_pages: Mapping[str, int], two_sided: bool) -> float:
    """Draw what to print; the answer is where the next line of text may stand."""
    y = 65.0
    pen.text(LEFT, y, "file", BOLD, 8)
    heads = ((COL_COPIES, "copie", "copies"), (COL_PAGES, "pagine", "pages"))
    for x, italian, english in (*heads, (COL_ALL, "fogli di carta", "sheets of paper")):
        pen.text_right(x, y, italian, BOLD, 8)
        pen.text_right(x, y + 3.3, english, ITALIC, 7)
    y += 5
    pen.line(LEFT, y, RIGHT, y, 0.8)
    for name, pages in file_pages.items():
        _row(pen, y, (name, 1, pages, pages // 2 if two_sided else pages), REGULAR)
        y += 6.6
        pen.line(LEFT, y, RIGHT, y, 0.3)
    pages = sum(file_pages.values())
    total = ("in tutto / in all", len(file_pages), pages, pages // 2 if two_sided else pages)
    _row(pen, y, total, BOLD)
    return y + 14


def _row(pen: Pen, y: float, values: tuple[str, int, int, int], font: str) -> None:
    name, copies, pages, sheets = values
    pen.text(LEFT, y + 4.6, name, font, 10)
    for x, value in ((COL_COPIES, copies), (COL_PAGES, pages), (COL_ALL, sheets)):
        pen.text_right(x, y + 4.6, str(value), font, 10)


def _notes(packet: Packet, plan: CopyPlan, two_sided: bool) -> Iterator[tuple[str, str]]:
    if plan.form is None and not packet.form.copied_by_hand:
        yield (
            "Manca ancora la copia del modulo: stampare i copy-set solo dopo averla aggiunta.",
            "The copy of the form is still missing: print the copy sets only when it is there.",
        )
    if plan.missing:
        yield (
            "Mancano ancora documenti: stampa di prova.",
            "Documents are still missing: a trial print.",
        )
    yield (
        "copy-set-1.pdf e copy-set-2.pdf sono uguali: stampare entrambi, o lo stesso due volte.",
        "copy-set-1.pdf and copy-set-2.pdf are equal: print both, or one of them twice.",
    )
    if two_sided:
        yield (
            "Le pagine vuote nei file sono volute: separano un documento dall’altro.",
            "The empty pages in the files are meant: they keep the documents apart.",
        )
    yield (
        "Sono copie di documenti d’identità: dopo la stampa cancellare i file e i fogli di prova.",
        "These are copies of identity papers: after printing delete the files and trial sheets.",
    )
