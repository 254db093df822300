"""Letters outside A to Z as the machine-readable lines write them.

The table is rule data (``rules/letters.toml``: ICAO Doc 9303 part 3). Where it allows several
forms, the first is written and every one is accepted when names are compared.
"""

from __future__ import annotations

import string
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice, product

from packet.rules.codes import letter_tables

MAX_FORMS = 64  # of one name; more letters with two forms than this needs are not met
_PLAIN_SIGNS = {"’": "'", "‘": "'", "ʼ": "'", "–": "-", "‐": "-", "\u00a0": " "}


@dataclass(frozen=True, slots=True, kw_only=True)
class Written:
    """A text in block letters.

    ``changed``: pairs (letter, what is written for it), each once; ``source``: of the table
    they come from, "" where one of them is from memory. ``unknown``: letters without a form.
    """

    text: str
    changed: tuple[tuple[str, str], ...] = ()
    source: str = ""
    unknown: tuple[str, ...] = ()


def block_letters(text: str) -> Written:
    """``text`` in capital letters A to Z; signs and digits of ASCII stay as they are."""
    written = ""
    changed: dict[str, str] = {}
    sources: list[str] = []
    unknown: dict[str, None] = {}
    for sign in unicodedata.normalize("NFC", text):
        if sign.isascii() or sign in _PLAIN_SIGNS:
            written += _PLAIN_SIGNS.get(sign, sign).upper()
            continue
        found = _forms(sign)
        if found is None:
            unknown[sign] = None
            continue
        forms, source = found
        written += forms[0]
        changed[sign.upper() if len(sign.upper()) == 1 else sign] = forms[0]
        sources.append(source)
    source = sources[0] if sources and all(sources) else ""
    return Written(
        text=written, changed=tuple(changed.items()), source=source, unknown=tuple(unknown)
    )


def forms_of(text: str) -> tuple[str, ...]:
    """Every form that a name may take in letters A to Z alone, marks and spaces dropped.

    Beside the forms of the table the bare letter counts, as tax codes write it (Ü as U).
    At most ``MAX_FORMS``.
    """
    choices = [tuple(_choices(sign)) for sign in unicodedata.normalize("NFC", text)]
    found = ("".join(parts) for parts in islice(product(*choices), MAX_FORMS))
    return tuple(dict.fromkeys(found))


def _choices(sign: str) -> Iterator[str]:
    upper = sign.upper()
    if sign.isascii():
        yield upper if upper in string.ascii_uppercase else ""
        return
    found = _forms(sign)
    bare = unicodedata.normalize("NFKD", upper).upper()
    bare = "".join(one for one in bare if one in string.ascii_uppercase)
    seen = dict.fromkeys((*(found[0] if found else ()), bare))
    yield from ([form for form in seen if form] or [""])


def _forms(sign: str) -> tuple[tuple[str, ...], str] | None:
    """The forms of a letter and the source of its table; None for an unknown letter."""
    for key in (sign, sign.upper()):
        for table in letter_tables():
            if key in table.letters:
                return table.letters[key], table.source
    return None
