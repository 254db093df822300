"""Invented people of the specimen state UTO, and the codes printed on their papers."""

from __future__ import annotations

from dataclasses import dataclass

MONTHS = "ABCDEHLMPRST"
"""Letters of the months, Finance Ministry decree of 23 December 1976."""

ODD_VALUES = (
    *(1, 0, 5, 7, 9, 13, 15, 17, 19, 21, 2, 4, 18),
    *(20, 11, 3, 6, 8, 12, 14, 16, 10, 22, 25, 24, 23),
)
"""Values of A to Z (and 0 to 9) in odd places, same decree."""

INVENTED_PLACE = "Z999"
"""Place code of the invented state: the form of a foreign state's code, not one in use."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Person:
    """One invented applicant. Dates are (year, month, day)."""

    surname: str
    given_names: str
    sex: str
    born: tuple[int, int, int]
    birthplace: str
    passport_number: str
    passport_issued: tuple[int, int, int]
    passport_expires: tuple[int, int, int]
    card_number: str
    visa_number: str
    permit_number: str
    visa_from: tuple[int, int, int] = (2026, 11, 10)
    visa_to: tuple[int, int, int] = (2027, 11, 9)
    entered: tuple[int, int, int] = (2026, 11, 20)
    street: str
    town: str
    postcode: str
    province: str
    hair: tuple[int, int, int]
    skin: tuple[int, int, int]
    jacket: tuple[int, int, int]

    @property
    def tax_code(self) -> str:
        """Sixteen characters by the rules of the decree; the place code is invented."""
        day = self.born[2] + (40 if self.sex == "F" else 0)
        head = (
            _three_letters(self.surname, given=False)
            + _three_letters(self.given_names, given=True)
            + f"{self.born[0] % 100:02d}{MONTHS[self.born[1] - 1]}{day:02d}"
            + INVENTED_PLACE
        )
        return head + _check_letter(head)


def _three_letters(name: str, *, given: bool) -> str:
    letters = [c for c in name.upper() if c.isalpha()]
    consonants = [c for c in letters if c not in "AEIOU"]
    vowels = [c for c in letters if c in "AEIOU"]
    if given and len(consonants) >= 4:
        consonants = [consonants[0], consonants[2], consonants[3]]
    return "".join([*consonants, *vowels, "X", "X"])[:3]


def _check_letter(head: str) -> str:
    total = 0
    for place, sign in enumerate(head, start=1):
        value = int(sign) if sign.isdigit() else ord(sign) - ord("A")
        total += ODD_VALUES[value] if place % 2 else value
    return chr(ord("A") + total % 26)


def check_digit(text: str) -> str:
    """Check digit of ICAO Doc 9303 part 3: weights 7, 3, 1, sum modulo 10."""
    total = 0
    for place, sign in enumerate(text):
        value = 0 if sign == "<" else int(sign, 36)
        total += value * (7, 3, 1)[place % 3]
    return str(total % 10)


def _six(date: tuple[int, int, int]) -> str:
    return f"{date[0] % 100:02d}{date[1]:02d}{date[2]:02d}"


def _names(person: Person, width: int) -> str:
    text = person.surname.replace(" ", "<") + "<<" + person.given_names.replace(" ", "<")
    return text[:width].ljust(width, "<")


def passport_mrz(person: Person) -> tuple[str, str]:
    """The two lines of a TD3 passport (ICAO Doc 9303 part 4), state UTO."""
    number = person.passport_number.ljust(9, "<")
    first = number + check_digit(number)
    born, expires = _six(person.born), _six(person.passport_expires)
    second = born + check_digit(born)
    third = expires + check_digit(expires)
    optional = "<" * 14
    third += optional + "0"
    total = check_digit(first + second + third)
    return "P<UTO" + _names(person, 39), first + "UTO" + second + person.sex + third + total


def visa_mrz(person: Person) -> tuple[str, str]:
    """The two lines of an MRV-A visa (ICAO Doc 9303 part 7) given by the state UTO."""
    number = person.visa_number.ljust(9, "<")
    born, end = _six(person.born), _six(person.visa_to)
    second = number + check_digit(number) + "UTO" + born + check_digit(born) + person.sex
    second += end + check_digit(end)
    return "V<UTO" + _names(person, 39), second.ljust(44, "<")


def card_mrz(person: Person, number: str, expires: tuple[int, int, int]) -> tuple[str, str, str]:
    """The three lines of a TD1 card (ICAO Doc 9303 part 5), state UTO."""
    number = number.ljust(9, "<")
    first = number + check_digit(number) + "<" * 15
    born, end = _six(person.born), _six(expires)
    born += check_digit(born)
    end += check_digit(end)
    rest = "<" * 11
    total = check_digit(first + born + end + rest)
    return "I<UTO" + first, born + person.sex + end + "UTO" + rest + total, _names(person, 30)


def day(date: tuple[int, int, int]) -> str:
    """A date as papers print it: 05.03.2026."""
    return f"{date[2]:02d}.{date[1]:02d}.{date[0]}"


def iso(date: tuple[int, int, int]) -> str:
    """A date as packet.toml holds it: 2026-03-05."""
    return f"{date[0]}-{date[1]:02d}-{date[2]:02d}"


DEMO = Person(
    surname="VELDARO", given_names="MIRELA ANA", sex="F", born=(1958, 7, 14),
    birthplace="LUMENPORT", passport_number="UX4071936", passport_issued=(2021, 5, 3),
    passport_expires=(2031, 5, 2), card_number="UC8205517", visa_number="UV0041820",
    permit_number="UP5550101", street="VIA DEGLI ESEMPI 12", town="VITERBO", postcode="01100",
    province="VT", hair=(112, 104, 100), skin=(231, 190, 160), jacket=(58, 84, 110),
)  # fmt: skip

CLIENT_A = Person(
    surname="TOLVERI", given_names="DORIAN", sex="M", born=(1955, 2, 9),
    birthplace="NEW ESSEMERE", passport_number="UX2290418", passport_issued=(2022, 9, 12),
    passport_expires=(2032, 9, 11), card_number="UC1140072", visa_number="UV0039114",
    permit_number="UP5550102", street="VIA DEL CAMPIONE 3", town="LUCCA", postcode="55100",
    province="LU", hair=(70, 52, 40), skin=(208, 160, 126), jacket=(84, 66, 60),
)  # fmt: skip

CLIENT_B = Person(
    surname="ARSKAVEL", given_names="PETRA LIV", sex="F", born=(1961, 11, 27),
    birthplace="LUMENPORT", passport_number="UX7718203", passport_issued=(2020, 3, 2),
    passport_expires=(2030, 3, 1), card_number="UC6603391", visa_number="UV0027735",
    visa_from=(2025, 10, 1), visa_to=(2026, 9, 30), entered=(2025, 10, 20),
    permit_number="UP5550103", street="VIA DELLA PROVA 41", town="ASCOLI PICENO",
    postcode="63100", province="AP", hair=(196, 160, 96), skin=(238, 204, 178),
    jacket=(112, 60, 84),
)  # fmt: skip

CLIENT_C = Person(
    surname="QUENNARD", given_names="JOSTE", sex="M", born=(1949, 8, 30),
    birthplace="SAINT VELLO", passport_number="UX5030677", passport_issued=(2019, 6, 18),
    passport_expires=(2029, 6, 17), card_number="UC3328846", visa_number="UV0040051",
    permit_number="UP5550104", street="VIA DEL MODELLO 7", town="TRENTO", postcode="38100",
    province="TN", hair=(186, 186, 190), skin=(226, 178, 148), jacket=(70, 78, 66),
)  # fmt: skip
