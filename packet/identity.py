"""The identity part of a new packet, read from scans of the passport (``packet new --read``)."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

from packet.errors import PacketError, UsageError
from packet.intake.names import shown
from packet.model import Item, Kind

_PAGES = (Kind.PASSPORT_SPREAD, Kind.PASSPORT_PAGE)
_BY_HAND = "Make the packet without --read, and write the values yourself."


def read_identity(paths: Sequence[str], *, password: str | None, today: date) -> dict[str, Any]:
    """Key path -> value as the passport on these scans says it.

    UsageError where the reading extra is missing, PacketError where a scan cannot be read, shows
    no passport that was read without a doubt, or shows two. No sentence holds a value.
    """
    from packet.checks.first_values import first_values, passports_of, same_passport
    from packet.checks.papers import papers_of
    from packet.inspection import read_scans
    from packet.recognition.extra import why_not

    if (sentence := why_not()) is not None:
        raise UsageError(f"--read cannot be done. {sentence}")
    items: list[Item] = []
    for path, found, error in read_scans(paths, kinds=_PAGES, password=password):
        if error:
            raise PacketError(f"{shown(path)}: {error} Nothing was made.")
        items += found
    passports = passports_of(papers_of(items))
    if not passports:
        raise PacketError(
            "Nothing was made: no machine-readable lines of a passport were read without a doubt. "
            f"Scan its data page flat, at 300 dpi or more. {_BY_HAND}"
        )
    if not same_passport(passports):
        raise PacketError(f"Nothing was made: the scans show more than one passport. {_BY_HAND}")
    return first_values(passports[0], today)
