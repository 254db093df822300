"""The cover index: what is in a set, how many sheets, and the sum behind the box number.

One A4 page, a second only when the table does not fit. Italian first, English beneath, since
the clerk reads Italian. Black on white, one typeface, so that it survives a photocopy.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from packet.model import CopyPlan, DocumentPages, DocumentSpec, Packet, SheetCount
from packet.rules.notes import count_box
from packet.sheets.count import leaves

NOT_ENCLOSED = "non in busta"
FORM_LEAVES_CAUTION = (
    "* Numero presunto: contare i fogli del modulo che si ha in mano.",
    "* Assumed: count the sheets of the form that you hold in your hand.",
)
CAUTIONS = (
    (
        "Foglio = un foglio di carta; pagina = una facciata stampata. Nella casella {box} va "
        "indicato il numero totale dei fogli di una sola busta: moduli e fotocopie ({source_it}).",
        "Sheet = one piece of paper; page = one printed side. Box {box} asks for the sheets of "
        "one envelope, forms and photocopies ({source}).",
    ),
    (
        "Prevalgono le indicazioni dell’ufficio, dello sportello e delle note al modulo.",
        "What the office, the counter and the notes of the form say comes first.",
    ),
    (
        "Contiene dati personali: conservare con cura, non lasciare copie incustodite.",
        "It holds personal data: keep it safe, leave no copy behind.",
    ),
)
NO_BREAK = "\u00a0"


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

    @property
    def enclosed(self) -> bool:
        """False for a document that stays out of the envelope."""
        return self.copies != NOT_ENCLOSED

    @property
    def pages_shown(self) -> str:
        """The pages, a dash where there are none."""
        return str(self.pages) if self.pages else "–"

    @property
    def sheets_shown(self) -> str:
        """The sheets, a dash where there are none."""
        return str(self.sheets) if self.sheets else "–"


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

    @property
    def side_terms(self) -> tuple[tuple[str, int], ...]:
        """The sum behind ``sides``: words and number."""
        form = 0 if self.enclosed or self.plan.form is None else len(self.plan.form.pages)
        copies = self.sides - self.index_pages - form
        terms = [("indice / index", self.index_pages), ("documenti / documents", copies)]
        if not self.enclosed:
            terms.insert(1, ("copia del modulo / copy of the form", form))
        return tuple(terms)

    @property
    def cautions(self) -> tuple[tuple[str, str], ...]:
        """What the reader must know, in Italian and English."""
        first = () if self.packet.count.form_leaves_confirmed else (FORM_LEAVES_CAUTION,)
        box = count_box()
        source = box.source.replace(" (", NO_BREAK).replace(")", "")  # note (g) -> note g
        words = {
            "box": box.number,
            "source": source,
            "source_it": source.replace("note", "nota"),
        }
        filled = [
            (italian.format(**words), english.format(**words)) for italian, english in CAUTIONS
        ]
        return (*first, *filled)


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
            sheets_range=span(first, first + sheets - 1) if sheets else "–",
            copies=copies,
        )
        first += sheets


def _parts(
    packet: Packet, plan: CopyPlan, index_pages: int, enclosed: bool
) -> Iterator[tuple[str, tuple[str, str], int, str]]:
    yield "", ("Indice", "This index"), index_pages, ""
    form = packet.rule_set.form
    if plan.form is not None and not enclosed:
        yield "", (form.title_it, form.title_en), len(plan.form.pages), ""
    elif packet.form.copied_by_hand and not enclosed:
        yield "", (f"{form.title_it}, fatta a parte", f"{form.title_en}, made apart"), 0, ""
    number = 0
    for document in plan.documents:
        if document.spec.in_envelope or not enclosed:
            number += 1
            titles = (document.spec.title_it, english_beside(document.spec))
            yield str(number), titles, len(document.pages), _copies(document)


def english_beside(spec: DocumentSpec) -> str:
    """The English title; nothing where it is the Italian one, which is printed already."""
    return "" if spec.title_en == spec.title_it else spec.title_en


def _copies(document: DocumentPages) -> str:
    first, last = document.pages[0].copy_page, document.pages[-1].copy_page
    return span(first, last) if first is not None and last is not None else NOT_ENCLOSED


def span(first: int, last: int) -> str:
    """``6–21``, or ``6`` for one."""
    return str(first) if first == last else f"{first}–{last}"
