"""Which way up items read that do not say it themselves: by their neighbours, or by the user."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import replace

from packet.model import Finding, Item, Kind, PageResult, Quad, Severity, Turn

_LEAST_VOTES = 3
_LEAST_SHARE = 0.8
_SAME_SIZE = 0.02  # of a side, from picture to picture


def turned_like_neighbours(pages: Sequence[PageResult]) -> tuple[PageResult, ...]:
    """Openings whose own print is silent, turned as the other openings of their folder are.

    Only openings on pictures of one size that lie the same way in them have a voice; three must
    agree, and at most one in five differ. Where they lie upright in their pictures nothing is
    turned, and the item stays unsure. The encoded picture stays as it is: it is turned where it
    is placed. A turn made so is a note on the item.
    """
    voices = [
        (page, item, item.turn_deg)
        for page in pages
        for item in page.items
        if item.kind is Kind.PASSPORT_SPREAD and item.turn_deg is not None and _wide(item)
    ]
    return tuple(
        replace(page, items=tuple(_turned(page, item, voices) for item in page.items))
        for page in pages
    )


def _turned(page: PageResult, item: Item, voices: Sequence[tuple[PageResult, Item, Turn]]) -> Item:
    if item.kind is not Kind.PASSPORT_SPREAD or item.turn_deg is not None:
        return item
    votes = Counter(
        turn
        for other, voice, turn in voices
        if _same_way(page, other) and _wide(item) == (turn % 180 == 0)
    )
    turn, count = votes.most_common(1)[0] if votes else (0, 0)
    if not turn or count < _LEAST_VOTES or count < _LEAST_SHARE * votes.total():
        return item
    width, height = item.size_mm
    return replace(
        item,
        turn_deg=turn,
        picture_turn_deg=turn,
        corners_px=_rolled(item.corners_px, turn),
        size_mm=(height, width) if turn % 180 else (width, height),
        measured_mm=_swapped(item, turn),
        findings=(*item.findings, _note(item)),
    )


def _wide(item: Item) -> bool:
    return item.size_mm[0] > item.size_mm[1]


def _same_way(one: PageResult, other: PageResult) -> bool:
    """Pictures of one folder and one size."""
    sides = ((one.width_px, other.width_px), (one.height_px, other.height_px))
    return one.scan.rpartition("/")[0] == other.scan.rpartition("/")[0] and all(
        abs(a - b) <= _SAME_SIZE * max(a, b) for a, b in sides
    )


def _rolled(corners: Quad, turn: Turn) -> Quad:
    steps = turn // 90
    a, b, c, d = (*corners[4 - steps :], *corners[: 4 - steps])
    return a, b, c, d


def _swapped(item: Item, turn: Turn) -> tuple[float, float] | None:
    measured = item.measured_mm
    return (measured[1], measured[0]) if measured and turn % 180 else measured


def _note(item: Item) -> Finding:
    return Finding(
        code="turned-like-neighbours",
        severity=Severity.NOTE,
        subject=item.subject,
        message="Its own print does not say which way up it reads: it was turned like the other "
        "openings that were scanned in the same way.",
        remedy="Look at it in review.html; if it is not upright there, set turn = 0, 90, 180 or "
        "270 for it under [[item]] in packet.toml.",
    )


def unsure_turns(items: Iterable[Item]) -> tuple[Finding, ...]:
    """A note for each item, blank ones apart, that is printed as the scan shows it."""
    return tuple(
        Finding(
            code="turn-unsure",
            severity=Severity.NOTE,
            subject=item.subject,
            message="Which way up it reads could not be told: it is printed as the scan shows it.",
            remedy="Look at it in review.html; if it lies sideways or upside down, set turn = 90, "
            "180 or 270 for it under [[item]] in packet.toml.",
        )
        for item in items
        if item.turn_deg is None and not item.blank
    )
