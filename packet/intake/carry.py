"""What a renewal takes over from the packet before it, and what must be scanned anew.

Taken over: applicant, passport, address, choices, papers of the user's own, and the scans of
documents that the new rule set calls renewable, with their order and ``[[item]]`` tables; the
card that the old application brought becomes the permit held. Not taken over: visa and entry
(MOD. 209, note (n): for a first issue only), the count of the form's leaves and its cells (the
new form is another paper), receipt, appointment, amounts, and scans of documents that have
changed since or whose last valid day (``[valid_until]``) lies before the new date.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from packet.intake.names import same, shown
from packet.intake.order import documents_of
from packet.intake.packet_text import own_documents
from packet.intake.scans import list_scans
from packet.model import (
    Appointment,
    CountChoice,
    Finding,
    FormChoice,
    ItemOverride,
    NewPermit,
    OrderEntry,
    Packet,
    Permit,
    Receipt,
    RuleSet,
    Scan,
)
from packet.rules.fields import fold


@dataclass(frozen=True, slots=True, kw_only=True)
class Carried:
    """The new packet's values, the old scans to copy, and what to tell the user.

    ``again``: what to scan and why; ``check``: what must still be true of what was carried.
    """

    packet: Packet
    scans: tuple[Scan, ...]
    again: tuple[str, ...]
    check: tuple[str, ...]


def carry(old: Packet, rule_set: RuleSet, today: date | None = None) -> Carried:
    """The old packet as the start of one for ``rule_set``. Reads the old folder, writes nothing.

    ``today``: the day on which papers must still be valid; None = their ends are not looked at.
    """
    taken = {fold(spec.folder) for spec in (*rule_set.documents, rule_set.form)}
    own = tuple(spec for spec in own_documents(old) if fold(spec.folder) not in taken)
    documents = rule_set.documents + own
    listed, findings = list_scans(old)
    not_held = _not_held(old, rule_set)
    kept = {spec.folder for spec in documents if spec.renewable and spec.folder not in not_held}
    kept &= {spec.folder for spec in old.documents}
    ended = {folder for folder, day in old.valid_until.items() if today and day < today}
    kept -= ended
    scans = tuple(scan for scan in listed if documents_of(old, scan) & kept)
    packet = replace(
        old,
        rule_set=rule_set,
        documents=documents,
        not_held=not_held,
        visa=type(old.visa)(),
        entry=type(old.entry)(),
        permit=_permit(old),
        new_permit=NewPermit(),
        appointment=Appointment(),
        receipt=Receipt(),
        fee_table="",
        valid_until={f: day for f, day in old.valid_until.items() if f in kept},
        form=_form(old, rule_set),
        count=replace(
            old.count,
            form_leaves=CountChoice().form_leaves,
            form_leaves_confirmed=False,
        ),
        order=_order(old, kept),
        overrides=tuple(_overrides(old, kept, {same(scan.name) for scan in scans})),
        values_digest="",
    )
    stays = [one for one in findings if one.subject.partition("/")[0] in kept]
    return Carried(
        packet=packet,
        scans=scans,
        again=(*_again(old, packet, scans, ended), *_book(old, today)),
        check=tuple(_check(old, packet, scans, stays, today)),
    )


def _permit(old: Packet) -> Permit:
    """The card held now: the one that the old application brought, where its values are known."""
    before, new = old.permit, old.new_permit
    first = before.first_issued or (None if old.rule_set.is_renewal else new.issued)
    if new == NewPermit():
        return replace(before, first_issued=first)
    return Permit(
        number=new.number, type_code=new.type_code, expires=new.expires, first_issued=first
    )


def _not_held(old: Packet, rule_set: RuleSet) -> tuple[str, ...]:
    may_lack = {spec.folder for spec in rule_set.documents if spec.need == "if-held"}
    return tuple(folder for folder in old.not_held if folder in may_lack)


def _form(old: Packet, rule_set: RuleSet) -> FormChoice:
    modules = tuple(module for module in old.form.modules if module in rule_set.form_pages)
    return replace(old.form, modules=modules or (min(rule_set.form_pages),), cells={})


def _order(old: Packet, kept: set[str]) -> Mapping[str, tuple[OrderEntry, ...]]:
    """The lists of the folders that are kept, without entries of files that are not."""
    order = {}
    for folder, entries in old.order.items():
        places = kept | ({old.heap} if old.heap else set())
        lines = tuple(one for one in entries if _is_kept(one.file, folder, places))
        if folder in kept and lines:
            order[folder] = lines
    return order


def _is_kept(file: str, folder: str, kept: set[str]) -> bool:
    place, slash, _ = file.partition("/")
    return (same(place) if slash else folder) in kept


def _overrides(old: Packet, kept: set[str], carried: set[str]) -> Iterator[ItemOverride]:
    """Those of kept scans; an item of a document that is scanned anew is left out instead.

    ``carried``: the scans that are copied. A table for a file that is not there stays where its
    folder is kept.
    """
    for one in old.overrides:
        if same(one.scan) not in carried and same(one.scan.partition("/")[0]) not in kept:
            continue
        if one.document is None or one.document in kept:
            yield one
        else:
            yield replace(one, document=None, leave_out=True)


# --- what to tell the user --------------------------------------------------------------------


def _again(
    old: Packet, new: Packet, scans: Sequence[Scan], ended: Collection[str]
) -> Iterator[str]:
    """What must be scanned, and why."""
    carried = frozenset[str]().union(*(documents_of(new, scan) for scan in scans))
    held = {spec.folder for spec in (*old.documents, old.rule_set.form)}
    for spec in (*new.documents, new.rule_set.form):
        if spec.folder in carried or spec.folder in new.not_held:
            continue
        if spec.folder in ended and spec.renewable:
            yield f"{spec.folder}: its last valid day (valid_until) is past; get the new one."
        elif spec.folder in held and not spec.renewable:
            yield f"{spec.folder}: {spec.renewal_note or 'it is another paper now'}."
        else:
            yield f"{spec.folder}: nothing was there to carry over."
    there = {spec.folder for spec in new.documents if spec.renewable}
    copied = {same(scan.name) for scan in scans}
    for one in old.overrides:  # an item of a kept document on a scan that stays behind
        place = same(one.scan.partition("/")[0])
        left = place not in there and same(one.scan) not in copied
        if one.document in there and left and not one.leave_out:
            yield f"{one.document}: a part of it lies on {shown(one.scan)}, which stays behind."


def _book(old: Packet, today: date | None) -> Iterator[str]:
    expires = old.passport.expires
    if today is not None and expires is not None and expires < today:
        yield (
            "[passport]: the book has expired; with a new one correct number, expires, mrz and "
            "booklet_pages, and ask the office what it wants of the old book."
        )


def _check(
    old: Packet,
    new: Packet,
    scans: Sequence[Scan],
    stays: Sequence[Finding],
    today: date | None,
) -> Iterator[str]:
    """What was carried over and must still be true."""
    for spec in new.documents:
        count = sum(spec.folder in documents_of(new, scan) for scan in scans)
        if count:
            note = spec.renewal_note or "check that it is still valid"
            if spec.folder in new.valid_until:
                note = f"still valid by its valid_until; {note}"
            many = "1 scan" if count == 1 else f"{count} scans"
            yield f"{spec.folder}: {many} carried over; {note}, else scan it anew."
    wanted = {spec.folder for spec in new.documents}
    for spec in old.documents:
        if spec.folder not in wanted:
            yield f"{spec.folder}: the new rule set does not ask for it; its scans stay behind."
    for finding in stays:
        yield f"{finding.subject}: stays behind. {finding.message}"
    if not new.rule_set.is_renewal:
        pass
    elif old.new_permit == NewPermit():
        yield "[permit]: write number, type_code and expires of the card that you hold now."
    else:
        yield "[permit]: taken from the old packet's [new_permit]; compare it with the card."
    if today is not None and old.passport.expires is not None and old.passport.expires >= today:
        yield "[passport]: still valid by its expires; compare number and expires with the book."
    yield "form_leaves: count the leaves of the new form in your hand and write the number."
    yield "[passport] and [address]: correct them if the book or the address is a new one."
