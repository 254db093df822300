"""How the two sheets look: one A4 page each, in the manner of the index.

A list that is too long for its page ends with a line that says how many more there are.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from packet.guides.calendar import long_day
from packet.guides.counter import Counter, Row, Sum, fee_sources
from packet.guides.page import (
    Column,
    document,
    head,
    notice,
    paragraph,
    ticks,
    ticks_height,
    title_at,
    wrapped,
)
from packet.rules.fees import Fee
from packet.sheets.flow import BOTTOM, LEFT, RIGHT, TOP, WIDTH, Block, Page
from packet.sheets.typesetting import BOLD, ITALIC, REGULAR, Pen

COUNTER_IT, APPOINTMENT_IT = "Allo sportello", "Appuntamento in questura"
HALF = 82.0
HEADING = 11.5  # height of a list's heading
GAPS = (1.7, 0.3)  # between rows: as a rule, and where a page is full
LIST_GAP = 2.0  # beneath a list, besides the space between rows
CAUTION = (
    "Offices differ: what the post office, the police office and the notes of the form say comes "
    "first. This is not legal advice."
)

List = tuple[str, str, Sequence[Row], bool]  # Italian, English, rows, with boxes to tick
Blocks = Callable[[Sequence[List], Sequence[List], float], Iterator[Block]]  # left, right, gap


def counter_pdf(sheet: Counter) -> bytes:
    """The sheet for the post office counter, one page."""
    return document(COUNTER_IT, [counter_page(sheet)])


def appointment_pdf(sheet: Counter) -> bytes:
    """The sheet for the appointment, one page."""
    return document(APPOINTMENT_IT, [appointment_page(sheet)])


def counter_page(sheet: Counter) -> Page:
    """The page, before it is drawn."""
    rules = sheet.packet.rule_set
    left: list[List] = [
        ("Nella busta", "In the envelope; tick by hand", sheet.in_envelope, True),
        ("Deve tornare", "Must come back to you", sheet.back, True),
    ]
    right: list[List] = [
        ("Da portare", "To carry", sheet.carry, True),
        ("Resta a voi", "Stays with you", sheet.stays, False),
        ("Da chiedere", "To ask at the window", sheet.ask, False),
    ]

    def blocks(left: Sequence[List], right: Sequence[List], gap: float) -> Iterator[Block]:
        yield head(
            COUNTER_IT,
            "At the post office counter",
            (rules.title_it, rules.title_en),
            (f"{sheet.cash_to_carry} EUR", "contanti / cash to carry"),
        )
        if sheet.by_when:
            yield _by_when(f"By {sheet.by_when}, at the safest reading.")
        for loud, words in sheet.warnings:
            yield notice(loud, [words])
        yield _columns(left, right, gap)
        yield _money(sheet)
        yield paragraph(CAUTION, size=8, foot=True, gap=0)

    return _one_page(blocks, left, right)


def appointment_page(sheet: Counter) -> Page:
    """The page, before it is drawn."""
    rules, when = sheet.packet.rule_set, sheet.packet.appointment
    left: list[List] = [("Da portare", "To carry", sheet.appointment_carry, True)]
    right: list[List] = [
        ("Da chiedere", "To ask at the window", sheet.appointment_after, False),
        (
            "Da annotare",
            "To write into packet.toml afterwards",
            (
                (
                    "number, issued and expires of the new card",
                    "[new_permit]: dates follow from it",
                ),
                ("a new day, if you are told to come again", "[appointment]"),
            ),
            False,
        ),
    ]
    day = long_day(when.date) if when.date else "day: ____________________"
    at = f", {when.time}" if when.time else "   time: __________"
    place = when.place or "place: ________________________________________"

    def blocks(left: Sequence[List], right: Sequence[List], gap: float) -> Iterator[Block]:
        yield head(
            APPOINTMENT_IT,
            "Appointment at the police office",
            (rules.title_it, rules.title_en),
            ("", ""),
        )
        yield _by_when(f"{day}{at}")
        yield _by_when(place)
        yield _columns(left, right, gap)
        yield paragraph(
            "Fingerprints are taken (d.lgs. 286/1998, art. 5 c. 2-bis). The receipt of the post "
            "office with the passport stands in for the permit until the card is ready.",
        )
        yield paragraph(CAUTION, size=8, foot=True, gap=0)

    return _one_page(blocks, left, right)


def _one_page(blocks: Blocks, left: list[List], right: list[List]) -> Page:
    """The blocks on one page.

    Where they are too high: less space between rows, then fewer rows of the first list, then
    without the last list at the right.
    """
    italian, english, rows, tick = left[0]
    tries: list[tuple[Sequence[Row], float, int]] = [(rows, GAPS[0], len(right))]
    for lists in (len(right), len(right) - 1):
        tries += [(_cut(rows, kept), GAPS[1], lists) for kept in range(len(rows), 1, -1)]
    for shown, gap, lists in tries:
        made = list(blocks([(italian, english, shown, tick), *left[1:]], right[:lists], gap))
        if TOP + sum(block.height for block in made) <= BOTTOM:
            break
    page = Page()
    for block in made:
        page.add(block)
    page.settle()
    return page


def _cut(rows: Sequence[Row], kept: int) -> list[Row]:
    """The first rows, then how many more there are; a last row that is a sum stays the last."""
    lost = len(rows) - kept
    if not lost:
        return list(rows)
    return [*rows[: kept - 2], (f"and {lost + 1} more, as on the index", "e altri"), rows[-1]]


# --- parts ------------------------------------------------------------------------------------


def _by_when(text: str) -> Block:
    return paragraph(text, font=BOLD, size=11, step=5.2, gap=1.6)


def _columns(left: Sequence[List], right: Sequence[List], gap: float) -> Block:
    columns = (
        (Column(x=LEFT, width=HALF, gap=gap), left),
        (Column(x=RIGHT - HALF, width=HALF, gap=gap), right),
    )
    height = max(_height(column, lists) for column, lists in columns)

    def draw_it(pen: Pen, y: float) -> None:
        for column, lists in columns:
            at = y + 1.5
            for italian, english, rows, tick in lists:
                at = title_at(pen, column, at, italian, english)
                at = ticks(pen, column, at, rows, tick=tick) + LIST_GAP + gap

    return Block(height=height, draw=draw_it)


def _height(column: Column, lists: Sequence[List]) -> float:
    return 1.5 + sum(
        HEADING + ticks_height(column, rows, tick=tick) + LIST_GAP + column.gap
        for _, _, rows, tick in lists
    )


def _money(sheet: Counter) -> Block:
    """The sum, a column for each length of the permit that may apply."""
    sums = sheet.sums
    columns = [RIGHT - 42.0 * (len(sums) - 1 - number) for number in range(len(sums))]
    counter = [fee for fee in sheet.fees.items if fee.pay == "counter"]
    before = [fee for fee in sheet.fees.items if fee.pay == "before"]
    rows: list[tuple[str, str, list[str], bool]] = [
        *(_fee_row(fee, len(sums)) for fee in counter),
        ("contributo", "contribution", [_band_amount(one) for one in sums], False),
        (
            "allo sportello, in contanti",
            "at the counter, in cash",
            [str(one.cash) for one in sums],
            True,
        ),
        *(_fee_row(fee, len(sums)) for fee in before),
        ("in tutto", "in all, with what is bought before", [str(one.all_in) for one in sums], True),
    ]
    notes = [
        part
        for text in (*sheet.money_notes, *fee_sources(sheet.fees, sums), _written(sheet))
        for part in wrapped(text, REGULAR, 7.5, WIDTH)
    ]
    top = 12.5
    height = top + 5.2 * len(rows) + 2.5 + 3.4 * len(notes) + 2.5

    def draw_it(pen: Pen, y: float) -> None:
        pen.line(LEFT, y, RIGHT, y, 1.4)
        pen.text(LEFT, y + 5.4, "Importi in euro", BOLD, 10)
        pen.text(LEFT, y + 9.2, "Amounts in euro", ITALIC, 8)
        for x, one in zip(columns, sums, strict=True):
            pen.text_right(x, y + 5.4, one.title_it, BOLD, 8)
            pen.text_right(x, y + 9.2, one.title_en, ITALIC, 7)
        pen.line(LEFT, y + top - 1, RIGHT, y + top - 1, 0.8)
        at = y + top + 3
        for italian, english, amounts, total in rows:
            font = BOLD if total else REGULAR
            pen.text(LEFT, at, f"{italian} / {english}", font, 9)
            for x, amount in zip(columns, amounts, strict=True):
                pen.text_right(x, at, amount, font, 9.5)
            pen.line(LEFT, at + 1.5, RIGHT, at + 1.5, 0.8 if total else 0.25)
            at += 5.2
        pen.lines(LEFT, at + 1.5, notes, REGULAR, 7.5, step=3.4)

    return Block(height=height, draw=draw_it)


def _fee_row(fee: Fee, columns: int) -> tuple[str, str, list[str], bool]:
    when = ", bought before" if fee.pay == "before" else ""
    return fee.title_it, f"{fee.title_en}{when}", [str(fee.amount)] * columns, False


def _band_amount(one: Sum) -> str:
    return str(one.band.amount) if one.band is not None else "0.00"


def _written(sheet: Counter) -> str:
    slips = " or ".join(str(one.slip) for one in sheet.sums)
    written = f" Sources written {sheet.fees.written}." if sheet.fees.written else ""
    return f"The payment slip holds card and contribution: {slips}.{written}"
