"""Scans that lie in the wrong document's folder, by what they are."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from packet.checks.papers import papers_of
from packet.model import DocumentSpec, Finding, Item, Kind, Packet, Severity

_SURE = 0.8  # confidence of a kind that may doubt a folder; common practice, no source
_GENERAL = frozenset({Kind.A4_PAGE, Kind.LETTER_PAGE, Kind.FORM_PAGE, Kind.OTHER})
_BOOK = frozenset({Kind.PASSPORT_SPREAD, Kind.PASSPORT_PAGE, Kind.VISA_PAGE})


def is_personal(spec: DocumentSpec) -> bool:
    """True for a document that is the applicant's own identity paper.

    The papers of a home or of means may hold those of a landlord or a spouse.
    """
    return spec.identity or not set(spec.kinds) <= _GENERAL


def check_places(packet: Packet, items: Mapping[str, Sequence[Item]]) -> Iterator[Finding]:
    """``wrong-document``: an item that is plainly a paper of another document."""
    specs = {spec.folder: spec for spec in (*packet.documents, packet.rule_set.form)}
    for folder, group in items.items():
        for item in group:
            what = _seen_as(item)
            if what is not None and not item.kind_from_user and not _fits(specs[folder], what):
                yield _wrong(packet, folder, item, what)


def _seen_as(item: Item) -> Kind | None:
    """What the item is beyond doubt: by its machine-readable lines, else by its kind as read."""
    papers = papers_of([item])
    if any(paper.sure and paper.what == "passport" for paper in papers):
        return Kind.PASSPORT_SPREAD
    reading = item.reading
    if reading is None or reading.kind is None or reading.kind_confidence < _SURE:
        return None
    return None if reading.kind in _GENERAL else reading.kind


def _fits(spec: DocumentSpec, what: Kind) -> bool:
    return what in spec.kinds or (what in _BOOK and bool(_BOOK & set(spec.kinds)))


def _wrong(packet: Packet, folder: str, item: Item, what: Kind) -> Finding:
    home = [spec.folder for spec in packet.documents if _fits(spec, what)]
    where = f' (document = "{home[0]}")' if len(home) == 1 else ""
    return Finding(
        code="wrong-document",
        severity=Severity.WARNING,
        subject=item.subject,
        message=f"This looks like {what.value}, and it is copied as part of {folder}.",
        remedy=f"Put it where it belongs: move the file, or set document under [[item]]{where}; "
        'if it is right, list "wrong-document" under accept there.',
    )
