"""What every item of the heap is, where it belongs, and in which order: a proposal, pure.

What is not sure is never decided here: it has no document, only a guess for the user to look at.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from packet.checks.papers import papers_of
from packet.intake.names import natural_key, shown
from packet.model import DocumentSpec, Finding, Item, Kind, Packet, Turn, VectorPage
from packet.sorting.book import Leaf, in_book_order

SURE = 0.7  # a kind read with less confidence decides nothing; common practice, no source
BOOK = frozenset({Kind.PASSPORT_SPREAD, Kind.PASSPORT_COVER, Kind.PASSPORT_PAGE, Kind.VISA_PAGE})
GENERAL = frozenset({Kind.A4_PAGE, Kind.LETTER_PAGE, Kind.OTHER})


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """One item of the heap.

    ``document`` None: unsure, ``guess`` is what it may belong to ("" = no idea). ``kind``: as part
    of the one or the other. ``why``: in words, without a read value. ``twin``: why it seems to be
    there twice, naming the other item; "" where it does not.
    """

    item: Item = field(repr=False)
    document: str | None
    kind: Kind | None = None
    turn: Turn | None = None
    why: str = ""
    guess: str = ""
    twin: str = ""

    @property
    def subject(self) -> str:
        return self.item.subject


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """``placed``: every item of the heap that packet.toml does not speak of, document by document,
    in order, the unsure ones last. ``order``: folder -> items in order, where natural order of
    the names is not it. ``loose``: items of a book whose place in it is not known.
    """

    placed: tuple[Placed, ...]
    order: Mapping[str, tuple[Leaf, ...]]
    loose: tuple[Placed, ...] = ()
    missing: tuple[Finding, ...] = ()

    @property
    def unsure(self) -> tuple[Placed, ...]:
        return tuple(one for one in self.placed if one.document is None)

    @property
    def twice(self) -> tuple[Placed, ...]:
        return tuple(one for one in self.placed if one.twin)


def make_plan(
    packet: Packet, items: Sequence[Item], *, settled: Mapping[str, str], twins: Mapping[str, str]
) -> Plan:
    """The plan for the items of the heap.

    ``items``: all items of the heap; ``settled``: subject -> document of those that packet.toml
    speaks of ("" = left out): they are ordered, not decided. ``twins``: subject -> subject of an
    earlier item that shows the same page.
    """
    placed = [
        _place(packet, item, twin=twins.get(item.subject, ""))
        for item in sorted(items, key=_name_order)
        if item.subject not in settled
    ]
    placed = _by_their_file(packet, placed)
    order: dict[str, tuple[Leaf, ...]] = {}
    lost: set[str] = set()
    for spec in packet.documents:
        if not BOOK & set(spec.kinds):
            continue
        theirs = [one.item for one in placed if one.document == spec.folder]
        theirs += [item for item in items if settled.get(item.subject) == spec.folder]
        leaves = in_book_order(sorted(theirs, key=_name_order), packet.passport.booklet_pages)
        if any(leaf.by_number for leaf in leaves):  # else the order of the names is as good
            order[spec.folder] = leaves
            lost |= {leaf.item.subject for leaf in leaves if leaf.loose}
    return Plan(
        placed=_document_by_document(packet, placed, order),
        order=order,
        loose=tuple(one for one in placed if one.subject in lost),
    )


def _name_order(item: Item) -> tuple[object, int, int]:
    return (natural_key(item.scan), item.page, item.item)


def _document_by_document(
    packet: Packet, placed: Iterable[Placed], order: Mapping[str, Sequence[Leaf]]
) -> tuple[Placed, ...]:
    folders = [*(spec.folder for spec in packet.documents), packet.rule_set.form.folder]
    place = {leaf.item.subject: at for leaves in order.values() for at, leaf in enumerate(leaves)}

    def key(one: Placed) -> tuple[int, int]:
        document = len(folders) if one.document is None else folders.index(one.document)
        return (document, place.get(one.subject, 0))

    return tuple(sorted(placed, key=key))


# --- one item -----------------------------------------------------------------------------------


def _place(packet: Packet, item: Item, *, twin: str) -> Placed:
    document, why, guess = _document(packet, item)
    return Placed(
        item=item,
        document=document,
        kind=_kind(_spec(packet, document or guess), item) if document or guess else None,
        turn=_turn(item),
        why=why,
        guess=guess,
        twin=twin,
    )


def _document(packet: Packet, item: Item) -> tuple[str | None, str, str]:
    """(document or None, why, what it may belong to)."""
    kind, why = _sure_kind(item)
    if kind is not None:
        homes = [spec.folder for spec in _specs(packet) if kind in spec.kinds]
        if len(homes) == 1:
            return homes[0], why, ""
    return _by_words(packet, item)


def _sure_kind(item: Item) -> tuple[Kind | None, str]:
    """A kind that tells the document, and why it is sure; (None, "") for pages like others."""
    papers = [paper for paper in papers_of([item]) if paper.sure]
    if any(paper.what in ("passport", "visa") for paper in papers):
        kind = item.kind if item.kind in BOOK else Kind.PASSPORT_SPREAD
        return kind, f"machine-readable lines of a {papers[0].what}"
    reading = item.reading
    if reading is not None and reading.kind is not None:
        if reading.kind_confidence >= SURE and reading.kind not in GENERAL:
            return reading.kind, reading.kind_reason or f"it reads as {reading.kind.value}"
        return None, ""
    if item.kind in BOOK and item.measured_mm is not None:
        return item.kind, "its size, measured at the resolution of the scan"
    return None, ""


def _by_words(packet: Packet, item: Item) -> tuple[str | None, str, str]:
    """By the words on the page, where they are those of one document alone."""
    folders = {spec.folder for spec in _specs(packet)}
    terms = [term for term in (item.reading.terms if item.reading else ()) if term in folders]
    if len(terms) == 1:
        return terms[0], "its words", ""
    if terms:
        return None, f"its words may be those of {' or '.join(terms)}", terms[0]
    homes = [spec.folder for spec in _specs(packet) if item.kind in spec.kinds]
    if item.kind not in GENERAL and len(homes) == 1:
        return None, f"it looks like {item.kind.value}", homes[0]
    return None, "nothing on it tells its document", homes[0] if len(homes) == 1 else ""


def _specs(packet: Packet) -> tuple[DocumentSpec, ...]:
    return (*packet.documents, packet.rule_set.form)


def _spec(packet: Packet, folder: str) -> DocumentSpec:
    return next(spec for spec in _specs(packet) if spec.folder == folder)


def _kind(spec: DocumentSpec, item: Item) -> Kind:
    """What the item is as part of this document."""
    reading = item.reading
    if reading is not None and reading.kind in spec.kinds and reading.kind_confidence >= SURE:
        assert reading.kind is not None
        return reading.kind
    if item.kind in spec.kinds:
        return item.kind
    return Kind.A4_PAGE if Kind.A4_PAGE in spec.kinds else spec.kinds[0]


def _turn(item: Item) -> Turn | None:
    """The turn that was read; what the picture alone told, it tells again."""
    if isinstance(item.image, VectorPage) or item.reading is None:
        return None
    return item.turn_deg if item.reading.turn_deg is not None else None


# --- pages of one file --------------------------------------------------------------------------


def _by_their_file(packet: Packet, placed: Sequence[Placed]) -> list[Placed]:
    """Pages of a file of several pages follow the others, where those are of one document."""
    known: dict[str, set[str]] = {}
    pages: dict[str, set[int]] = {}
    for one in placed:
        pages.setdefault(one.item.scan, set()).add(one.item.page)
        if one.document is not None:
            known.setdefault(one.item.scan, set()).add(one.document)
    return [
        _following(packet, one, known.get(one.item.scan, set()))
        if one.document is None and len(pages[one.item.scan]) > 1
        else one
        for one in placed
    ]


def _following(packet: Packet, one: Placed, documents: set[str]) -> Placed:
    """``one`` in the document of its file; unsure still where its own words say another."""
    if len(documents) != 1:
        return one
    (folder,) = documents
    spec = _spec(packet, folder)
    if not GENERAL & set(spec.kinds) and spec is not packet.rule_set.form:
        return one
    terms = one.item.reading.terms if one.item.reading is not None else ()
    if terms and folder not in terms:
        return one
    why = f"another page of {shown(one.item.scan)} is"
    return Placed(
        item=one.item,
        document=folder,
        kind=_kind(spec, one.item),
        turn=one.turn,
        why=why,
        twin=one.twin,
    )
