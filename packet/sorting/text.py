"""The plan for the terminal, and for ``--json``."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby
from typing import Any

from packet.checks.progress import plural
from packet.intake.names import shown
from packet.model import Finding
from packet.report.record import finding_json
from packet.sorting.plan import Placed
from packet.sorting.run import SortResult

_WIDE = 34


def sort_text(result: SortResult) -> str:
    """What was proposed, document by document; then what needs the user."""
    plan = result.plan
    sure = [one for one in plan.placed if one.document is not None]
    parts = [
        "\n".join(_document(folder or "", list(group), result))
        for folder, group in groupby(sure, key=lambda one: one.document)
    ]
    if plan.unsure:
        parts.append("\n".join([f"NOT SURE: {len(plan.unsure)}, yours to say", *_unsure(result)]))
    if plan.twice:
        parts.append("\n".join([f"PERHAPS TWICE: {len(plan.twice)}", *_twice(result)]))
    if plan.loose:
        lines = [f"  {shown(one.subject)}" for one in plan.loose]
        title = f"PLACE IN THE BOOK NOT KNOWN: {len(plan.loose)}, put last"
        parts.append("\n".join([title, *lines]))
    if plan.missing:
        lines = [f"  {one.message} {one.remedy}" for one in plan.missing]
        but = ", unless it is among the unsure ones" if plan.unsure else ""
        parts.append("\n".join([f"MISSING: {len(plan.missing)}{but}", *lines]))
    return "\n\n".join([*parts, _last(result)])


def _document(folder: str, group: list[Placed], result: SortResult) -> Iterator[str]:
    yield f"{folder}: {plural(len(group), 'item')}"
    notes = {leaf.item.subject: leaf.note for leaf in result.plan.order.get(folder, ())}
    for one in group:
        kind = one.kind.value if one.kind is not None else ""
        why = ", ".join(filter(None, (notes.get(one.subject, ""), one.why)))
        yield f"  {shown(one.subject).ljust(_WIDE)}  {kind.ljust(16)}  {why}".rstrip()


def _unsure(result: SortResult) -> Iterator[str]:
    for one in result.plan.unsure:
        guess = f"; perhaps {one.guess}" if one.guess else ""
        yield f"  {shown(one.subject).ljust(_WIDE)}  {one.why}{guess}"


def _twice(result: SortResult) -> Iterator[str]:
    for one in result.plan.twice:
        yield f"  {shown(one.subject).ljust(_WIDE)}  {one.twin}"


def _last(result: SortResult) -> str:
    kept = ""
    if result.own_orders:
        kept = f" Your own order of {', '.join(result.own_orders)} was kept."
    if result.written is None:
        return f"packet.toml was not changed.{kept}"
    return (
        f"Written into {result.written}: look through it and correct it, then run packet check. "
        f"No scan was moved or renamed.{kept}"
    )


def sort_json(result: SortResult) -> dict[str, Any]:
    """The same for programs. ``document`` is null where it is not sure."""
    plan = result.plan
    return {
        "items": [_item_json(one) for one in plan.placed],
        "order": {
            folder: [leaf.item.subject for leaf in leaves] for folder, leaves in plan.order.items()
        },
        "place_not_known": [one.subject for one in plan.loose],
        "own_orders": list(result.own_orders),
        "missing": [finding_json(one) for one in plan.missing],
        "findings": [finding_json(one) for one in result.findings],
        "written": None if result.written is None else str(result.written),
    }


def _item_json(one: Placed) -> dict[str, Any]:
    return {
        "scan": one.item.scan,
        "page": one.item.page,
        "item": one.item.item,
        "document": one.document,
        "kind": None if one.kind is None else one.kind.value,
        "turn": one.turn,
        "why": one.why,
        "perhaps": one.guess,
        "twice": one.twin,
    }


def needs_user(result: SortResult) -> bool:
    """True where something is not sure, missing, there twice or unreadable."""
    plan = result.plan
    more: tuple[Finding, ...] = (*plan.missing, *result.findings)
    return bool(plan.unsure or plan.twice or plan.loose) or any(one.needs_user for one in more)
