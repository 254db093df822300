"""The ``[[item]]`` tables of packet.toml: where the user overrules the automatic result."""

from __future__ import annotations

from collections.abc import Sequence
from typing import cast

from packet.intake.names import same
from packet.model import ItemOverride, Kind, Quad, SizeMm, Tone, Turn
from packet.rules.fields import Table, listed, perhaps
from packet.rules.finding_codes import FINDING_CODES

LARGEST_PX = 200_000.0  # a corner farther out is a typing mistake
SIZES_MM = (5.0, 2000.0)
MAX_NUMBER = 99_999
_TURNS = (0, 90, 180, 270)
_TONES = ("grey", "colour", "bilevel")


def read_overrides(
    tables: Sequence[Table], folders: Sequence[str], heap: str = ""
) -> tuple[ItemOverride, ...]:
    """Every table checked; two tables for one item are a fault of the second.

    ``folders``: of the documents; ``heap``: that of scans which belong to none yet.
    """
    overrides: list[ItemOverride] = []
    seen: set[tuple[str, int, int]] = set()
    for table in tables:
        override = _read(table, folders, heap)
        target = (same(override.scan), override.page, override.item)
        if override.scan and target in seen:
            table.problem("scan", override.scan, "one [[item]] table for each item: join the two")
        seen.add(target)
        overrides.append(override)
        table.close()
    return tuple(overrides)


def _read(table: Table, folders: Sequence[str], heap: str) -> ItemOverride:
    kind = table.choice("kind", [one.value for one in Kind], "")
    turn = table.number_of("turn", _TURNS, -1)
    tone = table.choice("tone", _TONES, "")
    size = table.numbers("size_mm", 2, low=SIZES_MM[0], high=SIZES_MM[1])
    return ItemOverride(
        scan=_scan(table, [*folders, heap] if heap else folders),
        page=table.integer("page", 1, low=1, high=MAX_NUMBER) or 1,
        item=table.integer("item", 1, low=1, high=MAX_NUMBER) or 1,
        turn=None if turn < 0 else cast(Turn, turn),
        corners=_corners(table),
        kind=Kind(kind) if kind else None,
        size_mm=cast(SizeMm, size) if size else None,
        document=table.choice("document", folders, "") or None,
        leave_out=table.flag("leave_out", False),
        tone=cast(Tone, tone) if tone else None,
        accept=_accept(table),
    )


def _scan(table: Table, folders: Sequence[str]) -> str:
    """``folder/file``, the folder being one of the packet's."""
    words = f"the folder and the file, such as {folders[0]}/IMG_0001.jpg"
    scan = table.name("scan", words)
    folder, slash, file = scan.partition("/")
    known = {same(one) for one in folders}
    if scan and (not slash or not file or "/" in file or same(folder) not in known):
        table.problem("scan", scan, f"{words} (folders: {listed(folders)})")
        return ""
    return scan


def _corners(table: Table) -> Quad | None:
    points = table.points("corners", 4, limit=LARGEST_PX)
    if points is None:
        return None
    quad = tuple((point[0], point[1]) for point in points)
    turns = [
        (bx - ax) * (cy - by) - (by - ay) * (cx - bx)
        for (ax, ay), (bx, by), (cx, cy) in (
            (quad[at], quad[(at + 1) % 4], quad[(at + 2) % 4]) for at in range(4)
        )
    ]
    if min(turns) <= 0:
        table.problem(
            "corners",
            [list(point) for point in quad],
            "the four corners of a convex outline, clockwise, beginning at the item's top left",
        )
        return None
    return cast(Quad, quad)


def _accept(table: Table) -> tuple[str, ...]:
    codes = table.words("accept")
    for at, code in enumerate(codes):
        if code not in FINDING_CODES:
            near = perhaps(code, FINDING_CODES)
            hint = f" (perhaps {near})" if near else ""
            expected = f'the code of a finding, such as "blurred"{hint}'
            table.problem(f"accept[{at}]", code, expected)
    return codes
