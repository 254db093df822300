"""Words that tell kinds of item and documents, matched in recognised lines (``words.toml``).

Lines and phrases are compared without accents, case and spaces, for a reader of text often misses
a space; a long phrase may differ by one sign.
"""

from __future__ import annotations

import re
import tomllib
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cache
from importlib.resources import files

_SHORT = 6  # letters; up to here only a whole word counts
_FUZZY = 10  # letters; from here one sign may differ
_PIECE = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Words:
    """What a name (a kind, or a document's folder) is known by, each phrase in its plain form."""

    strong: tuple[str, ...]
    weak: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlainLine:
    """One line: its letters and digits in one string, its words, its pieces of three signs."""

    text: str = field(repr=False)
    words: frozenset[str] = field(repr=False)
    pieces: frozenset[str] = field(repr=False)


@cache
def kind_words() -> Mapping[str, Words]:
    """Kind -> its words."""
    return _tables("kind", "strong", "weak")


@cache
def document_words() -> Mapping[str, Words]:
    """Folder of a document -> titles (strong) and body words (weak)."""
    return _tables("document", "title", "body")


@cache
def other_words() -> Mapping[str, Words]:
    """The same of papers that belong to no document."""
    return _tables("other", "title", "body")


def _tables(kind: str, strong: str, weak: str) -> Mapping[str, Words]:
    table = tomllib.loads((files("packet.recognition") / "words.toml").read_text("utf-8"))[kind]
    return {
        name: Words(
            strong=tuple(plain(phrase) for phrase in entry[strong]),
            weak=tuple(plain(phrase) for phrase in entry[weak]),
        )
        for name, entry in table.items()
    }


def plain(text: str) -> str:
    """Capital letters A to Z and digits alone: accents, spaces and signs taken off."""
    bare = unicodedata.normalize("NFKD", text).upper()
    return "".join(sign for sign in bare if sign.isascii() and sign.isalnum())


def plain_line(text: str) -> PlainLine:
    """A recognised line in the form that ``holds`` wants."""
    whole = plain(text)
    words = frozenset(plain(word) for word in re.split(r"[^\w']+", text))
    pieces = frozenset(whole[at : at + _PIECE] for at in range(len(whole) - _PIECE + 1))
    return PlainLine(text=whole, words=words, pieces=pieces)


def holds(line: PlainLine, phrase: str) -> bool:
    """Whether a plain phrase stands in the line."""
    if len(phrase) <= _SHORT:
        return phrase in line.words
    if phrase in line.text:
        return True
    return len(phrase) >= _FUZZY and _nearly(line, phrase)


def _nearly(line: PlainLine, phrase: str) -> bool:
    """One sign changed, left out or added: at most three pieces in a row are other ones."""
    wanted = [phrase[at : at + _PIECE] for at in range(len(phrase) - _PIECE + 1)]
    if sum(piece not in line.pieces for piece in wanted) > _PIECE:
        return False
    return any(_one_apart(line.text[at:], phrase) for at in range(len(line.text)))


def _one_apart(text: str, phrase: str) -> bool:
    """Whether the text begins with the phrase but for one sign."""
    same = 0
    while same < min(len(text), len(phrase)) and text[same] == phrase[same]:
        same += 1
    rest = phrase[same + 1 :]
    if same == 0:
        return False
    return (
        text.startswith(rest, same + 1)
        or text.startswith(rest, same)
        or text.startswith(phrase[same:], same + 1)
    )


def found(lines: Iterable[PlainLine], phrases: Iterable[str]) -> int:
    """How many of the phrases stand in any of the lines; a phrase within another counts once."""
    lines = tuple(lines)
    hits = [phrase for phrase in phrases if any(holds(line, phrase) for line in lines)]
    return sum(not any(one != other and one in other for other in hits) for one in hits)
