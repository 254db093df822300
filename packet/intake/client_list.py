"""A list of clients (CSV) -> what ``packet new`` needs for each: many folders at once.

The first line names the columns; ``folder`` must be there. A comma or a semicolon stands
between the columns, as spreadsheets write them. Every fault of the list is told at once, by
line and column and without the value, before anything is made.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from packet.errors import PacketFileError
from packet.intake.names import same, shown
from packet.intake.packet_file import BOOKLET_PAGES, MAX_LEAVES, PACKET_FILE
from packet.intake.scaffold import Answers, Made, new_packet
from packet.rules.fields import folder_fault, nearest

COLUMNS = (
    "folder", "rule_set", "from", "surname", "given_names", "booklet_pages", "form_leaves",
    "not_held",
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Client:
    """One line: the folder to make, its rule set and old packet where named, and answers."""

    folder: str
    answers: Answers
    rule_set: str | None = None
    old: str | None = None


def read_clients(path: Path) -> tuple[Client, ...]:
    """The clients of a list; PacketFileError with every fault, without a personal value."""
    try:
        text = path.read_text("utf-8-sig")
    except (OSError, UnicodeDecodeError):
        raise PacketFileError(
            path.name, ["cannot be read as UTF-8 text. Save it again as CSV, UTF-8."]
        ) from None
    head, _, _ = text.partition("\n")
    lines = csv.reader(
        io.StringIO(text, newline=""), delimiter=";" if ";" in head else ",", strict=True
    )
    problems: list[str] = []
    clients: list[Client] = []
    try:
        columns = [name.strip().casefold() for name in next(lines, [])]
        problems += _head_faults(columns)
        if not problems:
            clients += _clients(lines, columns, problems)
    except csv.Error:
        problems.append("is not CSV that can be read: a quotation mark is not closed?")
    if not clients and not problems:
        problems.append("names no client.")
    if problems:
        raise PacketFileError(path.name, problems)
    return tuple(clients)


def _head_faults(columns: list[str]) -> Iterator[str]:
    for name in columns:
        if name not in COLUMNS:
            near = nearest(name, COLUMNS)
            hint = f" (perhaps {near})" if near else ""
            yield f"{shown(name)}: found an unknown column{hint}, known: {', '.join(COLUMNS)}."
        elif columns.count(name) > 1:
            yield f"{name}: stands twice in the first line."
    if "folder" not in columns:
        yield "folder: this column must be there; the first line names the columns."


def _clients(
    lines: Iterator[list[str]], columns: list[str], problems: list[str]
) -> Iterator[Client]:
    taken: set[str] = set()
    for number, line in enumerate(lines, start=2):
        if not any(cell.strip() for cell in line):
            continue
        if len(line) > len(columns):
            problems.append(f"line {number}: has more cells than the first line has columns.")
            continue
        row = {name: cell.strip() for name, cell in zip(columns, line, strict=False)}
        faults = [*_folder_faults(row.get("folder", ""), taken), *_number_faults(row)]
        problems += [f"line {number}, {fault}" for fault in faults]
        taken.add(same(row.get("folder", "")).casefold())
        if not faults:
            yield _client(row)


def _folder_faults(folder: str, taken: set[str]) -> Iterator[str]:
    if not folder:
        yield "folder: found nothing, expected the name of the folder to make."
    elif fault := folder_fault(folder):
        yield f"folder: expected {fault}."
    elif same(folder).casefold() in taken:
        yield "folder: another line has the same folder."


def _number_faults(row: Mapping[str, str]) -> Iterator[str]:
    for name, (low, high) in (("booklet_pages", BOOKLET_PAGES), ("form_leaves", (1, MAX_LEAVES))):
        text = row.get(name, "")
        if text and not (text.isdecimal() and low <= int(text) <= high):
            yield f"{name}: expected a whole number from {low} to {high}, or nothing."


def _client(row: Mapping[str, str]) -> Client:
    def number(name: str) -> int | None:
        return int(row[name]) if row.get(name) else None

    absent = tuple(filter(None, re.split(r"[\s,;]+", row.get("not_held", ""))))
    return Client(
        folder=row["folder"],
        rule_set=row.get("rule_set") or None,
        old=row.get("from") or None,
        answers=Answers(
            surname=row.get("surname", ""),
            given_names=row.get("given_names", ""),
            booklet_pages=number("booklet_pages"),
            form_leaves=number("form_leaves"),
            not_held=absent or None,
        ),
    )


def make_clients(
    clients: Sequence[Client], place: Path, *, rule_set: str | None = None, today: date | None
) -> Iterator[tuple[str, Made | None]]:
    """Make a packet in ``place`` for each client; (folder, what was made).

    None for one that is there already, which is left alone, so a longer list can be run again.
    ``rule_set``: for the lines that name none. ``old`` is looked for in ``place``.
    """
    for client in clients:
        folder = place / client.folder
        if (folder / PACKET_FILE).is_file():
            yield client.folder, None
            continue
        yield (
            client.folder,
            new_packet(
                folder,
                rule_set=client.rule_set or rule_set,
                answers=client.answers,
                old=place / client.old if client.old else None,
                today=today,
            ),
        )
