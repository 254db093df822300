"""The same picture twice: it would be printed and counted twice."""

from __future__ import annotations

from collections.abc import Iterable

from packet.intake.names import shown
from packet.model import Finding, Item, Severity


def find_duplicates(items: Iterable[Item]) -> tuple[Finding, ...]:
    """One ``duplicate`` warning for every item whose picture equals that of an earlier item.

    Equal means equal encoded bytes; pictures that only look alike (two blank openings) are
    never called duplicates. ``items``: those that are printed, in reading order.
    Both copies stay and count until the user leaves one out. Items without a picture (found
    only, not normalised) are skipped.
    """
    first: dict[str, Item] = {}
    findings = []
    for item in items:
        if item.image is None:
            continue
        earlier = first.setdefault(item.image.digest, item)
        if earlier is not item:
            findings.append(_duplicate(item, earlier))
    return tuple(findings)


def _duplicate(item: Item, earlier: Item) -> Finding:
    twin = shown(earlier.subject)
    return Finding(
        code="duplicate",
        severity=Severity.WARNING,
        subject=item.subject,
        message=f"The same picture as {twin}: it will be printed and counted twice.",
        remedy=(
            "Move the extra file out of the folder, or set leave_out = true for it under "
            '[[item]]; if both belong in the packet, list "duplicate" under accept there.'
        ),
    )
