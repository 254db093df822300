"""What is known about a drawn page."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np


@dataclass(frozen=True, slots=True, kw_only=True)
class Truth:
    """The truth about one page, as held upright.

    ``kind``: a value of ``packet.model.Kind``. ``content``: what is on it: ``data``, ``visa``,
    ``stamps``, ``blank``, ``notes``, ``cover``, ``card`` or ``paper``. ``mrz_type``: TD1, TD2,
    TD3, MRV-A, MRV-B or "". ``numbers``: page numbers of an opening, left and right, None for
    one that is not printed or lies under a sticker; ``numbers_turn``: clockwise turn of the
    upright page after which they stand upright. ``text``: the page has text that reads one way
    (stamps do not count). ``folder``: the document it belongs to, "" for none of a rule set's.
    ``first``: it is the first page of its document. ``barcode``: the tax code stands in
    bars; ``code_text``: in signs.
    """

    kind: str
    content: str
    folder: str
    text: bool
    mrz_type: str = ""
    mrz: tuple[str, ...] = field(default=(), repr=False)
    numbers: tuple[int | None, int | None] = (None, None)
    numbers_turn: int = 0
    tax_code: str = field(default="", repr=False)
    barcode: bool = False
    code_text: bool = False
    first: bool = True
    topic: str = ""
    person: object = field(default=None, repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """One item as the normaliser hands it on.

    ``pixels``: (height, width, 3) uint8 RGB, as scanned. ``turn_deg``: the clockwise turn that
    makes them upright. ``size_mm``: width and height when upright. ``mirrored``: seen in a mirror.
    """

    seed: int
    level: str
    pixels: np.ndarray = field(repr=False)
    dpi: float
    turn_deg: int
    size_mm: tuple[float, float]
    truth: Truth
    mirrored: bool = False

    @property
    def upright(self) -> np.ndarray:
        """The pixels after the true turn."""
        return np.ascontiguousarray(np.rot90(self.pixels, -self.turn_deg // 90))
