"""The plan as lines of packet.toml, between marks of their own: the rest of the file is the user's.

Two blocks: ``[[item]]`` tables at the end of the file, and lists under ``[order]``. A mark holds a
check sum of its block. While it fits, the block is written anew by the next sort; once the user
has changed a line, the block is theirs: its lines stay, and only what is new is added.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from packet.intake.packet_text import toml_key, toml_value
from packet.sorting.book import Leaf
from packet.sorting.plan import Placed, Plan

ITEMS, ORDER = "items", "order"
_MARK = re.compile(
    r"# --- packet sort, (?P<name>items|order): (?P<end>begin|end)(?: (?P<sum>\w{8}))?"
)
_ORDER_HEAD = re.compile(r"[ \t]*\[[ \t]*order[ \t]*\][ \t]*(?:#.*)?")
_TABLE_HEAD = re.compile(r"[ \t]*\[")
_COLUMN = 38
_ABOUT_ITEMS = (
    "# What packet sort proposes for each scan. Correct it as you like: once you have changed a",
    "# line here, all of these lines stay as they are, and packet sort only adds new scans.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """A block as it stands in the file: lines ``start`` to ``end``, the marks among them."""

    start: int
    end: int
    lines: tuple[str, ...]
    edited: bool


def find_blocks(text: str) -> dict[str, Block]:
    """The blocks of a packet.toml by name; one without its end is not known as one."""
    lines = _lines(text)
    begun: dict[str, tuple[int, str]] = {}
    found = {}
    for at, line in enumerate(lines):
        mark = _MARK.match(line)
        if mark is None:
            continue
        name = mark["name"]
        if mark["end"] == "begin":
            begun[name] = (at, mark["sum"] or "")
        elif name in begun:
            start, told = begun.pop(name)
            inner = tuple(lines[start + 1 : at])
            found[name] = Block(start=start, end=at, lines=inner, edited=_sum(inner) != told)
    return found


def with_plan(text: str, plan: Plan, own_orders: Iterable[str]) -> str:
    """packet.toml with the plan in it. ``own_orders``: folders whose list the user wrote."""
    newline = "\r\n" if "\r\n" in text else "\n"
    lines = _lines(text)
    taken = set(own_orders)
    order = {folder: leaves for folder, leaves in plan.order.items() if folder not in taken}
    lines = _with_order(lines, find_blocks(text).get(ORDER), order)
    block = find_blocks("\n".join(lines)).get(ITEMS)
    lines = _with_items(lines, block, plan)
    return newline.join(lines).rstrip() + newline


def _lines(text: str) -> list[str]:
    """Lines as TOML knows them: other signs that end a line may stand inside a text."""
    return [line.removesuffix("\r") for line in text.split("\n")]


def _sum(lines: Sequence[str]) -> str:
    text = "\n".join(line.rstrip() for line in lines).strip()
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()[:8]


def _marked(name: str, lines: Sequence[str]) -> list[str]:
    return [
        f"# --- packet sort, {name}: begin {_sum(lines)} ---",
        *lines,
        f"# --- packet sort, {name}: end ---",
    ]


# --- the two blocks -----------------------------------------------------------------------------


def _with_items(lines: list[str], block: Block | None, plan: Plan) -> list[str]:
    new = [line for one in plan.placed for line in _table(one)]
    if block is None:
        if not new:
            return lines
        return [*_trimmed(lines), "", *_marked(ITEMS, [*_ABOUT_ITEMS, *new])]
    if block.edited:  # the old check sum stays: the block is the user's for good
        return [*lines[: block.end], *new, *lines[block.end :]]
    made = _marked(ITEMS, [*_ABOUT_ITEMS, *new]) if new else []
    return [*lines[: block.start], *made, *lines[block.end + 1 :]]


def _with_order(
    lines: list[str], block: Block | None, order: Mapping[str, Sequence[Leaf]]
) -> list[str]:
    new = [line for folder, leaves in order.items() for line in _list(folder, leaves)]
    if block is not None:
        if block.edited:
            return lines
        made = _marked(ORDER, new) if new else []
        return [*lines[: block.start], *made, *lines[block.end + 1 :]]
    if not new:
        return lines
    head = next((at for at, line in enumerate(lines) if _ORDER_HEAD.fullmatch(line)), None)
    if head is None:
        return [*_trimmed(lines), "", "[order]", *_marked(ORDER, new)]
    at = _end_of_comments(lines, head + 1)
    return [*lines[:at], *_marked(ORDER, new), *lines[at:]]


def _end_of_comments(lines: Sequence[str], at: int) -> int:
    while at < len(lines) and lines[at].startswith("#"):
        at += 1
    return at


def _trimmed(lines: Sequence[str]) -> list[str]:
    kept = list(lines)
    while kept and not kept[-1].strip():
        kept.pop()
    return kept


# --- lines --------------------------------------------------------------------------------------


def _table(one: Placed) -> Iterator[str]:
    """One ``[[item]]`` table, as comments where its document is not sure."""
    off = "# " if one.document is None else ""
    yield ""
    yield _noted(f"{off}[[item]]", one.why)
    yield f"{off}scan = {toml_value(one.item.scan)}"
    if (one.item.page, one.item.item) != (1, 1):
        yield f"{off}page = {one.item.page}"
        yield f"{off}item = {one.item.item}"
    if one.document is None:
        said = "perhaps; take the # off this table if so" if one.guess else "look, and write it"
        yield _noted(f"# document = {toml_value(one.guess)}", said)
    else:
        yield f"document = {toml_value(one.document)}"
    if one.kind is not None:
        yield f"{off}kind = {toml_value(one.kind.value)}"
    if one.turn is not None:
        yield f"{off}turn = {one.turn}"
    if one.twin:
        yield _noted("# leave_out = true", f"{one.twin}; take the # off to copy it once")


def _list(folder: str, leaves: Sequence[Leaf]) -> Iterator[str]:
    yield f"{toml_key(folder)} = ["
    for leaf in leaves:
        yield _noted(f"  {toml_value(leaf.item.subject)},", leaf.note)
    yield "]"


def _noted(text: str, note: str) -> str:
    return f"{text.ljust(_COLUMN)}  # {note}" if note else text
