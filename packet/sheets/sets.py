"""The files that leave the house: envelope set, two equal copy sets, print slip.

A document page is made once and goes into all three sets with the same content. The envelope
set knows nothing of the form's copy, so scanning the form leaves it as it is, byte for byte.
"""

from __future__ import annotations

import contextlib
import io
import shutil
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import count as count_from
from pathlib import Path
from typing import BinaryIO, Literal

from packet.errors import PacketError
from packet.files import Parts
from packet.model import CopyPlan, DocumentPages, Packet, PrintedPage, SheetCount
from packet.sheets.assemble import Bookmark, FilePage, OverlayPage, Pictures, write_file
from packet.sheets.count import leaves
from packet.sheets.cover import index_pdf
from packet.sheets.footers import POINT, copy_words, document_footers, form_footers, page_words
from packet.sheets.slip import slip_pdf

ENVELOPE = "envelope.pdf"
COPY_SETS = ("copy-set-1.pdf", "copy-set-2.pdf")
PRINT_SLIP = "print-slip.pdf"

BACK_LABEL = "retro bianco"

SLIP_TITLE = "Istruzioni per la stampa"

FileSide = PrintedPage | Literal["index", "blank"]


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenSets:
    """Where the files lie and what each of their pages holds, for the build record.

    ``index_pages``, ``form_pages``, ``document_pages``: printed sides in one copy set, without
    empty backs. ``file_pages``: all pages of each file, empty backs among them.
    """

    files: Mapping[str, Path] = field(repr=False)
    index_pages: int
    form_pages: int
    document_pages: int
    file_pages: Mapping[str, int]
    envelope_pages: tuple[FileSide, ...] = field(repr=False)
    copy_pages: tuple[FileSide, ...] = field(repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Part:
    """An index, the form or a document: what starts on a sheet of its own."""

    title: str
    sides: tuple[FileSide, ...]
    labels: tuple[str, ...]
    overlays: tuple[OverlayPage, ...]


def make_sets(
    packet: Packet,
    plan: CopyPlan,
    count: SheetCount,
    complete: bool,
    parts: Parts,
    *,
    documents_complete: bool | None = None,
) -> WrittenSets:
    """Write the sets as ``parts``. ``complete``: nothing is missing or unreadable.

    ``documents_complete``: the same with the form set aside, for the index that goes into the
    envelope, which must not change when the form is scanned; ``complete`` where not given.
    Same packet, same plan: same bytes. PacketError when a picture cannot be put into a PDF, or
    when there is nothing to enclose.
    """
    two_sided = packet.count.copies_printed == "two-sided"
    documents = _document_parts(plan)
    enclosed = [
        part
        for part, document in zip(documents, plan.documents, strict=True)
        if document.spec.in_envelope
    ]
    if not enclosed:
        raise PacketError(
            "Nothing was built: no document has a scan that can be used, so there is nothing to "
            "put into the envelope. Put scans into the folders beside packet.toml (each has a "
            "SCAN-ME.txt) and look at: packet check."
        )
    index = _index_part(index_pdf(packet, plan, count, complete, enclosed=False))
    if packet.count.index_in_envelope:
        whole = complete if documents_complete is None else documents_complete
        in_envelope = _index_part(index_pdf(packet, plan, count, whole, enclosed=True))
        if leaves(len(in_envelope.sides), two_sided=two_sided) != count.index_leaves:
            raise PacketError("The index does not have the pages that were counted: build again.")
        enclosed.insert(0, in_envelope)
    form = _form_parts(plan.form)
    copy_set = [index, *form, *documents]
    sides = {ENVELOPE: _sides(enclosed, two_sided)}
    sides |= dict.fromkeys(COPY_SETS, _sides(copy_set, two_sided))
    file_pages = {name: len(pages) for name, pages in sides.items()}
    slip = [_slip_part(slip_pdf(packet, plan, file_pages))]
    with contextlib.closing(Pictures(parts.folder)) as pictures:
        for name, held, title, backs in (
            (ENVELOPE, enclosed, f"Copie dei documenti per la busta ({plan.mark})", two_sided),
            (COPY_SETS[0], copy_set, f"Copia completa della domanda ({plan.mark})", two_sided),
            (PRINT_SLIP, slip, SLIP_TITLE, False),
        ):
            with parts.new(name) as file:
                _write(held, pictures, title, backs, file)
    with parts.made[COPY_SETS[0]].open("rb") as one, parts.new(COPY_SETS[1]) as two:
        shutil.copyfileobj(one, two)
    return WrittenSets(
        files={name: parts.made[name] for name in (ENVELOPE, *COPY_SETS, PRINT_SLIP)},
        index_pages=len(index.sides),
        form_pages=sum(len(part.sides) for part in form),
        document_pages=sum(len(part.sides) for part in documents),
        file_pages={**file_pages, PRINT_SLIP: 1},
        envelope_pages=sides[ENVELOPE],
        copy_pages=sides[COPY_SETS[0]],
    )


# --- parts ---------------------------------------------------------------------------------


def _overlays(pdf: bytes) -> Iterator[OverlayPage]:
    from pypdf import PdfReader

    reader = PdfReader(io.BytesIO(pdf))
    for number in range(len(reader.pages)):
        yield OverlayPage(pdf=reader, number=number)


def _index_part(pdf: bytes) -> _Part:
    overlays = tuple(_overlays(pdf))
    labels = tuple("I" * number for number in range(1, len(overlays) + 1))
    sides: tuple[FileSide, ...] = tuple("index" for _ in overlays)
    return _Part(title="Indice", sides=sides, labels=labels, overlays=overlays)


def _slip_part(pdf: bytes) -> _Part:
    return _Part(title=SLIP_TITLE, sides=("index",), labels=("1",), overlays=tuple(_overlays(pdf)))


def _form_parts(form: DocumentPages | None) -> list[_Part]:
    if form is None:
        return []
    labels = tuple(f"M{page.page}" for page in form.pages)
    overlays = tuple(_overlays(form_footers(form)))
    return [_Part(title=form.spec.title_it, sides=form.pages, labels=labels, overlays=overlays)]


def _document_parts(plan: CopyPlan) -> list[_Part]:
    """Labels: 1 to n, the place in the envelope set; A1 on for what is not enclosed."""
    if not plan.documents:
        return []
    overlays = _overlays(document_footers(plan.documents, plan.mark))
    apart = count_from(1)
    return [
        _Part(
            title=document.spec.title_it,
            sides=document.pages,
            labels=tuple(str(page.copy_page or f"A{next(apart)}") for page in document.pages),
            overlays=tuple(next(overlays) for _ in document.pages),
        )
        for document in plan.documents
    ]


# --- files ---------------------------------------------------------------------------------


def _sides(parts: Iterable[_Part], two_sided: bool) -> tuple[FileSide, ...]:
    """Every page of a file: in two-sided printing each part of odd length gets an empty back."""
    sides: list[FileSide] = []
    for part in parts:
        sides += part.sides
        if two_sided and len(part.sides) % 2:
            sides.append("blank")
    return tuple(sides)


def _write(
    parts: Sequence[_Part], pictures: Pictures, title: str, two_sided: bool, to: BinaryIO
) -> None:
    pages: list[FilePage] = []
    bookmarks: list[Bookmark] = []
    for part in parts:
        start = len(pages)
        pages += _file_pages(part)
        bookmarks.append(_bookmark(part, start))
        if two_sided and len(part.sides) % 2:
            pages.append(FilePage(label=BACK_LABEL))
    write_file(pages, bookmarks, pictures, to, title=title, two_sided=two_sided)


def _file_pages(part: _Part) -> Iterator[FilePage]:
    for side, label, overlay in zip(part.sides, part.labels, part.overlays, strict=True):
        placements = side.placements if isinstance(side, PrintedPage) else ()
        yield FilePage(placements=placements, overlay=overlay, label=label)


def _bookmark(part: _Part, start: int) -> Bookmark:
    children = tuple(
        Bookmark(title=POINT.join(filter(None, (page_words(side), copy_words(side)))), page=page)
        for page, side in enumerate(part.sides, start=start)
        if isinstance(side, PrintedPage)
    )
    return Bookmark(title=part.title, page=start, children=children)
