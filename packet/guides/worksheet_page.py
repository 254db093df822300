"""How the worksheet looks: a row for each box, its cells drawn as they stand on paper.

Cells are drawn to the value: how many the form has is known of few boxes, and never claimed.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from packet.guides.filled import Filled
from packet.guides.page import (
    SMALL,
    SMALL_STEP,
    document,
    head,
    notice,
    paragraph,
    width_mm,
    wrapped,
)
from packet.guides.worksheet import Line, Worksheet, ranges
from packet.sheets.flow import LEFT, RIGHT, WIDTH, Block, Page, flow
from packet.sheets.typesetting import BOLD, ITALIC, REGULAR, Pen

TITLE_IT = "Foglio di lavoro"
COL_LABEL = LEFT + 13
LABEL_WIDTH = 50.0
COL_VALUE = LEFT + 67
VALUE_WIDTH = RIGHT - COL_VALUE
CELL, CELL_HEIGHT = 5.0, 6.4
GROUP_GAP = 1.6
PER_LINE = int(VALUE_WIDTH // CELL)
LINE_STEP = CELL_HEIGHT + 1.2
ASIDE = 47.0  # beside short cells the words stand here, beneath long ones otherwise
OPEN_LINE = 40.0  # for a value that was not given and whose cells nobody counted
MARK = 2.2
MOST_DOUBTS = 14  # shown on the page; the rest is named by number


def worksheet_pdf(sheet: Worksheet) -> bytes:
    """The worksheet as a PDF."""
    return document(TITLE_IT, worksheet_pages(sheet))


def worksheet_pages(sheet: Worksheet) -> list[Page]:
    """Its pages, before they are drawn."""
    return flow(_blocks(sheet), _heading())


def _blocks(sheet: Worksheet) -> Iterator[Block]:
    rules = sheet.packet.rule_set
    yield head(
        TITLE_IT,
        "Worksheet: what to write in each box of Form 1",
        (rules.title_it, rules.title_en),
        ("MOD. 209", "modulo / form"),
    )
    yield paragraph(
        "Copy by hand onto the form: block letters, black pen, inside the cells, one sign a cell, "
        "an empty cell between words. This sheet is not the form and does not go into the "
        "envelope. What the notes and tables of the kit, the office and the counter say comes "
        "first.",
    )
    yield _legend()
    if sheet.findings:
        yield _doubts(sheet)
    yield _heading()
    for line in sheet.lines:
        yield _row(line)
    yield from _others(sheet)
    yield _references(sheet)


def _legend() -> Block:
    first = "Must be exactly as in the passport, letter for letter."
    second = "A label in small letters describes the box: read the form's own words there."

    def draw_it(pen: Pen, y: float) -> None:
        _mark(pen, LEFT, y + 0.7)
        pen.text(LEFT + 5, y + 2.9, first, REGULAR, 8.5)
        pen.text_right(RIGHT, y + 2.9, second, ITALIC, 7.5)

    return Block(height=7.5, draw=draw_it)


def _doubts(sheet: Worksheet) -> Block:
    many = len(sheet.findings)
    loud = "CHECK ONE THING FIRST" if many == 1 else f"CHECK {many} THINGS FIRST"
    lines = [f"–  {finding.message} {finding.remedy}" for finding in sheet.findings[:MOST_DOUBTS]]
    if many > MOST_DOUBTS:
        lines.append(f"–  and {many - MOST_DOUBTS} more: see packet check.")
    return notice(loud, lines)


def _heading() -> Block:
    def draw_it(pen: Pen, y: float) -> None:
        for x, italian, english in (
            (LEFT, "casella", "box"),
            (COL_LABEL, "sul modulo", "on the form"),
            (COL_VALUE, "da scrivere", "to write, where it comes from"),
        ):
            pen.text(x, y + 4, italian, BOLD, 7.5)
            pen.text(x, y + 7.3, english, ITALIC, 7)
        pen.line(LEFT, y + 9, RIGHT, y + 9, 0.8)

    return Block(height=9, draw=draw_it, heading=True)


# --- one box ----------------------------------------------------------------------------------


def _row(line: Line) -> Block:
    box, filled = line.box, line.filled
    italian = wrapped(box.label_it, BOLD, 8, LABEL_WIDTH)
    english = wrapped(box.label_en, ITALIC, 8, LABEL_WIDTH)
    cells = _cell_lines(filled)
    aside = _cells_width(filled) < ASIDE - 2
    words = _words(line, VALUE_WIDTH - ASIDE if aside else VALUE_WIDTH)
    cells_height = LINE_STEP * len(cells)
    words_y = 1.7 if aside else 1.6 + cells_height
    left = 2.4 + 3.7 * len(italian) + 3.5 * len(english)
    height = max(left, 1.6 + cells_height, words_y + SMALL_STEP * len(words)) + 1.4

    def draw_it(pen: Pen, y: float) -> None:
        pen.text(LEFT, y + 5.4, box.number, BOLD, 11)
        if box.exact:
            _mark(pen, LEFT + 8.4, y + 3.2)
        pen.lines(COL_LABEL, y + 4.9, italian, BOLD, 8, step=3.7)
        pen.lines(COL_LABEL, y + 4.7 + 3.7 * len(italian), english, ITALIC, 8, step=3.5)
        _cells(pen, y + 1.6, cells, filled)
        x = COL_VALUE + (ASIDE if aside else 0)
        pen.lines(x, y + words_y + 2.5, words, REGULAR, SMALL, step=SMALL_STEP)
        pen.line(LEFT, y + height, RIGHT, y + height, 1.6 if box.last else 0.4)
        if box.last:
            pen.line(LEFT, y, RIGHT, y, 1.6)

    return Block(height=height, draw=draw_it, row=True)


def _words(line: Line, width: float) -> tuple[str, ...]:
    texts = [f"From: {line.box.take}."] if line.box.take else []
    return tuple(
        part for text in (*texts, *line.notes) for part in wrapped(text, REGULAR, SMALL, width)
    )


def _cells_width(filled: Filled) -> float:
    """From the left edge of the first cell to the end of what is drawn there."""
    signs = len(filled.value + filled.rest) or filled.blank
    if not signs:
        return width_mm(filled.words, REGULAR, 9.5) if filled.words else OPEN_LINE
    gaps = GROUP_GAP * max(len(filled.groups) - 1, 0)
    beside = width_mm(filled.words, REGULAR, 9.5) + 2.5 if filled.words else 0
    return min(signs, PER_LINE) * CELL + gaps + beside


def _cell_lines(filled: Filled) -> list[str]:
    """The signs of each line of cells; one empty line where the cells are not known."""
    signs = filled.value or " " * filled.blank
    if filled.rest:
        signs += filled.rest
    return [signs[at : at + PER_LINE] for at in range(0, len(signs), PER_LINE)] or [""]


def _cells(pen: Pen, y: float, lines: Sequence[str], filled: Filled) -> None:
    if not lines[0]:
        if filled.words:
            pen.text(COL_VALUE, y + 4.6, filled.words, REGULAR, 9.5)
        else:
            pen.line(COL_VALUE, y + CELL_HEIGHT - 0.6, COL_VALUE + OPEN_LINE, y + CELL_HEIGHT - 0.6)
        return
    kept = len(filled.value) or filled.blank
    at = 0
    end = COL_VALUE
    for row, signs in enumerate(lines):
        top = y + row * LINE_STEP
        for column, sign in enumerate(signs):
            x = COL_VALUE + column * CELL + GROUP_GAP * _group(at, filled.groups)
            if at < kept:
                pen.box(x, top, CELL, CELL_HEIGHT, 0.9)
            if at == kept:
                pen.line(x + 0.4, top - 0.4, x + 0.4, top + CELL_HEIGHT + 0.4, 2.2)
            font = BOLD if at < kept else ITALIC
            pen.text_centred(x + CELL / 2, top + 4.6, sign.strip(), font, 10.5 if at < kept else 8)
            end = x + CELL
            at += 1
    if filled.words:
        pen.text(end + 2.5, y + 4.6, filled.words, REGULAR, 9.5)


def _group(at: int, groups: Sequence[int]) -> int:
    """How many groups end before the sign ``at``."""
    ends = [sum(groups[: number + 1]) for number in range(len(groups))]
    return sum(end <= at for end in ends)


def _mark(pen: Pen, x: float, y: float) -> None:
    """A small black square: a line as thick as it is long."""
    thick = MARK * 72 / 25.4
    pen.line(x, y + MARK / 2, x + MARK, y + MARK / 2, thick)


# --- the boxes that stay empty ----------------------------------------------------------------


def _others(sheet: Worksheet) -> Iterator[Block]:
    rows = [(ranges(one.boxes), f"{one.why} – {_unbroken(one.source)}") for one in sheet.empty]
    every = [box for one in sheet.empty for box in one.boxes]
    yield _list("Lasciare vuote", "Leave empty", ranges(every), rows)
    yield _list(
        "Guardare il modulo",
        "Look at your form: nothing is known here of these boxes",
        ranges(sheet.form.look),
        [(ranges(sheet.form.words), "words printed on the form: nothing to write")],
    )


def _unbroken(source: str) -> str:
    """``note (c)`` stays on one line."""
    return source.replace(" (", "\u00a0(")


def _list(italian: str, english: str, boxes: str, rows: Sequence[tuple[str, str]]) -> Block:
    large = wrapped(boxes, BOLD, 10, VALUE_WIDTH)
    small = [
        (label, part)
        for name, text in rows
        for label, part in zip(
            (name, *[""] * 9), wrapped(text, REGULAR, SMALL, VALUE_WIDTH - 22), strict=False
        )
    ]
    words = wrapped(english, ITALIC, 8, LABEL_WIDTH)
    height = max(3 + 4.6 * len(large) + SMALL_STEP * len(small), 6 + 3.5 * len(words)) + 2.5

    def draw_it(pen: Pen, y: float) -> None:
        pen.text(COL_LABEL, y + 5.4, italian, BOLD, 9)
        pen.lines(COL_LABEL, y + 9.2, words, ITALIC, 8, step=3.5)
        pen.lines(COL_VALUE, y + 5.6, large, BOLD, 10, step=4.6)
        at = y + 5.2 + 4.6 * len(large)
        for label, text in small:
            pen.text(COL_VALUE, at, label, BOLD, SMALL)
            pen.text(COL_VALUE + 22, at, text, REGULAR, SMALL)
            at += SMALL_STEP
        pen.line(LEFT, y + height, RIGHT, y + height, 0.3)

    return Block(height=height, draw=draw_it)


def _references(sheet: Worksheet) -> Block:
    by_source: dict[str, list[str]] = {}
    for line in sheet.lines:
        if line.box.number and line.box.source:
            by_source.setdefault(line.box.source, []).append(line.box.number)
    told = "; ".join(f"{source}: {ranges(boxes)}" for source, boxes in by_source.items())
    text = (
        f"Where it is said. {told}. Black pen and block letters: {sheet.form.pen_source}. Dates: "
        f"{sheet.form.date_source}. Notes as in a copy of {sheet.form.as_of:%B %Y}; the kit in "
        "your hand may be newer."
    )
    lines = wrapped(text, REGULAR, 7, WIDTH)

    def draw_it(pen: Pen, y: float) -> None:
        pen.lines(LEFT, y + 5, lines, REGULAR, 7, step=3.3)

    return Block(height=5 + 3.3 * len(lines), draw=draw_it, foot=True)
