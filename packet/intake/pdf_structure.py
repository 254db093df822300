"""The structure of a PDF as pypdf reads it: number of pages, units, locks, layers."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, BinaryIO

if TYPE_CHECKING:
    from pypdf import PageObject, PdfReader


class LockedError(Exception):
    """The document needs a password that was not given."""


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


def read_structure(file: BinaryIO, password: str | None) -> Structure | None:
    """The structure of a PDF, None where pypdf cannot make sense of it; LockedError."""
    from pypdf import PdfReader

    try:
        reader = PdfReader(file, strict=False)
        if reader.is_encrypted and not reader.decrypt(password or ""):
            raise LockedError
        count = sum(1 for _ in reader.pages)
        return Structure(reader=reader, count=count, layers="/OCProperties" in reader.root_object)
    except LockedError:
        raise
    except Exception:  # pypdf raises AttributeError, TypeError, RecursionError and others too
        return None


def user_unit(page: PageObject | None) -> float:
    """The size of the page's unit in 1/72 inch (ISO 32000-2, table 31: /UserUnit)."""
    try:
        value = float(page.get("/UserUnit", 1.0)) if page is not None else 1.0
    except Exception:  # not a number, or a reference to nothing
        return 1.0
    return value if 0.001 <= value <= 10_000 else 1.0
