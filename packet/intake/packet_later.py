"""The sections of packet.toml that build and count never read: permits, appointment, receipt."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from datetime import date

from packet.model import Appointment, NewPermit, Permit, Receipt
from packet.rules.fields import Table

MAX_CELLS = 60  # of one box of the form; a typing mistake lies above
_TIME = re.compile(r"([01][0-9]|2[0-3]):[0-5][0-9]")
_TYPE_CODE = re.compile(r"[0-9A-Z]{1,4}")


def read_permit(table: Table) -> Permit:
    """``[permit]``: the card held when a renewal is asked for."""
    permit = Permit(
        number=table.text("number", personal=True),
        type_code=_shaped(table, "type_code", _TYPE_CODE, "the code, such as 21"),
        expires=table.day("expires", personal=True),
        first_issued=table.day("first_issued", personal=True),
    )
    table.close()
    return permit


def read_new_permit(table: Table) -> NewPermit:
    """``[new_permit]``: the card that this application brought."""
    permit = NewPermit(
        number=table.text("number", personal=True),
        type_code=_shaped(table, "type_code", _TYPE_CODE, "the code, such as 21"),
        issued=table.day("issued", personal=True),
        expires=table.day("expires", personal=True),
    )
    table.close()
    return permit


def read_appointment(table: Table) -> Appointment:
    """``[appointment]``: day, time and place."""
    appointment = Appointment(
        date=table.day("date", personal=True),
        time=_shaped(table, "time", _TIME, "a time such as 09:40"),
        place=table.text("place", personal=True),
    )
    table.close()
    return appointment


def read_receipt(table: Table) -> Receipt:
    """``[receipt]``: the day at the counter and, only if the user wants, its two codes."""
    receipt = Receipt(
        date=table.day("date", personal=True),
        user_id=table.text("user_id", personal=True),
        password=table.text("password", personal=True),
    )
    table.close()
    return receipt


def read_valid_until(table: Table, folders: Iterable[str]) -> Mapping[str, date]:
    """``[valid_until]``: folder -> last day on which that paper is valid."""
    days = {folder: table.day(folder, personal=True) for folder in folders}
    table.close()
    return {folder: day for folder, day in days.items() if day is not None}


def read_cells(table: Table) -> Mapping[str, int]:
    """``[form.cells]``: box number -> cells counted on the form in the hand."""
    cells: dict[str, int] = {}
    for box in table.keys():  # noqa: SIM118 - not a mapping
        count = table.integer(box, None, low=1, high=MAX_CELLS)
        if not (box.isascii() and box.isdigit()):
            table.problem(box, count or 0, "the number of a box as the key, such as 3 = 28")
        elif count is not None:
            cells[box] = count
    return cells


def _shaped(table: Table, key: str, shape: re.Pattern[str], expected: str) -> str:
    text = table.text(key, personal=True)
    if text and not shape.fullmatch(text):
        table.problem(key, text, expected, personal=True)
        return ""
    return text
