"""What stands in a box of the form, and what the functions that fill boxes read."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass
from typing import Any

from packet.model import Packet
from packet.rules.boxes import Box
from packet.rules.fees import FeeTable

DATE_GROUPS = (2, 2, 4)  # day, month, year


@dataclass(frozen=True, slots=True, kw_only=True)
class Filled:
    """What stands in a box.

    ``value``: the signs, one a cell. ``rest``: what a cut name loses. ``blank``: cells to draw
    when there is no value and their number is known. ``words``: printed beside the cells or in
    their place. ``groups``: cells that stand together (dates).
    """

    value: str = ""
    rest: str = ""
    blank: int = 0
    words: str = ""
    groups: tuple[int, ...] = ()
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Context:
    """What the fills read. ``count``: the JSON of `packet count`, None when there is none.

    ``stale``: why the number is worked out from the scans, "" when it comes from the files.
    """

    packet: Packet
    fees: FeeTable
    count: Mapping[str, Any] | None
    stale: str
    doubted: Collection[str]  # key paths that a check names

    def cells(self, box: Box) -> int | None:
        """How many cells the box has: counted by the user, else known, else None."""
        return self.packet.form.cells.get(box.number, box.cells)


Fill = Callable[[Context, Box], Filled | None]


def missing(key: str, blank: int = 0, hint: str = "") -> Filled:
    """An empty box, and the key of packet.toml that would fill it."""
    section, _, name = key.partition(".")
    return Filled(
        blank=blank, notes=(f"Not given: write {name} under [{section}] in packet.toml.{hint}",)
    )


def whole(text: str, cells: int | None, groups: tuple[int, ...] = ()) -> Filled:
    """The text, or empty cells where it is longer than they are: a number is never cut."""
    if cells is not None and len(text) > cells:
        return Filled(
            blank=cells,
            notes=(
                f"It has {len(text)} signs and your form has {cells} cells: the cells stay empty. "
                "Compare both again; ask the office how to write it.",
            ),
        )
    return Filled(value=text, groups=groups)
