"""Findings that the user has looked at and accepts: ``accept`` under ``[[item]]``."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from packet.intake.names import same, shown
from packet.model import Finding, ItemOverride, Packet

NEVER_ACCEPTED = frozenset({"unreadable", "not-a-scan"})  # a page would be missing, unsaid


def _subjects(override: ItemOverride) -> tuple[str, str, str]:
    """The subjects an override speaks of: its item, its page, its scan."""
    scan = _name(override.scan)
    page = f"{scan}#{override.page}"
    return f"{page}.{override.item}", page, scan


def _name(text: str) -> str:
    """Names compare after NFC, in the form in which findings show them."""
    return shown(same(text))


def _accepted(overrides: Sequence[ItemOverride]) -> frozenset[tuple[str, str]]:
    return frozenset(
        (code, subject)
        for override in overrides
        for code in override.accept
        if code not in NEVER_ACCEPTED
        for subject in _subjects(override)
    )


def apply_accepts(packet: Packet, findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """The same findings in the same order, ``accepted`` set where an ``[[item]]`` says so.

    An entry accepts the codes it lists, and no other, for its own item; and for its page or its
    scan where a finding speaks of the whole page or scan. It reaches no other item. A scan that
    cannot be read is never accepted: take the file out of the folder instead.
    """
    accepted = _accepted(packet.overrides)
    return tuple(
        replace(finding, accepted=True)
        if (finding.code, _name(finding.subject)) in accepted
        else finding
        for finding in findings
    )
