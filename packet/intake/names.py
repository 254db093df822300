"""File names: how they are shown, compared and sorted."""

from __future__ import annotations

import re
import unicodedata

NaturalKey = tuple[tuple[int, int, str], ...]
_DIGITS = re.compile("([0-9]+)")
_JOINERS = "\u200c\u200d"  # zero-width (non-)joiner: part of emoji and of some scripts
_ESCAPED_CATEGORIES = {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}
IGNORED = frozenset({"scan-me.txt", "thumbs.db", "desktop.ini"})


def shown(name: str) -> str:
    """The name as it may be printed on a terminal, in HTML or JSON: one line, no tricks.

    Control, format, surrogate and unassigned characters become escapes such as ``\\n``,
    ``\\x07``, ``\\u202e``; a byte that is not UTF-8 becomes ``\\xff``. All else stays.
    """
    return "".join(_escaped(sign) for sign in name)


def _escaped(sign: str) -> str:
    if sign in _JOINERS or unicodedata.category(sign) not in _ESCAPED_CATEGORIES:
        return sign
    if "\udc80" <= sign <= "\udcff":  # os.fsdecode's stand-in for an undecodable byte
        return f"\\x{ord(sign) - 0xDC00:02x}"
    return sign.encode("unicode_escape", "surrogatepass").decode("ascii")


def same(name: str) -> str:
    """The form in which names are compared: Unicode NFC (macOS stores another form)."""
    return unicodedata.normalize("NFC", name)


def is_ignored(name: str) -> bool:
    """True for dot files and for files that systems, or packet itself, put into folders."""
    return name.startswith(".") or name.casefold() in IGNORED


def natural_key(name: str) -> tuple[NaturalKey, NaturalKey, str]:
    """Sort key of natural order: IMG_2 before IMG_10, no difference of case, NFC.

    Numbers compare by value, and the name without its suffix comes first: "scan.jpg" before
    "scan 2.jpg". Equal names fall back to the raw name, so that the order is always the same.
    """
    stem, dot, suffix = same(name).rpartition(".")
    return (_parts(stem if dot else suffix), _parts(suffix if dot else ""), name)


def _parts(text: str) -> NaturalKey:
    parts: list[tuple[int, int, str]] = []
    for part in _DIGITS.split(text.casefold()):
        if part and part[0] in "0123456789":
            value = part.lstrip("0")
            parts.append((0, len(value), value))  # longer number = larger; no int() of long runs
        elif part:
            parts.append((1, 0, part))
    return tuple(parts)
