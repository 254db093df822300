"""A passport counted in faces. The table is arithmetic: N pages, N + 4 faces, N / 2 + 2 scans."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from checks.making import PASSPORT, item, openings, packet, whole
from packet.checks.booklet import check_booklet, count_faces, faces_of
from packet.checks.completeness import check_documents
from packet.model import Kind, Passport, Severity

# Books of 26 to 52 pages: sizes named in published notices (28 and 52, 26 and 50) and others
# from memory (34, 36, 48, 32); faces and scans are arithmetic on them.
TABLE = [
    (26, 30, 15),
    (28, 32, 16),
    (32, 36, 18),
    (34, 38, 19),
    (36, 40, 20),
    (48, 52, 26),
    (50, 54, 27),
    (52, 56, 28),
]


def check(book, items, **more):
    return list(check_booklet(Passport(booklet_pages=book, **more), PASSPORT, tuple(items)))


@pytest.mark.parametrize(("pages", "faces", "scans"), TABLE)
def test_a_book_scanned_opening_by_opening_is_whole(pages, faces, scans):
    assert count_faces(openings(scans)) == faces
    assert check(pages, openings(scans)) == []


@pytest.mark.parametrize(("pages", "faces", "scans"), TABLE)
def test_one_opening_less_is_an_error_one_more_a_warning(pages, faces, scans):
    (less,) = check(pages, openings(scans - 1))
    (more,) = check(pages, openings(scans + 1))

    assert (less.severity, less.measured, less.limit) == (Severity.ERROR, faces - 2, faces)
    assert f"{scans} scans" in less.remedy
    assert (more.severity, more.measured) == (Severity.WARNING, faces + 2)
    assert {less.code, more.code} == {"missing-openings"}


@pytest.mark.parametrize(
    ("kind", "size", "faces"),
    [
        (Kind.PASSPORT_SPREAD, (176.0, 125.0), 2),
        (Kind.PASSPORT_SPREAD, (125.0, 176.0), 2),
        (Kind.PASSPORT_PAGE, (125.0, 88.0), 1),
        (Kind.VISA_PAGE, (88.0, 125.0), 1),
        (Kind.PASSPORT_COVER, (88.0, 125.0), 1),  # ISO/IEC 7810, ID-3
        (Kind.PASSPORT_COVER, (176.0, 125.0), 2),  # the cover laid open
        (Kind.A4_PAGE, (210.0, 297.0), 0),
        (Kind.OTHER, (100.0, 100.0), 0),
    ],
)
def test_faces_of_one_item(kind, size, faces):
    assert faces_of(item(kind, size_mm=size)) == faces


@pytest.mark.parametrize(
    "covers",
    [
        [item(Kind.PASSPORT_COVER, 90, size_mm=(176.0, 125.0))],
        [item(Kind.PASSPORT_COVER, n, size_mm=(88.0, 125.0)) for n in (90, 91)],
    ],
    ids=["laid open", "one by one"],
)
def test_covers_as_one_opening_or_as_single_faces(covers):
    assert check(28, [*openings(15), *covers]) == []


def test_the_same_picture_twice_counts_once():
    book = [item(Kind.PASSPORT_SPREAD, n, seed=n) for n in range(16)]
    again = item(Kind.PASSPORT_SPREAD, 99, seed=3)

    assert check(28, [*book, again]) == []
    assert check(28, [*book[:15], again])[0].measured == 30


def test_written_pages_only_are_not_counted():
    assert check(28, openings(3), pages="written") == []
    assert check(None, openings(3), pages="written") == []


def test_an_unknown_number_of_pages_is_asked_for():
    (asked,) = check(None, openings(16))

    assert (asked.severity, asked.subject) == (Severity.WARNING, "passport.booklet_pages")


def test_no_passport_at_all_is_said_once():
    findings = check_documents(packet(), whole(passport=()))

    assert [f.code for f in findings] == ["missing-document", "form-not-scanned"]


@given(
    pages=st.integers(2, 60).map(lambda half: 2 * half),
    spreads=st.integers(0, 40),
    singles=st.integers(0, 40),
)
def test_silence_exactly_when_the_faces_are_right(pages, spreads, singles):
    items = [
        *openings(spreads),
        *(item(Kind.PASSPORT_PAGE, n, folder="passport") for n in range(100, 100 + singles)),
    ]

    assert (not check(pages, items)) == (2 * spreads + singles == pages + 4)


def test_a_length_never_given_has_a_code_of_its_own():
    (finding,) = check(None, openings(3))

    assert (finding.code, finding.severity) == ("booklet-pages-missing", Severity.WARNING)
