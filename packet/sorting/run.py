"""``packet sort``: the heap read, a plan made and written into packet.toml; no scan is touched."""

from __future__ import annotations

import tomllib
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from packet.cache import open_cache
from packet.checks.completeness import check_documents
from packet.checks.duplicates import find_duplicates
from packet.checks.openings import page_numbers
from packet.errors import PacketError, PacketFileError, UsageError
from packet.files import write_all_whole
from packet.intake.names import same, shown
from packet.intake.order import order_items
from packet.intake.packet_file import PACKET_FILE, packet_of, parse_order_entry, read_packet
from packet.model import HEAP_FOLDER, Finding, Item, ItemOverride, OrderEntry, Packet
from packet.reading import Listed, Progress, Reader, list_scans_of
from packet.sorting.block import ITEMS, ORDER, find_blocks, with_plan
from packet.sorting.plan import Placed, Plan, make_plan

MISSING = ("missing-document", "missing-side", "missing-openings", "opening-not-seen")
_BOM = "\ufeff"


@dataclass(frozen=True, slots=True, kw_only=True)
class SortResult:
    """The plan, and where it was written (None: it was not asked for, or nothing is new).

    ``own_orders``: folders whose order the user gave, which is kept; ``findings``: scans that
    could not be read, and the like.
    """

    plan: Plan
    written: Path | None
    own_orders: tuple[str, ...] = ()
    findings: tuple[Finding, ...] = ()


def sort_packet(
    root: Path,
    *,
    write: bool = True,
    jobs: int | None = None,
    password: str | None = None,
    progress: Progress | None = None,
    use_cache: bool = True,
    read: bool = False,
) -> SortResult:
    """Propose document, kind, turn and order of every scan of the heap.

    ``write``: into packet.toml, of which only the blocks of ``sorting.block`` change. ``read``:
    by the text of the items too; without it only what kind and size tell is sure. UsageError where
    there is nothing to sort.
    """
    packet = read_packet(root)
    path = root / PACKET_FILE
    if write and path.is_symlink():
        raise PacketError(
            f"{path}: is a symbolic link, which is not written to. See the plan with --dry-run."
        )
    text = path.read_bytes().decode("utf-8-sig")
    bare = without_proposals(packet, text)
    listed = list_scans_of(bare, encode=True, preview=True, read=read, password=password)
    _refuse_nothing(listed)
    with Reader(jobs=jobs, cache=open_cache(use_cache), read=read) as reader:
        pages, failures = reader.see(listed.wanted, progress=progress)
    items = [item for page in pages for item in page.items]
    plan = plan_for(bare, items)
    own_orders = tuple(folder for folder in plan.order if bare.order.get(folder))
    new = with_plan(text, plan, own_orders)
    prove(bare, plan, new)
    changed = new != text
    if write and changed:
        _write(path, new)
    return SortResult(
        plan=plan,
        written=path if write and changed else None,
        own_orders=own_orders,
        findings=(*listed.findings, *failures),
    )


def _refuse_nothing(listed: Listed) -> None:
    packet = listed.packet
    if not packet.heap:
        raise UsageError(
            f"A document of this packet has the folder {HEAP_FOLDER}, so there is no heap to sort. "
            "Give that document another folder."
        )
    if not any(scan.folder == packet.heap for scan in listed.scans):
        raise UsageError(
            f"{packet.root}: there is nothing to sort. Put all scans, in any order, into a folder "
            f"named {packet.heap} beside packet.toml, then run packet sort again."
        )


# --- what packet.toml says already --------------------------------------------------------------


def without_proposals(packet: Packet, text: str) -> Packet:
    """The packet without what an earlier sort proposed and the user has not changed."""
    blocks = find_blocks(text)
    tables: set[tuple[str, int, int]] = set()
    folders: set[str] = set()
    for name, key in ((ITEMS, "item"), (ORDER, None)):
        block = blocks.get(name)
        if block is None or block.edited:
            continue
        told: dict[str, Any] = tomllib.loads("\n".join(block.lines))
        if key is None:
            folders |= told.keys()
        else:
            tables |= {_target_of(one) for one in told.get(key, ())}
    return replace(
        packet,
        overrides=tuple(one for one in packet.overrides if _target(one) not in tables),
        order={name: lines for name, lines in packet.order.items() if name not in folders},
    )


def _target(one: ItemOverride) -> tuple[str, int, int]:
    return (same(one.scan), one.page, one.item)


def _target_of(table: Mapping[str, Any]) -> tuple[str, int, int]:
    return (same(table["scan"]), table.get("page", 1), table.get("item", 1))


# --- the plan -----------------------------------------------------------------------------------


def plan_for(packet: Packet, items: Sequence[Item]) -> Plan:
    """The plan for the heap's items, with what would be missing if it were carried out.

    ``items``: of all scans of the packet, those in the documents' own folders too.
    """
    heap = [item for item in items if same(item.scan.partition("/")[0]) == packet.heap]
    tables = {_target(one): one for one in packet.overrides}
    settled: dict[str, str] = {}
    tabled: set[str] = set()
    for item in heap:
        table = tables.get((same(item.scan), item.page, item.item))
        if table is not None and (table.document is not None or table.leave_out):
            settled[item.subject] = "" if table.leave_out else table.document or ""
        elif table is not None:
            tabled.add(item.subject)
    plan = make_plan(packet, heap, settled=settled, twins=twins_of(heap))
    plan = replace(plan, placed=tuple(_not_over(one, tabled) for one in plan.placed))
    return replace(plan, missing=_missing(carried_out(packet, plan), items))


def _not_over(one: Placed, tabled: Iterable[str]) -> Placed:
    """An item with a table of the user's own gets no second one."""
    if one.subject not in tabled:
        return one
    why = "it has an [[item]] table of yours: write document there"
    return replace(one, document=None, guess=one.document or one.guess, why=why)


def twins_of(items: Sequence[Item]) -> dict[str, str]:
    """Subject -> why the item seems to be there twice, in words that name the other one."""
    twins = {
        finding.subject: finding.message.partition(":")[0] for finding in find_duplicates(items)
    }
    pages: dict[tuple[int, ...], list[Item]] = defaultdict(list)
    for item in items:
        if page_numbers(item):
            pages[page_numbers(item)].append(item)
    for first, *others in pages.values():
        for item in others:
            said = f"The same page numbers as {shown(first.subject)}"
            twins.setdefault(item.subject, said)
    return twins


def carried_out(packet: Packet, plan: Plan) -> Packet:
    """The packet as packet.toml says it with the plan in it."""
    order = dict(packet.order)
    for folder, leaves in plan.order.items():
        entries: tuple[OrderEntry, ...] = tuple(
            parse_order_entry(leaf.item.subject) for leaf in leaves
        )
        order[folder] = order.get(folder) or entries
    tables = tuple(
        ItemOverride(
            scan=one.item.scan,
            page=one.item.page,
            item=one.item.item,
            document=one.document,
            kind=one.kind,
            turn=one.turn,
        )
        for one in plan.placed
        if one.document is not None
    )
    return replace(packet, overrides=(*packet.overrides, *tables), order=order)


def _missing(packet: Packet, items: Sequence[Item]) -> tuple[Finding, ...]:
    kinds = {_target(one): one.kind for one in packet.overrides if one.kind is not None}
    named = [
        replace(item, kind=kind, kind_from_user=True)
        if (kind := kinds.get((same(item.scan), item.page, item.item))) is not None
        else item
        for item in items
    ]
    findings = check_documents(packet, order_items(packet, named))
    return tuple(one for one in findings if one.code in MISSING)


# --- writing ------------------------------------------------------------------------------------


def prove(packet: Packet, plan: Plan, text: str) -> None:
    """Read the new text back: it must say the old values and the plan, and nothing else."""
    wanted = carried_out(packet, plan)
    try:
        found = packet_of(tomllib.loads(text.encode("utf-8").decode()), packet.root)
    except (ValueError, PacketFileError):
        found = None
    if found is None or _comparable(found) != _comparable(wanted):
        raise PacketError(
            f"{PACKET_FILE}: the plan cannot be added so that the file reads back as it should, "
            "and nothing was changed. See the plan with --dry-run; if a scan has an odd name, "
            "rename it; write [order] and [[item]] as tables of their own."
        )


def _comparable(packet: Packet) -> Packet:
    return replace(
        packet,
        overrides=tuple(sorted(packet.overrides, key=_target)),
        order=dict(packet.order),
        values_digest="",
    )


def _write(path: Path, text: str) -> None:
    bom = _BOM if path.read_bytes().startswith(_BOM.encode()) else ""
    write_all_whole(path.parent, {path.name: (bom + text).encode("utf-8")}, last=path.name)
