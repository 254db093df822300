"""The structure of a PDF as pypdf reads it, and born-digital pages cleaned of all but drawing.

A cleaned page is a PDF of one page that draws one form XObject: the page's own content and the
fonts, images and patterns it needs. Annotations, actions, scripts, attachments, metadata and
links to other pages are not copied, because only the drawing resources are.
"""

from __future__ import annotations

import hashlib
import io
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, BinaryIO

from packet.model import VectorPage
from packet.units import pt_to_mm

if TYPE_CHECKING:
    from pypdf import PageObject, PdfReader

_MOST_OBJECTS = 20_000  # in the resources of one page; beyond that it is rendered
# Entries of resources that draw nothing: names in ISO 32000-2 tables 57, 87, 93, 349.
_DROPPED = (
    "/AA",
    "/AF",
    "/Alternates",
    "/ID",
    "/LastModified",
    "/Measure",
    "/Metadata",
    "/Name",
    "/OC",
    "/OPI",
    "/PieceInfo",
    "/PtData",
    "/Properties",
    "/StructParent",
    "/StructParents",
    "/Thumb",
)
_SAME_PT = 0.01


@dataclass(slots=True)
class Structure:
    """What pypdf knows of a document. ``layers``: it has optional content."""

    reader: PdfReader
    count: int
    layers: bool

    def page(self, number: int) -> PageObject | None:
        """Page ``number`` (from 0), None where it cannot be read."""
        try:
            return self.reader.pages[number]
        except Exception:  # a damaged page tree raises anything
            return None


class LockedError(Exception):
    """The document needs a password that was not given."""


def read_structure(file: BinaryIO, password: str | None) -> Structure | None:
    """The structure of a PDF, None where pypdf cannot make sense of it; LockedError."""
    from pypdf import PdfReader

    try:
        reader = PdfReader(file, strict=False)
        if reader.is_encrypted and not reader.decrypt(password or ""):
            raise LockedError
        count = sum(1 for _ in reader.pages)
        catalog = reader.root_object
        return Structure(reader=reader, count=count, layers="/OCProperties" in catalog)
    except LockedError:
        raise
    except Exception:  # pypdf raises AttributeError, TypeError, RecursionError and others too
        return None


def user_unit(page: PageObject | None) -> float:
    """The size of the page's unit in 1/72 inch (ISO 32000-2, table 31: /UserUnit)."""
    try:
        value = float(page.get("/UserUnit", 1.0)) if page is not None else 1.0
    except Exception:
        return 1.0
    return value if 0.001 <= value <= 10_000 else 1.0


def vector_page(structure: Structure, page: PageObject) -> VectorPage | None:
    """The page as a cleaned VectorPage; None where that would not be safe."""
    try:
        if structure.layers or not _plain(page):
            return None
        resources = page["/Resources"].get_object() if "/Resources" in page else None
        if resources is None or not _safe(resources):
            return None
        pdf_bytes, size_pt = _write(page, resources)
    except Exception:  # a page that cannot be copied whole is rendered
        return None
    return VectorPage(
        pdf_bytes=pdf_bytes,
        size_mm=(pt_to_mm(size_pt[0]), pt_to_mm(size_pt[1])),
        digest=hashlib.sha256(pdf_bytes).hexdigest(),
    )


def _plain(page: PageObject) -> bool:
    """No annotation, action or unusual box."""
    notes: Any = page.get("/Annots")
    if "/AA" in page or (notes is not None and len(notes.get_object())):
        return False
    if user_unit(page) != 1.0 or (page.rotation % 360):
        return False
    media, crop = page.mediabox, page.cropbox
    same = all(abs(float(a) - float(b)) <= _SAME_PT for a, b in zip(media, crop, strict=True))
    at_origin = abs(float(media.left)) <= _SAME_PT and abs(float(media.bottom)) <= _SAME_PT
    return same and at_origin and float(media.width) > 0 and float(media.height) > 0


def _safe(resources: Any) -> bool:
    """Every font embedded, nothing fetched from elsewhere; drops what draws nothing."""
    for seen, dictionary in enumerate(_dictionaries(resources)):
        if seen > _MOST_OBJECTS or _refers_outside(dictionary) or not _fonts_embedded(dictionary):
            return False
        for key in _DROPPED:
            dictionary.pop(key, None)
        _strip_jpeg(dictionary)
    return True


def _dictionaries(root: Any) -> Iterator[Any]:
    """All dictionaries and streams reachable from ``root``, each once."""
    from pypdf.generic import ArrayObject, DictionaryObject, IndirectObject

    seen: set[tuple[int, int]] = set()
    todo = [root]
    while todo:
        value = todo.pop()
        if isinstance(value, IndirectObject):
            key = (value.idnum, value.generation)
            if key in seen:
                continue
            seen.add(key)
            value = value.get_object()
        if isinstance(value, DictionaryObject):
            yield value
            todo += [dict.__getitem__(value, key) for key in value]
        elif isinstance(value, ArrayObject):
            todo += list.__iter__(value)


def _refers_outside(dictionary: Any) -> bool:
    if dictionary.get("/Type") in ("/Page", "/Pages", "/Catalog", "/Annot"):
        return True
    if "/PS" in (dictionary.get("/Subtype"), dictionary.get("/Subtype2")) or "/Ref" in dictionary:
        return True
    if "/JPXDecode" in str(dictionary.get("/Filter", "")):
        return True  # its boxes may hold metadata that is not ours to edit
    return hasattr(dictionary, "get_data") and "/F" in dictionary


def _fonts_embedded(dictionary: Any) -> bool:
    from pypdf.generic import ArrayObject, DictionaryObject

    fonts = dictionary.get("/Font")
    fonts = fonts.get_object() if fonts is not None else None
    if isinstance(fonts, ArrayObject):  # a graphics state's [font size]
        return _embedded(fonts[0].get_object())
    if isinstance(fonts, DictionaryObject):
        return all(_embedded(font.get_object()) for font in fonts.values())
    return True


def _embedded(font: Any) -> bool:
    if font.get("/Subtype") == "/Type3":
        return True  # its glyphs are content streams; their resources are walked as well
    if font.get("/Subtype") == "/Type0":
        font = font["/DescendantFonts"].get_object()[0].get_object()
    descriptor = font.get("/FontDescriptor")
    if descriptor is None:
        return False
    held = descriptor.get_object()
    return any(key in held for key in ("/FontFile", "/FontFile2", "/FontFile3"))


def _strip_jpeg(stream: Any) -> None:
    """Take the metadata segments out of a JPEG image, in place; the pixels stay as they are."""
    from packet.intake.jpeg_data import without_metadata

    if not hasattr(stream, "get_data"):
        return
    filters = stream.get("/Filter")
    filters = filters.get_object() if filters is not None else None
    names = [filters] if isinstance(filters, str) else list(filters or [])
    if names == ["/DCTDecode"]:
        stream._data = without_metadata(stream._data)  # pypdf has no public way to set it
    elif "/DCTDecode" in names:
        raise ValueError("a JPEG inside another filter")


def _write(page: PageObject, resources: Any) -> tuple[bytes, tuple[float, float]]:
    from pypdf import PdfWriter
    from pypdf.generic import (
        ArrayObject,
        DecodedStreamObject,
        DictionaryObject,
        FloatObject,
        NameObject,
    )

    width, height = float(page.mediabox.width), float(page.mediabox.height)
    contents = page.get_contents()
    drawing = DecodedStreamObject()
    drawing.set_data(contents.get_data() if contents is not None else b"")
    writer = PdfWriter()
    form = drawing.flate_encode()
    box = ArrayObject([FloatObject(0), FloatObject(0), FloatObject(width), FloatObject(height)])
    form.update(
        {
            NameObject("/Type"): NameObject("/XObject"),
            NameObject("/Subtype"): NameObject("/Form"),
            NameObject("/BBox"): box,
            NameObject("/Resources"): resources.clone(writer),
        }
    )
    if "/Group" in page:
        group: Any = page["/Group"].get_object()
        form[NameObject("/Group")] = DictionaryObject(group).clone(writer)
    paper = writer.add_blank_page(width=width, height=height)
    show = DecodedStreamObject()
    show.set_data(b"/P Do")
    reference = writer._add_object(form)
    paper[NameObject("/Resources")] = DictionaryObject(
        {NameObject("/XObject"): DictionaryObject({NameObject("/P"): reference})}
    )
    paper[NameObject("/Contents")] = writer._add_object(show)
    writer.metadata = None
    buffer = io.BytesIO()
    writer.write(buffer)
    return buffer.getvalue(), (width, height)
