"""The pictures of the review page: each printed page beside the scans it came from."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from packet.intake.names import shown
from packet.model import DocumentPages, Item, PageResult, Placement, PrintedPage, VectorPage
from packet.report.markup import KIND_WORDS, data_uri, italian, millimetres, name, percent, safe
from packet.rules.sizes import paper_size_mm
from packet.spool import Blob

Source = tuple[str, int]  # scan, page


@dataclass(frozen=True, slots=True, kw_only=True)
class Shelf:
    """Where things are: source pages by scan and page; links to findings by their subject."""

    sources: Mapping[Source, PageResult]
    notes: Mapping[str, tuple[str, ...]]


def sheet_id(page: PrintedPage, *, form: bool = False) -> str:
    """The anchor of a printed page, unique in the review."""
    if form:
        return f"form-page-{page.page}"
    if page.copy_page is None:
        return f"kept-{safe_id(page.folder)}-{page.page}"
    return f"copy-{page.copy_page}"


def safe_id(folder: str) -> str:
    """A folder's name as part of an id: letters and digits kept, the rest by their number."""
    return "".join(
        sign if sign.isascii() and sign.isalnum() else f"_{ord(sign):x}_" for sign in folder
    )


def document_section(
    document: DocumentPages, shelf: Shelf, anchor: str, *, form: bool
) -> Iterator[str]:
    """One document in pieces: its titles, and a list of its printed pages."""
    pages = document.pages
    spec = document.spec
    count = f"{len(pages)} printed page{'' if len(pages) == 1 else 's'}"
    where = "in the envelope and in both copy sets"
    if form:
        where = "in both copy sets; the signed original goes into the envelope"
    elif not spec.in_envelope:
        where = "in both copy sets, not in the envelope"
    label = f'aria-labelledby="{anchor}-title"'
    yield f"""<section class="document" id="{anchor}" {label} tabindex="-1">
<header><h2 id="{anchor}-title">{safe(spec.title_en)}</h2>
<p>{"" if spec.title_it == spec.title_en else italian(spec.title_it)}</p>
<p class="label">{count}, {where}</p></header>
<ol class="sheets" role="list">
"""
    for page in pages:
        yield f"{_sheet(page, shelf, spec.title_en, form=form)}\n"
    yield """</ol>
</section>
"""


def _sheet(page: PrintedPage, shelf: Shelf, title: str, *, form: bool) -> str:
    anchor = sheet_id(page, form=form)
    place = f"page {page.page} of {page.pages}"
    if page.copy_page is not None and not form:
        heading = f"Copy {page.copy_page} of {page.copy_pages}, {place}"
    else:
        heading = place.capitalize()
    items = [placement.item for placement in page.placements]
    sources = [
        _source(source, group, shelf, f"{anchor}-scan-{index}")
        for index, (source, group) in enumerate(_by_source(items).items(), start=1)
    ]
    many = " many" if len(sources) > 1 else ""
    figures = "\n".join(sources)
    return f"""<li id="{anchor}"><h3>{heading}</h3>
<div class="pair">
{_paper(page, shelf, anchor, f"{title}, {place}, as it will be printed")}
<div class="sources{many}">
{figures}
</div></div>
{_about(_subjects(items), shelf)}</li>"""


def _subjects(items: Iterable[Item]) -> tuple[str, ...]:
    """What a finding about one of the items may name: the item, its scan page, its scan."""
    return tuple(
        subject
        for item in items
        for subject in (item.subject, f"{item.scan}#{item.page}", item.scan)
    )


def _about(subjects: Iterable[str], shelf: Shelf) -> str:
    """Links to the findings about the subjects, each once."""
    links = [
        link for subject in dict.fromkeys(subjects) for link in shelf.notes.get(shown(subject), ())
    ]
    return (
        f'<ul class="about" role="list">{"".join(f"<li>{link}</li>" for link in links)}</ul>'
        if links
        else ""
    )


# --- the printed page ----------------------------------------------------------------------


def _paper(page: PrintedPage, shelf: Shelf, anchor: str, label: str) -> str:
    view = f"{anchor}-paper"
    placed = "".join(_placed(placement, shelf) for placement in page.placements)
    words = "; ".join(_words(placement) for placement in page.placements)
    return f"""<figure id="{view}"><a class="paper" href="#{view}">
<span class="hidden">Enlarge: {safe(label)}</span>{placed}</a>
{_close(anchor)}<figcaption>{words}{_enlarge(view)}</figcaption></figure>"""


def _placed(placement: Placement, shelf: Shelf) -> str:
    width, height = paper_size_mm("a4")
    x, y, w, h = placement.rect_mm
    style = (
        f"left:{percent(x, width)};top:{percent(y, height)};"
        f"width:{percent(w, width)};height:{percent(h, height)}"
    )
    item = placement.item
    uri = data_uri(_picture(item, shelf))
    if uri is None:
        return f'<span class="unseen" style="{style}">No picture</span>'
    alt = safe(f"{KIND_WORDS[item.kind].capitalize()} from {item.scan}")
    turn = _turned(w, h, placement.turn_deg)
    return f'<span class="placed" style="{style}"><img alt="{alt}"{turn} src="{uri}"></span>'


def _picture(item: Item, shelf: Shelf) -> Blob:
    """The item's own small picture; a page kept as vectors is shown as its source was drawn."""
    page = shelf.sources.get((item.scan, item.page))
    if not item.preview and page is not None and isinstance(item.image, VectorPage):
        return page.preview
    return item.preview


def _turned(w: float, h: float, turn_deg: int) -> str:
    """The style that turns a picture about the middle of the place that it fills."""
    if not turn_deg:
        return ""
    sides = f"width:{percent(h, w)};height:{percent(w, h)};" if turn_deg in (90, 270) else ""
    return f' style="{sides}transform:translate(-50%,-50%) rotate({turn_deg}deg)" class="turned"'


def _words(placement: Placement) -> str:
    item = placement.item
    width, height = (millimetres(side * placement.scale) for side in item.size_mm)
    scale = "" if placement.scale == 1 else f", reduced to {100 * placement.scale:.2f} %"
    blank = ", blank" if item.blank else ""
    size = f"{width} × {height} mm".replace(" ", "\N{NO-BREAK SPACE}")
    return f"{KIND_WORDS[item.kind].capitalize()}, {size}{scale}{blank}"


# --- the source ----------------------------------------------------------------------------


def _by_source(items: Iterable[Item]) -> dict[Source, list[Item]]:
    grouped: dict[Source, list[Item]] = {}
    for item in items:
        grouped.setdefault((item.scan, item.page), []).append(item)
    return grouped


def _source(source: Source, items: Sequence[Item], shelf: Shelf, view: str) -> str:
    """A scan with the outlines of the items taken from it."""
    scan, number = source
    page = shelf.sources.get(source)
    uri = None if page is None else data_uri(page.preview)
    width, height = (page.width_px, page.height_px) if page else (4, 3)
    ratio = f"{width}/{height}"
    caption = name(scan) + (f", page {number}" if number > 1 else "")
    if page is None or uri is None:
        picture = '<span class="unseen">No picture of the scan</span>'
    else:
        alt = f"Scan {scan}, page {number}, with the outline of what was taken from it"
        picture = f'<img alt="{safe(alt)}" src="{uri}">{outlines(page, items)}'
    return f"""<figure class="source" id="{view}" style="--ratio:{ratio}">
<a class="scan" href="#{view}"><span class="hidden">Enlarge:</span> {picture}</a>
{_close(view.rsplit("-scan-", 1)[0])}<figcaption>{caption}{_enlarge(view)}</figcaption></figure>"""


def _enlarge(view: str) -> str:
    """The same as a click on the picture, in words: hidden from those who have heard it there."""
    return f' <a class="larger" href="#{view}" aria-hidden="true" tabindex="-1">Enlarge</a>'


def _close(anchor: str) -> str:
    return f'<a class="close" href="#{anchor}">Back to the list</a>'


def outlines(page: PageResult, items: Sequence[Item]) -> str:
    """The outlines as inline SVG in the pixels of the source; a dot marks the top-left corner.

    Pixel centres lie on integers, the picture's edge half a pixel outside them.
    """
    shapes = "".join(_outline(item, page, numbered=len(page.items) > 1) for item in items)
    return (
        f'<svg viewBox="0 0 {page.width_px} {page.height_px}" preserveAspectRatio="none" '
        f'aria-hidden="true" focusable="false">{shapes}</svg>'
    )


def _outline(item: Item, page: PageResult, *, numbered: bool) -> str:
    points = " ".join(f"{x + 0.5:.1f},{y + 0.5:.1f}" for x, y in item.corners_px)
    unit = max(page.width_px, page.height_px) / 100
    x, y = (value + 0.5 for value in item.corners_px[0])
    number = (
        f'<text x="{x:.1f}" y="{y:.1f}" font-size="{3.2 * unit:.1f}">{item.item}</text>'
        if numbered
        else ""
    )
    radius = (2.6 if numbered else 1.7) * unit
    return (
        f'<polygon class="halo" points="{points}"/><polygon class="line" points="{points}"/>'
        f'<circle class="corner" cx="{x:.1f}" cy="{y:.1f}" r="{radius:.1f}"/>{number}'
    )


# --- what is not printed -------------------------------------------------------------------


def set_aside_section(shelf: Shelf, printed: frozenset[str], unread: Sequence[str]) -> str:
    """Items left out, pages on which nothing was found, scans that could not be read."""
    entries = [*_left_out(shelf, printed), *(f"<li>{line}</li>" for line in unread)]
    if not entries:
        return ""
    listed = "\n".join(entries)
    return f"""<section id="set-aside" aria-labelledby="set-aside-title" tabindex="-1">
<header><h2 id="set-aside-title">Not printed</h2>
<p class="label">What lies in the folders and is on no printed page</p></header>
<ul class="sheets" role="list">
{listed}
</ul>
</section>"""


def _left_out(shelf: Shelf, printed: frozenset[str]) -> Iterator[str]:
    number = 0
    for source, page in shelf.sources.items():
        items = [item for item in page.items if item.subject not in printed]
        if page.items and not items:
            continue
        number += 1
        anchor = f"aside-{number}"
        if items:
            listed = ", ".join(f"{KIND_WORDS[item.kind]} (item {item.item})" for item in items)
            words, subjects = f"Left out: {listed}", _subjects(items)
        else:
            words = "Nothing was found on this page"
            subjects = (f"{page.scan}#{page.page}", page.scan)
        figure = _source(source, items, shelf, f"{anchor}-scan-1")
        yield f"""<li id="{anchor}" class="aside"><h3>{safe(words)}</h3>
{figure}
{_about(subjects, shelf)}</li>"""
