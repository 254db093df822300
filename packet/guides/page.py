"""What the sheets of this room share with the index: head, notices, small lists, footer."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from packet.sheets.flow import LEFT, RIGHT, WIDTH, Block, Page
from packet.sheets.footers import BASELINE_MM, POINT
from packet.sheets.typesetting import BOLD, ITALIC, REGULAR, Pen, new_canvas, width_pt, wrap
from packet.units import mm_to_pt, pt_to_mm

SMALL, SMALL_STEP = 8.0, 3.6


def wrapped(text: str, font: str, size: float, width_mm: float) -> tuple[str, ...]:
    """``text`` in lines of at most ``width_mm``."""
    return wrap(text, font, size, mm_to_pt(width_mm))


def width_mm(text: str, font: str, size: float) -> float:
    """Width of one line."""
    return pt_to_mm(width_pt(text, font, size))


def head(title: str, english: str, titles: tuple[str, str], aside: tuple[str, str]) -> Block:
    """The head of a page: title, what it is for, what stands at the right, a rule beneath."""
    italian = wrapped(titles[0], REGULAR, 10.5, WIDTH)
    beneath = wrapped(titles[1], ITALIC, 8.5, WIDTH)
    names_y = 20.0
    height = names_y + 5 * len(italian) + 4 * len(beneath) + 2

    def draw_it(pen: Pen, y: float) -> None:
        pen.text(LEFT, y + 6, title, BOLD, 21)
        pen.text(LEFT, y + 11.5, english, ITALIC, 10)
        pen.text_right(RIGHT, y + 6, aside[0], BOLD, 21)
        pen.text_right(RIGHT, y + 11.5, aside[1], ITALIC, 7.5)
        pen.lines(LEFT, y + names_y, italian, REGULAR, 10.5, step=5)
        pen.lines(LEFT, y + names_y - 0.6 + 5 * len(italian), beneath, ITALIC, 8.5, step=4)
        pen.line(LEFT, y + height - 2, RIGHT, y + height - 2, 1.4)

    return Block(height=height, draw=draw_it)


def notice(loud: str, lines: Sequence[str]) -> Block:
    """A framed notice: one line in large type, the rest beneath."""
    texts = [part for line in lines for part in wrapped(line, REGULAR, 9, WIDTH - 10)]
    inside = 9.5 + 4.4 * len(texts) + 1.5

    def draw_it(pen: Pen, y: float) -> None:
        pen.box(LEFT, y, WIDTH, inside, 1.6)
        pen.text(LEFT + 5, y + 7.2, loud, BOLD, 13)
        pen.lines(LEFT + 5, y + 12.2, texts, REGULAR, 9, step=4.4)

    return Block(height=inside + 4, draw=draw_it)


def paragraph(
    text: str,
    *,
    font: str = REGULAR,
    size: float = 8.5,
    step: float = 4.0,
    gap: float = 1.6,
    foot: bool = False,
) -> Block:
    """Lines over the whole width."""
    lines = wrapped(text, font, size, WIDTH)

    def draw_it(pen: Pen, y: float) -> None:
        pen.lines(LEFT, y + step - 1, lines, font, size, step=step)

    return Block(height=step * len(lines) + gap, draw=draw_it, foot=foot)


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """A column of a page: where it begins, how wide it is, the space between its rows."""

    x: float
    width: float
    gap: float = 1.7


def title_at(pen: Pen, column: Column, y: float, title: str, english: str) -> float:
    """A small heading with a rule above it; the answer is where the next line's top may be."""
    pen.line(column.x, y, column.x + column.width, y, 1.4)
    pen.text(column.x, y + 5.4, title, BOLD, 10)
    pen.text(column.x, y + 9.2, english, ITALIC, 8)
    return y + 11.5


def document(title: str, pages: Sequence[Page]) -> bytes:
    """The pages as a PDF, each with its footer."""
    canvas, buffer = new_canvas()
    for number, page in enumerate(pages, start=1):
        pen = Pen(canvas)
        draw_page(pen, page, title, number, len(pages))
        canvas.showPage()
    canvas.save()
    return buffer.getvalue()


def draw_page(pen: Pen, page: Page, title: str, number: int, pages: int) -> None:
    """One page and its footer."""
    page.draw(pen)
    where = f"pagina {number} di {pages}"
    pen.text(LEFT, 297 - BASELINE_MM, f"{title}{POINT}{where}", size=7)
    pen.text_right(RIGHT, 297 - BASELINE_MM, "dati personali / personal data", size=7)


TICK, TICK_ROOM = 3.6, 6.5
ROW = 4.0  # height of a row's first line
BESIDE = 2.2  # between the words of a row and the small ones beside them


def ticks(
    pen: Pen, column: Column, y: float, rows: Sequence[tuple[str, str]], *, tick: bool = True
) -> float:
    """Rows of words with small words beside or beneath them, each with a box to tick by hand.

    The answer is the y beneath the last row.
    """
    inside = TICK_ROOM if tick else 0.0
    for first, small in rows:
        if tick:
            pen.box(column.x + 0.15, y + 0.6, TICK, TICK)
        at = y + TICK
        for shift, text, font, size, step in _row_lines(first, small, column.width - inside):
            pen.text(column.x + inside + shift, at, text, font, size)
            at += step
        y = at - TICK + column.gap
    return y


def ticks_height(column: Column, rows: Sequence[tuple[str, str]], *, tick: bool = True) -> float:
    """How high ``ticks`` draws those rows."""
    inside = TICK_ROOM if tick else 0.0
    return sum(
        column.gap + sum(step for *_, step in _row_lines(first, small, column.width - inside))
        for first, small in rows
    )


def _row_lines(
    first: str, small: str, width: float
) -> Iterator[tuple[float, str, str, float, float]]:
    """(shift to the right, text, font, size, step to the next line) of one row."""
    taken = width_mm(first, REGULAR, 9) + BESIDE
    if small and taken + width_mm(small, ITALIC, SMALL) <= width:
        yield 0.0, first, REGULAR, 9, 0.0
        yield taken, small, ITALIC, SMALL, ROW
        return
    for line in wrapped(first, REGULAR, 9, width):
        yield 0.0, line, REGULAR, 9, ROW
    for line in wrapped(small, ITALIC, SMALL, width) if small else ():
        yield 0.0, line, ITALIC, SMALL, SMALL_STEP
