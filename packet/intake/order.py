"""The reading order: which items belong to which document, one after the other.

The result is a permutation of the items that are not left out: ``[order]`` decides what comes
first, natural order of the file names does the rest, and no entry ever drops an item.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any

from packet.intake.names import natural_key, same, shown
from packet.model import (
    DocumentSpec,
    Finding,
    Item,
    ItemOverride,
    Kind,
    OrderEntry,
    Packet,
    Scan,
    Severity,
)

CARD_SIDES: Mapping[Kind, tuple[Kind, Kind]] = {
    side: pair
    for pair in (
        (Kind.ID_CARD_FRONT, Kind.ID_CARD_BACK),
        (Kind.PERMIT_FRONT, Kind.PERMIT_BACK),
        (Kind.TAX_CARD_FRONT, Kind.TAX_CARD_BACK),
    )
    for side in pair
}


def order_items(packet: Packet, items: Sequence[Item]) -> Mapping[str, tuple[Item, ...]]:
    """Folder -> its items in reading order; every folder of the packet is a key, the form last.

    ``[[item]]`` tables move an item to another document (``document``) or leave it out; one of
    the heap that belongs to no document yet is not there. Within
    a folder: items that an ``[order]`` entry names, in the order of the entries (the most
    exact entry decides: "a.pdf#3" before "a.pdf"); then the folder's own, naturally by file
    name, page and item; then those moved in. Cards alternate front and back by position
    unless the user gave the kind or the two pictures were told apart (a side without a partner
    stays what it is); the front of a pair comes first where ``[order]`` does not speak of the
    folder.
    """
    specs = (*packet.documents, packet.rule_set.form)
    overrides = {_target(one.scan, one.page, one.item): one for one in packet.overrides}
    lists: dict[str, list[Item]] = {spec.folder: [] for spec in specs}
    for item in items:
        override = overrides.get(_target(item.scan, item.page, item.item))
        folder = _folder(item, override)
        if folder != packet.heap and (override is None or not override.leave_out):
            lists[folder].append(item)
    return {
        spec.folder: _sides(
            spec,
            _sorted(packet, spec.folder, lists[spec.folder]),
            listed=spec.folder in packet.order,
        )
        for spec in specs
    }


def documents_of(packet: Packet, scan: Scan) -> frozenset[str]:
    """Folders of the documents that a scan belongs to: its own, or those that ``[[item]]`` tables
    assign the items of a scan of the heap to.
    """
    if scan.folder != packet.heap:
        return frozenset({scan.folder})
    return frozenset(
        one.document
        for one in packet.overrides
        if one.document is not None and not one.leave_out and same(one.scan) == same(scan.name)
    )


def order_findings(
    packet: Packet, items: Sequence[Item], scans: Sequence[Scan] = ()
) -> tuple[Finding, ...]:
    """A warning for each ``[order]`` entry and ``[[item]]`` table that names nothing, and for
    each item of the heap that no ``[[item]]`` table assigns to a document.

    ``scans``: all that were listed; a file that is there but gave no item has its own finding
    already and is not reported again. Items left out count as there.
    """
    return (
        *_order_findings(packet, items, scans),
        *_override_findings(packet, items, scans),
        *_not_sorted(packet, items),
    )


# --- sorting ----------------------------------------------------------------------------------


def _target(scan: str, page: int, item: int) -> tuple[str, int, int]:
    return (same(scan), page, item)


def _folder(item: Item, override: ItemOverride | None) -> str:
    if override is not None and override.document is not None:
        return override.document
    return _home(item)


def _home(item: Item) -> str:
    """The folder that an item's scan lies in (folders of packet.toml are NFC)."""
    return same(item.scan.partition("/")[0])


def _sorted(packet: Packet, folder: str, items: Sequence[Item]) -> list[Item]:
    entries = packet.order.get(folder, ())

    def key(item: Item) -> tuple[Any, ...]:
        moved = _home(item) != folder
        return (_place(folder, entries, item), moved, natural_key(item.scan), item.page, item.item)

    return sorted(items, key=key)


def _place(folder: str, entries: Sequence[OrderEntry], item: Item) -> int:
    """Index of the most exact entry that names the item (the first of equals), else the end."""
    best = (0, len(entries))
    for at, entry in enumerate(entries):
        exactness = _matches(folder, entry, item)
        if exactness > best[0]:
            best = (exactness, at)
    return best[1]


def _matches(folder: str, entry: OrderEntry, item: Item) -> int:
    """How exactly an entry names an item: 0 not at all, 1 its file, 2 its page, 3 itself."""
    if _names(folder, _as_written(entry), item.scan):  # a file whose own name ends in "#2"
        return 1
    if not _names(folder, entry.file, item.scan):
        return 0
    if entry.page is None:
        return 1
    if entry.page != item.page:
        return 0
    if entry.item is None:
        return 2
    return 3 if entry.item == item.item else 0


def _names(folder: str, file: str, scan: str) -> bool:
    """``file`` in the folder, or with a folder's name before it (an item moved in)."""
    return same(scan) in {same(f"{folder}/{file}"), same(file)}


def _as_written(entry: OrderEntry) -> str:
    page = "" if entry.page is None else f"#{entry.page}"
    return entry.file + page + ("" if entry.item is None else f".{entry.item}")


# --- card sides -------------------------------------------------------------------------------


def _sides(spec: DocumentSpec, items: Sequence[Item], *, listed: bool) -> tuple[Item, ...]:
    """Card sides in pairs: front, back. A side that the user named decides its partner's.

    ``listed``: the user gave the order of the folder, which is kept.
    """
    if not spec.two_sides:
        return tuple(items)
    sided = list(items)
    for family in dict.fromkeys(CARD_SIDES.values()):
        places = [at for at, item in enumerate(sided) if item.kind in family]
        for first in range(0, len(places), 2):
            pair = places[first : first + 2]
            for at, kind in zip(pair, _pair_kinds([sided[at] for at in pair], family), strict=True):
                sided[at] = replace(sided[at], kind=kind) if sided[at].kind != kind else sided[at]
            if not listed and [sided[at].kind for at in pair] == [family[1], family[0]]:
                sided[pair[0]], sided[pair[1]] = sided[pair[1]], sided[pair[0]]
    return tuple(sided)


def _pair_kinds(pair: Sequence[Item], family: tuple[Kind, Kind]) -> list[Kind]:
    """The sides of one card; a side alone keeps what was seen, so that the other one is missed."""
    if len(pair) == 1:
        return [pair[0].kind]
    front, back = family
    kinds = [front, back]
    if [item.kind for item in pair] == [back, front]:  # told apart by what is on them
        kinds = [back, front]
    other = {front: back, back: front}
    for at, item in enumerate(pair):
        if item.kind_from_user:
            kinds[at] = item.kind
            partner = 1 - at
            if not pair[partner].kind_from_user:
                kinds[partner] = other[item.kind]
    return kinds


# --- findings ---------------------------------------------------------------------------------


def _order_findings(
    packet: Packet, items: Sequence[Item], scans: Sequence[Scan]
) -> Iterator[Finding]:
    seen = {item.scan for item in items}
    silent = [scan.name for scan in scans if scan.name not in seen]
    for folder, entries in packet.order.items():
        for at, entry in enumerate(entries):
            named = any(_matches(folder, entry, item) for item in items)
            if named or any(_names(folder, entry.file, name) for name in silent):
                continue
            yield _names_nothing(
                f"order.{folder}[{at}]",
                f'"{shown(_as_written(entry))}" names no file, page or item of {folder}.',
            )


def _override_findings(
    packet: Packet, items: Sequence[Item], scans: Sequence[Scan]
) -> Iterator[Finding]:
    targets = {_target(item.scan, item.page, item.item) for item in items}
    seen = {item.scan for item in items}
    silent = {same(scan.name) for scan in scans if scan.name not in seen}
    for at, one in enumerate(packet.overrides):
        if _target(one.scan, one.page, one.item) in targets or same(one.scan) in silent:
            continue
        yield _names_nothing(
            f"item[{at}].scan", f"{shown(one.scan)}#{one.page}.{one.item} is not there."
        )


def _names_nothing(key: str, message: str) -> Finding:
    return Finding(
        code="names-nothing",
        severity=Severity.WARNING,
        subject=key,
        message=message,
        remedy="Correct the line in packet.toml, or take it out. Pages and items count from 1, "
        "and a file is named with its ending.",
    )


def _not_sorted(packet: Packet, items: Sequence[Item]) -> Iterator[Finding]:
    settled = {
        _target(one.scan, one.page, one.item)
        for one in packet.overrides
        if one.document is not None or one.leave_out
    }
    for item in items:
        target = _target(item.scan, item.page, item.item)
        if _home(item) == packet.heap and target not in settled:
            yield Finding(
                code="not-sorted",
                severity=Severity.WARNING,
                subject=item.subject,
                message="This belongs to no document yet and will not be copied.",
                remedy="Run packet sort, or set document for it under [[item]] in packet.toml; "
                "leave_out = true if it is not wanted.",
            )
