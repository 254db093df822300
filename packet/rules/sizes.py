"""Sizes of papers, cards and kinds of item, read from ``sizes.toml`` (ISO 216, ISO/IEC 7810)."""

from __future__ import annotations

from packet.model import Kind, SizeMm
from packet.rules.data import table


def paper_size_mm(name: str) -> SizeMm:
    """(width, height) of a paper held upright: ``a4`` or ``letter``."""
    width, height = table("sizes.toml")["paper"][name]["size_mm"]
    return (width, height)


def card_size_mm(name: str) -> SizeMm:
    """(width, height) of ``id-1``, ``id-2`` or ``id-3``, long side first."""
    width, height = table("sizes.toml")["card"][name]["size_mm"]
    return (width, height)


def kind_sizes_mm(kind: Kind) -> tuple[SizeMm, ...]:
    """The sizes a kind may have, upright, the likeliest first; empty for ``other``.

    A kind that may stand a quarter turn round has each size both ways.
    """
    entry = table("sizes.toml")["kind"][kind.value]
    sizes: list[SizeMm] = [(w, h) for w, h in entry["sizes_mm"]]
    if entry["turned"]:
        sizes += [(h, w) for w, h in sizes]
    return tuple(sizes)
