# ruff: noqa: PLR0917  (drawing calls read best with their numbers in order)
"""Invented cards: identity cards with TD1 and TD2 zones, permits, tax-code cards with Code 39."""

from __future__ import annotations

import numpy as np

from .passport import day
from .people import Person, td1, td2
from .sheet import Sheet, deep, pastel
from .truth import Truth

ID1 = (85.60, 53.98)
ID2 = (105.0, 74.0)
DPI = 420.0
Rng = np.random.Generator
CODE39 = {
    "0": "nnnwwnwnn", "1": "wnnwnnnnw", "2": "nnwwnnnnw", "3": "wnwwnnnnn", "4": "nnnwwnnnw",
    "5": "wnnwwnnnn", "6": "nnwwwnnnn", "7": "nnnwnnwnw", "8": "wnnwnnwnn", "9": "nnwwnnwnn",
    "A": "wnnnnwnnw", "B": "nnwnnwnnw", "C": "wnwnnwnnn", "D": "nnnnwwnnw", "E": "wnnnwwnnn",
    "F": "nnwnwwnnn", "G": "nnnnnwwnw", "H": "wnnnnwwnn", "I": "nnwnnwwnn", "J": "nnnnwwwnn",
    "K": "wnnnnnnww", "L": "nnwnnnnww", "M": "wnwnnnnwn", "N": "nnnnwnnww", "O": "wnnnwnnwn",
    "P": "nnwnwnnwn", "Q": "nnnnnnwww", "R": "wnnnnnwwn", "S": "nnwnnnwwn", "T": "nnnnwnwwn",
    "U": "wwnnnnnnw", "V": "nwwnnnnnw", "W": "wwwnnnnnn", "X": "nwnnwnnnw", "Y": "wwnnwnnnn",
    "Z": "nwwnwnnnn", "*": "nwnnwnwnn",
}  # fmt: skip
"""Bars and spaces, narrow and wide (ISO/IEC 16388)."""


def bars(
    sheet: Sheet, x: float, y: float, width: float, high: float, text: str, ratio: float
) -> None:
    """Code 39 of a text between start and stop signs, ``width`` mm wide."""
    signs = f"*{text}*"
    units = len(signs) * (6 + 3 * ratio + 1) - 1
    narrow = width / units
    ink = tuple(int(v) for v in sheet.rng.integers(8, 50, 3))
    for sign in signs:
        for place, mark in enumerate(CODE39[sign]):
            wide = narrow * (ratio if mark == "w" else 1)
            if place % 2 == 0:
                box = sheet.px(x, y, x + wide, y + high)
                sheet.draw.rectangle((round(box[0]), box[1], round(box[2]) - 1, box[3]), fill=ink)
            x += wide
        x += narrow


def _card(rng: Rng, size: tuple[float, float] = ID1) -> Sheet:
    sheet = Sheet(rng, size, DPI, pastel(rng, 214, 246))
    for _ in range(int(rng.integers(1, 3))):
        sheet.tint(
            float(rng.uniform(0.25, 0.7)), pastel(rng, 150, 225), float(rng.uniform(1.2, 2.6))
        )
    return sheet


def _field(sheet: Sheet, x: float, y: float, room: float, label: str, value: str, size: float,
           role: str = "bold", ink: tuple[int, int, int] = (30, 32, 38)) -> None:  # fmt: skip
    sheet.fit(x, y, room, label, 4.2, ink=(86, 94, 102))
    sheet.fit(x, y + 2.9, room, value, size, role=role, ink=ink)


def id_front(rng: Rng, who: Person) -> tuple[Sheet, Truth]:
    """Front of a card of ID-1 size, whose zone is on the back."""
    sheet, write = _card(rng), day(rng)
    ink = deep(rng)
    head = str(
        rng.choice(
            [
                "CARTA DI IDENTITÀ / IDENTITY CARD",
                "IDENTITY CARD",
                "CARTE D'IDENTITÉ",
                "PERSONALAUSWEIS / IDENTITY CARD",
                "DOCUMENTO DE IDENTIDAD",
            ]
        )
    )
    sheet.fit(30, 5, 53, head, 7, role="bold", ink=ink)
    sheet.fit(4, 5, 24, f"STATE {who.state}", 6.5, ink=ink)
    left = bool(rng.random() < 0.8)
    sheet.portrait((4 if left else 58, 9, 23, 31), grey=bool(rng.random() < 0.6))
    x = 30 if left else 4
    size = float(rng.uniform(6, 7.6))
    for number, (label, value) in enumerate((
        ("COGNOME / SURNAME", who.surname), ("NOME / NAME", who.given_names),
        ("NASCITA / PLACE AND DATE OF BIRTH", f"{who.birthplace} {write(who.born)}"),
        ("SESSO / SEX", who.sex.replace("<", "X")), ("CITTADINANZA / NATIONALITY", who.state),
        ("SCADENZA / EXPIRY", write(who.expires)),
    )):  # fmt: skip
        _field(sheet, x, 11 + number * 6.2, 50, label, value, size, ink=ink)
    sheet.put_text(81, 50.5, who.card_number, 8, role="mono-bold", ink=ink, anchor="rs")
    sheet.scribble(6, 43, 22, 6)
    return sheet, Truth(
        kind="id-card-front", content="card", folder="id-card", text=True, person=who
    )


def id_back(rng: Rng, who: Person) -> tuple[Sheet, Truth]:
    """Back of a newer card: three lines of thirty."""
    sheet = _card(rng)
    _field(
        sheet, 5, 5.5, 50, "INDIRIZZO DI RESIDENZA / RESIDENCE", "12 HARBOUR ROW, LUMENPORT", 6.4
    )
    _field(sheet, 5, 12.2, 50, "AUTORITÀ / AUTHORITY", "SPECIMEN REGISTER", 6.4)
    _field(sheet, 5, 18.9, 50, "CODICE FISCALE / FISCAL CODE", who.tax_code, 6.6)
    if rng.random() < 0.6:
        sheet.chip(66, 6)
    tilt = str(rng.choice(["I<", "ID", "IC", "C<"]))
    foreign = bool(rng.random() < 0.15)  # a card of the town for a resident of another state
    lines = td1(who, code="C<", issuer="ITA") if foreign else td1(who, code=tilt)
    _zone(sheet, lines, rng)
    return sheet, Truth(
        kind="id-card-back",
        content="card",
        folder="id-card",
        text=True,
        mrz_type="TD1",
        mrz=lines,
        tax_code=who.tax_code,
        code_text=True,
        person=who,
    )


def _zone(sheet: Sheet, lines: tuple[str, ...], rng: Rng) -> None:
    sheet.machine_zone(
        lines,
        left=float(rng.uniform(3.8, 5.6)),
        bottom=float(rng.uniform(4.6, 6.4)),
        step=float(rng.uniform(5.6, 6.3)),
        pale=bool(rng.random() < 0.5),
    )


def id_older(rng: Rng, who: Person) -> tuple[Sheet, Truth]:
    """Front of an older, larger card (ID-2): two lines of thirty-six under the data."""
    sheet, write = _card(rng, ID2), day(rng)
    ink = deep(rng)
    sheet.fit(
        5,
        7,
        95,
        f"IDENTITY CARD · CARTA D'IDENTITÀ · STATE OF {who.state}",
        9,
        role="bold",
        ink=ink,
    )
    sheet.portrait((5, 12, 27, 35), grey=True)
    for number, (label, value) in enumerate((
        ("Surname / Cognome", who.surname), ("Given names / Nomi", who.given_names),
        ("Date of birth / Nascita", write(who.born)), ("Place of birth / Luogo", who.birthplace),
        ("Card number / Numero", who.card_number), ("Valid until / Scadenza", write(who.expires)),
    )):  # fmt: skip
        _field(sheet, 36, 14 + number * 6.2, 64, label, value, 7.6, ink=ink)
    lines = td2(who)
    room = ID2[0] - 36 * 2.54
    sheet.machine_zone(
        lines,
        left=room * float(rng.uniform(0.35, 0.65)),
        bottom=float(rng.uniform(7, 9.5)),
        step=float(rng.uniform(5.9, 6.4)),
        pale=bool(rng.random() < 0.6),
    )
    return sheet, Truth(
        kind="id-card-front",
        content="card",
        folder="id-card",
        text=True,
        mrz_type="TD2",
        mrz=lines,
        person=who,
    )


def id_older_back(rng: Rng, who: Person) -> tuple[Sheet, Truth]:
    """Back of an older card: address, height, eyes, the authority's stamp; no zone."""
    sheet, write = _card(rng, ID2), day(rng)
    for number, (label, value) in enumerate((
        ("Address / Indirizzo", "12 HARBOUR ROW, LUMENPORT"),
        ("Height / Statura", f"{rng.integers(150, 199)} cm"),
        ("Colour of eyes / Colore degli occhi", "BROWN"),
        ("Issued on / Rilasciata il", write(who.issued)),
        ("Authority / Autorità", "CITY OFFICE OF LUMENPORT"),
    )):  # fmt: skip
        _field(sheet, 8, 12 + number * 9, 70, label, value, 8)
    sheet.ink_stamp(
        82,
        48,
        ["CITY OFFICE", "SPECIMEN"],
        (26, 26),
        float(rng.normal(0, 10)),
        (40, 44, 120),
        shape="round",
        wear=0.2,
    )
    return sheet, Truth(
        kind="id-card-back", content="card", folder="id-card", text=True, person=who
    )


def permit_front(rng: Rng, who: Person) -> tuple[Sheet, Truth]:
    """Front of an invented permit card."""
    sheet, write = _card(rng), day(rng)
    ink = deep(rng)
    sheet.fit(30, 6, 52, "PERMESSO DI SOGGIORNO", 9, role="bold", ink=ink)
    sheet.portrait((4, 9, 24, 32), grey=bool(rng.random() < 0.5))
    for number, (label, value) in enumerate((
        ("COGNOME / SURNAME", who.surname), ("NOME / NAME", who.given_names),
        ("VALIDO FINO AL / VALID UNTIL", write(who.expires)),
        ("RILASCIATO IL / ISSUED ON", write(who.issued)),
        ("TIPO DI PERMESSO / TYPE OF PERMIT", "RESIDENZA ELETTIVA"),
        ("NOTE / REMARKS", "NON CONSENTE LAVORO"),
    )):  # fmt: skip
        _field(sheet, 31, 12 + number * 6.2, 50, label, value, 6.6, ink=ink)
    sheet.put_text(6, 50, who.card_number, 8, role="mono-bold", ink=ink)
    return sheet, Truth(kind="permit-front", content="card", folder="permit", text=True, person=who)


def permit_back(rng: Rng, who: Person) -> tuple[Sheet, Truth]:
    """Back of an invented permit card: three lines of thirty."""
    sheet, write = _card(rng), day(rng)
    _field(
        sheet,
        5,
        5.5,
        50,
        "DATA E LUOGO DI NASCITA / DATE AND PLACE OF BIRTH",
        f"{write(who.born)} {who.birthplace}",
        6.4,
    )
    _field(sheet, 5, 12.2, 30, "CITTADINANZA / NATIONALITY", who.state, 6.4)
    _field(sheet, 38, 12.2, 40, "CODICE FISCALE / FISCAL CODE", who.tax_code, 6.4)
    if rng.random() < 0.5:
        sheet.chip(66, 15)
    lines = td1(who, code=str(rng.choice(["IR", "I<", "AR"])), issuer="ITA")
    _zone(sheet, lines, rng)
    return sheet, Truth(
        kind="permit-back",
        content="card",
        folder="permit",
        text=True,
        mrz_type="TD1",
        mrz=lines,
        tax_code=who.tax_code,
        code_text=True,
        person=who,
    )


# --- tax-code cards ------------------------------------------------------------------------


def tax_front(rng: Rng, who: Person) -> tuple[Sheet, Truth]:
    """Front of an invented card that bears a tax code, in one of three layouts."""
    sheet, write = _card(rng), day(rng)
    ink, role = (26, 28, 34), str(rng.choice(["bold", "mono-bold", "sans", "mono"]))
    bar = deep(rng)
    top = float(rng.uniform(2, 5))
    sheet.rect((0, top, 86, 8), fill=bar)
    title = str(
        rng.choice(["CODICE FISCALE", "TESSERA DEL CODICE FISCALE", "TESSERA SANITARIA DI PROVA"])
    )
    sheet.fit(5, top + 5.8, 70, title, 10, role="bold", ink=(248, 246, 236))
    size = float(rng.uniform(9, 14))
    y = float(rng.uniform(17, 22))
    sheet.fit(4.5, y - 3.2, 40, "Codice Fiscale", 5, ink=(86, 94, 102))
    sheet.fit(4.5, y + 1.2, 66, who.tax_code, size, role=role, ink=ink)
    rows = (
        ("Cognome", who.surname, 4.5),
        ("Nome", who.given_names, 4.5),
        ("Luogo di nascita", who.birthplace, 4.5),
        ("Provincia", "EE", 4.5),
        ("Data di nascita", write(who.born), 45.0),
        ("Sesso", who.sex.replace("<", "M"), 45.0),
        ("Data di scadenza", write(who.expires), 45.0),
    )
    down = {4.5: y + 7.0, 45.0: y + 20.0}
    for label, value, x in rows:
        if down[x] < 49:
            _field(sheet, x, down[x], 38, label, value, 7, role=role, ink=ink)
            down[x] += 7.0
    return sheet, Truth(
        kind="tax-card-front",
        content="card",
        folder="tax-card",
        text=True,
        tax_code=who.tax_code,
        code_text=True,
        person=who,
    )


def tax_back(rng: Rng, who: Person) -> tuple[Sheet, Truth]:
    """Back: the code as Code 39, most often in signs too, a magnetic stripe or fields."""
    sheet, write = _card(rng), day(rng)
    stripe = bool(rng.random() < 0.6)
    if stripe:
        level = int(rng.integers(24, 80))
        sheet.rect((0, 4, 86, 10.5), fill=(level, level - 4, level - 6))
    else:
        for number, (label, value) in enumerate(
            (("Cognome", who.surname), ("Nome", who.given_names))
        ):
            _field(sheet, 5 + 40 * number, 5, 36, label, value, 6.6)
    y = float(rng.uniform(17, 22))
    width, ratio = float(rng.uniform(50, 76)), float(rng.uniform(2.0, 3.0))
    x = (85.6 - width) / 2 + float(rng.uniform(-2, 2))
    high = float(rng.uniform(6, 12))
    sheet.rect((x - 4, y - 1.2, width + 8, high + 2.4), fill=pastel(rng, 236, 252))
    bars(sheet, x, y, width, high, who.tax_code, ratio)
    signs = bool(rng.random() < 0.8)
    if signs:
        role = str(rng.choice(["mono", "sans", "mono-bold"]))
        sheet.put_text(
            42.8, y + high + 4.4, who.tax_code, float(rng.uniform(7, 9.5)), role=role, anchor="ms"
        )
    for number, (label, value) in enumerate((("Numero di identificazione", "80380000000000000000"),
                                             ("Scadenza", write(who.expires)))):  # fmt: skip
        _field(sheet, 5 + 50 * number, y + high + 9, 42, label, value, 6)
    return sheet, Truth(
        kind="tax-card-back",
        content="card",
        folder="tax-card",
        text=True,
        tax_code=who.tax_code,
        barcode=True,
        code_text=signs,
        person=who,
    )
