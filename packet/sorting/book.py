"""The order of a passport's openings: covers, then by the numbers printed on their pages.

An opening without a number that was read has its place where it is the only one that can stand
there: the data page in the first gap, a single other one in the single gap of a book whose length
is known. Any other stays loose, at the end.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from packet.checks.openings import (
    is_data_page,
    missing_numbers,
    near_the_front,
    opening_names,
    page_numbers,
)
from packet.model import Item, Kind

_COVERS, _NUMBERED, _LOOSE = range(3)


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
    keyed: list[tuple[tuple[int, int], Leaf]] = []
    silent: list[Item] = []
    for item in items:
        numbers = page_numbers(item)
        if numbers:
            pages = "-".join(str(number) for number in numbers)
            leaf = Leaf(item=item, note=f"pages {pages}", by_number=True)
            keyed.append(((_NUMBERED, numbers[0]), leaf))
        elif item.kind is Kind.PASSPORT_COVER:
            keyed.append(((_COVERS, 0), Leaf(item=item, note="cover")))
        else:
            silent.append(item)
    data = [item for item in silent if is_data_page(item)]
    others = [item for item in silent if item not in data]
    for item in data:
        at = gaps.pop(0) if len(data) == 1 and near_the_front(names) else 0
        keyed.append(((_NUMBERED, at), Leaf(item=item, note="data page")))
    alone = booklet_pages is not None and len(others) == 1 and len(gaps) == 1
    for item in others:
        if alone:
            leaf = Leaf(item=item, note="the only opening left")
            keyed.append(((_NUMBERED, gaps[0]), leaf))
        else:
            leaf = Leaf(item=item, note="no page number read", loose=True)
            keyed.append(((_LOOSE, 0), leaf))
    return tuple(leaf for _, leaf in sorted(keyed, key=lambda one: one[0]))
