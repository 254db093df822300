"""Items whose right way up nobody knows yet: said once, so that the user looks."""

from __future__ import annotations

from collections.abc import Iterable

from packet.model import Finding, Item, Severity


def unsure_turns(items: Iterable[Item]) -> tuple[Finding, ...]:
    """A note for each item, blank ones apart, that is printed as the scan shows it."""
    return tuple(
        Finding(
            code="turn-unsure",
            severity=Severity.NOTE,
            subject=item.subject,
            message="Which way up it reads could not be told: it is printed as the scan shows it.",
            remedy="Look at it in review.html; if it lies sideways or upside down, set turn = 90, "
            "180 or 270 for it under [[item]] in packet.toml.",
        )
        for item in items
        if item.turn_deg is None and not item.blank
    )
