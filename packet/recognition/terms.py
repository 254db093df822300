"""Whose document a page is, by the words at its head and in its text."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from packet.recognition.vocabulary import (
    Words,
    document_words,
    found,
    other_words,
    plain_line,
)

_TITLE, _BODY = 3.0, 1.0
_LEAST = 2.0
_AHEAD = 2.0  # so much more than the next one: the other is not named
_BODY_MOST = 4.0
_NOT_HEAD = 0.5  # share of a title's weight that stays where the words stand in the running text


@dataclass(frozen=True, slots=True, kw_only=True)
class TextLine:
    """One recognised line of the upright item.

    ``score``: mean of the signs, 0 to 1. ``x``, ``y``, ``width``, ``height``: its box as shares
    of the item's width and height. ``head``: it is taller than the running text, or stands in
    the upper third by itself.
    """

    text: str = field(repr=False)
    score: float
    x: float
    y: float
    width: float
    height: float
    head: bool = False


def document_terms(lines: Sequence[TextLine]) -> tuple[str, ...]:
    """Folders of documents whose words stand on the page, the likeliest first.

    One alone where the words leave no doubt; none where they are too few, or where they are
    those of a paper that belongs to no document.
    """
    head = [plain_line(line.text) for line in lines if line.head]
    body = [plain_line(line.text) for line in lines]

    def weight(words: Words) -> float:
        titles = found(head, words.strong)
        rest = found(body, words.strong) - titles
        running = min(_BODY_MOST, _BODY * found(body, words.weak))
        return _TITLE * titles + _NOT_HEAD * _TITLE * max(0, rest) + running

    weights = {name: weight(words) for name, words in document_words().items()}
    other = max(weight(words) for words in other_words().values())
    ranked = sorted((-value, name) for name, value in weights.items() if value >= _LEAST)
    if not ranked or other >= -ranked[0][0]:
        return ()
    first = -ranked[0][0]
    return tuple(name for value, name in ranked[:2] if first < _AHEAD * -value or -value == first)
