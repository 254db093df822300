"""Invented people, their codes, and the machine-readable lines of their papers.

Names are made of syllables, so they are nobody's. Lines are written after ICAO Doc 9303 parts 3
to 7; a test compares each with the checkers of the package ``mrz``.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, timedelta
from functools import cache

import numpy as np

Rng = np.random.Generator
_SYLLABLES = {
    "it": "ra me lo ti so na ver ma di ca re to vi ba lu gio fe pa sta lli ci ne do ri mo be zio",
    "sl": "mi ro sla vo dra go len ka jev sky ova bog dan ya ve rin tch sha sti pol nik zhe la",
    "cn": "wen xia zhou li jia hong tai mei qing feng yu lan shu chen bai guo",
    "ar": "al kha rim mu sta fah yas min ha did na bil sa lah ou ben raj oub za ri",
    "en": "har ring ton wel ford mar low ash by cart wright el mor ley stan hope dun win",
    "es": "fer nan del cas ti llo mar go ro que es pi no va lle jo ra mon con ta",
    "de": "ber gen hof stein lau ter wald mül ger rei chen brü gel schö nau fel der kö nig",
    "fr": "du mou lin be che lle gra vè re val mont ro sier bé liè cour tois an drieu",
    "in": "pra ka sha na ra ya nan su bra ma ni de vi chan dra vi jay raj ku mar",
    "no": "sø ren skov gaard bjø rn ås lund ha kon ve ster å len",
}
_STYLES = tuple(_SYLLABLES)
_LETTERS = {
    "Ä": "AE", "Ö": "OE", "Ü": "UE", "Ø": "OE", "Å": "AA", "È": "E", "É": "E", "À": "A",
    "Ñ": "N", "Ç": "C", "Ł": "L", "Š": "S", "Ž": "Z", "ß": "SS", "'": "", "-": "<", " ": "<",
}  # fmt: skip
"""Transliteration of Doc 9303 part 3, for the letters in use here."""
_EXTRA_STATES = ("UTO", "D", "D", "D", "RKS", "GBD", "XXA", "XXB")
_NUMBER_SHAPES = (
    "LLDDDDDDD",
    "DDDDDDDDD",
    "LDDDDDDDD",
    "LLLDDDDDD",
    "LDDLDDDDL",
    "LMLMDLMDL",
    "DDDDDDDD",
    "LDDDDDDD",
    "LLDDDDDD",
)
_PLACES = ("H501", "F205", "Z404", "Z210", "Z112", "Z600", "Z154", "Z330", "L219", "Z222", "Z114")


@dataclass(frozen=True, slots=True, kw_only=True)
class Person:
    """One invented person and the codes on the papers. ``state``: as passports write it."""

    surname: str = field(repr=False)
    given_names: str = field(repr=False)
    sex: str = field(repr=False)
    born: date = field(repr=False)
    birthplace: str = field(repr=False)
    state: str = field(repr=False)
    number: str = field(repr=False)
    card_number: str = field(repr=False)
    visa_number: str = field(repr=False)
    optional: str = field(repr=False)
    issued: date = field(repr=False)
    expires: date = field(repr=False)
    visa_from: date = field(repr=False)
    visa_days: int = field(repr=False)
    tax_code: str = field(repr=False)


@cache
def _states() -> tuple[str, ...]:
    import pycountry

    return tuple(sorted(entry.alpha_3 for entry in pycountry.countries if entry.alpha_3 != "DEU"))


def _name(rng: Rng, style: str, low: int, high: int) -> str:
    parts = _SYLLABLES[style].split()
    text = "".join(rng.choice(parts, int(rng.integers(low, high + 1))))
    return text[:18].upper()


def _surname(rng: Rng, style: str) -> str:
    name = _name(rng, style, 2, 3)
    roll = rng.random()
    if roll < 0.10:
        return f"{name} {_name(rng, style, 2, 3)}"
    if roll < 0.17:
        return f"{name}-{_name(rng, style, 2, 3)}"
    if roll < 0.22:
        return f"{rng.choice(['DE', 'VAN DER', 'DI', 'EL', 'DOS'])} {name}"
    if roll < 0.26:
        return f"{rng.choice(['D', 'O'])}'{name}"
    return name


def _number(rng: Rng, shape: str) -> str:
    pools = {
        "L": "ABCDEFGHIJKLMNOPQRSTUVWXYZ",
        "D": "0123456789",
        "M": "0123456789CFGHJKLMNPRTVWXYZ",
    }
    return "".join(str(rng.choice(list(pools[sign]))) for sign in shape)


def person(rng: Rng) -> Person:
    """A person with all codes; the same generator state gives the same person."""
    style = str(rng.choice(_STYLES))
    given = " ".join(
        _name(rng, style, 2, 3)
        for _ in range(int(rng.choice([1, 2, 3, 5], p=[0.45, 0.4, 0.12, 0.03])))
    )
    surname = _surname(rng, style)
    sex = str(rng.choice(["F", "M"]))
    born = date(1932, 1, 1) + timedelta(days=int(rng.integers(0, 27000)))
    issued = date(2016, 3, 1) + timedelta(days=int(rng.integers(0, 3800)))
    state = str(rng.choice(_EXTRA_STATES)) if rng.random() < 0.2 else str(rng.choice(_states()))
    optional = ""
    if rng.random() < 0.3:
        optional = _number(rng, "DM" * int(rng.integers(3, 8)))[: int(rng.integers(5, 15))]
    return Person(
        surname=surname,
        given_names=given,
        sex=sex if rng.random() > 0.02 else "<",
        born=born,
        birthplace=_name(rng, style, 2, 4),
        state=state,
        number=_number(rng, str(rng.choice(_NUMBER_SHAPES))),
        card_number=_number(rng, str(rng.choice(_NUMBER_SHAPES))),
        visa_number=_number(rng, str(rng.choice(["DDDDDDDDD", "LDDDDDDDD", "LLLDDDDDD"]))),
        optional=optional,
        issued=issued,
        expires=issued + timedelta(days=int(rng.choice([1825, 3652, 3560]))),
        visa_from=date(2024, 1, 1) + timedelta(days=int(rng.integers(0, 1000))),
        visa_days=int(rng.choice([365, 365, 180, 730])),
        tax_code=tax_code(rng, surname, given, sex, born),
    )


def tax_code(rng: Rng, surname: str, given: str, sex: str, born: date) -> str:
    """A code by python-codicefiscale, one in eight with letters in digit places (a clash code)."""
    from codicefiscale import codicefiscale

    code = codicefiscale.encode(
        lastname=latin(surname).replace("<", " "),
        firstname=latin(given).replace("<", " "),
        gender=sex,
        birthdate=born.strftime("%d/%m/%Y"),
        birthplace=str(rng.choice(_PLACES)),
    )
    if rng.random() < 0.125:
        signs = list(code[:15])
        places = [6, 7, 9, 10, 12, 13, 14][int(rng.integers(4, 7)) :]
        for place in places:
            signs[place] = "LMNPQRSTUV"[int(signs[place])]
        return "".join(signs) + check_letter("".join(signs))
    return str(code)


def check_letter(head: str) -> str:
    """Check letter of fifteen signs (Finance Ministry decree of 23 December 1976)."""
    odd = (
        1,
        0,
        5,
        7,
        9,
        13,
        15,
        17,
        19,
        21,
        2,
        4,
        18,
        20,
        11,
        3,
        6,
        8,
        12,
        14,
        16,
        10,
        22,
        25,
        24,
        23,
    )
    total = 0
    for place, sign in enumerate(head, start=1):
        value = int(sign) if sign.isdigit() else ord(sign) - ord("A")
        total += odd[value] if place % 2 else value
    return chr(ord("A") + total % 26)


# --- machine-readable lines ----------------------------------------------------------------


def latin(name: str) -> str:
    """A name in the letters of the machine-readable zone."""
    return "".join(_LETTERS.get(sign, sign) for sign in name)


def digit(text: str) -> str:
    """Check digit: weights 7, 3, 1; letters from 10; the filler 0; modulo 10 (part 3)."""
    values = (0 if sign == "<" else int(sign, 36) for sign in text)
    return str(sum(value * (7, 3, 1)[place % 3] for place, value in enumerate(values)) % 10)


def _names(who: Person, width: int) -> str:
    text = f"{latin(who.surname)}<<{latin(who.given_names)}"
    return text[:width].ljust(width, "<")


def _six(day: date) -> str:
    return f"{day:%y%m%d}"


def _dates(who: Person, end: date) -> str:
    born, last = _six(who.born), _six(end)
    return born + digit(born) + who.sex + last + digit(last)


def td3(who: Person) -> tuple[str, ...]:
    """Two lines of 44 (part 4)."""
    number = who.number.ljust(9, "<")
    optional = who.optional.ljust(14, "<")
    digit_of = digit(optional) if who.optional else ("<" if int(who.number[-1], 36) % 2 else "0")
    dates = _dates(who, who.expires)
    second = number + digit(number) + who.state.ljust(3, "<") + dates + optional + digit_of
    whole = second[:10] + second[13:20] + second[21:43]
    return "P<" + who.state.ljust(3, "<") + _names(who, 39), second + digit(whole)


def td2(who: Person) -> tuple[str, ...]:
    """Two lines of 36 (part 6)."""
    number = who.card_number.ljust(9, "<")
    optional = who.optional[:7].ljust(7, "<")
    second = number + digit(number) + who.state.ljust(3, "<") + _dates(who, who.expires) + optional
    whole = second[:10] + second[13:20] + second[21:35]
    return "I<" + who.state.ljust(3, "<") + _names(who, 31), second + digit(whole)


def td1(who: Person, *, code: str = "I<", issuer: str = "") -> tuple[str, ...]:
    """Three lines of 30 (part 5); issued by the holder's own state unless another is named."""
    number = who.card_number.ljust(9, "<")
    first = (
        code
        + (issuer or who.state).ljust(3, "<")
        + number
        + digit(number)
        + who.optional.ljust(15, "<")
    )
    dates = _dates(who, who.expires)
    second = dates + who.state.ljust(3, "<") + "<" * 11
    whole = first[5:] + second[:7] + second[8:15] + second[18:29]
    return first, second + digit(whole), _names(who, 30)


def visa(who: Person, width: int) -> tuple[str, ...]:
    """Two lines of 44 (MRV-A) or 36 (MRV-B), part 7; no digit over the whole."""
    number = who.visa_number.ljust(9, "<")
    end = who.visa_from + timedelta(days=who.visa_days)
    second = number + digit(number) + who.state.ljust(3, "<") + _dates(who, end)
    second += who.optional[: width - 28].ljust(width - 28, "<")
    issuer = "D<<" if who.visa_days == 180 else "ITA"
    return "V<" + issuer + _names(who, width - 5), second
