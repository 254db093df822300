"""The application form: is it scanned, is it whole, were its leaves counted?"""

from __future__ import annotations

from collections.abc import Iterator

from packet.model import Finding, Item, Packet, Severity
from packet.rules.notes import count_box, signature_box


def check_form(packet: Packet, items: tuple[Item, ...]) -> Iterator[Finding]:
    """Findings about the form; ``items``: the printed pages of it that were scanned.

    Codes: ``form-leaves-unconfirmed``, ``form-not-scanned``, ``form-pages``, ``form-signature``.
    """
    if not packet.count.form_leaves_confirmed:
        yield _leaves_unconfirmed(packet)
    if items:
        wanted = form_pages(packet)
        if len(items) != wanted:
            yield _pages(packet, len(items), wanted)
        yield _signature(items[0])
    elif not packet.form.copied_by_hand:
        yield _not_scanned(packet)


def form_pages(packet: Packet) -> int:
    """Printed pages of the forms that the user fills in, from the rule set."""
    return sum(packet.rule_set.form_pages.get(module, 0) for module in packet.form.modules)


def _leaves_unconfirmed(packet: Packet) -> Finding:
    box = count_box()
    return Finding(
        code="form-leaves-unconfirmed",
        severity=Severity.WARNING,
        subject="count.form_leaves",
        message=(
            f"The number for box {box.number} takes the form as {packet.count.form_leaves} "
            "leaves. Nobody has counted them yet."
        ),
        remedy=(
            "Count the leaves of the form in your hand (pieces of paper, not printed sides) and "
            "write the number as form_leaves under [count] in packet.toml, even if it is the same."
        ),
        source=box.source,
    )


def _not_scanned(packet: Packet) -> Finding:
    folder = packet.rule_set.form.folder
    return Finding(
        code="form-not-scanned",
        severity=Severity.NOTE,
        subject=f"{folder}/",
        message="The form is not scanned yet: the copy sets lack it, and their index says so.",
        remedy=(
            f"Fill it in, write the number in box {count_box().number}, sign it, scan it into "
            f"{folder}/ and build again. If you copy it elsewhere, set copied_by_hand = true "
            "under [form] in packet.toml."
        ),
    )


def _pages(packet: Packet, found: int, wanted: int) -> Finding:
    modules = " and ".join(str(module) for module in packet.form.modules)
    what = "Form" if len(packet.form.modules) == 1 else "Forms"
    remedy = (
        "Scan the pages that are not there, empty ones too."
        if found < wanted
        else "Leave out what is there twice, or correct modules under [form] in packet.toml."
    )
    return Finding(
        code="form-pages",
        severity=Severity.WARNING,
        subject=f"{packet.rule_set.form.folder}/",
        message=f"{what} {modules} should have {wanted} printed pages; scanned: {found}.",
        measured=found,
        limit=wanted,
        unit="pages",
        remedy=remedy,
        source=packet.rule_set.form.source,
    )


def _signature(item: Item) -> Finding:
    box = signature_box()
    return Finding(
        code="form-signature",
        severity=Severity.NOTE,
        subject=item.subject,
        message=f"Whether box {box.number} is signed cannot be seen from here.",
        remedy=(
            f"Look at the form: without a signature in box {box.number} it is not accepted at "
            "the counter."
        ),
        source=box.source,
    )
