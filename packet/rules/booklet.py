"""How many scans and faces a passport book has."""

from __future__ import annotations


def opening_scans(booklet_pages: int) -> int:
    """Scans of the open book that show every face of a book of N (even) numbered pages.

    N / 2 + 1 openings inside (inside front cover and page 1, ... page N and inside back cover)
    and 1 of the two outer covers, together N / 2 + 2. Arithmetic; 28 -> 16.
    """
    return _even(booklet_pages) // 2 + 2


def faces(booklet_pages: int) -> int:
    """Faces of a book of N (even) numbered pages: N, 2 outer and 2 inner covers; 28 -> 32."""
    return _even(booklet_pages) + 4


def _even(booklet_pages: int) -> int:
    if booklet_pages < 2 or booklet_pages % 2:
        raise ValueError("a book has an even number of pages, at least 2")
    return booklet_pages
