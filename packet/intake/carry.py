"""What a renewal takes over from the packet before it, and what must be scanned anew.

Taken over: applicant, passport, address, choices, papers of the user's own, and the scans of
documents that the new rule set calls renewable, with their order and ``[[item]]`` tables. Not
taken over: visa and entry (MOD. 209, note (n): for a first issue only), the count of the form's
leaves (the new form is another paper), and scans of documents that have changed since.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from packet.intake.names import same, shown
from packet.intake.packet_text import own_documents
from packet.intake.scans import list_scans
from packet.model import (
    CountChoice,
    DocumentSpec,
    Finding,
    FormChoice,
    ItemOverride,
    OrderEntry,
    Packet,
    RuleSet,
    Scan,
)
from packet.rules.fields import fold


@dataclass(frozen=True, slots=True, kw_only=True)
class Carried:
    """The new packet's values, the old scans to copy, and what to tell the user."""

    packet: Packet
    scans: tuple[Scan, ...]
    again: tuple[str, ...]


def carry(old: Packet, rule_set: RuleSet) -> Carried:
    """The old packet as the start of one for ``rule_set``. Reads the old folder, writes nothing."""
    taken = {fold(spec.folder) for spec in (*rule_set.documents, rule_set.form)}
    own = tuple(spec for spec in own_documents(old) if fold(spec.folder) not in taken)
    documents = rule_set.documents + own
    listed, findings = list_scans(old)
    not_held = _not_held(old, rule_set)
    kept = {spec.folder for spec in documents if spec.renewable and spec.folder not in not_held}
    kept &= {spec.folder for spec in old.documents}
    scans = tuple(scan for scan in listed if scan.folder in kept)
    packet = replace(
        old,
        rule_set=rule_set,
        documents=documents,
        not_held=not_held,
        visa=type(old.visa)(),
        entry=type(old.entry)(),
        form=_form(old, rule_set),
        count=replace(
            old.count,
            form_leaves=CountChoice().form_leaves,
            form_leaves_confirmed=False,
        ),
        order=_order(old, kept),
        overrides=tuple(_overrides(old, kept)),
        values_digest="",
    )
    stays = [one for one in findings if one.subject.partition("/")[0] in kept]
    return Carried(packet=packet, scans=scans, again=tuple(_again(old, packet, scans, stays)))


def _not_held(old: Packet, rule_set: RuleSet) -> tuple[str, ...]:
    may_lack = {spec.folder for spec in rule_set.documents if spec.need == "if-held"}
    return tuple(folder for folder in old.not_held if folder in may_lack)


def _form(old: Packet, rule_set: RuleSet) -> FormChoice:
    modules = tuple(module for module in old.form.modules if module in rule_set.form_pages)
    return replace(old.form, modules=modules or (min(rule_set.form_pages),))


def _order(old: Packet, kept: set[str]) -> Mapping[str, tuple[OrderEntry, ...]]:
    """The lists of the folders that are kept, without entries of files that are not."""
    order = {}
    for folder, entries in old.order.items():
        lines = tuple(one for one in entries if _is_kept(one.file, folder, kept))
        if folder in kept and lines:
            order[folder] = lines
    return order


def _is_kept(file: str, folder: str, kept: set[str]) -> bool:
    place, slash, _ = file.partition("/")
    return (same(place) if slash else folder) in kept


def _overrides(old: Packet, kept: set[str]) -> Iterator[ItemOverride]:
    """Those of kept scans; an item of a document that is scanned anew is left out instead."""
    for one in old.overrides:
        if same(one.scan.partition("/")[0]) not in kept:
            continue
        if one.document is None or one.document in kept:
            yield one
        else:
            yield replace(one, document=None, leave_out=True)


# --- what to tell the user --------------------------------------------------------------------


def _again(
    old: Packet, new: Packet, scans: Sequence[Scan], stays: Sequence[Finding]
) -> Iterator[str]:
    held = {spec.folder for spec in (*old.documents, old.rule_set.form)}
    for spec in (*new.documents, new.rule_set.form):
        if spec.folder not in new.not_held:
            yield _one(spec, [scan for scan in scans if scan.folder == spec.folder], held)
    yield from _moved(old, new)
    for spec in old.documents:
        if spec.folder not in {one.folder for one in new.documents}:
            yield f"{spec.folder}: the new rule set does not ask for it; its scans stay behind."
    for finding in stays:
        yield f"{finding.subject}: stays behind, it {finding.message}"
    yield "form_leaves: count the leaves of the new form in your hand and write the number."
    yield "[passport] and [address]: correct them if the book or the address is a new one."


def _one(spec: DocumentSpec, scans: Sequence[Scan], held: set[str]) -> str:
    why = f" ({spec.renewal_note})" if spec.renewal_note else ""
    if scans:
        count = "1 scan" if len(scans) == 1 else f"{len(scans)} scans"
        note = spec.renewal_note or "check that it is still valid"
        return f"{spec.folder}: {count} carried over; {note}, else scan it anew."
    if spec.folder not in held or spec.renewable:
        return f"{spec.folder}: scan it; nothing was there to carry over."
    return f"{spec.folder}: scan it anew{why}."


def _moved(old: Packet, new: Packet) -> Iterator[str]:
    """Items of kept documents that lie on scans which stay behind."""
    there = {one.folder for one in new.documents if one.renewable}
    for one in old.overrides:
        place = same(one.scan.partition("/")[0])
        if one.document in there and place not in there and not one.leave_out:
            yield (
                f"{one.document}: a part of it lies on {shown(one.scan)}, which stays behind; "
                "scan that part anew."
            )
