"""Typed getters over a TOML table that collect every fault instead of stopping at the first.

Each fault becomes one sentence with its key path, what was found and what was expected. A
getter never raises: it notes the fault and gives the default, so that the rest is still read.
The keys a getter was asked for are the known keys; ``close`` reports all others with the
nearest known one. Values under ``personal`` keys are described, never quoted.
"""

from __future__ import annotations

import difflib
import re
import tomllib
import unicodedata
from collections.abc import Iterable, Sequence
from datetime import date, datetime, time
from enum import StrEnum
from pathlib import Path
from typing import Any, TypeVar

from packet.errors import PacketFileError

MAX_FILE_BYTES = 1_000_000
MAX_FOLDER_BYTES = 100  # leaves room for ".partial" and the like beside it
FORBIDDEN_IN_FOLDERS = '/\\:*?"<>|#'  # separators here or on other systems, and our own "#"
RESERVED_FOLDERS = frozenset({"out"})

E = TypeVar("E", bound=StrEnum)


def read_toml(path: Path, shown_as: str) -> dict[str, Any]:
    """The tables of a TOML file of at most 1 MB, a leading byte-order mark allowed.

    PacketFileError with one sentence (line and column where known) when it cannot be read.
    """
    try:
        if not path.is_file():  # a fifo or device must not be opened: it would wait for ever
            raise PacketFileError(shown_as, ["is not a file. Put the text file of that name here."])
        with path.open("rb") as stream:
            data = stream.read(MAX_FILE_BYTES + 1)
    except OSError as error:
        reason = (error.strerror or "unknown reason").lower()
        raise PacketFileError(shown_as, [f"cannot be opened ({reason})."]) from None
    if len(data) > MAX_FILE_BYTES:
        raise PacketFileError(shown_as, ["is larger than 1 MB: it should hold a few lines only."])
    try:
        return _loads(data.decode("utf-8-sig"), shown_as)
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise PacketFileError(
            shown_as, [f"line {line} is not UTF-8 text: save the file again as UTF-8."]
        ) from None
    except RecursionError:
        raise PacketFileError(shown_as, ["holds lists or tables nested too deeply."]) from None
    except ValueError as error:
        raise PacketFileError(shown_as, [_syntax_problem(str(error))]) from None


def _loads(text: str, shown_as: str) -> dict[str, Any]:
    """The tables of a text; every impossible date is named with its key, all at once."""
    problems: list[str] = []
    lines = text.split("\n")
    while True:
        try:
            tables = tomllib.loads("\n".join(lines))
            break
        except tomllib.TOMLDecodeError as error:
            place = _LINE.search(str(error))
            number = int(place[1]) if place else 1
            date_like = _DATE_LIKE.match(lines[number - 1])
            if date_like is None:
                if not problems:
                    raise
                problems.append(_syntax_problem(str(error)))
                raise PacketFileError(shown_as, problems) from None
            problems.append(
                f"{date_like[1]}: line {number} holds a date that is none, expected a day of the "
                "calendar, with two digits for month and day, such as 2027-03-31."
            )
            lines[number - 1] = f'{date_like[1]} = ""'
    if problems:
        raise PacketFileError(shown_as, problems)
    return tables


_LINE = re.compile(r"\(at line (\d+),")
_DATE_LIKE = re.compile(r"\s*([A-Za-z0-9_-]+)\s*=\s*\d{4}-\d{1,2}-\d{1,2}\s*(?:#.*)?$")


def _syntax_problem(message: str) -> str:
    """tomllib's message turned into: where, what, what to do."""
    what, _, where = message.partition(" (at ")
    place = where.rstrip(")") or "one line"
    if place == "end of document":
        place = "the end of the file"
    hint = "dates are written 2027-03-31, texts in double quotes, true and false in small letters"
    return f"{place} cannot be read as TOML: {what[:1].lower()}{what[1:]} ({hint})."


def quoted(text: str) -> str:
    """The text in double quotes, cut at 60 characters, unprintable characters escaped."""
    cut = text if len(text) <= 60 else text[:57] + "..."
    return '"' + "".join(sign if sign.isprintable() else repr(sign)[1:-1] for sign in cut) + '"'


def nearest(word: str, known: Iterable[str]) -> str | None:
    """The known word most like ``word``, None when nothing is like it."""
    words = list(known)
    folded = {item.casefold(): item for item in words}
    found = difflib.get_close_matches(word.casefold(), folded, n=1, cutoff=0.6)
    return folded[found[0]] if found else None


def perhaps(word: str, known: Iterable[str]) -> str:
    """The known words most like ``word``, all of those that are about equally near; or ""."""
    close = difflib.get_close_matches(word.casefold(), sorted(known), n=5, cutoff=0.6)
    near = [(difflib.SequenceMatcher(None, one, word.casefold()).ratio(), one) for one in close]
    return " or ".join(one for ratio, one in near if ratio >= near[0][0] - _EQUALLY_NEAR)


_EQUALLY_NEAR = 0.1  # of a likeness from 0 to 1: a longer ending makes no other word


def unprintable(text: str) -> bool:
    """True when a text holds control, format or surrogate characters or line separators."""
    return any(unicodedata.category(sign) in {"Cc", "Cf", "Cs", "Zl", "Zp"} for sign in text)


def folder_fault(name: str) -> str | None:
    """Why ``name`` cannot be a document's folder (what was expected instead), else None."""
    if not name or name != name.strip(" ") or name[0] in ".-" or name[-1] == ".":
        return "a plain folder name that neither begins with a dot, dash or space nor ends in one"
    if unprintable(name) or any(sign in FORBIDDEN_IN_FOLDERS for sign in name):
        return f"a single folder name without control characters and without {FORBIDDEN_IN_FOLDERS}"
    if len(name.encode("utf-8", "surrogatepass")) > MAX_FOLDER_BYTES:
        return f"a folder name of at most {MAX_FOLDER_BYTES} bytes"
    if fold(name) in RESERVED_FOLDERS:
        return 'another name: "out" holds what build writes'
    return None


def fold(name: str) -> str:
    """A name as it is compared on every system: NFC, without case."""
    return unicodedata.normalize("NFC", name).casefold()


class Table:
    """One TOML table being read. ``problems`` is shared by all tables of a file."""

    def __init__(self, values: dict[str, Any], *, problems: list[str], path: str = "") -> None:
        self._values = values
        self._path = path
        self._known: list[str] = []
        self.problems = problems

    def __contains__(self, key: str) -> bool:
        """True when the key is there and not an empty text."""
        return bool(self._values.get(key, "") != "")

    def path(self, key: str) -> str:
        """The full path of a key, as problems name it."""
        return f"{self._path}.{key}" if self._path else key

    def keys(self) -> tuple[str, ...]:
        """The keys of the table as written."""
        return tuple(self._values)

    def problem(self, key: str, value: object, expected: str, *, personal: bool = False) -> None:
        """Note that ``key`` holds ``value`` where ``expected`` is due."""
        found = _found(value, personal=personal)
        self.problems.append(f"{self.path(key)}: found {found}, expected {expected}.")

    def _take(self, key: str) -> Any:
        self._known.append(key)
        return self._values.get(key)

    # --- getters ---------------------------------------------------------------------------

    def text(
        self, key: str, *, personal: bool = False, required: bool = False, limit: int = 200
    ) -> str:
        """A one-line text, stripped of outer spaces; empty when absent."""
        value = self._take(key)
        expected = f"a text in double quotes, of at most {limit} characters"
        if value is None or (required and value == ""):
            if required:
                self.problems.append(f"{self.path(key)}: found nothing, expected {expected}.")
            return ""
        if not isinstance(value, str) or len(value) > limit:
            self.problem(key, value, expected, personal=personal)
            return ""
        if unprintable(value):
            self.problem(key, value, "a text without control characters", personal=personal)
            return ""
        return unicodedata.normalize("NFC", value.strip())

    def choice(
        self, key: str, choices: Sequence[str], default: str, *, personal: bool = False
    ) -> str:
        """One of the words ``choices``; an empty text counts as not given."""
        value = self._take(key)
        if value is None or value == "":
            return default
        if isinstance(value, str) and value in choices:
            return value
        near = nearest(value, choices) if isinstance(value, str) else None
        hint = f" (perhaps {quoted(near)})" if near else ""
        self.problem(key, value, f"one of {listed(choices)}{hint}", personal=personal)
        return default

    def member(self, key: str, kind: type[E], default: E) -> E:
        """A member of an enumeration of words."""
        return kind(self.choice(key, [one.value for one in kind], default.value))

    def number_of(self, key: str, choices: Sequence[int], default: int) -> int:
        """One of a few whole numbers."""
        value = self._take(key)
        if value is None or value == "":
            return default
        if isinstance(value, int) and not isinstance(value, bool) and value in choices:
            return value
        self.problem(key, value, f"one of {', '.join(map(str, choices))}")
        return default

    def integer(
        self, key: str, default: int | None, *, low: int, high: int, personal: bool = False
    ) -> int | None:
        """A whole number from ``low`` to ``high``; true and false are refused."""
        value = self._take(key)
        if value is None or value == "":
            return default
        if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
            expected = f"a whole number from {low} to {high}"
            self.problem(key, value, expected, personal=personal)
            return default
        return value

    def flag(self, key: str, default: bool) -> bool:
        """true or false."""
        value = self._take(key)
        if value is None or value == "":
            return default
        if not isinstance(value, bool):
            self.problem(key, value, "true or false")
            return default
        return value

    def day(self, key: str, *, personal: bool = False, required: bool = False) -> date | None:
        """A TOML local date; an empty text counts as not given."""
        value = self._take(key)
        expected = "a date without quotes, such as 2027-03-31"
        if value is None or value == "":
            if required:
                self.problems.append(f"{self.path(key)}: found nothing, expected {expected}.")
            return None
        if isinstance(value, datetime) or not isinstance(value, date):
            self.problem(key, value, expected, personal=personal)
            return None
        return value

    def days(self, key: str, *, personal: bool = False) -> tuple[date, ...]:
        """A list of TOML local dates."""
        value = self._take(key)
        if value is None or value == "":
            return ()
        expected = "a list of dates without quotes, such as [2027-03-31]"
        if not isinstance(value, list):
            self.problem(key, value, expected, personal=personal)
            return ()
        for at, one in enumerate(value):
            if isinstance(one, datetime) or not isinstance(one, date):
                self.problem(f"{key}[{at}]", one, expected, personal=personal)
        return tuple(one for one in value if type(one) is date)

    def words(self, key: str) -> tuple[str, ...]:
        """A list of texts."""
        value = self._take(key)
        if value is None or value == "":
            return ()
        if not isinstance(value, list):
            self.problem(key, value, "a list of texts in square brackets")
            return ()
        for at, word in enumerate(value):
            if not isinstance(word, str) or not word:
                self.problem(f"{key}[{at}]", word, "a text in double quotes")
        return tuple(word for word in value if isinstance(word, str) and word)

    def name(self, key: str, expected: str) -> str:
        """A file's name, taken as written: outer spaces and odd characters stay."""
        value = self._take(key)
        if not isinstance(value, str) or not value:
            if value is None or value == "":
                self.problems.append(f"{self.path(key)}: found nothing, expected {expected}.")
            else:
                self.problem(key, value, expected)
            return ""
        return value

    def numbers_of(
        self, key: str, choices: Sequence[int], default: tuple[int, ...]
    ) -> tuple[int, ...]:
        """A list, not empty, of different whole numbers out of ``choices``, sorted."""
        value = self._take(key)
        if value is None or value == "":
            return default
        expected = f"a list of different numbers out of {', '.join(map(str, choices))}"
        if not isinstance(value, list) or not value:
            self.problem(key, value, expected)
            return default
        for at, one in enumerate(value):
            if isinstance(one, bool) or not isinstance(one, int) or one not in choices:
                self.problem(f"{key}[{at}]", one, expected)
                return default
        if len(set(value)) != len(value):
            self.problem(key, value, expected)
        return tuple(sorted(set(value)))

    def numbers(self, key: str, count: int, *, low: float, high: float) -> tuple[float, ...] | None:
        """A list of exactly ``count`` finite numbers from ``low`` to ``high``."""
        value = self._take(key)
        if value is None or value == "":
            return None
        found = _numbers(value, count, low, high)
        if found is None:
            self.problem(key, value, f"{count} numbers from {low:g} to {high:g}")
        return found

    def points(self, key: str, count: int, *, limit: float) -> tuple[tuple[float, ...], ...] | None:
        """A list of ``count`` points [x, y], each within ±``limit``."""
        value = self._take(key)
        if value is None or value == "":
            return None
        if isinstance(value, list) and len(value) == count:
            points = [_numbers(point, 2, -limit, limit) for point in value]
            if all(point is not None for point in points):
                return tuple(point for point in points if point is not None)
        self.problem(key, value, f"{count} points [x, y] in pixels of the picture")
        return None

    def table(self, key: str) -> Table:
        """A table inside this one; empty when absent."""
        value = self._take(key)
        if value is not None and not isinstance(value, dict):
            self.problem(key, value, f"a table headed [{self.path(key)}]")
            value = None
        return Table(value or {}, problems=self.problems, path=self.path(key))

    def tables(self, key: str) -> tuple[Table, ...]:
        """An array of tables; those of another type are noted and left out."""
        value = self._take(key)
        if value is None:
            return ()
        if not isinstance(value, list) or not all(isinstance(one, dict) for one in value):
            self.problem(key, value, f"tables headed [[{self.path(key)}]], in double brackets")
            return ()
        return tuple(
            Table(one, problems=self.problems, path=f"{self.path(key)}[{at}]")
            for at, one in enumerate(value)
        )

    def close(self) -> None:
        """Report every key that no getter asked for."""
        for key in self._values:
            if key in self._known:
                continue
            near = nearest(key, self._known)
            known = f"perhaps {near}" if near else f"known here: {', '.join(self._known)}"
            self.problems.append(f"{self.path(quoted_key(key))}: found an unknown key ({known}).")


def quoted_key(key: str) -> str:
    """A key as TOML writes it: bare where it may be, else quoted and escaped."""
    bare = key.isascii() and key.replace("-", "").replace("_", "").isalnum()
    return key if bare else quoted(key)


def listed(words: Iterable[str]) -> str:
    """The words, quoted, with commas."""
    return ", ".join(f'"{word}"' for word in words)


def _numbers(value: Any, count: int, low: float, high: float) -> tuple[float, ...] | None:
    if not isinstance(value, list) or len(value) != count:
        return None
    for one in value:
        if isinstance(one, bool) or not isinstance(one, (int, float)):
            return None
        if not low <= one <= high:  # also refuses nan and infinities
            return None
    return tuple(float(one) for one in value)


def _found(value: object, *, personal: bool) -> str:
    """What was found, in words; a personal value only by its type and length."""
    if isinstance(value, str):
        signs = "1 character" if len(value) == 1 else f"{len(value)} characters"
        return f"a text of {signs}" if personal else quoted(value)
    if isinstance(value, list):
        return f"a list of {len(value)}"
    if not personal and isinstance(value, bool):
        return str(value).lower()
    if not personal and isinstance(value, int | float) and abs(value) <= 10**12:
        return f"{value:.12g}"
    return next((words for kind, words in _TYPE_WORDS if isinstance(value, kind)), "another type")


_TYPE_WORDS = (
    (bool, "true or false"),
    (int, "a whole number"),
    (float, "a number with a decimal point"),
    (dict, "a table"),
    (datetime, "a date with a time"),
    (date, "a date"),
    (time, "a time of day"),
)
