"""How the index looks: a column of blocks that flows down the page, and on to a second one.

Millimetres from the top-left corner. Each block knows its height before it is drawn, so the
number of pages is known without drawing.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field

from packet.model import Applicant
from packet.sheets.cover import IndexPage, IndexRow
from packet.sheets.footers import BASELINE_MM, POINT
from packet.sheets.typesetting import (
    BOLD,
    ITALIC,
    REGULAR,
    Pen,
    new_canvas,
    wrap,
)
from packet.units import mm_to_pt

LEFT, RIGHT = 18.0, 192.0
TOP, BOTTOM = 17.0, 283.0
WIDTH = RIGHT - LEFT
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

Draw = Callable[[Pen, float], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """Something ``height`` mm high; ``draw(pen, y)`` draws it with its top at ``y``.

    ``heading``: belongs to the block after it. ``row``: on a new page the table's heading
    comes first again.
    """

    height: float
    draw: Draw
    heading: bool = False
    row: bool = False


@dataclass(slots=True)
class _Page:
    blocks: list[tuple[float, Block]] = field(default_factory=list)
    y: float = TOP

    def add(self, block: Block) -> None:
        self.blocks.append((self.y, block))
        self.y += block.height


def pages_needed(index: IndexPage) -> int:
    """Pages that the index takes."""
    return len(_flow(index))


def draw(index: IndexPage) -> bytes:
    """The index as a PDF."""
    canvas, buffer = new_canvas()
    pages = _flow(index)
    for number, page in enumerate(pages, start=1):
        pen = Pen(canvas)
        for y, block in page.blocks:
            block.draw(pen, y)
        pen.text(LEFT, 297 - BASELINE_MM, f"Indice{POINT}pagina {number} di {len(pages)}", size=7)
        canvas.showPage()
    canvas.save()
    return buffer.getvalue()


def _flow(index: IndexPage) -> list[_Page]:
    blocks = list(_blocks(index))
    heading = _table_heading(index)
    pages = [_Page()]
    for number, block in enumerate(blocks):
        needed = block.height
        if block.heading and number + 1 < len(blocks):
            needed += blocks[number + 1].height
        if pages[-1].y + needed > BOTTOM and pages[-1].blocks:
            pages.append(_Page())
            if block.row:
                pages[-1].add(heading)
        pages[-1].add(block)
    return pages


def _blocks(index: IndexPage) -> Iterator[Block]:
    yield _title(index)
    yield _who_and_what(index)
    yield from _notices(index)
    yield _table_heading(index)
    for row in index.rows:
        yield _row(row)
    yield _totals_row(index)
    yield _totals(index)
    yield _ruler()
    yield _cautions(index)


def _lines(
    pen: Pen, x: float, y: float, lines: Sequence[str], font: str, size: float, step: float
) -> None:
    for number, line in enumerate(lines):
        pen.text(x, y + number * step, line, font, size)


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
        pen.text_right(RIGHT, y + 11.5, "contrassegno / mark", ITALIC, 7.5)
        _lines(pen, LEFT, y + names_y, italian, REGULAR, 10.5, 5)
        _lines(pen, LEFT, y + names_y - 0.6 + 5 * len(italian), beneath, ITALIC, 8.5, 4)
        pen.line(LEFT, y + height - 2, RIGHT, y + height - 2, 1.4)

    return Block(height=height, draw=draw_it)


def _who_and_what(index: IndexPage) -> Block:
    applicant = index.packet.applicant
    names = _name_lines(applicant)
    citizen = _wrapped(applicant.citizenship, REGULAR, 10, HALF) if applicant.citizenship else ()
    left = 10 + 5.2 * len(names) + (9.5 + 4.5 * len(citizen) if citizen else 0)
    height = max(left, 26.0) + 3

    def draw_it(pen: Pen, y: float) -> None:
        _label(pen, LEFT, y + 4.5, "Richiedente", "Applicant")
        _lines(pen, LEFT, y + 10.5, names, BOLD, 12, 5.2)
        if citizen:
            below = y + 10.5 + 5.2 * len(names)
            _label(pen, LEFT, below + 1.5, "Cittadinanza", "Citizenship")
            _lines(pen, LEFT, below + 6.5, citizen, REGULAR, 10, 4.5)
        _purpose(pen, y, index)

    return Block(height=height, draw=draw_it)


def _name_lines(applicant: Applicant) -> tuple[str, ...]:
    parts = [part for part in (applicant.surname, applicant.given_names) if part]
    lines = tuple(line for part in parts for line in _wrapped(part, BOLD, 12, HALF))
    return lines or ("…",)


def _purpose(pen: Pen, y: float, index: IndexPage) -> None:
    if index.enclosed:
        _label(pen, COLUMN_2, y + 4.5, "Destinazione", "Where it goes")
        pen.text(COLUMN_2, y + 10.5, "busta, con il modulo originale firmato", REGULAR, 10)
        pen.text(COLUMN_2, y + 14.5, "envelope, with the signed original form", ITALIC, 8)
        return
    _label(pen, COLUMN_2, y + 4.5, "Questa copia è per", "This copy is for")
    choices = (
        ("appuntamento in questura", "appointment at the police office"),
        ("archivio personale", "own file"),
    )
    for number, (italian, english) in enumerate(choices):
        top = y + 7.2 + number * 9.5
        pen.box(COLUMN_2, top, TICK, TICK)
        pen.text(COLUMN_2 + 7, top + 3.3, italian, REGULAR, 10)
        pen.text(COLUMN_2 + 7, top + 7, english, ITALIC, 8)


def _label(pen: Pen, x: float, y: float, italian: str, english: str) -> None:
    pen.text(x, y, f"{italian} / {english}", REGULAR, 7.5)


# --- what is missing -----------------------------------------------------------------------


def _notices(index: IndexPage) -> Iterator[Block]:
    if index.form_missing:
        yield _notice(
            "MANCA LA COPIA DEL MODULO",
            ("The copy of the form is missing: scan the signed form, then build again.",),
        )
    missing = [f"{spec.title_it} / {spec.title_en}" for spec in index.plan.missing]
    if missing:
        many = len(missing) > 1
        loud = f"MANCANO {len(missing)} DOCUMENTI" if many else "MANCA UN DOCUMENTO"
        english = "Documents that are missing" if many else "One document is missing"
        yield _notice(loud, (f"{english}:", *(f"–  {line}" for line in missing)))
    if not index.complete and not missing:
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
        _lines(pen, LEFT + 5, y + 12.2, wrapped, REGULAR, 9, 4.4)

    return Block(height=inside + 4, draw=draw_it)


# --- table ---------------------------------------------------------------------------------


def _table_heading(index: IndexPage) -> Block:
    set_name = ("in questa busta", "in this set") if index.enclosed else ("in questa", "copia")
    del set_name
    heads = (
        (COL_PAGES, "pagine", "printed sides"),
        (COL_SHEETS, "fogli", "sheets"),
        (COL_RANGE, "fogli n.", "sheets no."),
        (COL_COPIES, "copie n.", "copies no."),
        (RIGHT, "contato", "counted"),
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
    italian = _wrapped(row.title_it, REGULAR, 9.5, TITLE_WIDTH)
    english = _wrapped(row.title_en, ITALIC, 7.5, TITLE_WIDTH)
    height = 2.6 + 4.1 * len(italian) + 3.3 * len(english)

    def draw_it(pen: Pen, y: float) -> None:
        first = y + 4.6
        pen.text(LEFT, first, row.number, REGULAR, 9.5)
        _lines(pen, COL_TITLE, first, italian, REGULAR, 9.5, 4.1)
        _lines(pen, COL_TITLE, first - 0.5 + 4.1 * len(italian), english, ITALIC, 7.5, 3.3)
        pen.text_right(COL_PAGES, first, str(row.pages), REGULAR, 9.5)
        pen.text_right(COL_SHEETS, first, str(row.sheets), REGULAR, 9.5)
        pen.text_right(COL_RANGE, first, row.sheets_range, REGULAR, 9.5)
        pen.text_right(COL_COPIES, first, row.copies, REGULAR, 9.5)
        pen.box(RIGHT - TICK, y + (height - TICK) / 2, TICK, TICK)
        pen.line(LEFT, y + height, RIGHT, y + height, 0.3)

    return Block(height=height, draw=draw_it, row=True)


def _totals_row(index: IndexPage) -> Block:
    def draw_it(pen: Pen, y: float) -> None:
        pen.text(COL_TITLE, y + 5, "in tutto / in all", BOLD, 9.5)
        pen.text_right(COL_PAGES, y + 5, str(index.sides), BOLD, 9.5)
        pen.text_right(COL_SHEETS, y + 5, str(index.sheets), BOLD, 9.5)

    return Block(height=11, draw=draw_it, row=True)


# --- totals, rule, cautions ----------------------------------------------------------------


def _totals(index: IndexPage) -> Block:
    def draw_it(pen: Pen, y: float) -> None:
        pen.text(LEFT, y + 6, str(index.count.box), BOLD, 30)

    return Block(height=40, draw=draw_it)


def _ruler() -> Block:
    def draw_it(pen: Pen, y: float) -> None:
        pen.line(LEFT, y + 6, LEFT + 100, y + 6, 0.6)

    return Block(height=14, draw=draw_it)


def _cautions(index: IndexPage) -> Block:
    def draw_it(pen: Pen, y: float) -> None:
        pen.text(LEFT, y + 4, "…")

    return Block(height=20, draw=draw_it)
