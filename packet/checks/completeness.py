"""What the rule set asks for and the packet lacks. Pure: values in, findings out."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from packet.checks.booklet import check_booklet
from packet.checks.form import check_form
from packet.checks.openings import check_openings
from packet.checks.places import check_places
from packet.model import DocumentSpec, Finding, Item, Kind, Packet, Severity

Items = Mapping[str, tuple[Item, ...]]

SIDES = (
    (Kind.ID_CARD_FRONT, Kind.ID_CARD_BACK),
    (Kind.PERMIT_FRONT, Kind.PERMIT_BACK),
    (Kind.TAX_CARD_FRONT, Kind.TAX_CARD_BACK),
)
_CARD_SIDES = frozenset(kind for pair in SIDES for kind in pair)


def check_documents(packet: Packet, items: Items) -> tuple[Finding, ...]:
    """What is missing from a packet, in the order of its documents, the form last.

    ``items``: folder -> items in reading order, without those left out. Codes:
    ``missing-name``, ``missing-document``, ``held-after-all``, ``missing-side``,
    ``missing-openings``, and those of ``openings``, ``places`` and ``form``.
    """
    findings = list(_name(packet))
    for spec in packet.documents:
        group = items.get(spec.folder, ())
        findings += _document(packet, spec, group)
        if group and spec.two_sides:
            findings += _sides(spec, group)
        if group and Kind.PASSPORT_SPREAD in spec.kinds:
            findings += check_booklet(packet.passport, spec, group)
            findings += check_openings(packet.passport, spec, group)
    findings += check_places(packet, items)
    findings += check_form(packet, items.get(packet.rule_set.form.folder, ()))
    return tuple(findings)


def _name(packet: Packet) -> Iterator[Finding]:
    """The index of the copy sets prints the applicant's name."""
    if not (packet.applicant.surname or packet.applicant.given_names):
        yield Finding(
            code="missing-name",
            severity=Severity.WARNING,
            subject="applicant.surname",
            message="The applicant's name is not given: the index of the copy sets lacks it.",
            remedy=(
                "Write surname and given_names under [applicant] in packet.toml, "
                "exactly as in the passport."
            ),
        )


def _document(packet: Packet, spec: DocumentSpec, group: tuple[Item, ...]) -> Iterator[Finding]:
    not_held = spec.folder in packet.not_held
    if group and not_held:
        yield Finding(
            code="held-after-all",
            severity=Severity.WARNING,
            subject="not_held",
            message=(
                f"{spec.folder} is listed under not_held, and its folder holds scans: "
                "they will be printed and counted."
            ),
            remedy=f'Take "{spec.folder}" off not_held, or move the scans out of the folder.',
        )
    elif not group and spec.need == "required":
        yield _missing(
            spec,
            Severity.ERROR,
            f'"{spec.title_en}": required, and no page of it can be printed.',
            f"Scan it into {spec.folder}/.",
        )
    elif not group and not not_held:
        yield _missing(
            spec,
            Severity.WARNING,
            f'"{spec.title_en}": wanted if you hold it, and no page of it can be printed.',
            f"Scan it into {spec.folder}/; if you do not hold it, add "
            f'"{spec.folder}" to not_held in packet.toml.',
        )


def _missing(spec: DocumentSpec, severity: Severity, message: str, remedy: str) -> Finding:
    return Finding(
        code="missing-document",
        severity=severity,
        subject=f"{spec.folder}/",
        message=message,
        remedy=remedy,
        source=spec.source,
    )


def _sides(spec: DocumentSpec, group: tuple[Item, ...]) -> Iterator[Finding]:
    """A card with one side only. A paper page in the folder is a document complete by itself."""
    if any(item.kind not in _CARD_SIDES for item in group):
        return
    kinds = {item.kind for item in _distinct(group)}
    for front, back in SIDES:
        if front in kinds and back not in kinds:
            yield _side(spec, group, there=front, side="back")
        elif back in kinds and front not in kinds:
            yield _side(spec, group, there=back, side="front")


def _side(spec: DocumentSpec, group: tuple[Item, ...], *, there: Kind, side: str) -> Finding:
    subject = next(item.subject for item in group if item.kind is there)
    return Finding(
        code="missing-side",
        severity=Severity.ERROR if spec.need == "required" else Severity.WARNING,
        subject=subject,
        message=f"{spec.title_en}: the {side} of the card is not there.",
        remedy=(
            f"Scan the {side} into {spec.folder}/, alone or beside the other side. If it is there, "
            "set its kind under [[item]] in packet.toml; if the card has one side only, list "
            '"missing-side" under accept there.'
        ),
        source=spec.source,
    )


def _distinct(group: Iterable[Item]) -> tuple[Item, ...]:
    """The group without repeats of an equal picture."""
    kept: dict[object, Item] = {}
    for item in group:
        key = item.subject if item.image is None else item.image.digest
        kept.setdefault(key, item)
    return tuple(kept.values())
