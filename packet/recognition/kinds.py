"""What an item is, from its size, its machine-readable lines, its words and its page numbers.

Each clue speaks for some kinds with a weight in log-odds; the sum decides, and its distance from
the next kind is the confidence. Weights are common practice, no source, set on drawn pages.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from packet.model import Kind, SizeMm
from packet.readings import MrzFormat
from packet.recognition.terms import TextLine
from packet.recognition.vocabulary import PlainLine, found, kind_words, plain_line
from packet.rules.sizes import kind_sizes_mm

_SIZE_MM = 1.5
_FILLERS = "<<"
_SHAPE = 0.06  # share by which the ratio of the sides may differ
_DARK = 90  # median luma of a cover
_BACKS = (Kind.ID_CARD_BACK, Kind.PERMIT_BACK)
_SPREAD = (Kind.PASSPORT_SPREAD,)
_CARDS = (
    Kind.ID_CARD_FRONT,
    Kind.ID_CARD_BACK,
    Kind.PERMIT_FRONT,
    Kind.PERMIT_BACK,
    Kind.TAX_CARD_FRONT,
    Kind.TAX_CARD_BACK,
)
_STRONG, _WEAK = 2.6, 0.5
_STRONG_MOST, _WEAK_MOST = 7.8, 1.5
_MUCH_TEXT = 14  # boxes of text: more than a page of visas or stamps has
_FULL_OF_TEXT = 32  # more than a data page has: its words on such a sheet are spoken about
_SPOKEN_ABOUT = 0.4
_BOOK = (Kind.PASSPORT_PAGE, Kind.VISA_PAGE, Kind.PASSPORT_SPREAD, Kind.PASSPORT_COVER)
_SURE = 0.5
_ENOUGH = 4.0  # a sum below it, as without a size that fits, is less sure whatever the next one


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """What is known of an item, held upright.

    ``size_mm``: (width, height); ``guess``: the kind that imaging takes it for; ``kinds``: what it
    may be, empty for anything. ``mrz``: format of a zone that was found, read or not; ``proved``:
    its check digits fit. ``code``, ``issuer``, ``holder``: its document code, state of issue and
    nationality as they were seen, also where they were not proved: no value is made of them.
    ``level``: how many boxes of text lie level. ``luma``: median, 0 to 255; ``light_signs``: most
    signs are lighter than their ground. ``tax_bars``: a tax code was read from bars; ``tax_text``:
    from text; ``numbers``: page numbers were read.
    """

    size_mm: SizeMm
    guess: Kind
    kinds: tuple[Kind, ...] = ()
    mrz: MrzFormat | None = None
    proved: bool = False
    code: str = field(default="", repr=False)
    issuer: str = field(default="", repr=False)
    holder: str = field(default="", repr=False)
    lines: tuple[TextLine, ...] = field(default=(), repr=False)
    level: int = 0
    luma: float = 255.0
    light_signs: bool = False
    tax_bars: bool = False
    tax_text: bool = False
    numbers: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class KindTold:
    """A kind (None where nothing tells it), how sure (0 to 1), and why in plain words.

    ``text``: how much of it, in log-odds, was said by words, codes and proved lines: not by size,
    look, and lines that may be a part of others.
    """

    kind: Kind | None
    confidence: float
    reason: str
    text: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Clue:
    kinds: tuple[Kind, ...]
    weight: float
    reason: str


def tell_kind(seen: Seen) -> KindTold:
    """The likeliest kind; None where two kinds are as likely."""
    zone, text = list(_by_zone(seen)), list(_of_text(seen))
    clues = [*_by_size(seen), *_by_look(seen), *zone, *text]
    allowed = seen.kinds or tuple(Kind)
    sums = {kind: sum(clue.weight for clue in clues if kind in clue.kinds) for kind in allowed}
    ranked = sorted(allowed, key=lambda kind: (-sums[kind], allowed.index(kind)))
    best = ranked[0]
    next_sum = sums[ranked[1]] if len(ranked) > 1 else sums[best] - 6.0
    confidence = 1 / (1 + math.exp(next_sum - sums[best])) * min(1.0, sums[best] / _ENOUGH)
    speaking = [clue for clue in clues if best in clue.kinds and clue.weight > 0 and clue.reason]
    if not speaking or confidence <= _SURE:
        return KindTold(kind=None, confidence=0.0, reason="nothing on it tells what it is")
    strongest = sorted(speaking, key=lambda clue: -clue.weight)[:2]
    reason = ", ".join(dict.fromkeys(clue.reason for clue in strongest))
    if seen.proved:
        text += zone
    said = sum(clue.weight for clue in text if best in clue.kinds)
    return KindTold(kind=best, confidence=round(confidence, 3), reason=reason, text=said)


def _of_text(seen: Seen) -> Iterator[_Clue]:
    yield from _by_codes(seen)
    lines = tuple(plain_line(line.text) for line in seen.lines if _FILLERS not in line.text)
    yield from _by_words(seen, lines)


def _by_size(seen: Seen) -> Iterator[_Clue]:
    """Sizes as printed; the guess of the look goes a little before others of its size."""
    fits = tuple(
        kind for kind in Kind if any(_is_size(seen.size_mm, size) for size in kind_sizes_mm(kind))
    )
    yield _Clue(kinds=fits, weight=4.0, reason="its size")
    yield _Clue(kinds=(seen.guess,), weight=0.4, reason="its look")
    unlike = tuple(kind for kind in Kind if not _may_have_shape(kind, seen.size_mm))
    yield _Clue(kinds=unlike, weight=-8.0, reason="")


def _is_size(one: SizeMm, other: SizeMm) -> bool:
    return all(abs(a - b) < _SIZE_MM for a, b in zip(one, other, strict=True))


def _may_have_shape(kind: Kind, size: SizeMm) -> bool:
    """Whether the kind has a size of this shape; the shape is seen even where no scale is."""
    shape = max(size) / min(size)
    shapes = [max(one) / min(one) for one in kind_sizes_mm(kind)]
    return not shapes or any(abs(shape / one - 1) < _SHAPE for one in shapes)


def _by_zone(seen: Seen) -> Iterator[_Clue]:
    """Machine-readable lines that were read (ICAO Doc 9303): three of them are on a card's back.

    An Italian card whose holder is of another state is a permit, unless its document code is that
    of identity cards (C): common practice, no source.
    """
    if seen.mrz is None:
        yield from _by_fillers(seen)
        return
    upright = seen.size_mm[1] > seen.size_mm[0]
    if seen.mrz == "TD1":
        yield _Clue(kinds=_BACKS, weight=8.0, reason="three machine-readable lines")
        abroad = seen.issuer == "ITA" and seen.holder not in ("", "ITA")
        permit = abroad and not seen.code.startswith("C")
        side = Kind.PERMIT_BACK if permit else Kind.ID_CARD_BACK
        yield _Clue(kinds=(side,), weight=2.5, reason="")
    elif seen.mrz == "TD2":
        yield _Clue(
            kinds=(Kind.ID_CARD_FRONT,), weight=8.0, reason="a card's two lines of 36 signs"
        )
    elif seen.mrz == "TD3":
        kinds = _SPREAD if upright else (Kind.PASSPORT_PAGE,)
        yield _Clue(kinds=kinds, weight=9.0, reason="machine-readable lines of a passport")
    else:
        kinds = _SPREAD if upright else (Kind.VISA_PAGE,)
        yield _Clue(kinds=kinds, weight=9.0, reason="machine-readable lines of a visa")


def _by_fillers(seen: Seen) -> Iterator[_Clue]:
    """A zone that could not be read: two fillers in a row stand in no other line."""
    if not any(_FILLERS in line.text for line in seen.lines):
        return
    reason = "a line like machine-readable ones"
    if _may_have_shape(Kind.TAX_CARD_FRONT, seen.size_mm):
        yield _Clue(kinds=_BACKS, weight=8.0, reason=reason)
        yield _Clue(kinds=(Kind.ID_CARD_BACK,), weight=0.6, reason="")
    elif seen.size_mm[1] > seen.size_mm[0]:
        yield _Clue(kinds=_SPREAD, weight=3.0, reason=reason)
    else:
        yield _Clue(kinds=(Kind.PASSPORT_PAGE, Kind.VISA_PAGE), weight=3.0, reason=reason)


def _by_codes(seen: Seen) -> Iterator[_Clue]:
    if seen.tax_bars:
        yield _Clue(kinds=(Kind.TAX_CARD_BACK,), weight=7.0, reason="a tax code in bars")
        yield _Clue(kinds=(Kind.A4_PAGE,), weight=7.0, reason="")
    if seen.tax_text and seen.mrz is None:
        tax = (Kind.TAX_CARD_FRONT, Kind.TAX_CARD_BACK)
        yield _Clue(kinds=tax, weight=3.0, reason="a tax code in its text")
    if seen.numbers:
        yield _Clue(kinds=_SPREAD, weight=7.0, reason="two page numbers that follow each other")


def _by_look(seen: Seen) -> Iterator[_Clue]:
    """Dark stock or light signs: a cover; a sheet full of text is no page of visas or stamps."""
    if seen.luma < _DARK:
        yield _Clue(kinds=(Kind.PASSPORT_COVER,), weight=7.0, reason="dark stock")
    elif seen.light_signs and seen.mrz is None:
        yield _Clue(kinds=(Kind.PASSPORT_COVER,), weight=6.0, reason="signs lighter than the stock")
    elif seen.luma > 1.5 * _DARK:
        yield _Clue(kinds=(Kind.PASSPORT_COVER,), weight=-5.0, reason="")
    if seen.level > _MUCH_TEXT and seen.mrz is None:
        sheets = (Kind.A4_PAGE, Kind.LETTER_PAGE, Kind.FORM_PAGE)
        yield _Clue(kinds=sheets, weight=0.1 * min(20, seen.level - _MUCH_TEXT), reason="much text")


def _by_words(seen: Seen, lines: Sequence[PlainLine]) -> Iterator[_Clue]:
    """Words of a data page or a visa on an item taller than wide are those of an opening."""
    opening = seen.size_mm[1] > seen.size_mm[0]
    for name, words in kind_words().items():
        kind = Kind(name)
        weight = min(_STRONG_MOST, _STRONG * found(lines, words.strong))
        weight += min(_WEAK_MOST, _WEAK * found(lines, words.weak))
        if kind in _BOOK and seen.level > _FULL_OF_TEXT:
            weight *= _SPOKEN_ABOUT
        single = kind in (Kind.PASSPORT_PAGE, Kind.VISA_PAGE)
        if weight:
            yield _Clue(
                kinds=_SPREAD if single and opening else (kind,), weight=weight, reason="its words"
            )
