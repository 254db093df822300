"""Pages to one PDF file: pictures go in byte for byte, at the place the layout gave them.

A JPEG goes in as it is; img2pdf takes the strips out of a Group 4 TIFF. Each picture is written
into every file that shows it, one at a time: they wait on the disk (``packet.spool``). A page's own
content is a few operators and is the same in every file. Nothing is re-encoded after normalising.
"""

from __future__ import annotations

import base64
import hashlib
import zlib
from collections.abc import Iterator, Sequence
from typing import BinaryIO

from packet.errors import PacketError
from packet.model import Placement
from packet.records import dataclass, field
from packet.sheets.pdf_file import (
    Matrix,
    PdfFile,
    Source,
    array,
    dictionary,
    reference,
    references,
    text,
)
from packet.sheets.pictures import Pictures
from packet.sheets.typesetting import a4_pt
from packet.units import mm_to_pt


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OverlayPage:
    """A page that reportlab wrote. ``content``: its drawing operators, decoded; empty for a page
    that shows nothing. ``fonts``: its font table, an object of ``pdf``."""

    pdf: Source = field(repr=False)
    content: bytes = field(repr=False)
    fonts: int


@dataclass(frozen=True, slots=True, kw_only=True)
class FilePage:
    """One page of a file. ``overlay``: a reportlab page drawn over the placements.

    ``label``: what a viewer shows as the page's number. A page with neither placements nor
    overlay is an empty back.
    """

    placements: tuple[Placement, ...] = ()
    overlay: OverlayPage | None = None
    label: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Bookmark:
    """One line of the outline: ``page`` is an index into the file's pages."""

    title: str
    page: int
    children: tuple[Bookmark, ...] = ()


def overlay_pages(pdf: bytes) -> Iterator[OverlayPage]:
    """The pages of a file that reportlab wrote. Each subset of a font gets its own six letters
    (ISO 32000-2, 9.9.2): reportlab calls each AAAAAA."""
    source = Source(pdf)
    catalog = source.entries(source.one(rb"/Root", source.trailer))
    pages = source.entries(source.one(rb"/Pages", catalog))
    named: set[int] = set()
    for number in references(pages[pages.index(b"/Kids") :].partition(b"]")[0]):
        page = source.entries(number)
        fonts = source.one(rb"/Font", page)
        if fonts not in named:
            named.add(fonts)
            for font in references(source.entries(fonts)):
                _name_subset(source, font)
        yield OverlayPage(pdf=source, content=_drawn(source, page), fonts=fonts)


def _drawn(source: Source, page: bytes) -> bytes:
    number = source.one(rb"/Contents", page)
    data = _decoded(source, number).strip()
    return data if b"Tj" in data or b"re" in data or b" l" in data else b""


def _decoded(source: Source, number: int) -> bytes:
    """A stream as reportlab stores it: deflated, in ASCII over that or not."""
    data = source.stream(number) or b""
    entries = source.entries(number)
    if b"/ASCII85Decode" in entries:
        data = base64.a85decode(data.strip().removesuffix(b"~>"))
    return zlib.decompress(data) if b"/FlateDecode" in entries else data


def _name_subset(source: Source, number: int) -> None:
    font = source.entries(number)
    if b"/AAAAAA+" not in font:
        return
    described = source.one(rb"/FontDescriptor", font)
    outlines = source.one(rb"/FontFile2", source.entries(described))
    digest = hashlib.sha256(_decoded(source, outlines)).digest()
    tag = b"/" + bytes(ord("A") + byte % 26 for byte in digest[:6]) + b"+"
    for one in (number, described):
        source.change(one, source.entries(one).replace(b"/AAAAAA+", tag))


def placement_matrix(place: Placement) -> Matrix:
    """Matrix that draws the unit square at ``rect_mm`` (y down) on A4 in points (y up)."""
    x, y, width, height = (mm_to_pt(value) for value in place.rect_mm)
    bottom = a4_pt()[1] - y - height
    if place.turn_deg == 90:  # the item's top lies at the right
        return (0.0, -height, width, 0.0, x, bottom + height)
    if place.turn_deg == 180:
        return (-width, 0.0, 0.0, -height, x + width, bottom + height)
    if place.turn_deg == 270:  # the item's top lies at the left
        return (0.0, height, -width, 0.0, x + width, bottom)
    return (width, 0.0, 0.0, height, x, bottom)


# --- one file ------------------------------------------------------------------------------


def write_file(
    pages: Sequence[FilePage],
    bookmarks: Sequence[Bookmark],
    pictures: Pictures,
    to: BinaryIO,
    *,
    title: str,
    two_sided: bool,
) -> None:
    """Write one file: A4 pages, outline, page labels, title, viewer preferences, no dates."""
    file = PdfFile(to)
    proof = hashlib.sha256(title.encode())
    placed: dict[str, int] = {}
    tree = file.reserve()
    made = []
    for page in pages:
        _place_pictures(file, page, pictures, placed)
        number, shown = _add_page(file, page, placed, tree)
        made.append(number)
        proof.update(shown)
    kids = {"Count": b"%d" % len(made), "Kids": array([reference(number) for number in made])}
    file.put(dictionary({"Type": b"/Pages", **kids}), tree)
    root = file.put(_catalog(file, pages, bookmarks, made, tree, two_sided=two_sided))
    info = file.put(dictionary({"Title": text(title), "Producer": text("packet")}))
    file.close(root=root, info=info, identity=proof.digest()[:16])


def _place_pictures(
    file: PdfFile, page: FilePage, pictures: Pictures, placed: dict[str, int]
) -> None:
    """Copy the page's pictures into the file; one that is already there is shared."""
    for place in page.placements:
        image = place.item.image
        if image is None:
            raise PacketError(f"{place.item.subject} has no picture to print: build again.")
        if image.digest not in placed:
            placed[image.digest] = pictures.put(image, file)


def _add_page(
    file: PdfFile, page: FilePage, placed: dict[str, int], tree: int
) -> tuple[int, bytes]:
    """(the page that was added, what stands for all it shows: the file is named by that)."""
    width, height = a4_pt()
    shown: dict[str, bytes] = {}
    operators: list[bytes] = []
    proof = [page.label.encode()]
    for number, place in enumerate(page.placements):
        assert place.item.image is not None
        digest = place.item.image.digest
        shown[f"P{number}"] = reference(placed[digest])
        matrix = " ".join(f"{value:.4f}" for value in placement_matrix(place))
        operators.append(f"q {matrix} cm /P{number} Do Q".encode())
        proof.append(digest.encode())
    resources: dict[str, bytes] = {}
    if shown:
        resources["XObject"] = dictionary(shown)
    if page.overlay is not None and page.overlay.content:
        operators.append(b"q " + page.overlay.content + b" Q")
        resources["Font"] = reference(file.copy(page.overlay.pdf, page.overlay.fonts))
    entries = {
        "Type": b"/Page",
        "Parent": reference(tree),
        "MediaBox": b"[ 0 0 %s %s ]" % (b"%.4f" % width, b"%.4f" % height),
        "Resources": dictionary(resources),
    }
    if operators:
        data = zlib.compress(b"\n".join(operators))
        content = file.put_stream({"Filter": b"/FlateDecode"}, data)
        entries["Contents"] = reference(content)
    return file.put(dictionary(entries)), b"\0".join((*proof, *operators, b""))


def _catalog(
    file: PdfFile,
    pages: Sequence[FilePage],
    bookmarks: Sequence[Bookmark],
    made: Sequence[int],
    tree: int,
    *,
    two_sided: bool,
) -> bytes:
    labels = [
        part
        for number, page in enumerate(pages)
        for part in (b"%d" % number, dictionary({"P": text(page.label)}))
    ]
    printing = {
        "PrintScaling": b"/None",
        "Duplex": b"/DuplexFlipLongEdge" if two_sided else b"/Simplex",
        "DisplayDocTitle": b"true",
    }
    return dictionary(
        {
            "Type": b"/Catalog",
            "Pages": reference(tree),
            "Lang": text("it-IT"),
            "Outlines": reference(_outline(file, bookmarks, made)),
            "PageMode": b"/UseOutlines",
            "PageLabels": dictionary({"Nums": array(labels)}),
            "ViewerPreferences": dictionary(printing),
        }
    )


def _outline(file: PdfFile, bookmarks: Sequence[Bookmark], made: Sequence[int]) -> int:
    """The outline, closed below its first level (ISO 32000-2, 12.3.3); its number."""
    top = file.reserve()
    ends = _level(file, bookmarks, made, top)
    file.put(dictionary({"Type": b"/Outlines", "Count": b"%d" % len(bookmarks), **ends}), top)
    return top


def _level(
    file: PdfFile, bookmarks: Sequence[Bookmark], made: Sequence[int], parent: int
) -> dict[str, bytes]:
    """Write the lines of one level and those below them; what their parent says of them."""
    numbers = [file.reserve() for _ in bookmarks]
    for at, (number, bookmark) in enumerate(zip(numbers, bookmarks, strict=True)):
        entries = {
            "Title": text(bookmark.title),
            "Parent": reference(parent),
            "Dest": array([reference(made[bookmark.page]), b"/Fit"]),
        }
        if at:
            entries["Prev"] = reference(numbers[at - 1])
        if at + 1 < len(numbers):
            entries["Next"] = reference(numbers[at + 1])
        if bookmark.children:
            entries |= _level(file, bookmark.children, made, number)
            entries["Count"] = b"-%d" % len(bookmark.children)
        file.put(dictionary(entries), number)
    return {"First": reference(numbers[0]), "Last": reference(numbers[-1])} if numbers else {}
