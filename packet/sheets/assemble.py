"""Pages to one PDF file: pictures go in byte for byte, at the place the layout gave them.

A JPEG goes in as it is; img2pdf takes the strips out of a Group 4 TIFF. pypdf writes each picture
into every file that shows it, one at a time: they wait on the disk (``packet.spool``). A page's own
content is a few operators and is the same in every file. Nothing is re-encoded after normalising.
"""

from __future__ import annotations

import hashlib
import io
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO

from packet.errors import PacketError
from packet.model import EncodedImage, Placement, VectorPage
from packet.sheets.typesetting import a4_pt
from packet.spool import Blob, Spool, bytes_of
from packet.units import mm_to_pt

if TYPE_CHECKING:
    from pypdf import PdfReader, PdfWriter
    from pypdf.generic import DictionaryObject, IndirectObject, StreamObject

Matrix = tuple[float, float, float, float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class OverlayPage:
    """Page ``number`` (from 0) of a PDF that reportlab wrote."""

    pdf: PdfReader = field(repr=False)
    number: int

    def content(self) -> bytes:
        """The page's drawing operators, decoded; empty for a page that shows nothing."""
        contents = self.pdf.pages[self.number].get_contents()
        data = b"" if contents is None else contents.get_data().strip()
        return data if b"Tj" in data or b"re" in data or b" l" in data else b""


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


class Pictures:
    """Each picture as a PDF object, made once and copied into every file that shows it.

    ``folder``: where bytes wait that img2pdf took out of their own wrapping.
    """

    def __init__(self, folder: Path | None = None) -> None:
        # The readers stay open: pypdf knows a source by its id while it copies from it.
        self._vectors: dict[str, tuple[PdfReader, StreamObject]] = {}
        self._images: dict[str, tuple[dict[Any, Any], Blob]] = {}
        self._spool = Spool(folder)

    def close(self) -> None:
        """Let go of every picture's bytes."""
        for reader, _ in self._vectors.values():
            reader.close()
        self._vectors.clear()
        self._images.clear()

    def put(self, image: EncodedImage | VectorPage, writer: PdfWriter) -> IndirectObject:
        """The picture as an XObject of ``writer`` that fills the unit square."""
        if isinstance(image, VectorPage):
            if image.digest not in self._vectors:
                self._vectors[image.digest] = _wrap_vector(image)
            copy = self._vectors[image.digest][1].clone(writer)
            known = getattr(copy, "indirect_reference", None)  # none: the stream was made here
            return known or writer._add_object(copy)
        from packet.sheets.waiting_stream import WaitingStream

        if image.digest not in self._images:
            self._images[image.digest] = _wrap_image(image, self._spool)
        return writer._add_object(WaitingStream(*self._images[image.digest]))


def _wrap_image(image: EncodedImage, spool: Spool) -> tuple[dict[Any, Any], Blob]:
    """An image XObject: its entries, and the encoded bytes as they are."""
    return _wrap_jpeg(image) if image.format == "jpeg" else _unwrapped(image, spool)


def _wrap_jpeg(image: EncodedImage) -> tuple[dict[Any, Any], Blob]:
    """ISO 32000-2, 8.9.5.1 and 7.4.8: a whole JPEG file is the stream; grey or RGB of 8 bits."""
    from PIL import Image, UnidentifiedImageError
    from pypdf.generic import NameObject, NumberObject

    try:
        with Image.open(io.BytesIO(bytes_of(image.data)), formats=["JPEG"]) as picture:
            (width, height), mode = picture.size, picture.mode
        space = {"L": "/DeviceGray", "RGB": "/DeviceRGB"}[mode]
    except (UnidentifiedImageError, KeyError) as error:
        raise _not_put(error) from error
    return {
        NameObject("/BitsPerComponent"): NumberObject(8),
        NameObject("/ColorSpace"): NameObject(space),
        NameObject("/Filter"): NameObject("/DCTDecode"),
        NameObject("/Height"): NumberObject(height),
        NameObject("/Subtype"): NameObject("/Image"),
        NameObject("/Type"): NameObject("/XObject"),
        NameObject("/Width"): NumberObject(width),
    }, image.data


def _not_put(error: Exception) -> PacketError:
    return PacketError(f"A normalised picture could not be put into a PDF: {error}.")


def _unwrapped(image: EncodedImage, spool: Spool) -> tuple[dict[Any, Any], Blob]:
    """The XObject that img2pdf makes of a picture (internal engine, no dates)."""
    import img2pdf
    from pypdf import PdfReader

    def layout(width: float, height: float, _: object) -> tuple[float, float, float, float]:
        return (width, height, width, height)

    try:
        convert: Any = img2pdf.convert
        data = bytes_of(image.data)
        pdf = convert(data, engine=img2pdf.Engine.internal, nodate=True, layout_fun=layout)
    except (img2pdf.ImageOpenError, img2pdf.AlphaChannelError, ValueError) as error:
        raise _not_put(error) from error
    reader = PdfReader(io.BytesIO(pdf))
    pictures = reader.pages[0]["/Resources"]["/XObject"]  # type: ignore[index]
    (picture,) = (pictures[name] for name in pictures)
    inner = picture._data
    return dict(picture), image.data if inner == data else spool.put(inner)


def _wrap_vector(page: VectorPage) -> tuple[PdfReader, StreamObject]:
    """A form XObject that fills the unit square with the page as a viewer shows it."""
    from pypdf import PdfReader
    from pypdf.generic import (
        ArrayObject,
        DecodedStreamObject,
        DictionaryObject,
        FloatObject,
        NameObject,
    )

    reader = PdfReader(io.BytesIO(bytes_of(page.pdf_bytes)))
    source = reader.pages[0]
    contents = source.get_contents()
    decoded = DecodedStreamObject()
    decoded.set_data(b"" if contents is None else contents.get_data())
    form = decoded.flate_encode()
    box = source.cropbox
    corners = (float(box.left), float(box.bottom), float(box.right), float(box.top))
    form[NameObject("/Type")] = NameObject("/XObject")
    form[NameObject("/Subtype")] = NameObject("/Form")
    form[NameObject("/BBox")] = ArrayObject([FloatObject(value) for value in corners])
    form[NameObject("/Matrix")] = ArrayObject(
        [FloatObject(repr(round(value, 12))) for value in _to_unit_square(corners, source.rotation)]
    )
    form[NameObject("/Resources")] = source.get("/Resources", DictionaryObject())
    if "/Group" in source:
        form[NameObject("/Group")] = source["/Group"]
    return reader, form


def _to_unit_square(box: tuple[float, float, float, float], rotation: int) -> Matrix:
    """Matrix from a page's own space to 0..1 x 0..1 as shown after ``/Rotate`` (clockwise)."""
    left, bottom, right, top = box
    w, h = right - left, top - bottom
    return {
        0: (1 / w, 0.0, 0.0, 1 / h, -left / w, -bottom / h),
        90: (0.0, -1 / w, 1 / h, 0.0, -bottom / h, right / w),
        180: (-1 / w, 0.0, 0.0, -1 / h, right / w, top / h),
        270: (0.0, 1 / w, -1 / h, 0.0, top / h, -left / w),
    }[rotation % 360]


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
    from pypdf import PdfWriter

    writer = PdfWriter()
    writer.pdf_header = "%PDF-1.7"
    proof = hashlib.sha256(title.encode())
    placed: dict[str, IndirectObject] = {}
    for page in pages:
        _place_pictures(writer, page, pictures, placed)
        proof.update(_add_page(writer, page, placed))
    for bookmark in bookmarks:
        parent = writer.add_outline_item(
            title=bookmark.title, page_number=bookmark.page, is_open=False
        )
        for child in bookmark.children:
            writer.add_outline_item(title=child.title, page_number=child.page, parent=parent)
    _describe(writer, pages, title, two_sided=two_sided)
    _identify(writer, proof.digest()[:16])
    writer.write(to)
    writer.close()


def _place_pictures(
    writer: PdfWriter, page: FilePage, pictures: Pictures, placed: dict[str, IndirectObject]
) -> None:
    """Copy the page's pictures into the file; one that is already there is shared."""
    for place in page.placements:
        image = place.item.image
        if image is None:
            raise PacketError(f"{place.item.subject} has no picture to print: build again.")
        if image.digest not in placed:
            placed[image.digest] = pictures.put(image, writer)


def _add_page(writer: PdfWriter, page: FilePage, placed: dict[str, IndirectObject]) -> bytes:
    """Add one page; the answer stands for all it shows, to make the file's identifier of."""
    from pypdf.generic import DecodedStreamObject, DictionaryObject, NameObject

    width, height = a4_pt()
    made = writer.add_blank_page(round(width, 4), round(height, 4))
    shown = DictionaryObject()
    operators: list[bytes] = []
    proof = [page.label.encode()]
    for number, place in enumerate(page.placements):
        assert place.item.image is not None
        digest = place.item.image.digest
        shown[NameObject(f"/P{number}")] = placed[digest]
        matrix = " ".join(f"{value:.4f}" for value in placement_matrix(place))
        operators.append(f"q {matrix} cm /P{number} Do Q".encode())
        proof.append(digest.encode())
    resources = DictionaryObject()
    if shown:
        resources[NameObject("/XObject")] = shown
    if page.overlay is not None and (drawn := page.overlay.content()):
        operators.append(b"q " + drawn + b" Q")
        resources[NameObject("/Font")] = _fonts(writer, page.overlay)
    made[NameObject("/Resources")] = resources
    if operators:
        stream = DecodedStreamObject()
        stream.set_data(b"\n".join(operators))
        made[NameObject("/Contents")] = writer._add_object(stream.flate_encode())
    return b"\0".join((*proof, *operators, b""))


def _fonts(writer: PdfWriter, overlay: OverlayPage) -> DictionaryObject:
    """The overlay's font table in ``writer``; each font is copied once per file."""
    from pypdf.generic import DictionaryObject, NameObject

    source: Any = overlay.pdf.pages[overlay.number]["/Resources"]
    fonts = source["/Font"].get_object()
    copied = DictionaryObject()
    for name in fonts:
        _name_subset(fonts[name])
        copied[NameObject(name)] = fonts[name].clone(writer).indirect_reference
    return copied


def _name_subset(font: Any) -> None:
    """Give a subset its own six letters (ISO 32000-1, 9.6.4): reportlab calls each AAAAAA."""
    from pypdf.generic import NameObject

    tag, _, face = font["/BaseFont"][1:].partition("+")
    if tag == "AAAAAA":
        described = font["/FontDescriptor"]
        digest = hashlib.sha256(described["/FontFile2"].get_data()).digest()
        letters = "".join(chr(ord("A") + byte % 26) for byte in digest[:6])
        font[NameObject("/BaseFont")] = NameObject(f"/{letters}+{face}")
        described[NameObject("/FontName")] = NameObject(f"/{letters}+{face}")


def _describe(writer: PdfWriter, pages: Sequence[FilePage], title: str, *, two_sided: bool) -> None:
    from pypdf.generic import (
        ArrayObject,
        BooleanObject,
        DictionaryObject,
        NameObject,
        NumberObject,
        TextStringObject,
    )

    writer.metadata = {"/Title": title, "/Producer": "packet"}
    root = writer.root_object
    root[NameObject("/Lang")] = TextStringObject("it-IT")
    root[NameObject("/PageMode")] = NameObject("/UseOutlines")
    duplex = "/DuplexFlipLongEdge" if two_sided else "/Simplex"
    root[NameObject("/ViewerPreferences")] = DictionaryObject(
        {
            NameObject("/PrintScaling"): NameObject("/None"),
            NameObject("/Duplex"): NameObject(duplex),
            NameObject("/DisplayDocTitle"): BooleanObject(True),
        }
    )
    labels = ArrayObject()
    for number, page in enumerate(pages):
        labels.append(NumberObject(number))
        labels.append(DictionaryObject({NameObject("/P"): TextStringObject(page.label)}))
    root[NameObject("/PageLabels")] = DictionaryObject({NameObject("/Nums"): labels})


def _identify(writer: PdfWriter, identity: bytes) -> None:
    """A file identifier made from the content, so that equal content gives equal bytes."""
    from pypdf.generic import ArrayObject, ByteStringObject

    writer._ID = ArrayObject([ByteStringObject(identity), ByteStringObject(identity)])
