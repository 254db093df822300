"""What was read from the text of an item: plain records.

Read values belong to a person: they are kept out of ``repr`` and never stand in a message, a log
or the build record. The reader itself (``packet.recognition``) is an optional extra; a packet
without it has no readings.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from enum import StrEnum
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from packet.model import Kind, SizeMm, Turn

MrzFormat = Literal["TD1", "TD2", "TD3", "MRV-A", "MRV-B"]  # ICAO Doc 9303 parts 4 to 7


class ReadState(StrEnum):
    """How far a read value may be trusted.

    ``repaired``: one or two signs were corrected, the only way all check digits fit; ``unsure``:
    a value was seen but is not to be used; ``unread``: nothing was found.
    """

    READ = "read"
    REPAIRED = "repaired"
    UNSURE = "unsure"
    UNREAD = "unread"


@dataclass(frozen=True, slots=True, kw_only=True)
class MrzLines:
    """One machine-readable zone: its lines with fillers, of the lengths the format wants."""

    mrz_format: MrzFormat
    lines: tuple[str, ...] = field(repr=False)
    state: ReadState


@dataclass(frozen=True, slots=True, kw_only=True)
class CodeRead:
    """A tax code as read from the card's text or from its Code 39 bar code."""

    value: str = field(repr=False)
    source: Literal["text", "barcode"]
    state: ReadState


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """What the text of one item says.

    ``turn_deg``: clockwise turn that makes the picture that was read upright, None when unsure.
    ``kind``: what the item is, None when unsure; ``kind_confidence`` 0 to 1; ``kind_reason`` in
    plain words, never a read value. ``page_numbers``: of an opening, left then right, as printed.
    ``terms``: names of documents (folders of the rule sets) whose own words stand on the page,
    the likeliest first; never the text itself.
    """

    turn_deg: Turn | None = None
    kind: Kind | None = None
    kind_confidence: float = 0.0
    kind_reason: str = ""
    mrz: tuple[MrzLines, ...] = ()
    tax_codes: tuple[CodeRead, ...] = ()
    page_numbers: tuple[int, ...] = field(default=(), repr=False)
    page_numbers_state: ReadState = ReadState.UNREAD
    terms: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ReadRequest:
    """One rectified item to read: (H, W, 3) or (H, W) uint8 pixels at ``dpi``, true to scale.

    ``turned``: the turn is known (the user said so, or imaging is sure), and the picture is held
    upright; ``kind`` is imaging's own guess, ``kinds`` what it may be (empty: it is known).
    """

    pixels: NDArray[np.uint8]
    dpi: float
    size_mm: SizeMm
    kind: Kind
    kinds: tuple[Kind, ...] = ()
    turned: bool = False
    turn_given: bool = False
    blank: bool = False


ItemReader = Callable[[ReadRequest], Reading]
