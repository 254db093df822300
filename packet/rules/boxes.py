"""The boxes of the form, read from ``boxes.toml``."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from functools import cache
from pathlib import Path
from typing import Literal, cast

from packet.errors import PacketFileError
from packet.rules.data import FOLDER
from packet.rules.fields import Table, read_toml

Only = Literal["", "first-issue", "renewal"]
_KINDS = ("first-issue", "renewal")


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """One box. ``number`` "" = it has none; ``cells`` None = no source says how many."""

    number: str
    label_it: str
    label_en: str
    fill: str
    take: str
    source: str
    note: str
    exact: bool
    last: bool
    only: Only
    cells: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class EmptyBoxes:
    """Boxes that stay empty, and why. ``unless``: a fill that would use them after all."""

    boxes: tuple[str, ...]
    why: str
    source: str
    only: Only
    unless: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FormBoxes:
    """All that is known of the form's boxes. ``look``: boxes of which nothing is known."""

    form: str
    as_of: date
    boxes: tuple[Box, ...]
    empty: tuple[EmptyBoxes, ...]
    look: tuple[str, ...]
    words: tuple[str, ...]
    civil_status: Mapping[str, str]
    sex: Mapping[str, str]
    issued_by: Mapping[str, str]
    date_source: str
    pen_source: str


@cache
def form_boxes() -> FormBoxes:
    """The boxes of the form, in its order."""
    return read_boxes(FOLDER / "boxes.toml")


def read_boxes(path: Path) -> FormBoxes:
    """The boxes in a file; PacketFileError with every fault of it."""
    problems: list[str] = []
    top = Table(read_toml(path, path.name), problems=problems)
    look, writing = top.table("look"), top.table("writing")
    form = FormBoxes(
        form=top.text("form", required=True),
        as_of=top.day("as_of", required=True) or date.min,
        boxes=tuple(_box(table) for table in top.tables("box")),
        empty=tuple(_empty(table) for table in top.tables("empty")),
        look=look.words("boxes"),
        words=look.words("words"),
        civil_status=_codes(top.table("civil_status")),
        sex=_codes(top.table("sex")),
        issued_by=_codes(top.table("issued_by")),
        date_source=writing.text("date_source", required=True),
        pen_source=writing.text("pen_source", required=True),
    )
    for table in (look, writing, top):
        table.close()
    if problems:
        raise PacketFileError(path.name, problems)
    return form


def _box(table: Table) -> Box:
    fill = table.text("fill", required=True)
    box = Box(
        number=table.text("box"),
        label_it=table.text("label_it", required=True),
        label_en=table.text("label_en", required=True),
        fill=fill,
        take=table.text("take"),
        source=table.text("source", required=fill != "look"),
        note=table.text("note"),
        exact=table.flag("exact", False),
        last=table.flag("last", False),
        only=cast(Only, table.choice("only", _KINDS, "")),
        cells=table.integer("cells", None, low=1, high=60),
    )
    table.close()
    return box


def _empty(table: Table) -> EmptyBoxes:
    empty = EmptyBoxes(
        boxes=table.words("boxes"),
        why=table.text("why", required=True),
        source=table.text("source", required=True),
        only=cast(Only, table.choice("only", _KINDS, "")),
        unless=table.text("unless"),
    )
    table.close()
    return empty


def _codes(table: Table) -> Mapping[str, str]:
    return {key: table.text(key, required=True) for key in table.keys()}  # noqa: SIM118
