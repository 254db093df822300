"""The cover index: what is in a set, how many sheets, and the sum behind the box number.

One A4 page, a second only when the table does not fit. Italian first, English beneath, since
the clerk reads Italian. Black on white, one typeface, so that it survives a photocopy.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from packet.model import CopyPlan, DocumentPages, DocumentSpec, Packet, SheetCount
from packet.sheets.count import leaves

if TYPE_CHECKING:
    from packet.sheets.typesetting import Pen


@dataclass(frozen=True, slots=True, kw_only=True)
class IndexRow:
    """One part of a set. ``sheets_range``: its sheets in this set; ``copies``: k to k of K."""

    number: str
    title_it: str
    title_en: str
    pages: int
    sheets: int
    sheets_range: str
    copies: str


@dataclass(frozen=True, slots=True, kw_only=True)
class IndexPage:
    """Everything that the index says, before it is drawn."""

    packet: Packet
    plan: CopyPlan
    count: SheetCount
    complete: bool
    enclosed: bool
    index_pages: int
    rows: tuple[IndexRow, ...]

    @property
    def form_missing(self) -> bool:
        """The copy of the form must be here and is not. The envelope holds the original."""
        by_hand = self.packet.form.copied_by_hand
        return not self.enclosed and self.plan.form is None and not by_hand

    @property
    def sides(self) -> int:
        """Printed sides of this set, the index among them, without empty backs."""
        return sum(row.pages for row in self.rows)

    @property
    def sheets(self) -> int:
        """Sheets of paper of this set."""
        return sum(row.sheets for row in self.rows)


def index_pdf(
    packet: Packet, plan: CopyPlan, count: SheetCount, complete: bool, *, enclosed: bool = False
) -> bytes:
    """The index as a PDF. ``enclosed``: the one that goes into the envelope with the copies,
    which says nothing of the form's copy and so does not change when the form is scanned.
    """
    from packet.sheets.cover_page import draw

    return draw(_settled(packet, plan, count, complete, enclosed))


def index_page_count(packet: Packet, plan: CopyPlan, *, enclosed: bool = False) -> int:
    """How many pages the index takes. It depends on rows and words, never on the numbers."""
    nothing = SheetCount(
        box=0,
        form_leaves=0,
        envelope_pages=0,
        blank_backs=0,
        envelope_sheets=0,
        index_leaves=0,
        extra_leaves=0,
        other_readings=(),
        documents=(),
    )
    complete = not plan.missing
    return _settled(packet, plan, nothing, complete, enclosed).index_pages


def _settled(
    packet: Packet, plan: CopyPlan, count: SheetCount, complete: bool, enclosed: bool
) -> IndexPage:
    """The index with as many pages as its own content needs."""
    from packet.sheets.cover_page import pages_needed

    pages = 1
    while True:
        index = IndexPage(
            packet=packet,
            plan=plan,
            count=count,
            complete=complete,
            enclosed=enclosed,
            index_pages=pages,
            rows=tuple(_rows(packet, plan, pages, enclosed)),
        )
        needed = pages_needed(index)
        if needed <= pages:
            return index
        pages = needed


# --- rows ----------------------------------------------------------------------------------


def _rows(packet: Packet, plan: CopyPlan, index_pages: int, enclosed: bool) -> Iterator[IndexRow]:
    """Index, form, documents, in the order of the file, with the sheets that each one takes."""
    two_sided = packet.count.copies_printed == "two-sided"
    first = 1
    for number, spec, pages, copies in _parts(packet, plan, index_pages, enclosed):
        sheets = leaves(pages, two_sided=two_sided)
        yield IndexRow(
            number=number,
            title_it=spec[0],
            title_en=spec[1],
            pages=pages,
            sheets=sheets,
            sheets_range=span(first, first + sheets - 1),
            copies=copies,
        )
        first += sheets


def _parts(
    packet: Packet, plan: CopyPlan, index_pages: int, enclosed: bool
) -> Iterator[tuple[str, tuple[str, str], int, str]]:
    yield "", ("Indice", "This index"), index_pages, ""
    if plan.form is not None and not enclosed:
        form = packet.rule_set.form
        yield "", (form.title_it, form.title_en), len(plan.form.pages), ""
    number = 0
    for document in plan.documents:
        if document.spec.in_envelope or not enclosed:
            number += 1
            titles = (document.spec.title_it, document.spec.title_en)
            yield str(number), titles, len(document.pages), _copies(document)


def _copies(document: DocumentPages) -> str:
    first, last = document.pages[0].copy_page, document.pages[-1].copy_page
    return span(first, last) if first is not None and last is not None else "–"


def span(first: int, last: int) -> str:
    """``6–21``, or ``6`` for one."""
    return str(first) if first == last else f"{first}–{last}"
