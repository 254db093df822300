"""The print slip: half a page in Italian that tells a copy shop what to print, and how.

It names no person: who prints it does not need to know.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from packet.model import CopyPlan, Packet
from packet.sheets.typesetting import BOLD, ITALIC, REGULAR, Pen, new_canvas

LEFT, RIGHT = 18.0, 192.0
COL_COPIES, COL_PAGES, COL_ALL = 120.0, 152.0, 192.0


def slip_pdf(packet: Packet, plan: CopyPlan, file_pages: Mapping[str, int]) -> bytes:
    """One A4 page, the upper half used. ``file_pages``: pages of each file to print once."""
    canvas, buffer = new_canvas()
    pen = Pen(canvas)
    pen.text(LEFT, 24, "Istruzioni per la stampa", BOLD, 21)
    pen.text(LEFT, 29.5, "Print slip for the copy shop", ITALIC, 10)
    pen.text_right(RIGHT, 24, plan.mark, BOLD, 21)
    pen.text_right(RIGHT, 29.5, "sigla del fascicolo / mark", ITALIC, 7.5)
    pen.line(LEFT, 34, RIGHT, 34, 1.4)
    two_sided = packet.count.copies_printed == "two-sided"
    _how(pen, two_sided, colour=_in_colour(plan))
    now = _print_now(packet, plan, file_pages)
    y = _table(pen, file_pages, now, two_sided)
    for italian, english in _notes(packet, plan, two_sided):
        pen.text(LEFT, y, italian, REGULAR, 8.5)
        pen.text(LEFT, y + 3.6, english, ITALIC, 7.5)
        y += 8.6
    canvas.showPage()
    canvas.save()
    return buffer.getvalue()


def _form_missing(packet: Packet, plan: CopyPlan) -> bool:
    return plan.form is None and not packet.form.copied_by_hand


def _print_now(packet: Packet, plan: CopyPlan, file_pages: Mapping[str, int]) -> tuple[str, ...]:
    """The files to print: the copy sets only when the copy of the form is in them."""
    return tuple(file_pages)[:1] if _form_missing(packet, plan) else tuple(file_pages)


def _in_colour(plan: CopyPlan) -> bool:
    documents = (*plan.documents, *((plan.form,) if plan.form else ()))
    return any(
        placement.item.tone == "colour"
        for document in documents
        for page in document.pages
        for placement in page.placements
    )


def _how(pen: Pen, two_sided: bool, *, colour: bool) -> None:
    ink = ("bianco e nero", "scala di grigi", "black and white (greyscale)")
    if colour:
        ink = ("a colori", "dove il file ha colori", "in colour, where the file has it")
    columns = (
        ("A4", "carta bianca", "white paper"),
        ("100 %", "senza adattamento alla pagina", "no fitting to the page"),
        ("solo fronte", "una facciata per foglio", "one-sided"),
    )
    if two_sided:
        sides = ("fronte-retro", "rilegatura sul lato lungo", "two-sided, long edge")
        columns = (*columns[:2], sides)
    for x, (large, italian, english) in zip(
        (LEFT, 46.0, 100.0, 146.0), (*columns, ink), strict=True
    ):
        pen.text(x, 45, large, BOLD, 17)
        pen.text(x, 50.5, italian, REGULAR, 9)
        pen.text(x, 54.3, english, ITALIC, 8)


def _table(pen: Pen, file_pages: Mapping[str, int], now: Sequence[str], two_sided: bool) -> float:
    """Draw what to print; the answer is where the next line of text may stand.

    A file that is not among ``now`` is listed with dashes and is not in the total.
    """
    y = 65.0
    pen.text(LEFT, y, "file", BOLD, 8)
    heads = ((COL_COPIES, "copie", "copies"), (COL_PAGES, "pagine", "pages"))
    for x, italian, english in (*heads, (COL_ALL, "fogli di carta", "sheets of paper")):
        pen.text_right(x, y, italian, BOLD, 8)
        pen.text_right(x, y + 3.3, english, ITALIC, 7)
    y += 5
    pen.line(LEFT, y, RIGHT, y, 0.8)
    for name, pages in file_pages.items():
        numbers = (1, pages, pages // 2 if two_sided else pages)
        _row(pen, y, name, numbers if name in now else None, REGULAR)
        y += 6.6
        pen.line(LEFT, y, RIGHT, y, 0.3)
    pages = sum(file_pages[name] for name in now)
    total = (len(now), pages, pages // 2 if two_sided else pages)
    _row(pen, y, "totale / in all", total, BOLD)
    return y + 14


def _row(pen: Pen, y: float, name: str, numbers: tuple[int, int, int] | None, font: str) -> None:
    """``numbers``: copies, pages, sheets; None: not to be printed now."""
    pen.text(LEFT, y + 4.6, name, font, 10)
    for x, value in zip((COL_COPIES, COL_PAGES, COL_ALL), numbers or "–––", strict=True):
        pen.text_right(x, y + 4.6, str(value), font, 10)


def _notes(packet: Packet, plan: CopyPlan, two_sided: bool) -> Iterator[tuple[str, str]]:
    if _form_missing(packet, plan):
        yield (
            "Manca ancora la copia del modulo: stampare copy-set-1.pdf e copy-set-2.pdf solo "
            "dopo averla aggiunta.",
            "The copy of the form is still missing: print the two copy sets only when it is there.",
        )
    if plan.missing:
        yield (
            "Mancano ancora documenti: stampa di prova.",
            "Documents are still missing: a trial print.",
        )
    yield (
        "copy-set-1.pdf e copy-set-2.pdf sono uguali: stamparli entrambi, oppure stamparne uno "
        "due volte.",
        "copy-set-1.pdf and copy-set-2.pdf are equal: print both, or one of them twice.",
    )
    if two_sided:
        yield (
            "Le pagine bianche nei file sono intenzionali: separano un documento dall’altro.",
            "The empty pages in the files are meant: they keep the documents apart.",
        )
    yield (
        "Sono copie di documenti d’identità: dopo la stampa cancellare i file e le stampe di "
        "prova.",
        "These are copies of identity papers: after printing delete the files and trial sheets.",
    )
