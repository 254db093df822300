"""Kind, document and tax code of one upright item, from its lines, words and bars."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from packet.model import Kind, SizeMm
from packet.readings import CodeRead, MrzFormat, MrzLines, ReadState
from packet.recognition.barcode import read_bars
from packet.recognition.boxes import Boxes, cut, light_signs, sides_of
from packet.recognition.engine import LINE_PX, Engine
from packet.recognition.kinds import KindTold, Seen, tell_kind
from packet.recognition.tax_code_text import agreed, codes_in
from packet.recognition.terms import TextLine, document_terms
from packet.recognition.words import level_boxes, read_words, spelt

Pixels = NDArray[np.uint8]

_CARD_SHAPE = (1.50, 1.68)  # ID-1 of ISO/IEC 7810: 1.586
_SURE = 0.97
_PLAINLY, _SAID = 0.9, 2.5  # of a kind that is not wanted: confidence, and log-odds by its text
_BOOK = (Kind.PASSPORT_SPREAD, Kind.PASSPORT_PAGE, Kind.VISA_PAGE, Kind.PASSPORT_COVER)
_TAX = (Kind.TAX_CARD_FRONT, Kind.TAX_CARD_BACK)
_SHEETS = (Kind.A4_PAGE, Kind.LETTER_PAGE, Kind.FORM_PAGE, Kind.OTHER)
_CODE_SHAPE = (6.0, 24.0)  # width over height of a line that may hold sixteen signs
_CODE_LINES = 8
_CODE_MOST_PX = 1100
_TONES = 8  # boxes whose tones are compared


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Upright:
    """An item held upright, and what was read of it before.

    ``pixels``: (H, W, 3) RGB; ``boxes``: of text on them. ``guess`` and ``kinds``: as in a
    ``ReadRequest``. ``zone``: format of a machine-readable zone that was found, also unread.
    ``lines``: lines of text that were read already. ``numbers``: page numbers were read.
    """

    pixels: Pixels = field(repr=False)
    boxes: Boxes = field(repr=False)
    size_mm: SizeMm
    guess: Kind
    kinds: tuple[Kind, ...] = ()
    mrz: tuple[MrzLines, ...] = ()
    zone: MrzFormat | None = None
    lines: tuple[TextLine, ...] = field(default=(), repr=False)
    numbers: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Contents:
    """What the item is, whose words it bears (folders of documents), and its tax codes."""

    told: KindTold
    terms: tuple[str, ...] = ()
    tax_codes: tuple[CodeRead, ...] = ()


def read_contents(engine: Engine, item: Upright) -> Contents:
    """Kind, document terms and tax codes; no more lines are read than are wanted for them."""
    bars = read_bars(item.pixels) if _may_bear_bars(item) else ()
    first = _seen(item, bars)

    def seen_with(lines: Sequence[TextLine]) -> Seen:
        texts = codes_in((line.text, line.score) for line in lines)
        sound = any(one.state is not ReadState.UNSURE for one in texts)
        return replace(first, lines=tuple(lines), tax_text=sound)

    def enough(lines: Sequence[TextLine]) -> bool:
        told = _told(seen_with(lines))
        if told.confidence < _SURE:
            return False
        return told.kind not in _SHEETS or len(document_terms(lines)) == 1

    lines = read_words(engine, item.pixels, item.boxes, known=item.lines, enough=enough)
    told = _told(seen_with(lines))
    terms = (
        () if told.kind in (Kind.PASSPORT_SPREAD, Kind.PASSPORT_COVER) else document_terms(lines)
    )
    if told.kind in _TAX or terms == ("tax-card",):
        if not bars and told.kind in _SHEETS:
            bars = read_bars(item.pixels)
        codes = agreed([*_texts(engine, item, lines), *bars])
    else:
        codes = bars
    return Contents(told=told, terms=terms, tax_codes=codes)


def _told(seen: Seen) -> KindTold:
    """The kind among those wanted, or another one that the item plainly is: it lies wrongly then.

    Where any paper may lie, and among the pages of a book, nothing is foreign; nor is what has
    another's size alone, as a page that is cut off.
    """
    told = tell_kind(seen)
    if not seen.kinds or Kind.OTHER in seen.kinds:
        return told
    free = tell_kind(replace(seen, kinds=()))
    near = _BOOK if any(kind in seen.kinds for kind in _BOOK) else ()
    foreign = free.kind not in (None, *seen.kinds, *_SHEETS, *near)
    plainly = free.confidence >= _PLAINLY and free.text >= _SAID
    return free if foreign and plainly else told


def _seen(item: Upright, bars: Sequence[CodeRead]) -> Seen:
    height, width = item.pixels.shape[:2]
    small = cv2.resize(
        item.pixels, (min(width, 200), min(height, 200)), interpolation=cv2.INTER_AREA
    )
    grey = cv2.cvtColor(small, cv2.COLOR_RGB2GRAY)
    zone = item.zone
    code = issuer = holder = ""
    for read in item.mrz:
        zone = read.mrz_format
        if read.lines:
            code, issuer = read.lines[0][:2], read.lines[0][2:5]
            holder = read.lines[1][15:18] if zone == "TD1" else read.lines[1][10:13]
    return Seen(
        size_mm=item.size_mm,
        guess=item.guess,
        kinds=item.kinds,
        mrz=zone,
        proved=any(read.state is not ReadState.UNSURE for read in item.mrz),
        code=code,
        issuer=issuer,
        holder=holder,
        level=int(level_boxes(item.boxes).sum()),
        luma=float(np.median(grey)),
        light_signs=light_signs(item.pixels, item.boxes[:_TONES]),
        tax_bars=bool(bars),
        numbers=item.numbers,
    )


def _may_bear_bars(item: Upright) -> bool:
    """A card of ID-1 shape without a machine-readable zone."""
    shape = max(item.size_mm) / min(item.size_mm)
    return _CARD_SHAPE[0] < shape < _CARD_SHAPE[1] and not (item.mrz or item.zone)


def _texts(engine: Engine, item: Upright, lines: Sequence[TextLine]) -> tuple[CodeRead, ...]:
    """The tax code in the lines read; else in others of its shape, the tallest first."""
    codes = codes_in((line.text, line.score) for line in lines)
    if any(one.state is ReadState.READ for one in codes):
        return codes
    sides = sides_of(item.boxes)
    shapes = sides[:, 0] / np.maximum(sides[:, 1], 1.0)
    fits = level_boxes(item.boxes) & (shapes > _CODE_SHAPE[0]) & (shapes < _CODE_SHAPE[1])
    tried = [(line.text, line.score) for line in lines]
    for at in sorted(np.flatnonzero(fits), key=lambda at: -float(sides[at, 1]))[:_CODE_LINES]:
        strip = cut(item.pixels, item.boxes[at], LINE_PX)[:, :_CODE_MOST_PX]
        tried.append(spelt(engine, strip))
        codes = codes_in(tried)
        if any(one.state is ReadState.READ for one in codes):
            break
    return codes
