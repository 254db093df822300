"""Scans and faces of a passport book."""

from __future__ import annotations

import pytest

from packet.rules.booklet import faces, opening_scans


@pytest.mark.parametrize(
    ("pages", "scans", "all_faces"),
    [
        (26, 15, 30),
        (28, 16, 32),
        (32, 18, 36),
        (34, 19, 38),
        (36, 20, 40),
        (48, 26, 52),
        (50, 27, 54),
        (52, 28, 56),
    ],
)
def test_table_of_books(pages, scans, all_faces):
    """Worked by hand: N / 2 + 1 openings, 1 scan of the outer covers; N + 4 faces."""
    assert opening_scans(pages) == scans
    assert faces(pages) == all_faces
    assert faces(pages) == 2 * opening_scans(pages)


@pytest.mark.parametrize("pages", [27, 0, -2])
def test_a_book_has_an_even_number_of_pages(pages):
    with pytest.raises(ValueError, match="even"):
        opening_scans(pages)
