"""How the index looks: a column of blocks that flows down the page, and on to a second one.

Millimetres from the top-left corner. Each block knows its height before it is drawn, so the
number of pages is known without drawing.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from packet.model import Applicant
from packet.rules.notes import count_box
from packet.sheets.cover import IndexPage, IndexRow, english_beside
from packet.sheets.flow import LEFT, RIGHT, WIDTH, Block, Page, flow
from packet.sheets.footers import BASELINE_MM, POINT
from packet.sheets.typesetting import BOLD, ITALIC, REGULAR, Pen, new_canvas, width_pt, wrap
from packet.units import mm_to_pt, pt_to_mm

HALF = 82.0  # the width of one of two columns
COLUMN_2 = RIGHT - HALF

# Columns of the table: where each begins or, for numbers, ends.
COL_TITLE = LEFT + 8
COL_PAGES = 122.0
COL_SHEETS = 136.0
COL_RANGE = 157.0
COL_COPIES = 177.0
TICK = 4.0
TITLE_WIDTH = 80.0


def pages_needed(index: IndexPage) -> int:
    """Pages that the index takes."""
    return len(_flow(index))


def draw(index: IndexPage) -> bytes:
    """The index as a PDF."""
    canvas, buffer = new_canvas()
    pages = _flow(index)
    for number, page in enumerate(pages, start=1):
        pen = Pen(canvas)
        page.draw(pen)
        pen.text(LEFT, 297 - BASELINE_MM, f"Indice{POINT}pagina {number} di {len(pages)}", size=8.5)
        canvas.showPage()
    canvas.save()
    return buffer.getvalue()


def _flow(index: IndexPage) -> list[Page]:
    return flow(_blocks(index), _table_heading())


def _blocks(index: IndexPage) -> Iterator[Block]:
    yield _title(index)
    yield _who_and_what(index)
    yield from _notices(index)
    yield _table_heading()
    *rows, last = index.rows
    for row in rows:
        yield _row(row)
    yield replace(_row(last), heading=True)
    yield _totals_row(index)
    yield _totals(index)
    yield _ruler()
    yield _cautions(index)


def _wrapped(text: str, font: str, size: float, width_mm: float) -> tuple[str, ...]:
    return wrap(text, font, size, mm_to_pt(width_mm))


# --- head ----------------------------------------------------------------------------------


def _title(index: IndexPage) -> Block:
    if index.enclosed:
        title, english = "Copie dei documenti nella busta", "Copies of the documents, enclosed"
    else:
        title, english = "Copia completa della domanda", "Complete copy of the application"
    rules = index.packet.rule_set
    italian = _wrapped(rules.title_it, REGULAR, 10.5, WIDTH)
    beneath = _wrapped(rules.title_en, ITALIC, 8.5, WIDTH)
    names_y = 20.0
    height = names_y + 5 * len(italian) + 4 * len(beneath) + 2

    def draw_it(pen: Pen, y: float) -> None:
        pen.text(LEFT, y + 6, title, BOLD, 21)
        pen.text(LEFT, y + 11.5, english, ITALIC, 10)
        pen.text_right(RIGHT, y + 6, index.plan.mark, BOLD, 21)
        pen.text_right(RIGHT, y + 11.5, "sigla del fascicolo / mark", ITALIC, 7.5)
        pen.lines(LEFT, y + names_y, italian, REGULAR, 10.5, step=5)
        pen.lines(LEFT, y + names_y - 0.6 + 5 * len(italian), beneath, ITALIC, 8.5, step=4)
        pen.line(LEFT, y + height - 2, RIGHT, y + height - 2, 1.4)

    return Block(height=height, draw=draw_it)


def _who_and_what(index: IndexPage) -> Block:
    applicant = index.packet.applicant
    names = _name_lines(applicant)
    citizen = ""
    if applicant.citizenship:
        citizen = f"cittadinanza / citizenship: {applicant.citizenship}"
    beneath = _wrapped(citizen, REGULAR, 8.5, HALF) if citizen else ()
    height = max(11 + 5.4 * len(names) + 4 * len(beneath), 26.5) + 2.5

    def draw_it(pen: Pen, y: float) -> None:
        pen.text(LEFT, y + 5, "Richiedente / Applicant", REGULAR, 7.5)
        pen.lines(LEFT, y + 11.2, names, BOLD, 12.5, step=5.4)
        pen.lines(LEFT, y + 11.2 + 5.4 * len(names), beneath, REGULAR, 8.5, step=4)
        _purpose(pen, y, index)

    return Block(height=height, draw=draw_it)


def _name_lines(applicant: Applicant) -> tuple[str, ...]:
    parts = [part for part in (applicant.surname, applicant.given_names) if part]
    lines = tuple(line for part in parts for line in _wrapped(part, BOLD, 12.5, HALF))
    return lines or ("…",)


def _purpose(pen: Pen, y: float, index: IndexPage) -> None:
    if index.enclosed:
        pen.text(COLUMN_2, y + 5, "Destinazione / Where it goes", REGULAR, 7.5)
        pen.text(COLUMN_2, y + 11.2, "nella busta, con il modulo originale firmato", REGULAR, 10)
        pen.text(COLUMN_2, y + 15, "in the envelope, with the signed original form", ITALIC, 8)
        if not index.complete:  # here, not as a notice: the page count must not depend on it
            pen.text(COLUMN_2, y + 22, "INCOMPLETA / INCOMPLETE", BOLD, 12.5)
        return
    pen.text(COLUMN_2, y + 5, "Questa copia è per / This copy is for", REGULAR, 7.5)
    choices = (
        ("appuntamento in questura", "appointment at the police office"),
        ("copia per il richiedente", "own file"),
    )
    for number, (italian, english) in enumerate(choices):
        top = y + 8 + number * 9.5
        pen.box(COLUMN_2 + 0.15, top, TICK, TICK)
        pen.text(COLUMN_2 + 7, top + 3.3, italian, REGULAR, 10)
        pen.text(COLUMN_2 + 7, top + 7, english, ITALIC, 8)


# --- what is missing -----------------------------------------------------------------------


def _notices(index: IndexPage) -> Iterator[Block]:
    if index.form_missing:
        yield _notice(
            "MANCA LA COPIA DEL MODULO",
            ("The copy of the form is missing: scan the signed form, then build again.",),
        )
    missing = [
        " / ".join(filter(None, (spec.title_it, english_beside(spec))))
        for spec in index.plan.missing
    ]
    if missing:
        many = len(missing) > 1
        loud = f"MANCANO {len(missing)} DOCUMENTI" if many else "MANCA UN DOCUMENTO"
        english = "Documents that are missing" if many else "One document is missing"
        yield _notice(loud, (f"{english}:", *(f"–  {line}" for line in missing)))
    if not index.complete and not missing and not index.enclosed:
        yield _notice(
            "COPIA INCOMPLETA",
            ("Incomplete: a scan could not be read or a side is missing. See the review page.",),
        )


def _notice(loud: str, lines: Sequence[str]) -> Block:
    wrapped = [part for line in lines for part in _wrapped(line, REGULAR, 9, WIDTH - 10)]
    inside = 9.5 + 4.4 * len(wrapped) + 1.5

    def draw_it(pen: Pen, y: float) -> None:
        pen.box(LEFT, y, WIDTH, inside, 1.6)
        pen.text(LEFT + 5, y + 7.2, loud, BOLD, 15)
        pen.lines(LEFT + 5, y + 12.2, wrapped, REGULAR, 9, step=4.4)

    return Block(height=inside + 4, draw=draw_it)


# --- table ---------------------------------------------------------------------------------


def _table_heading() -> Block:
    heads = (
        (COL_PAGES, "pagine", "printed sides"),
        (COL_SHEETS, "fogli", "sheets"),
        (COL_RANGE, "fogli dal–al", "sheets from–to"),
        (COL_COPIES, "copie nn.", "copy no."),
        (RIGHT, "contati", "counted"),
    )

    def draw_it(pen: Pen, y: float) -> None:
        pen.text(COL_TITLE, y + 4, "documento", BOLD, 7.5)
        pen.text(COL_TITLE, y + 7.3, "document", ITALIC, 7)
        for x, italian, english in heads:
            pen.text_right(x, y + 4, italian, BOLD, 7.5)
            pen.text_right(x, y + 7.3, english, ITALIC, 7)
        pen.line(LEFT, y + 9, RIGHT, y + 9, 0.8)

    return Block(height=9, draw=draw_it, heading=True)


def _row(row: IndexRow) -> Block:
    """Both titles on one line where they fit, else one under the other, each in lines."""
    gap = 2.2
    taken = pt_to_mm(width_pt(row.title_it, REGULAR, 9.5)) + gap
    beside = taken + pt_to_mm(width_pt(row.title_en, ITALIC, 8)) <= TITLE_WIDTH
    italian = _wrapped(row.title_it, REGULAR, 9.5, TITLE_WIDTH)
    english = () if beside else _wrapped(row.title_en, ITALIC, 8, TITLE_WIDTH)
    height = 2.4 + 4.1 * len(italian) + 3.5 * len(english)

    def draw_it(pen: Pen, y: float) -> None:
        first = y + 4.5
        pen.text(LEFT, first, row.number, REGULAR, 9.5)
        pen.lines(COL_TITLE, first, italian, REGULAR, 9.5, step=4.1)
        if beside:
            pen.text(COL_TITLE + taken, first, row.title_en, ITALIC, 8)
        pen.lines(COL_TITLE, first - 0.4 + 4.1 * len(italian), english, ITALIC, 8, step=3.5)
        pen.text_right(COL_PAGES, first, row.pages_shown, REGULAR, 9.5)
        pen.text_right(COL_SHEETS, first, row.sheets_shown, REGULAR, 9.5)
        pen.text_right(COL_RANGE, first, row.sheets_range, REGULAR, 9.5)
        pen.text_right(COL_COPIES, first, row.copies, REGULAR, 9.5 if row.enclosed else 7.5)
        pen.box(RIGHT - TICK - 0.15, y + (height - TICK) / 2, TICK, TICK)
        pen.line(LEFT, y + height, RIGHT, y + height, 0.3)

    return Block(height=height, draw=draw_it, row=True)


def _totals_row(index: IndexPage) -> Block:
    def draw_it(pen: Pen, y: float) -> None:
        pen.text(COL_TITLE, y + 5, "totale / in all", BOLD, 9.5)
        pen.text_right(COL_PAGES, y + 5, str(index.sides), BOLD, 9.5)
        pen.text_right(COL_SHEETS, y + 5, str(index.sheets), BOLD, 9.5)

    return Block(height=13, draw=draw_it, row=True)


# --- totals, rule, cautions ----------------------------------------------------------------


def _totals(index: IndexPage) -> Block:
    count, box = index.count, count_box().number
    star = "" if index.packet.count.form_leaves_confirmed else " *"
    box_terms = (
        (f"modulo originale / original form{star}", count.form_leaves),
        ("copie dei documenti / copies of documents", count.envelope_sheets),
        ("indice / index", count.index_leaves),
        ("altri fogli / other sheets", count.extra_leaves),
    )
    heads = ("Facciate stampate in questa copia", "Printed sides in this set")
    if index.enclosed:
        heads = ("Facciate stampate, modulo escluso", "Printed sides, without the form")
    final = "" if index.complete else "provvisorio / provisional"
    in_box = _Total(
        heads=("Fogli nella busta", "Sheets in the envelope"),
        number=count.box,
        beside=(f"casella {box} del modulo", f"box {box} of the form"),
        note=final,
        terms=box_terms,
    )
    in_set = _Total(
        heads=heads,
        number=index.sides,
        beside=(f"fogli di carta: {index.sheets}", f"sheets of paper: {index.sheets}"),
        terms=index.side_terms,
    )
    height = 26.5 + 4.8 * max(len(in_box.terms), len(in_set.terms)) + 3

    def draw_it(pen: Pen, y: float) -> None:
        in_box.draw(pen, LEFT, y)
        in_set.draw(pen, COLUMN_2, y)

    return Block(height=height, draw=draw_it)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Total:
    """A labelled total: the number large, what it is beside it, its sum beneath."""

    heads: tuple[str, str]
    number: int
    beside: tuple[str, str]
    note: str = ""
    terms: tuple[tuple[str, int], ...]

    def draw(self, pen: Pen, x: float, y: float) -> None:
        """With its top-left corner at ``x``, ``y``; one column wide."""
        pen.line(x, y, x + HALF, y, 1.4)
        pen.text(x, y + 5.4, self.heads[0], BOLD, 10)
        pen.text(x, y + 9.2, self.heads[1], ITALIC, 8)
        pen.text(x, y + 22, str(self.number), BOLD, 34)
        aside = x + pt_to_mm(width_pt(str(self.number), BOLD, 34)) + 5
        pen.text(aside, y + 14.2, self.note, BOLD, 8)
        pen.text(aside, y + 18.4, self.beside[0], REGULAR, 9)
        pen.text(aside, y + 22, self.beside[1], ITALIC, 8)
        for number, (words, value) in enumerate(self.terms):
            line = y + 29 + 4.8 * number
            pen.text(x, line, words, REGULAR, 8)
            pen.text_right(x + HALF, line, str(value), REGULAR, 9)
            pen.line(x, line + 1.4, x + HALF, line + 1.4, 0.25)


def _ruler() -> Block:
    def draw_it(pen: Pen, y: float) -> None:
        top = y + 3
        pen.line(LEFT, top, LEFT + 100, top, 0.5)
        for tick in range(101):
            length = 4.0 if tick % 10 == 0 else 2.8 if tick % 5 == 0 else 1.6
            pen.line(LEFT + tick, top, LEFT + tick, top + length, 0.5 if tick % 10 == 0 else 0.25)
        for tick in range(0, 101, 10):
            pen.text_centred(LEFT + tick, top + 7, str(tick), REGULAR, 6.5)
        aside = LEFT + 109
        pen.text(aside, top + 1.4, "Stampa al 100 %: il righello misura 100 mm.", REGULAR, 8)
        pen.text(aside, top + 5, "Printed at 100 % the rule is 100 mm long.", ITALIC, 7.5)

    return Block(height=15, draw=draw_it, heading=True, foot=True)


def _cautions(index: IndexPage) -> Block:
    columns = []
    for language, font in ((0, REGULAR), (1, ITALIC)):
        texts = [pair[language] for pair in index.cautions]
        columns.append([_wrapped(text, font, 7.5, HALF) for text in texts])
    step, gap = 3.5, 1.2
    tops: list[float] = []
    y_in = 3.5
    for italian, english in zip(*columns, strict=True):
        tops.append(y_in)
        y_in += step * max(len(italian), len(english)) + gap

    def draw_it(pen: Pen, y: float) -> None:
        for x, font, texts in ((LEFT, REGULAR, columns[0]), (COLUMN_2, ITALIC, columns[1])):
            for top, lines in zip(tops, texts, strict=True):
                pen.lines(x, y + top, lines, font, 7.5, step=step)

    return Block(height=y_in - gap - 2.5, draw=draw_it, foot=True)
