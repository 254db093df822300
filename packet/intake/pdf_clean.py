"""Born-digital pages kept as vectors, cleaned of all but drawing.

A cleaned page is a PDF of one page that draws one form XObject: the page's own content with the
fonts, images and patterns that it uses. Annotations, actions, scripts, attachments, metadata and
other pages are not copied, because nothing is copied but what draws.
"""

from __future__ import annotations

import hashlib
import io
import re
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from packet.intake.jpeg_data import without_metadata
from packet.intake.pdf_structure import Structure, user_unit
from packet.model import VectorPage
from packet.units import pt_to_mm

if TYPE_CHECKING:
    from pypdf import PageObject, PdfWriter

_MOST_OBJECTS = 20_000  # in the resources of one page; beyond that it is rendered
_SAME_PT = 0.01
_LONGEST_PT = 14_400  # ISO 32000-1, annex C.2: the longest side of a page that readers know
# Entries of resources that draw nothing (ISO 32000-2, tables 57, 87, 93, 349 and others).
_DROPPED = (
    *("/AA", "/AF", "/Alternates", "/ID", "/LastModified", "/Measure", "/Metadata", "/Name"),
    *("/OC", "/OPI", "/PieceInfo", "/PtData", "/Properties", "/StructParent", "/StructParents"),
    "/Thumb",
)
_NAMED_ENTRIES = ("/Font", "/XObject")  # of resources: only what the content names is copied
# "/F1 12 Tf" and "/Im0 Do" (ISO 32000-2, 9.3.1 and 8.8)
_USE = re.compile(rb"/([^\s/\[\]<>(){}%]*)\s+(?:[-+.\d]+\s+Tf|Do)(?![A-Za-z])")
_ESCAPE = re.compile(r"#([0-9A-Fa-f]{2})")


class _UnsafeError(Exception):
    """The page cannot be kept as vectors."""


def vector_page(structure: Structure, page: PageObject) -> VectorPage | None:
    """The page as a cleaned VectorPage; None where that would not be safe.

    To be asked only for a page that shows no text in a font that is not embedded.
    """
    try:
        if structure.layers or not _plain(page):
            return None
        pdf_bytes = _written(page)
    except Exception:  # _UnsafeError, and whatever pypdf raises for a page it cannot follow
        return None
    return VectorPage(
        pdf_bytes=pdf_bytes,
        size_mm=(pt_to_mm(float(page.mediabox.width)), pt_to_mm(float(page.mediabox.height))),
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
    sides = (float(media.width), float(media.height))
    return same and at_origin and min(sides) > 0 and max(sides) <= _LONGEST_PT


def _written(page: PageObject) -> bytes:
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
    drawing = contents.get_data() if contents is not None else b""
    writer = PdfWriter()
    resources: Any = _resolved(page.get("/Resources", DictionaryObject()))
    patterns = any(held.get("/PatternType") == 1 for held in _dictionaries(resources))
    copy = _Copier(writer, _used_names(resources, drawing), patterns=patterns)
    plain = DecodedStreamObject()
    plain.set_data(drawing)
    form = plain.flate_encode()
    form[NameObject("/Type")] = NameObject("/XObject")
    form[NameObject("/Subtype")] = NameObject("/Form")
    form[NameObject("/BBox")] = ArrayObject(map(FloatObject, (0, 0, width, height)))
    form[NameObject("/Resources")] = copy(resources)
    if "/Group" in page:
        form[NameObject("/Group")] = copy(_resolved(page["/Group"]))
    show = DecodedStreamObject()
    show.set_data(b"/P Do")
    paper = writer.add_blank_page(width=width, height=height)
    drawn = DictionaryObject({NameObject("/P"): writer._add_object(form)})
    paper[NameObject("/Resources")] = DictionaryObject({NameObject("/XObject"): drawn})
    paper[NameObject("/Contents")] = writer._add_object(show)
    writer.metadata = None
    buffer = io.BytesIO()
    writer.write(buffer)
    return buffer.getvalue()


# --- which fonts and XObjects the content names --------------------------------------------


def _used_names(resources: Any, drawing: bytes) -> frozenset[str]:
    """Every name that the page's content, or a form or pattern it can reach, shows or sets.

    One set for all: a name used in one stream keeps its namesakes elsewhere, which is harmless.
    """
    names = _names_in(drawing)
    done: set[int] = set()
    grown = True
    while grown:
        grown = False
        for stream in _content_streams(resources, names):
            if id(stream) not in done:
                done.add(id(stream))
                names |= _names_in(stream.get_data())
                grown = True
    return frozenset(names)


def _names_in(content: bytes) -> set[str]:
    found = (match.decode("latin-1") for match in _USE.findall(content))
    return {"/" + _ESCAPE.sub(lambda code: chr(int(code[1], 16)), name) for name in found}


def _content_streams(resources: Any, names: set[str]) -> Iterator[Any]:
    """Used forms, tiling patterns and glyph procedures below ``resources``."""
    for dictionary in _dictionaries(resources):
        if dictionary.get("/PatternType") == 1:
            yield dictionary
        for key in ("/XObject", "/CharProcs"):
            held = _resolved(dictionary.get(key))
            if not hasattr(held, "items"):
                continue
            for name, value in held.items():
                stream = _resolved(value)
                form = key == "/XObject" and stream.get("/Subtype") == "/Form" and name in names
                if form or key == "/CharProcs":
                    yield stream


def _dictionaries(root: Any) -> Iterator[Any]:
    """All dictionaries and streams reachable from ``root``, each once."""
    from pypdf.generic import ArrayObject, DictionaryObject

    seen: set[int] = set()
    todo = [root]
    while todo:
        value = _resolved(todo.pop())
        if id(value) in seen or len(seen) > _MOST_OBJECTS:
            continue
        if isinstance(value, DictionaryObject):
            seen.add(id(value))
            yield value
            todo += [value.raw_get(key) for key in value]
        elif isinstance(value, ArrayObject):
            seen.add(id(value))
            todo += list.__iter__(value)


def _resolved(value: Any) -> Any:
    return value.get_object() if value is not None else None


# --- the copy ------------------------------------------------------------------------------


class _Copier:
    """Copies drawing resources into another document; _UnsafeError where they reach outside."""

    def __init__(self, writer: PdfWriter, used: frozenset[str], *, patterns: bool) -> None:
        self._writer = writer
        self._patterns = patterns
        self._used = used
        self._copies: dict[tuple[int, int], Any] = {}
        self._hollow: Any = None

    def __call__(self, value: Any) -> Any:
        from pypdf.generic import ArrayObject, DictionaryObject, IndirectObject

        if isinstance(value, IndirectObject):
            return self._reference(value)
        if isinstance(value, DictionaryObject):
            return self._fill(self._empty(value), value)
        if isinstance(value, ArrayObject):
            return ArrayObject(self(item) for item in list.__iter__(value))
        return value

    def _reference(self, reference: Any) -> Any:
        from pypdf.generic import DictionaryObject

        key = (reference.idnum, reference.generation)
        if key not in self._copies:
            if len(self._copies) > _MOST_OBJECTS:
                raise _UnsafeError
            value = _resolved(reference)
            if isinstance(value, DictionaryObject):
                copy = self._empty(value)
                self._copies[key] = self._writer._add_object(copy)  # first: it may be a loop
                self._fill(copy, value)
            else:
                self._copies[key] = self._writer._add_object(self(value))
        return self._copies[key]

    def _empty(self, value: Any) -> Any:
        from pypdf.generic import DictionaryObject, NameObject, StreamObject

        _check(value)
        if not isinstance(value, StreamObject):
            return DictionaryObject()
        head: dict[Any, Any] = {"__streamdata__": _data(value), "/Length": 0}
        if "/Filter" in value:  # tells pypdf that the bytes are encoded; _fill copies it
            head[NameObject("/Filter")] = value["/Filter"]
        return StreamObject.initialize_from_dictionary(head)

    def _fill(self, copy: Any, value: Any) -> Any:
        from pypdf.generic import DictionaryObject, NameObject

        for key in value:
            if key in _DROPPED or key == "/Length":
                continue
            entry = value.raw_get(key)
            held = _resolved(entry)
            if key in _NAMED_ENTRIES and isinstance(held, DictionaryObject):
                entry = DictionaryObject(
                    {name: held.raw_get(name) for name in held if name in self._used}
                )
                if key == "/Font":
                    copy[NameObject(key)] = self._fonts(entry)
                    continue
            elif key == "/Font" and not _embedded(_resolved(held[0])):  # a graphics state's
                raise _UnsafeError
            copy[NameObject(key)] = self(entry)
        return copy

    def _fonts(self, fonts: Any) -> Any:
        """Fonts copied, with an empty one for each that is set, not embedded, and never shown.

        The caller has seen to it that the page shows no text in such a font; what a tiling
        pattern shows is not known.
        """
        from pypdf.generic import DictionaryObject

        copies = DictionaryObject()
        for name in fonts:
            if _embedded(_resolved(fonts.raw_get(name))):
                copies[name] = self(fonts.raw_get(name))
            elif self._patterns:
                raise _UnsafeError
            else:
                copies[name] = self._hollow = self._hollow or self._writer._add_object(_hollow())
        return copies


def _hollow() -> Any:
    """A Type 3 font without glyphs (ISO 32000-2, 9.6.4)."""
    from pypdf.generic import ArrayObject, DictionaryObject, FloatObject, NameObject, NumberObject

    name = NameObject
    return DictionaryObject(
        {
            name("/Type"): name("/Font"),
            name("/Subtype"): name("/Type3"),
            name("/FontBBox"): ArrayObject([NumberObject(0)] * 4),
            name("/FontMatrix"): ArrayObject(map(FloatObject, (0.001, 0, 0, 0.001, 0, 0))),
            name("/CharProcs"): DictionaryObject(),
            name("/Encoding"): DictionaryObject({name("/Differences"): ArrayObject()}),
            name("/FirstChar"): NumberObject(0),
            name("/LastChar"): NumberObject(0),
            name("/Widths"): ArrayObject([NumberObject(0)]),
        }
    )


def _check(dictionary: Any) -> None:
    if dictionary.get("/Type") in ("/Page", "/Pages", "/Catalog", "/Annot"):
        raise _UnsafeError
    if "/PS" in (dictionary.get("/Subtype"), dictionary.get("/Subtype2")) or "/Ref" in dictionary:
        raise _UnsafeError
    if hasattr(dictionary, "get_data") and "/F" in dictionary:  # data in another file
        raise _UnsafeError


def _data(stream: Any) -> bytes:
    """The stored bytes of a stream; those of a JPEG without its metadata segments."""
    filters = _resolved(stream.get("/Filter"))
    names = [filters] if isinstance(filters, str) else list(filters or [])
    data: bytes = stream._data  # pypdf has no public name for the bytes as stored
    if names == ["/DCTDecode"]:
        return without_metadata(data)
    if "/DCTDecode" in names or "/JPXDecode" in names:
        raise _UnsafeError  # metadata out of reach
    return data


def _embedded(font: Any) -> bool:
    if font.get("/Subtype") == "/Type3":
        return True  # its glyphs are content streams of the document
    if font.get("/Subtype") == "/Type0":
        font = _resolved(_resolved(font["/DescendantFonts"])[0])
    descriptor = _resolved(font.get("/FontDescriptor"))
    files = ("/FontFile", "/FontFile2", "/FontFile3")
    return descriptor is not None and any(key in descriptor for key in files)
