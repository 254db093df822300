"""The order of a passport's openings: covers, then by the numbers printed on their pages.

An opening without a number that was read has its place where only it can stand there: the data
page in the first gap; a single other one in the single gap of a book whose length is known; those
that lie, by the names of their scans, between two numbered ones with just so many openings between
them, where all numbers rise (or fall) with the names. Any other stays loose, at the end.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from packet.checks.openings import (
    is_data_page,
    missing_numbers,
    near_the_front,
    opening_names,
    page_numbers,
)
from packet.model import Item, Kind

_LEAST_NUMBERED = 3  # so many numbers must rise with the names before the names say anything
_Place = tuple[int, str]  # first page, how it is known


@dataclass(frozen=True, slots=True, kw_only=True)
class Leaf:
    """An item of the book at its place. ``note``: how that is known; ``loose``: it is not.

    ``by_number``: its page numbers were read.
    """

    item: Item = field(repr=False)
    note: str
    loose: bool = False
    by_number: bool = False


def in_book_order(items: Sequence[Item], booklet_pages: int | None) -> tuple[Leaf, ...]:
    """The items in the order of the book; ``items`` in the order of their names."""
    names = opening_names(missing_numbers(booklet_pages, items))
    gaps = [int(name.partition("-")[0]) for name in names]
    covers = [one for one in items if one.kind is Kind.PASSPORT_COVER and not page_numbers(one)]
    leaves = [item for item in items if item not in covers]
    places: dict[str, _Place] = {}
    data = [item for item in leaves if not page_numbers(item) and is_data_page(item)]
    for item in data:
        at = gaps.pop(0) if len(data) == 1 and near_the_front(names) else 0
        places[item.subject] = (at, "data page")
    others = [item for item in leaves if not page_numbers(item) and item not in data]
    places.update(_by_name([one for one in leaves if one not in data], gaps, booklet_pages))
    if booklet_pages is not None and len(others) == len(gaps) == 1:
        places[others[0].subject] = (gaps[0], "the only opening left")
    known = [_leaf(item, places) for item in leaves if _page(item, places) is not None]
    known.sort(key=lambda leaf: _page(leaf.item, places) or 0)
    loose = [
        Leaf(item=item, note="no page number read", loose=True)
        for item in leaves
        if _page(item, places) is None
    ]
    return (*(Leaf(item=item, note="cover") for item in covers), *known, *loose)


def _page(item: Item, places: dict[str, _Place]) -> int | None:
    """The first page of the opening; None where it is not known."""
    numbers = page_numbers(item)
    if numbers:
        return numbers[0]
    return places[item.subject][0] if item.subject in places else None


def _leaf(item: Item, places: dict[str, _Place]) -> Leaf:
    numbers = page_numbers(item)
    if not numbers:
        return Leaf(item=item, note=places[item.subject][1])
    pages = "-".join(str(number) for number in numbers)
    return Leaf(item=item, note=f"pages {pages}", by_number=True)


def _by_name(
    items: Sequence[Item], gaps: Sequence[int], booklet_pages: int | None
) -> Iterator[tuple[str, _Place]]:
    """Places of openings between numbered ones, where names and numbers go the same way."""
    numbers = [page_numbers(item)[0] for item in items if page_numbers(item)]
    if len(numbers) < _LEAST_NUMBERED:
        return
    if all(a > b for a, b in pairwise(numbers)):
        items, numbers = items[::-1], numbers[::-1]
    if not all(a < b for a, b in pairwise(numbers)):
        return
    ends = [0, *numbers, *([booklet_pages + 1] if booklet_pages is not None else [])]
    run: list[Item] = []
    runs: list[list[Item]] = []
    for item in items:
        if page_numbers(item):
            runs.append(run)
            run = []
        else:
            run.append(item)
    runs.append(run)
    for silent, (low, high) in zip(runs, pairwise(ends), strict=False):
        between = [page for page in gaps if low < page < high]
        if len(silent) == len(between):
            for item, page in zip(silent, between, strict=True):
                yield item.subject, (page, "between its neighbours by the names of the scans")
