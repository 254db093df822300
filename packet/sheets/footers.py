"""The line at the foot of a printed page, in Italian: document, page, copy, mark.

8.5 pt, black, between 5 and 10 mm from the bottom edge, in the zone that layout keeps empty. All
footers of one part come from one canvas, so that the part embeds one font subset and a page has
the same bytes in every file it goes into.
"""

from __future__ import annotations

from collections.abc import Sequence

from packet.model import DocumentPages, PrintedPage
from packet.sheets.typesetting import REGULAR, a4_pt, fit, new_canvas, width_pt
from packet.units import mm_to_pt

SIZE_PT = 8.5
BASELINE_MM = 6.3
SIDE_MM = 15.0
GAP_MM = 8.0
POINT = "   ·   "


def page_words(page: PrintedPage) -> str:
    """``pagina 3 di 16``."""
    return f"pagina {page.page} di {page.pages}"


def copy_words(page: PrintedPage) -> str:
    """``copia 5 di 27``: the place in the envelope set; empty for a page outside it."""
    return f"copia {page.copy_page} di {page.copy_pages}" if page.copy_page else ""


def document_footers(documents: Sequence[DocumentPages], mark: str) -> bytes:
    """A PDF with one page per page of ``documents``, in order; a page without footer is empty."""
    return _footers(
        [
            (document.spec.title_it, page_words(page), POINT.join(filter(None, (copy, mark))))
            if page.footer
            else None
            for document in documents
            for page in document.pages
            for copy in (copy_words(page),)
        ]
    )


def form_footers(form: DocumentPages) -> bytes:
    """The same for the copy of the form: document and page only (it is in no envelope)."""
    return _footers(
        [(form.spec.title_it, page_words(page), "") if page.footer else None for page in form.pages]
    )


def _footers(lines: Sequence[tuple[str, str, str] | None]) -> bytes:
    canvas, buffer = new_canvas()
    left = mm_to_pt(SIDE_MM)
    right = a4_pt()[0] - left
    baseline = mm_to_pt(BASELINE_MM)
    for line in lines:
        if line is not None:
            title, page, copy = line
            canvas.setFont(REGULAR, SIZE_PT)
            canvas.setFillGray(0)
            taken = width_pt(POINT + page + copy, REGULAR, SIZE_PT) + mm_to_pt(GAP_MM)
            title = fit(title, REGULAR, SIZE_PT, right - left - taken)
            canvas.drawString(left, baseline, f"{title}{POINT}{page}")
            canvas.drawRightString(right, baseline, copy)
        canvas.showPage()
    canvas.save()
    return buffer.getvalue()
