"""The openings of a passport by the numbers printed on their pages: order, and what is not there.

Numbers that were not read say nothing: an opening is only missed where those that were not read
cannot be it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

from packet.checks.papers import papers_of
from packet.intake.names import shown
from packet.model import DocumentSpec, Finding, Item, Kind, Passport, Severity
from packet.readings import ReadState

_NUMBERED = frozenset({Kind.PASSPORT_SPREAD, Kind.PASSPORT_PAGE, Kind.VISA_PAGE})
_FRONT = 5  # the data page stands on one of these pages, or has no number; common practice
_SHOWN = 6  # openings named in one sentence


def page_numbers(item: Item) -> tuple[int, ...]:
    """The page numbers of an opening, rising; empty where they were not read without a doubt."""
    reading = item.reading
    if reading is None or reading.page_numbers_state is not ReadState.READ:
        return ()
    return tuple(sorted(reading.page_numbers))


def check_openings(
    passport: Passport, spec: DocumentSpec, items: Sequence[Item]
) -> Iterator[Finding]:
    """``opening-order`` where the numbers go back, ``opening-not-seen`` for those that lack.

    ``items``: of the passport's document, in reading order.
    """
    yield from _order(items)
    if passport.pages == "all":
        yield from _not_seen(passport.booklet_pages, spec, items)


def _order(items: Sequence[Item]) -> Iterator[Finding]:
    numbered = [item for item in items if page_numbers(item)]
    for before, item in pairwise(numbered):
        if page_numbers(item)[0] < page_numbers(before)[0]:
            yield Finding(
                code="opening-order",
                severity=Severity.WARNING,
                subject=item.subject,
                message=f"{shown(item.subject)} stands after {shown(before.subject)}, and its page "
                "numbers are lower.",
                remedy="Put the openings in the order of their page numbers under [order] in "
                'packet.toml; or list "opening-order" under accept for this item.',
            )


def missing_numbers(booklet_pages: int | None, items: Sequence[Item]) -> tuple[int, ...]:
    """Pages that no opening shows by its numbers, up to the last one of the book where that is
    known, else up to the highest number read.
    """
    seen = {number for item in items for number in page_numbers(item)}
    if not seen:
        return ()
    return tuple(page for page in range(1, (booklet_pages or max(seen)) + 1) if page not in seen)


def opening_names(pages: Sequence[int]) -> tuple[str, ...]:
    """Pages as openings: an even one with the odd one after it, the first and the last alone."""
    left = set(pages)
    names = []
    for page in sorted(left):
        if page % 2 == 0 and page + 1 in left:
            names.append(f"{page}-{page + 1}")
        elif page % 2 == 0 or page - 1 not in left:
            names.append(str(page))
    return tuple(names)


def is_data_page(item: Item) -> bool:
    """True where the machine-readable lines of a passport were read."""
    return any(paper.what == "passport" for paper in papers_of([item]))


def near_the_front(names: Sequence[str]) -> bool:
    """Whether the first of these openings may be the one with the data page."""
    return bool(names) and int(names[0].partition("-")[0]) <= _FRONT


def _not_seen(
    booklet_pages: int | None, spec: DocumentSpec, items: Sequence[Item]
) -> Iterator[Finding]:
    missing = opening_names(missing_numbers(booklet_pages, items))
    silent = [item for item in items if item.kind in _NUMBERED and not page_numbers(item)]
    data = [item for item in silent if is_data_page(item)]
    if len(data) == 1 and near_the_front(missing):  # it stands in the first gap
        missing, silent = missing[1:], [item for item in silent if item not in data]
    unread = len(silent)
    if len(missing) <= unread:
        return
    named = ", ".join(missing[:_SHOWN]) + (" and others" if len(missing) > _SHOWN else "")
    plural = len(missing) > 1
    message = f"Opening{'s' if plural else ''} {named} not seen."
    if unread:
        several = f"{unread} openings" if unread > 1 else "one opening"
        message = f"By their page numbers, openings {named} were not seen; {several} had no number "
        message += "that could be read."
    yield Finding(
        code="opening-not-seen",
        severity=Severity.WARNING,
        subject=f"{spec.folder}/",
        message=message,
        measured=len(missing),
        limit=unread,
        unit="openings",
        remedy="Turn the book's leaves and scan what is not there. If all is there, the numbers "
        "were misread: go by the count of sides.",
    )
