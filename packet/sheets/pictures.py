"""Normalised pictures as PDF objects: JPEG files as they are, Group 4 strips, vector pages."""

from __future__ import annotations

import io
import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

from packet.model import EncodedImage, VectorPage
from packet.sheets.pdf_file import Matrix, PdfFile, Source, dictionary, not_put, references
from packet.spool import Blob, Spool, bytes_of

if TYPE_CHECKING:
    from pypdf import PdfReader
    from pypdf.generic import StreamObject

_IS_IMAGE = re.compile(rb"/Subtype\s*/Image\b")
# SOF markers of Huffman-coded frames (ITU-T T.81, table B.1): baseline, extended, progressive
_FRAMES = (0xC0, 0xC1, 0xC2)


class Pictures:
    """Each picture as a PDF object, made once and copied into every file that shows it.

    ``folder``: where bytes wait that img2pdf took out of their own wrapping.
    """

    def __init__(self, folder: Path | None = None) -> None:
        self._vectors: dict[str, tuple[Source, int]] = {}
        self._images: dict[str, tuple[bytes, Blob]] = {}
        self._spool = Spool(folder)

    def close(self) -> None:
        """Let go of every picture's bytes."""
        self._vectors.clear()
        self._images.clear()

    def put(self, image: EncodedImage | VectorPage, file: PdfFile) -> int:
        """The picture as an XObject of ``file`` that fills the unit square."""
        if isinstance(image, VectorPage):
            if image.digest not in self._vectors:
                self._vectors[image.digest] = _wrap_vector(image)
            return file.copy(*self._vectors[image.digest])
        if image.digest not in self._images:
            self._images[image.digest] = _wrap_image(image, self._spool)
        return file.put_stream(*self._images[image.digest])


def _wrap_image(image: EncodedImage, spool: Spool) -> tuple[bytes, Blob]:
    """An image XObject: its entries, and the encoded bytes as they are."""
    return _wrap_jpeg(image) if image.format == "jpeg" else _unwrapped(image, spool)


def _wrap_jpeg(image: EncodedImage) -> tuple[bytes, Blob]:
    """ISO 32000-2, 8.9.5.1 and 7.4.8: a whole JPEG file is the stream; grey or RGB of 8 bits."""
    width, height, channels = _frame(bytes_of(image.data))
    entries = {
        "Type": b"/XObject",
        "Subtype": b"/Image",
        "Width": b"%d" % width,
        "Height": b"%d" % height,
        "ColorSpace": {1: b"/DeviceGray", 3: b"/DeviceRGB"}[channels],
        "BitsPerComponent": b"8",
        "Filter": b"/DCTDecode",
    }
    return dictionary(entries), image.data


def _frame(data: bytes) -> tuple[int, int, int]:
    """(width, height, channels) of a JPEG file of 8 bits, grey or of three channels, from its frame
    header (ITU-T T.81, B.2.2); PacketError for any other."""
    at = 2
    while data[:2] == b"\xff\xd8" and len(data) >= at + 10 and data[at] == 0xFF:
        if data[at + 1] in _FRAMES:
            bits, channels = data[at + 4], data[at + 9]
            height, width = (int.from_bytes(data[at + n : at + n + 2], "big") for n in (5, 7))
            if bits == 8 and channels in (1, 3) and width and height:
                return width, height, channels
            break
        at += 2 + int.from_bytes(data[at + 2 : at + 4], "big")
    raise not_put(ValueError("no JPEG of 8 bits in grey or RGB"))


def _unwrapped(image: EncodedImage, spool: Spool) -> tuple[bytes, Blob]:
    """The XObject that img2pdf makes of a picture (internal engine, no dates)."""
    import img2pdf

    def layout(width: float, height: float, _: object) -> tuple[float, float, float, float]:
        return (width, height, width, height)

    try:
        convert: Any = img2pdf.convert
        data = bytes_of(image.data)
        pdf = convert(data, engine=img2pdf.Engine.internal, nodate=True, layout_fun=layout)
    except (img2pdf.ImageOpenError, img2pdf.AlphaChannelError, ValueError) as error:
        raise not_put(error) from error
    source = Source(pdf)
    for number in source.numbers():
        entries = source.entries(number)
        if _IS_IMAGE.search(entries) and not references(entries):
            inner = source.stream(number) or b""
            return entries, image.data if inner == data else spool.put(inner)
    raise not_put(LookupError("img2pdf made no plain picture"))


def _wrap_vector(page: VectorPage) -> tuple[Source, int]:
    """A form XObject that fills the unit square with the page as a viewer shows it."""
    from pypdf import PdfWriter
    from pypdf.generic import NameObject

    reader, form = _as_form(page)
    writer = PdfWriter()
    copy = form.clone(writer)
    known = getattr(copy, "indirect_reference", None)  # none: the stream was made here
    writer.root_object[NameObject("/Form")] = known or writer._add_object(copy)
    made = io.BytesIO()
    writer.write(made)
    writer.close()
    reader.close()
    source = Source(made.getvalue())
    catalog = source.entries(source.one(rb"/Root", source.trailer))
    return source, source.one(rb"/Form", catalog)


def _as_form(page: VectorPage) -> tuple[PdfReader, StreamObject]:
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
