"""The sections of packet.toml that build and count never read: permits, appointment, receipt."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from datetime import date
from typing import TypeVar, get_type_hints

from packet.model import Appointment, NewPermit, Permit, Receipt
from packet.rules.fields import Table

MAX_CELLS = 60  # of one box of the form; a typing mistake lies above
# key -> how it is written, and what to say where it is not
_SHAPES = {
    "time": (re.compile(r"([01][0-9]|2[0-3]):[0-5][0-9]"), "a time such as 09:40"),
    "type_code": (re.compile(r"[0-9A-Z]{1,4}"), "the code, such as 21"),
}
Later = TypeVar("Later", Permit, NewPermit, Appointment, Receipt)


def read_permit(table: Table) -> Permit:
    """``[permit]``: the card held when a renewal is asked for."""
    return _read(table, Permit)


def read_new_permit(table: Table) -> NewPermit:
    """``[new_permit]``: the card that this application brought."""
    return _read(table, NewPermit)


def read_appointment(table: Table) -> Appointment:
    """``[appointment]``: day, time and place."""
    return _read(table, Appointment)


def read_receipt(table: Table) -> Receipt:
    """``[receipt]``: the day at the counter and, only if the user wants, its two codes."""
    return _read(table, Receipt)


def _read(table: Table, record: Callable[..., Later]) -> Later:
    """A record whose fields are days and texts, each under a key of its name."""
    values: dict[str, str | date | None] = {}
    for name, kind in get_type_hints(record).items():
        if kind is str:
            values[name] = _shaped(table, name)
        else:
            values[name] = table.day(name, personal=True)
    table.close()
    return record(**values)


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


def _shaped(table: Table, key: str) -> str:
    text = table.text(key, personal=True)
    shape, expected = _SHAPES.get(key, (None, ""))
    if text and shape and not shape.fullmatch(text):
        table.problem(key, text, expected, personal=True)
        return ""
    return text
