"""The little of PDF (ISO 32000-2, 7.5) that our own files need, as bytes: read and written.

``Source`` reads what one of our libraries wrote a moment ago (reportlab, img2pdf, pypdf), never a
file of the user. ``PdfFile`` writes objects one after another, so that no more than one picture is
in memory, and copies objects from sources with all that they refer to.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import BinaryIO

from packet.errors import PacketError
from packet.spool import Blob, bytes_of

Matrix = tuple[float, float, float, float, float, float]
_TOKEN = rb"\((?:[^()\\]|\\.)*\)|<[0-9A-Fa-f\s]*>"  # strings: what is in them is no syntax
_REFERENCE = re.compile(_TOKEN + rb"|\b(\d+)\s+\d+\s+R\b", re.DOTALL)
_STREAM = re.compile(_TOKEN + rb"|>>\s*(stream\r?\n)|\b(endobj)\b", re.DOTALL)
_LENGTH = re.compile(rb"/Length\s+(\d+)(\s+\d+\s+R)?")


class Source:
    """A PDF with a plain table of its objects. PacketError where it is not as it should be."""

    def __init__(self, data: bytes) -> None:
        self._data = data
        self._entries: dict[int, bytes] = {}
        try:
            start = int(data[data.rindex(b"startxref") + 9 :].split()[0])
            self._places = _places(data, start)
            self.trailer = data[data.index(b"trailer", start) : data.rindex(b"startxref")]
        except (ValueError, IndexError) as error:
            raise not_put(error) from None

    def entries(self, number: int) -> bytes:
        """Object ``number`` but for its stream, whose length is left out."""
        if number not in self._entries:
            self._entries[number] = self._read(number)[0]
        return self._entries[number]

    def change(self, number: int, entries: bytes) -> None:
        """Let the object have other entries."""
        self._entries[number] = entries

    def stream(self, number: int) -> bytes | None:
        """The stream of the object as it is stored, None where it has none."""
        return self._read(number)[1]

    def one(self, pattern: bytes, entries: bytes) -> int:
        """The number of the object that ``pattern`` refers to: ``/Pages`` in a catalog, say."""
        found = re.search(pattern + rb"\s+(\d+)\s+\d+\s+R\b", entries)
        if found is None:
            raise not_put(LookupError(pattern.decode("ascii")))
        return int(found[1])

    def numbers(self) -> list[int]:
        """Every object."""
        return sorted(self._places)

    def holds(self, number: int) -> bool:
        """False for an object that is referred to and not there: it counts as null."""
        return number in self._places

    def _read(self, number: int) -> tuple[bytes, bytes | None]:
        try:
            start = self._places[number]
            begin = self._data.index(b"obj", start) + 3
        except (KeyError, ValueError) as error:
            raise not_put(error) from None
        for found in _STREAM.finditer(self._data, begin):
            if found[2]:
                return self._data[begin : found.start()].strip(), None
            if found[1]:
                return self._with_stream(self._data[begin : found.start() + 2], found.end())
        raise not_put(LookupError(f"object {number}"))

    def _with_stream(self, entries: bytes, at: int) -> tuple[bytes, bytes]:
        length = _LENGTH.search(entries)
        if length is None:
            raise not_put(LookupError("/Length"))
        size = int(self.entries(int(length[1]))) if length[2] else int(length[1])
        return _LENGTH.sub(b"", entries, count=1).strip(), self._data[at : at + size]


def _places(data: bytes, start: int) -> dict[int, int]:
    """Object -> where it begins (ISO 32000-2, 7.5.4)."""
    lines = data[start : data.index(b"trailer", start)].split()
    if lines[:1] != [b"xref"]:
        raise ValueError("no table of objects")
    places, at = {}, 1
    while at < len(lines):
        first, count = int(lines[at]), int(lines[at + 1])
        rows = lines[at + 2 : at + 2 + 3 * count]
        for number, (place, _, kind) in enumerate(zip(*[iter(rows)] * 3, strict=True), start=first):
            if kind == b"n":
                places[number] = int(place)
        at += 2 + 3 * count
    return places


def references(entries: bytes) -> list[int]:
    """The objects that entries refer to."""
    return [int(found[1]) for found in _REFERENCE.finditer(entries) if found[1]]


def text(words: str) -> bytes:
    """A text string (ISO 32000-2, 7.9.2.2)."""
    if words.isascii() and words.isprintable():
        return b"(" + re.sub(rb"([()\\])", rb"\\\1", words.encode()) + b")"
    return b"<FEFF" + words.encode("utf-16-be", "replace").hex().upper().encode() + b">"


def dictionary(entries: Mapping[str, bytes]) -> bytes:
    """``<< /Name value … >>``."""
    return b"<< " + b" ".join(b"/%s %s" % (k.encode(), v) for k, v in entries.items()) + b" >>"


def array(values: Sequence[bytes]) -> bytes:
    """``[ value … ]``."""
    return b"[ " + b" ".join(values) + b" ]"


def reference(number: int) -> bytes:
    """``12 0 R``."""
    return b"%d 0 R" % number


def not_put(error: Exception) -> PacketError:
    """The error for what a library wrote and this module cannot use."""
    return PacketError(f"A normalised picture could not be put into a PDF: {error}.")


class PdfFile:
    """A file that is being written: header, objects in the order they come, table, trailer."""

    def __init__(self, to: BinaryIO) -> None:
        self._to = to
        self._at = 0
        self._places: list[int] = []
        self._copies: dict[tuple[int, int], int] = {}
        self._sources: list[Source] = []  # what is known by its id must live
        self._write(b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n")

    def reserve(self) -> int:
        """The number of an object that is written later."""
        self._places.append(0)
        return len(self._places)

    def put(self, value: bytes, number: int | None = None) -> int:
        """Write an object; its number."""
        return self._put(value, None, number)

    def put_stream(
        self, entries: Mapping[str, bytes] | bytes, data: Blob, number: int | None = None
    ) -> int:
        """Write a stream of these encoded bytes; its number."""
        told = entries if isinstance(entries, bytes) else dictionary(entries)
        return self._put(told, data, number)

    def copy(self, source: Source, number: int) -> int:
        """Write an object of a source and all it refers to, each once; its number here."""
        known = self._copies.get((id(source), number))
        if known is not None:
            return known
        self._sources.append(source)
        first, waiting = self._known(source, number)
        while waiting:
            theirs = waiting.pop()
            entries = source.entries(theirs)
            for other in filter(source.holds, references(entries)):
                waiting += self._known(source, other)[1]
            entries = self.translated(source, entries)
            self._put(entries, source.stream(theirs), self._copies[id(source), theirs])
        return first

    def translated(self, source: Source, entries: bytes) -> bytes:
        """Entries with the numbers that copied objects have here."""

        def ours(found: re.Match[bytes]) -> bytes:
            if not found[1]:
                return found[0]
            known = self._copies.get((id(source), int(found[1])))
            return b"null" if known is None else reference(known)

        return _REFERENCE.sub(ours, entries)

    def _known(self, source: Source, number: int) -> tuple[int, list[int]]:
        """(the number here, [the object] where it is new)."""
        known = self._copies.get((id(source), number))
        if known is not None:
            return known, []
        self._copies[id(source), number] = self.reserve()
        return self._copies[id(source), number], [number]

    def close(self, *, root: int, info: int, identity: bytes) -> None:
        """Write the table of objects and the trailer. ``identity``: the file's identifier."""
        start, size = self._at, len(self._places) + 1
        rows = b"".join(b"%010d 00000 n \n" % place for place in self._places)
        self._write(b"xref\n0 %d\n0000000000 65535 f \n" % size + rows)
        name = b"<" + identity.hex().encode() + b">"
        told = {"Size": b"%d" % size, "Root": reference(root), "Info": reference(info),
                "ID": array([name, name])}  # fmt: skip
        self._write(b"trailer\n" + dictionary(told) + b"\nstartxref\n%d\n%%%%EOF\n" % start)

    def _put(self, entries: bytes, data: Blob | None, number: int | None) -> int:
        number = self.reserve() if number is None else number
        self._places[number - 1] = self._at
        if data is None:
            self._write(b"%d 0 obj\n%s\nendobj\n" % (number, entries))
            return number
        told = entries.rstrip()
        if not told.endswith(b">>"):
            raise not_put(ValueError("a stream without entries"))
        told = told[:-2].rstrip() + b" /Length %d >>" % len(data)
        self._write(b"%d 0 obj\n%s\nstream\n" % (number, told))
        self._write(bytes_of(data))
        self._write(b"\nendstream\nendobj\n")
        return number

    def _write(self, data: bytes) -> None:
        self._to.write(data)
        self._at += len(data)
