"""A heap in memory: a 28-page passport, two cards, five A4 papers, with readings made by hand.

Lines are the specimens of ICAO Doc 9303; everything else is invented.
"""

from __future__ import annotations

import random
from pathlib import Path

from packet.model import Item, Kind, Packet, Passport
from packet.readings import CodeRead, MrzLines, Reading, ReadState
from packet.rules.reader import load_rule_set

RULES = load_rule_set("elective-residence-first-issue")
PACKET = Packet(
    root=Path("x"),
    rule_set=RULES,
    documents=RULES.documents,
    passport=Passport(booklet_pages=28),
)
TD3 = (
    "P<UTOERIKSSON<<ANNA<MARIA<<<<<<<<<<<<<<<<<<<",
    "L898902C36UTO7408122F1204159ZE184226B<<<<<10",
)
TD1 = (
    "I<UTOD231458907<<<<<<<<<<<<<<<",
    "7408122F1204159UTO<<<<<<<<<<<6",
    "ERIKSSON<<ANNA<MARIA<<<<<<<<<<",
)
SIZES = {
    Kind.PASSPORT_SPREAD: (176.0, 125.0),
    Kind.PASSPORT_COVER: (176.0, 125.0),
    Kind.A4_PAGE: (210.0, 297.0),
    Kind.FORM_PAGE: (210.0, 297.0),
}


def item(scan, kind, reading=None, *, page=1, number=1, measured=False, turn=0):
    size = SIZES.get(kind, (85.6, 53.98))
    return Item(
        scan=scan,
        page=page,
        item=number,
        kind=kind,
        corners_px=((0, 0), (1, 0), (1, 1), (0, 1)),
        turn_deg=turn,
        skew_deg=0.0,
        size_mm=size,
        measured_mm=size if measured else None,
        dpi=300.0,
        reading=reading,
    )


def read(kind, *, lines=None, code=None, numbers=(), terms=(), confidence=0.95, turn=90):
    formats = {2: "TD3", 3: "TD1"}
    return Reading(
        turn_deg=turn,
        kind=kind,
        kind_confidence=confidence,
        kind_reason="by hand",
        mrz=(MrzLines(mrz_format=formats[len(lines)], lines=lines, state=ReadState.READ),)
        if lines
        else (),
        tax_codes=(CodeRead(value=code, source="text", state=ReadState.READ),) if code else (),
        page_numbers=numbers,
        page_numbers_state=ReadState.READ if numbers else ReadState.UNREAD,
        terms=terms,
    )


def contents():
    """(what it is, kind, reading) of every scan, in the right order: 16 of the book, cards,
    papers."""
    spread = Kind.PASSPORT_SPREAD
    book = [("cover", Kind.PASSPORT_COVER, read(Kind.PASSPORT_COVER))]
    book.append(("1", spread, read(spread, numbers=(1,))))
    book.append(("2-3", spread, read(spread, lines=TD3)))  # the data page's number is not read
    book += [
        (f"{left}-{left + 1}", spread, read(spread, numbers=(left, left + 1)))
        for left in range(4, 28, 2)
    ]
    book.append(("28", spread, read(spread, numbers=(28,))))
    cards = [
        ("id-card front", Kind.ID_CARD_FRONT, read(Kind.ID_CARD_FRONT)),
        ("id-card back", Kind.ID_CARD_BACK, read(Kind.ID_CARD_BACK, lines=TD1)),
        ("tax-card front", Kind.TAX_CARD_FRONT, read(Kind.TAX_CARD_FRONT)),
        ("tax-card back", Kind.TAX_CARD_BACK, read(Kind.TAX_CARD_BACK)),
    ]
    a4 = Kind.A4_PAGE
    papers = [
        (folder, a4, read(a4, terms=(folder,)))
        for folder in ("home", "means", "insurance", "means", "home")
    ]
    return [*book, *cards, *papers]


def heap(seed=1, leave=()):
    """(items under shuffled names, what each name is)."""
    whole = [one for one in contents() if one[0] not in leave]
    names = [f"scans/IMG_{1000 + number}.jpg" for number in range(len(whole))]
    random.Random(seed).shuffle(names)
    items = [
        item(name, kind, reading) for name, (_, kind, reading) in zip(names, whole, strict=True)
    ]
    items.sort(key=lambda one: one.scan)
    return items, {name: what for name, (what, _, _) in zip(names, whole, strict=True)}
