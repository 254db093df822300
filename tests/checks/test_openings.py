"""Openings by their page numbers: order, and what was not seen."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from checks.making import PASSPORT, item
from packet.checks.openings import check_openings, opening_names
from packet.model import Kind, Passport
from packet.readings import Reading, ReadState

BOOK = [(1,), *((left, left + 1) for left in range(2, 28, 2)), (28,)]  # of 28 pages


def openings(numbers, state=ReadState.READ):
    return tuple(
        replace(
            item(Kind.PASSPORT_SPREAD, at, folder="passport"),
            reading=Reading(
                page_numbers=pages, page_numbers_state=state if pages else ReadState.UNREAD
            ),
        )
        for at, pages in enumerate(numbers)
    )


def check(numbers, booklet_pages=28, pages="all"):
    passport = Passport(booklet_pages=booklet_pages, pages=pages)
    return list(check_openings(passport, PASSPORT, openings(numbers)))


def test_a_whole_book():
    assert check(BOOK) == []


def test_an_opening_that_lacks_is_named():
    (finding,) = check([one for one in BOOK if one != (12, 13)])

    assert (finding.code, finding.message) == ("opening-not-seen", "Opening 12-13 not seen.")


def test_without_the_length_of_the_book_only_gaps_are_seen():
    (finding,) = check([(2, 3), (6, 7)], booklet_pages=None)

    assert finding.message == "Openings 1, 4-5 not seen."


def test_one_that_was_not_read_may_be_the_one_that_lacks():
    numbers = [() if one == (12, 13) else one for one in BOOK]

    assert check(numbers) == []
    (finding,) = check([one for one in numbers if one != (8, 9)])
    assert "8-9, 12-13" in finding.message
    assert "one opening had no number" in finding.message


def test_written_pages_only_lack_nothing():
    assert check([(2, 3), (8, 9)], pages="written") == []
    assert check([(2, 3), (8, 9)]) != []


def test_numbers_that_go_back():
    (finding,) = check([*BOOK[:4], BOOK[5], BOOK[4], *BOOK[6:]])

    assert (finding.code, finding.subject) == ("opening-order", "passport/scan-05.jpg#1.1")


def test_doubtful_numbers_say_nothing():
    doubtful = openings([(6, 7), (2, 3)], ReadState.UNSURE)

    assert list(check_openings(Passport(booklet_pages=28), PASSPORT, doubtful)) == []


@given(st.sets(st.integers(1, 48)))
def test_every_page_is_named_once(pages):
    named = [int(n) for name in opening_names(sorted(pages)) for n in name.split("-")]

    assert sorted(named) == sorted(pages)
