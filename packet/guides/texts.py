"""Boxes that hold a name, an address, a number, a code or a date.

A value that was not given, does not fit or cannot be right leaves the cells empty and says why.
A name or an address that is longer than its cells is cut, and the cut is shown; a number, a date
or a code never is.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from datetime import date

from packet.checks.tax_code import compact, fault
from packet.checks.transliteration import Written, block_letters
from packet.checks.values import form_texts
from packet.guides.filled import DATE_GROUPS, Context, Fill, Filled, missing, whole
from packet.model import Packet
from packet.rules.boxes import Box

TAX_CODE_CELLS = 16
_CODE = re.compile(r"[A-Z0-9][A-Z0-9 ./-]*", re.ASCII)
_HOUSE = re.compile(
    r"(?P<street>.*\D.*?)[\s,]+(?P<number>\d+[A-Z]?(?:\s?/\s?[0-9A-Z]{1,3})?|SNC|S\.N\.C\.)",
    re.IGNORECASE,
)


# --- names, addresses: transliterated, cut where they must be --------------------------------


def letters(key: str) -> Fill:
    def fill_it(context: Context, box: Box) -> Filled:
        return _in_letters(context, box, key, form_texts(context.packet)[key])

    return fill_it


def _in_letters(context: Context, box: Box, key: str, text: str) -> Filled:
    if not text:
        return missing(key)
    written = block_letters(text)
    if written.unknown:
        return Filled(
            notes=(
                "A letter of it cannot be written in the cells: copy it from the machine-readable "
                f"lines of the passport into {key.partition('.')[2]}.",
            )
        )
    notes = _transliteration(written)
    return _cut(written.text, context.cells(box), notes)


def _cut(text: str, cells: int | None, notes: tuple[str, ...] = ()) -> Filled:
    if cells is None or len(text) <= cells:
        return Filled(value=text, notes=notes)
    lost = len(text) - cells
    return Filled(
        value=text[:cells],
        rest=text[cells:],
        notes=(
            *notes,
            f"Cut after {cells} cells, as counted on your form: {lost} more "
            f"{'does' if lost == 1 else 'do'} not fit. Stop at the last cell; ask the office if "
            "the full name matters elsewhere.",
        ),
    )


def _transliteration(written: Written) -> tuple[str, ...]:
    if not written.changed:
        return ()
    pairs = ", ".join(f"{sign} as {form}" for sign, form in written.changed)
    source = f" ({written.source})" if written.source else ""
    return (
        f"Written {pairs}{source}. The machine-readable lines of your passport show how your state "
        "writes it: they come first.",
    )


def street(context: Context, box: Box) -> Filled:
    street, number, _ = _split_street(context.packet)
    filled = _in_letters(context, box, "address.street", street)
    if number and street != context.packet.address.street:
        return replace(filled, notes=(*filled.notes, "The house number stands in box 69."))
    return filled


def house_number(context: Context, box: Box) -> Filled:
    _, number, guessed = _split_street(context.packet)
    if not number:
        return missing("address.house_number")
    filled = _code_text(context, box, "address.house_number", number)
    if guessed:
        note = "Taken from the end of street; if it is wrong, write house_number under [address]."
        return replace(filled, notes=(*filled.notes, note))
    return filled


def _split_street(packet: Packet) -> tuple[str, str, bool]:
    """(street, house number, was the number taken from the end of the street)."""
    address = packet.address
    if address.house_number:
        return address.street, address.house_number, False
    match = _HOUSE.fullmatch(address.street)
    if match is None:
        return address.street, "", False
    return match["street"].rstrip(" ,"), match["number"], True


# --- codes, numbers, dates: whole or not at all -----------------------------------------------


def code(key: str) -> Fill:
    def fill_it(context: Context, box: Box) -> Filled:
        text = form_texts(context.packet)[key]
        return _code_text(context, box, key, text) if text else missing(key)

    return fill_it


def _code_text(context: Context, box: Box, key: str, text: str) -> Filled:
    written = block_letters(text)
    name = key.partition(".")[2]
    if written.unknown or written.changed or not _CODE.fullmatch(written.text):
        return Filled(
            notes=(f"{name} holds a sign that a number does not have: copy it again, whole.",)
        )
    return whole(written.text, context.cells(box))


def date_of(key: str, read: Callable[[Packet], date | None]) -> Fill:
    def fill_it(context: Context, box: Box) -> Filled:
        day = read(context.packet)
        if day is None:
            return replace(missing(key, sum(DATE_GROUPS)), groups=DATE_GROUPS)
        return whole(f"{day:%d%m}{day.year:04d}", context.cells(box), DATE_GROUPS)

    return fill_it


def tax_code(context: Context, box: Box) -> Filled:
    code = compact(context.packet.applicant.tax_code)
    if not code:
        return Filled(
            blank=TAX_CODE_CELLS,
            notes=(
                "Not given. If you hold a tax code, write tax_code under [applicant] in "
                "packet.toml; if you hold none, leave the cells empty.",
            ),
        )
    if why := fault(code):
        return Filled(blank=TAX_CODE_CELLS, notes=(f"The tax code {why}: the cells stay empty.",))
    return whole(code, context.cells(box))


def province(context: Context, box: Box) -> Filled:
    code = context.packet.address.province
    return whole(code, context.cells(box)) if code else missing("address.province", 2)


def table_code(key: str, read: Callable[[Packet], str]) -> Fill:
    """A code out of a table of the kit."""

    def fill_it(context: Context, box: Box) -> Filled:
        code = read(context.packet)
        if not code:
            return missing(key)
        return whole(code, context.cells(box))

    return fill_it


def visa_days(context: Context, box: Box) -> Filled:
    days = context.packet.visa.duration_days
    if days is None:
        return missing("visa.duration_days")
    return whole(str(days), context.cells(box))


def permit_code(context: Context, box: Box) -> Filled:
    code = context.packet.permit.type_code
    if not code:
        return missing("permit.type_code", hint=" Or look at table 2 of your kit.")
    return whole(code, context.cells(box))


def reason_code(context: Context, box: Box) -> Filled:
    rules = context.packet.rule_set
    if not rules.reason_code:
        return Filled(notes=("Check on table 2 of your kit: the code is not known here.",))
    note = f"{rules.reason_source[:1].upper()}{rules.reason_source[1:]}."
    return replace(whole(rules.reason_code, context.cells(box)), notes=(note,))
