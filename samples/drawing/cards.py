"""Invented cards of ID-1 size (ISO/IEC 7810): identity, tax code, and an old permit."""

from __future__ import annotations

import numpy as np

from .book import portrait
from .canvas import Colour, Fonts, Item, Sheet, guilloche, noise, rosette
from .people import Person, card_mrz, day

CARD_MM = (85.60, 53.98)
RADIUS_MM = 3.18
DPI = 500.0
INK = (34, 36, 42)
CARD_ISSUED, CARD_EXPIRES = (2023, 4, 18), (2033, 4, 17)
PERMIT_ISSUED, PERMIT_EXPIRES = (2026, 2, 15), (2027, 2, 14)

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
"""Bars and spaces of Code 39, narrow and wide (ISO/IEC 16388)."""


def _card(fonts: Fonts, base: Colour, tint: tuple[Colour, ...], seed: float) -> Sheet:
    sheet = Sheet(CARD_MM, DPI, fonts, base)
    guilloche(sheet, (-1, -1, 88, 56), tint, seed=seed, width=0.1)
    return sheet


def _finish(sheet: Sheet, rng: np.random.Generator, kind: str) -> Item:
    """Wear of the plastic and the thin dark edge of the card."""
    wear = 1 + 0.012 * noise(rng, sheet.shape, (70, 70)) + 0.006 * noise(rng, sheet.shape, (3, 3))
    sheet.shade(wear)
    sheet.rect(0, 0, *CARD_MM, outline=(150, 154, 154), width=0.16, radius=RADIUS_MM)
    return sheet.finish(kind, radius_mm=RADIUS_MM)


def _field(sheet: Sheet, x: float, y: float, label: str, value: str, *, size: float = 6.6) -> None:
    sheet.text(x, y, label, 3.9, fill=(74, 88, 92))
    sheet.text(x, y + 2.9, value, size, face="bold", fill=INK)


def id_front(fonts: Fonts, person: Person, rng: np.random.Generator) -> Item:
    """Front of the invented identity card."""
    sheet = _card(fonts, (222, 234, 236), ((188, 212, 220), (226, 208, 196)), 0.5)
    rosette(sheet, 66, 30, 17, (198, 206, 186), petals=9)
    sheet.rect(0, 0, 86, 8.6, fill=(52, 104, 116))
    sheet.text(5, 5.9, "UTOPIA", 9, face="bold", fill=(240, 246, 244))
    sheet.text(81, 5.8, "IDENTITY CARD · CARTA D'IDENTITÀ", 5.6, fill=(240, 246, 244), anchor="rs")
    portrait(sheet, (4.5, 12, 23.5, 30.2), person)
    _field(sheet, 31, 14.2, "Numero · Number", person.card_number)
    _field(sheet, 31, 20.4, "Cognome · Surname", person.surname)
    _field(sheet, 31, 26.6, "Nome · Given names", person.given_names)
    _field(sheet, 31, 32.8, "Nascita · Birth", day(person.born))
    _field(sheet, 55, 32.8, "Sesso · Sex", person.sex)
    _field(sheet, 31, 39.0, "Rilascio · Issue", day(CARD_ISSUED))
    _field(sheet, 55, 39.0, "Scadenza · Expiry", day(CARD_EXPIRES))
    _field(sheet, 55, 14.2, "Cittadinanza · Nationality", "UTOPIAN")
    sheet.text(5, 48.6, person.given_names.title().split()[0] + " " + person.surname.title(), 9.5,
               face="hand", fill=(34, 40, 84))  # fmt: skip
    sheet.text(81, 50, "SPECIMEN", 13, face="bold", fill=(206, 146, 140), anchor="rs")
    return _finish(sheet, rng, "id-card-front")


def id_back(fonts: Fonts, person: Person, rng: np.random.Generator) -> Item:
    """Back of the invented identity card with its machine-readable zone."""
    sheet = _card(fonts, (226, 236, 236), ((190, 212, 218), (226, 210, 200)), 1.9)
    _field(sheet, 5, 6.5, "Luogo di nascita · Place of birth", person.birthplace)
    _field(sheet, 5, 12.9, "Residenza · Residence", "12 HARBOUR ROW, LUMENPORT (UTO)")
    _field(sheet, 5, 19.3, "Autorità · Authority", "SPECIMEN REGISTER")
    sheet.rect(66, 5, 14, 11, fill=(206, 184, 120), radius=1.6)
    for y in (8.6, 12.4):
        sheet.line([66, y, 80, y], (150, 128, 74), 0.25)
    sheet.line([73, 5, 73, 16], (150, 128, 74), 0.25)
    sheet.text(81, 26, "SPECIMEN", 11, face="bold", fill=(206, 146, 140), anchor="rs")
    _mrz(sheet, card_mrz(person, person.card_number, CARD_EXPIRES))
    return _finish(sheet, rng, "id-card-back")


def _mrz(sheet: Sheet, lines: tuple[str, str, str]) -> None:
    sheet.rect(0, 30.5, 86, 24, fill=(238, 240, 236))
    for index, line in enumerate(lines):
        sheet.spaced(4.7, 37.2 + index * 6.0, line, 11.2, 2.54)


def tax_front(fonts: Fonts, person: Person, rng: np.random.Generator) -> Item:
    """Front of an invented card that bears a tax code."""
    sheet = _card(fonts, (240, 238, 222), ((222, 216, 186), (206, 218, 196)), 2.6)
    sheet.rect(0, 4.2, 86, 9.2, fill=(126, 112, 66))
    sheet.text(5, 10.4, "CODICE FISCALE", 11, face="bold", fill=(250, 248, 238))
    sheet.text(81, 10.2, "tessera di esempio", 6.4, fill=(250, 248, 238), anchor="rs")
    sheet.text(5, 21.4, person.tax_code, 14, face="bold", fill=INK)
    _field(sheet, 5, 27.4, "Cognome", person.surname, size=8)
    _field(sheet, 5, 34.4, "Nome", person.given_names, size=8)
    _field(sheet, 60, 34.4, "Sesso", person.sex, size=8)
    _field(sheet, 5, 41.4, "Luogo di nascita", f"{person.birthplace} (UTO)", size=8)
    _field(sheet, 60, 41.4, "Data di nascita", day(person.born), size=8)
    sheet.text(81, 25.5, "SPECIMEN", 10, face="bold", fill=(206, 150, 140), anchor="rs")
    return _finish(sheet, rng, "tax-card-front")


def tax_back(fonts: Fonts, person: Person, rng: np.random.Generator) -> Item:
    """Back of the invented tax code card: the code once more as Code 39 bars."""
    sheet = _card(fonts, (242, 240, 228), ((226, 220, 196), (212, 222, 204)), 3.3)
    sheet.rect(0, 5, 86, 10, fill=(64, 60, 56))
    sheet.rect(7, 21.5, 72, 16.5, fill=(250, 250, 248))
    narrow = 68.0 / (18 * 14.5)
    x = 9.0
    for sign in f"*{person.tax_code}*":
        for place, width in enumerate(CODE39[sign]):
            wide = narrow * (2.5 if width == "w" else 1)
            if place % 2 == 0:
                sheet.rect(x, 23, wide, 13.5, fill=(22, 22, 24))
            x += wide
        x += narrow
    sheet.text(42.8, 42.2, person.tax_code, 7.5, face="mrz", fill=INK, anchor="ms")
    text = "SPECIMEN · tessera disegnata, senza valore · drawn card, of no value"
    sheet.text(42.8, 48.8, text, 5, fill=(96, 92, 84), anchor="ms")
    return _finish(sheet, rng, "tax-card-back")


def permit_front(fonts: Fonts, person: Person, rng: np.random.Generator) -> Item:
    """Front of an invented old permit card."""
    sheet = _card(fonts, (236, 226, 232), ((220, 196, 208), (202, 214, 224)), 4.4)
    rosette(sheet, 64, 28, 18, (222, 198, 196), petals=7)
    sheet.text(5, 7, "PERMESSO DI SOGGIORNO", 8.6, face="bold", fill=(112, 50, 84))
    sheet.text(81, 7, "SPECIMEN", 8, face="bold", fill=(190, 110, 116), anchor="rs")
    portrait(sheet, (4.5, 11, 24, 30.8), person)
    _field(sheet, 31.5, 13, "Numero", person.permit_number)
    _field(sheet, 31.5, 19.5, "Cognome, nome", f"{person.surname} {person.given_names}")
    _field(sheet, 31.5, 26, "Rilascio", day(PERMIT_ISSUED))
    _field(sheet, 56, 26, "Valido fino al", day(PERMIT_EXPIRES))
    _field(sheet, 31.5, 32.5, "Tipo di permesso", "RESIDENZA ELETTIVA")
    _field(sheet, 31.5, 39, "Note", "NON CONSENTE LAVORO")
    sheet.text(5, 49.2, person.given_names.title().split()[0] + " " + person.surname.title(), 9.5,
               face="hand", fill=(34, 40, 84))  # fmt: skip
    return _finish(sheet, rng, "permit-front")


def permit_back(fonts: Fonts, person: Person, rng: np.random.Generator) -> Item:
    """Back of the invented old permit card."""
    sheet = _card(fonts, (238, 230, 236), ((222, 200, 212), (206, 216, 226)), 5.2)
    _field(sheet, 5, 6.5, "Data e luogo di nascita", f"{day(person.born)} {person.birthplace}")
    _field(sheet, 5, 13, "Cittadinanza", "UTO")
    _field(sheet, 28, 13, "Codice fiscale", person.tax_code)
    sheet.text(5, 25, "SPECIMEN · permesso disegnato, senza valore", 6, fill=(150, 84, 104))
    _mrz(sheet, card_mrz(person, person.permit_number, PERMIT_EXPIRES))
    return _finish(sheet, rng, "permit-back")
