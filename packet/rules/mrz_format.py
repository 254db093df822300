"""The shapes of machine-readable zones and their check digits (ICAO Doc 9303 parts 3 to 7)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from itertools import cycle
from typing import TYPE_CHECKING, Any

from packet.rules.data import table

if TYPE_CHECKING:
    from packet.readings import MrzFormat

SIGNS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ<"
"""The 37 signs; the place of one but the filler is its value in a check digit."""
_LETTERS = SIGNS[10:36]
_DIGITS = SIGNS[:10]
_MAY_STAND = {
    "p": "P",
    "v": "V",
    "i": "IAC",
    "l": _LETTERS + "<",
    "n": _LETTERS + "<",
    "s": "MF<",
    "c": _DIGITS,
    "e": _DIGITS + "<",
    "d": _DIGITS,
    "b": _DIGITS + "<",
    "w": SIGNS,
    "o": SIGNS,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Digit:
    """A check digit: ``of`` what, the ``parts`` (line, from, to) it is worked out from, and the
    place (line, place) ``at`` which it stands; all counted from 0."""

    of: str
    parts: tuple[tuple[int, int, int], ...]
    at: tuple[int, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Format:
    """One format: a letter for each place of each line (see mrz.toml), and its check digits."""

    name: MrzFormat
    lines: tuple[str, ...]
    digits: tuple[Digit, ...]

    @property
    def width(self) -> int:
        """Signs in a line."""
        return len(self.lines[0])

    def may_stand(self, line: int, place: int) -> str:
        """The signs that may stand at a place."""
        return _MAY_STAND[self.lines[line][place]]

    def places(self, letter: str, line: int) -> range:
        """The run of places of a line that have this letter; empty where there are none."""
        pattern = self.lines[line]
        return (
            range(pattern.find(letter), pattern.rfind(letter) + 1)
            if letter in pattern
            else range(0)
        )

    def faults(self, lines: Sequence[str]) -> tuple[str, ...]:
        """Of what the check digit does not fit. ``lines``: of the format's shape and signs."""
        return tuple(digit.of for digit in self.digits if not self._fits(digit, lines))

    def _fits(self, digit: Digit, lines: Sequence[str]) -> bool:
        text = "".join(lines[line][start:end] for line, start, end in digit.parts)
        sign = lines[digit.at[0]][digit.at[1]]
        if digit.of == "number" and sign == "<":
            text, sign = self._long_number(text, lines)
        if sign == "<":
            return set(text) == {"<"}
        return sign.isdigit() and check_digit(text) == int(sign)

    def _long_number(self, text: str, lines: Sequence[str]) -> tuple[str, str]:
        """Cards: a number of more than nine signs has a filler for its digit and goes on in the
        optional data, its digit last (parts 5 and 6)."""
        further = {"TD1": lines[0][15:], "TD2": lines[-1][28:35]}.get(self.name, "")
        rest = further.partition("<")[0]
        if "<" in text or len(rest) < 2:
            return text, "<"
        return text + rest[:-1], rest[-1]


def check_digit(text: str) -> int:
    """Weights 7, 3, 1 from the left; 0 to 9 as they are, A to Z 10 to 35, the filler 0; mod 10.

    ``text`` holds these signs only; ValueError for another.
    """
    values = (0 if sign == "<" else int(sign, 36) for sign in text)
    return sum(value * weight for value, weight in zip(values, cycle((7, 3, 1)), strict=False)) % 10


@cache
def mrz_formats() -> tuple[Format, ...]:
    """Every format of mrz.toml."""
    known = table("mrz.toml").items()
    return tuple(_format(name, entry) for name, entry in known if isinstance(entry, dict))


def _format(name: Any, entry: dict[str, Any]) -> Format:
    return Format(
        name=name,
        lines=tuple(entry["lines"]),
        digits=tuple(
            Digit(
                of=digit["of"],
                parts=tuple((line, start, end) for line, start, end in digit["parts"]),
                at=(digit["at"][0], digit["at"][1]),
            )
            for digit in entry["digits"]
        ),
    )
