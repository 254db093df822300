"""Items to A4 pages: where each one is printed, at true size.

Pure geometry over values: no pixels, no PDF. Every page is portrait; what is landscape and does
not fit upright is turned. The order of the items is never changed, and scale is 1 except for
what is larger than A4 (finding ``reduced``).
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace

from packet.model import (
    CopyPlan,
    DocumentPages,
    DocumentSpec,
    Finding,
    Item,
    Kind,
    Packet,
    Placement,
    PrintedPage,
    Severity,
    SizeMm,
    Turn,
)
from packet.rules.printing import printer_margin_mm, printer_margin_source
from packet.rules.sizes import paper_size_mm

# Millimetres of the page.
FOOTER_ZONE_MM = 10.0  # the footer prints only where these are empty
TOP_MM = 10.0  # items smaller than the page stand between these two lines,
BOTTOM_MM = 12.0  # so that the footer stays free
SIDE_MM = 5.0
GAP_MM = 10.0  # between two items on one page
ROUNDING_MM = 0.5  # an A4 of a PDF in whole points (595 x 842) is still A4
SMALL_REDUCTION = 0.97  # US Letter needs 0.9727; down to here the page is used edge to edge
LEGIBLE_REDUCTION = 0.9  # below this the user should look whether the print can be read

MARK_SIGNS = "234679CDFGHJKMNPQRTWXY"  # no sign looks like another, and no vowels: no words

PASSPORT_KINDS = frozenset(
    {Kind.PASSPORT_COVER, Kind.PASSPORT_SPREAD, Kind.PASSPORT_PAGE, Kind.VISA_PAGE}
)
CARD_SIDES = {
    frozenset({Kind.ID_CARD_FRONT, Kind.ID_CARD_BACK}),
    frozenset({Kind.PERMIT_FRONT, Kind.PERMIT_BACK}),
    frozenset({Kind.TAX_CARD_FRONT, Kind.TAX_CARD_BACK}),
}

Placements = tuple[Placement, ...]


def lay_out(packet: Packet, items: Mapping[str, tuple[Item, ...]]) -> CopyPlan:
    """The pages of every document and of the form.

    ``items``: document folder -> its items in reading order. Documents keep the packet's
    order; a document without items is left out, and is ``missing`` unless the applicant does
    not hold it.
    """
    two = packet.passport.openings_per_sheet == 2
    drafts = {
        spec.folder: tuple(_pages(items.get(spec.folder, ()), two_openings=two))
        for spec in (*packet.documents, packet.rule_set.form)
    }
    copies = sum(len(drafts[spec.folder]) for spec in packet.documents if spec.in_envelope)
    documents: list[DocumentPages] = []
    before = 0
    for spec in packet.documents:
        pages = drafts[spec.folder]
        if pages:
            documents.append(_number(spec, pages, before, copies if spec.in_envelope else None))
            before += len(pages) if spec.in_envelope else 0
    form = packet.rule_set.form
    placed = [place for pages in drafts.values() for page in pages for place in page]
    return CopyPlan(
        documents=tuple(documents),
        form=_number(form, drafts[form.folder], 0, None) if drafts[form.folder] else None,
        missing=tuple(
            spec
            for spec in packet.documents
            if not drafts[spec.folder] and spec.folder not in packet.not_held
        ),
        mark=_mark(documents),
        findings=tuple(finding for place in placed for finding in _findings(place)),
    )


def _number(
    spec: DocumentSpec, pages: Sequence[Placements], before: int, copies: int | None
) -> DocumentPages:
    numbered = tuple(
        PrintedPage(
            folder=spec.folder,
            placements=tuple(_picture_turned(place) for place in placements),
            page=number,
            pages=len(pages),
            copy_page=None if copies is None else before + number,
            copy_pages=copies,
            footer=all(_below_mm(place) >= FOOTER_ZONE_MM for place in placements),
        )
        for number, placements in enumerate(pages, start=1)
    )
    return DocumentPages(spec=spec, pages=numbered)


def _picture_turned(place: Placement) -> Placement:
    """With the turn of the encoded picture, where that is not held as the item is."""
    turns: tuple[Turn, ...] = (0, 90, 180, 270)
    more = place.item.picture_turn_deg
    return replace(place, turn_deg=turns[(place.turn_deg + more) // 90 % 4]) if more else place


def _mark(documents: Iterable[DocumentPages]) -> str:
    """Four signs from the digests of what is enclosed: the same packet, the same mark."""
    digest = hashlib.sha256()
    for document in documents:
        if document.spec.in_envelope:
            for page in document.pages:
                for place in page.placements:
                    image = place.item.image
                    digest.update((image.digest if image else place.item.subject).encode())
                    digest.update(b"\n")
    number = int.from_bytes(digest.digest(), "big")
    signs = ""
    for _ in range(4):
        number, rest = divmod(number, len(MARK_SIGNS))
        signs += MARK_SIGNS[rest]
    return signs


# --- from items to pages -------------------------------------------------------------------


def _pages(items: Sequence[Item], *, two_openings: bool) -> Iterator[Placements]:
    """Pages in reading order: one item each, or two neighbours that belong on one sheet."""
    waiting = list(items)
    while waiting:
        pair = tuple(waiting[:2])
        if len(pair) == 2 and (placed := _pair(pair[0], pair[1], two_openings=two_openings)):
            yield placed
            del waiting[:2]
        else:
            yield (_alone(waiting.pop(0)),)


def _pair(first: Item, second: Item, *, two_openings: bool) -> Placements | None:
    """Both on one page where they belong together and fit at true size, else None."""
    if _single_cover(first) and _single_cover(second):
        return _side_by_side(first, second) or _stacked(first, second)
    if frozenset({first.kind, second.kind}) in CARD_SIDES:
        return _stacked(first, second)
    if two_openings and first.kind in PASSPORT_KINDS and second.kind in PASSPORT_KINDS:
        return _stacked(first, second)
    return None


def _single_cover(item: Item) -> bool:
    return item.kind is Kind.PASSPORT_COVER and item.size_mm[0] < item.size_mm[1]


def _stacked(first: Item, second: Item) -> Placements | None:
    page_w, page_h = paper_size_mm("a4")
    (w1, h1), (w2, h2) = first.size_mm, second.size_mm
    height = h1 + GAP_MM + h2
    if max(w1, w2) > page_w - 2 * SIDE_MM or height > page_h - TOP_MM - BOTTOM_MM:
        return None
    y = TOP_MM + (page_h - TOP_MM - BOTTOM_MM - height) / 2
    return (
        Placement(item=first, rect_mm=((page_w - w1) / 2, y, w1, h1)),
        Placement(item=second, rect_mm=((page_w - w2) / 2, y + h1 + GAP_MM, w2, h2)),
    )


def _side_by_side(first: Item, second: Item) -> Placements | None:
    page_w, page_h = paper_size_mm("a4")
    (w1, h1), (w2, h2) = first.size_mm, second.size_mm
    width, height = w1 + GAP_MM + w2, max(h1, h2)
    if width > page_w - 2 * SIDE_MM or height > page_h - TOP_MM - BOTTOM_MM:
        return None
    x = (page_w - width) / 2
    y = TOP_MM + (page_h - TOP_MM - BOTTOM_MM - height) / 2
    return (
        Placement(item=first, rect_mm=(x, y, w1, h1)),
        Placement(item=second, rect_mm=(x + w1 + GAP_MM, y, w2, h2)),
    )


def _alone(item: Item) -> Placement:
    page_w, page_h = paper_size_mm("a4")
    width, height = item.size_mm
    # A landscape page is turned so that its top lies at the left (common practice, no source).
    turn: Turn = 270 if width > height and width > page_w - 2 * SIDE_MM else 0
    if turn:
        width, height = height, width
    if abs(width - page_w) <= ROUNDING_MM and abs(height - page_h) <= ROUNDING_MM:
        return Placement(item=item, rect_mm=(0.0, 0.0, page_w, page_h), turn_deg=turn)
    scale = _scale((width, height))
    width, height = width * scale, height * scale
    x, y = (page_w - width) / 2, (page_h - height) / 2
    if height <= page_h - TOP_MM - BOTTOM_MM:
        y = TOP_MM + (page_h - TOP_MM - BOTTOM_MM - height) / 2
    return Placement(item=item, rect_mm=(x, y, width, height), scale=scale, turn_deg=turn)


def _scale(size_mm: SizeMm) -> float:
    """1 for what fits on A4; a little less fills the page; much less keeps printer margins."""
    page_w, page_h = paper_size_mm("a4")
    width, height = size_mm
    whole = min(page_w / width, page_h / height)
    if whole >= 1:
        return 1.0
    if whole >= SMALL_REDUCTION:
        return whole
    return min((page_w - 2 * SIDE_MM) / width, (page_h - TOP_MM - BOTTOM_MM) / height)


# --- the edges of the paper ----------------------------------------------------------------


def _clear_mm(place: Placement) -> tuple[float, float, float, float] | None:
    """Empty millimetres inside the item at the page's left, top, right, bottom; None: unknown."""
    item = place.item
    if not any(item.margins_clear_mm) and item.image is None:
        return None
    left, top, right, bottom = (clear * place.scale for clear in item.margins_clear_mm)
    if place.turn_deg == 270:
        return (top, right, bottom, left)
    return (left, top, right, bottom)


def _below_mm(place: Placement) -> float:
    """Empty millimetres at the bottom of the page under this item."""
    _, y, _, height = place.rect_mm
    clear = _clear_mm(place) or (0.0, 0.0, 0.0, 0.0)
    return paper_size_mm("a4")[1] - (y + height) + clear[3]


def _edge_mm(place: Placement) -> float | None:
    """The least distance from content to an edge of the paper; None where it is not known."""
    clear = _clear_mm(place)
    x, y, width, height = place.rect_mm
    page_w, page_h = paper_size_mm("a4")
    around = (x, y, page_w - x - width, page_h - y - height)
    if clear is None:
        return min(around) if min(around) >= printer_margin_mm() else None
    return min(gap + empty for gap, empty in zip(around, clear, strict=True))


def _larger(place: Placement) -> str:
    """Which side of the page A4 has no room for."""
    page_w, page_h = paper_size_mm("a4")
    width, height = (side / place.scale for side in place.rect_mm[2:])
    sides = (width > page_w + ROUNDING_MM, height > page_h + ROUNDING_MM)
    return {(True, False): "wider", (False, True): "longer"}.get(sides, "larger")


def _findings(place: Placement) -> Iterator[Finding]:
    item = place.item
    if place.scale < 1:
        small = place.scale < LEGIBLE_REDUCTION
        yield Finding(
            code="reduced",
            severity=Severity.WARNING if small else Severity.NOTE,
            subject=item.subject,
            message=f"The page is {_larger(place)} than A4: printed at {100 * place.scale:.2f} %.",
            remedy="Look whether the smallest print can still be read on paper."
            if small
            else "Nothing to do: the reduction is too small to see.",
            source="ISO 216",
        )
    edge = _edge_mm(place)
    if edge is not None and edge < printer_margin_mm() and not item.blank:
        yield Finding(
            code="near-edge",
            severity=Severity.WARNING,
            subject=item.subject,
            message=f"Content comes within {edge:.1f} mm of the edge of the paper, "
            "where many printers print nothing.",
            measured=round(edge, 1),
            limit=printer_margin_mm(),
            unit="mm",
            remedy="Compare the printed sheet with the original; if something is lost, print it "
            "at a copy shop, without margins.",
            source=printer_margin_source(),
        )
