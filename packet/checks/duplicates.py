"""The same page twice: it would be printed and counted twice."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache

from packet.checks.openings import page_numbers
from packet.intake.names import shown
from packet.model import FINGERPRINT_SIZE, Finding, Item, Severity

_WIDTH, _HEIGHT = FINGERPRINT_SIZE
_REACH = 4  # places, of half a millimetre: how far two pictures of one page may lie apart
_BLOCK = (44, 50)
_BLOCK_INK = 60
_WELL_INKED = 120
_LEAST_INK = 300
_UNLIKE = 0.28
# Dense lines on one grid agree wherever they lie: what agrees must do so much better in place than
# some millimetres beside it.
_BESIDE = (-26, -22, -18, -14, -10, 10, 14, 18, 22, 26)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Rule:
    """Two pages are one where they agree so much ``better`` than beside (of what chance leaves
    over), their blocks are ``alike`` in the mean, and no more of them are ``unlike``."""

    better: float
    alike: float
    unlike: float


# Drawn packets 0-23 (72 pairs, 859 pairs of different openings): visas of one layout with other
# words reach 0.27, 0.51 and 0.03; a blurred or shaded twin loses single blocks, seldom the mean.
_RULES = (
    _Rule(better=0.3, alike=0.45, unlike=0.0),
    _Rule(better=0.25, alike=0.6, unlike=0.1),
)


def find_duplicates(items: Iterable[Item], apart: Sequence[str] = ()) -> tuple[Finding, ...]:
    """One ``duplicate`` warning for every item that an earlier item shows already.

    Equal encoded bytes are the same picture. Openings and pages of a passport are the same page
    when their ink agrees place by place; blank ones never are, however alike they look, nor are
    pages of other kinds, whose layouts repeat. Page numbers that were read go before the look:
    openings of other numbers are never one, those of the same numbers are, blank or not.

    ``items``: those that are printed, in reading order. Both copies stay and count until the user
    leaves one out. Items without a picture (found only, not normalised) are skipped. ``apart``:
    looks (``looks_apart``) that were compared before in this order, all of different pages.
    """
    ranks = {look: rank for rank, look in enumerate(apart)}
    first: dict[str, Item] = {}
    numbered: dict[tuple[int, ...], Item] = {}
    seen: list[tuple[Item, int, float]] = []  # with its ink and its look's rank
    findings = []
    for item in items:
        if item.image is None:
            continue
        earlier = first.setdefault(item.image.digest, item)
        if earlier is not item:
            findings.append(_duplicate(item, earlier, "The same picture as"))
            continue
        if numbers := page_numbers(item):
            other = numbered.setdefault(numbers, item)
            if other is not item:
                findings.append(_duplicate(item, other, "It bears the same page numbers as"))
                continue
        ink = _ink_of(item)
        if ink is None:
            continue
        rank = ranks.get(_look(item), -1.0)  # an equal look is compared, and one that is new
        others = [(other, known) for other, known, before in seen if not 0 <= before < rank]
        twin = _twin(item, ink, others)
        if twin is not None:
            findings.append(_duplicate(item, twin, "This looks like the same page as"))
        seen.append((item, ink, rank))
    return tuple(findings)


def looks_apart(items: Iterable[Item], findings: Iterable[Finding]) -> tuple[str, ...]:
    """The looks of those ``items`` that ``find_duplicates`` compared and made no finding of.

    No two of them are one page, and in another build of the same code they need not be compared
    again, where they come in the same order. A look is a digest of the fingerprint and the page
    numbers: all that is compared.
    """
    doubles = {finding.subject for finding in findings if finding.code == "duplicate"}
    return tuple(
        _look(item)
        for item in items
        if item.subject not in doubles and item.image is not None and _ink_of(item) is not None
    )


def _look(item: Item) -> str:
    told = item.fingerprint + repr(page_numbers(item)).encode()
    return hashlib.sha256(told).hexdigest()[:16]


def _twin(item: Item, ink: int, others: Sequence[tuple[Item, int]]) -> Item | None:
    """The first of the others that shows the same page."""
    others = [(other, known) for other, known in others if not _numbered_apart(item, other)]
    if not others:
        return None
    turns = [(turn, _counted(_shifted(turn))) for turn in (ink, _upside_down(ink))]
    return next(
        (other for other, known in others if any(_agree(known, *turn) for turn in turns)), None
    )


def _numbered_apart(one: Item, other: Item) -> bool:
    """True where the page numbers of both were read and differ."""
    numbers = page_numbers(one), page_numbers(other)
    return all(numbers) and numbers[0] != numbers[1]


def _duplicate(item: Item, earlier: Item, how: str) -> Finding:
    twin = shown(earlier.subject)
    return Finding(
        code="duplicate",
        severity=Severity.WARNING,
        subject=item.subject,
        message=f"{how} {twin}: it will be printed and counted twice.",
        remedy=(
            "Move the extra file out of the folder, or set leave_out = true for it under "
            '[[item]]; if both belong in the packet, list "duplicate" under accept there.'
        ),
    )


# --- the same page, by its ink ----------------------------------------------------------------
# A fingerprint is one long whole number: a shift of the page is a shift of its bits, and what two
# pages share is counted with "and".

_Counted = list[tuple[int, int]]  # inks and how many bits each has


def _counted(inks: Iterable[int]) -> _Counted:
    return [(ink, ink.bit_count()) for ink in inks]


def _ink_of(item: Item) -> int | None:
    """The ink of an item; None for one that must never be paired by its look."""
    if item.blank or len(item.fingerprint) != _WIDTH * _HEIGHT // 8:
        return None
    ink = int.from_bytes(item.fingerprint, "big")
    if ink.bit_count() < _LEAST_INK:
        return None
    return ink


def _upside_down(ink: int) -> int:
    return int(f"{ink:0{_WIDTH * _HEIGHT}b}"[::-1], 2)


def _agree(one: int, other: int, nearby: _Counted) -> bool:
    """True where every inked block of the one finds its like nearby in the other.

    ``nearby``: the other, moved within reach.
    """
    counts = one.bit_count(), other.bit_count()
    if min(counts) < 0.5 * max(counts):
        return False
    share = max(_shares(one, nearby))
    least = min(rule.better for rule in _RULES)
    if share < least:  # then no share beside it, not even 0, is so much less
        return False
    worst = 0.0
    beside = _shares(one, ((ink, ink.bit_count()) for ink in _shifted(other, rights=_BESIDE)))
    for less in beside:
        worst = max(worst, less)
        if share - worst < least * (1 - worst):
            return False
    better = (share - worst) / (1 - worst)
    found = _blocks(one, [moved for moved, _ in nearby]), _blocks(other, list(_shifted(one)))
    return any(
        better >= rule.better
        and all(mean >= rule.alike and unlike <= rule.unlike for mean, unlike in found)
        for rule in _RULES
    )


def _shares(one: int, others: Iterable[tuple[int, int]]) -> Iterator[float]:
    """What the one shares with each of the others, of what either has."""
    bits = one.bit_count()
    for other, its_bits in others:
        common = (one & other).bit_count()
        yield common / (bits + its_bits - common)


def _shifted(ink: int, rights: Sequence[int] = tuple(range(-_REACH, _REACH + 1))) -> Iterator[int]:
    for down in range(-_REACH, _REACH + 1):
        for right in rights:
            places = down * _WIDTH + right
            yield ink << places if places >= 0 else ink >> -places


def _blocks(one: int, shifted: Sequence[int]) -> tuple[float, float]:
    """(mean agreement of the inked blocks, share of them that find no like), by their ink.

    The share is 1 where a well inked block finds no like: a stamp that the other page lacks.
    """
    agreed = weighed = unlike = 0.0
    for mask in _masks():
        part = one & mask
        weight = part.bit_count()
        if weight < _BLOCK_INK:
            continue
        best = max((part & moved).bit_count() / (part | (moved & mask)).bit_count()
                   for moved in shifted)  # fmt: skip
        agreed += weight * best
        weighed += weight
        if best < _UNLIKE:
            unlike += math.inf if weight > _WELL_INKED else weight
    return (agreed / weighed, min(unlike / weighed, 1.0)) if weighed else (0.0, 1.0)


@cache
def _masks() -> tuple[int, ...]:
    """The blocks of the page, 22 x 25 mm each."""
    wide, high = _BLOCK
    masks = []
    for top in range(0, _HEIGHT, high):
        for left in range(0, _WIDTH, wide):
            row = ((1 << wide) - 1) << (_WIDTH - left - wide)
            rows = sum(row << (_WIDTH * (_HEIGHT - 1 - y)) for y in range(top, top + high))
            masks.append(rows)
    return tuple(masks)
