"""What the scans of a packet say of a person: the readings of its items, as papers and codes.

Nothing here judges; values stay out of ``repr``.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Literal

from packet.checks.mrz import Mrz, read_mrz
from packet.model import Item, Severity
from packet.readings import ReadState

What = Literal["passport", "visa", "card"]
_WHAT: Mapping[str, What] = {
    "TD3": "passport",
    "MRV-A": "visa",
    "MRV-B": "visa",
    "TD1": "card",
    "TD2": "card",
}
_RANK_WHAT = ("passport", "visa", "card")
_RANK_STATE = (ReadState.READ, ReadState.REPAIRED, ReadState.UNSURE)
_DIGIT_FIELDS = {"number": "number", "birth": "date of birth", "expires": "date of expiry"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Paper:
    """The machine-readable lines of one item. ``subject``: the item, as findings name it."""

    subject: str
    what: What
    state: ReadState
    mrz: Mrz = field(repr=False)

    @property
    def sure(self) -> bool:
        """Read without a doubt: only then a contradiction is an error."""
        return self.state is ReadState.READ and not self.mrz.faults

    def says(self, name: str) -> str:
        """A field of the lines; "" where it was not read well enough to be compared at all.

        Of lines that are unsure only the fields with a check digit that fits are compared.
        """
        if name in _DIGIT_FIELDS and _DIGIT_FIELDS[name] in self.mrz.faults:
            return ""
        if self.state is ReadState.UNSURE and name not in _DIGIT_FIELDS:
            return ""
        value = str(getattr(self.mrz, name))
        return "" if name in ("birth", "expires") and not value.isdigit() else value


@dataclass(frozen=True, slots=True, kw_only=True)
class CardCode:
    """A tax code read from one item."""

    subject: str
    value: str = field(repr=False)
    source: Literal["text", "barcode"]
    state: ReadState

    @property
    def sure(self) -> bool:
        return self.state is ReadState.READ


def papers_of(items: Iterable[Item]) -> tuple[Paper, ...]:
    """Every set of machine-readable lines that was read, in the order of the items."""
    return tuple(paper for item in items if item.reading is not None for paper in _papers(item))


def _papers(item: Item) -> Iterator[Paper]:
    assert item.reading is not None
    for one in item.reading.mrz:
        mrz = read_mrz(one.lines) if one.state is not ReadState.UNREAD else None
        if mrz is not None:
            yield Paper(subject=item.subject, what=_WHAT[mrz.kind], state=one.state, mrz=mrz)


def codes_of(items: Iterable[Item]) -> tuple[CardCode, ...]:
    """Every tax code that was read or repaired, in the order of the items."""
    return tuple(
        CardCode(subject=item.subject, value=one.value, source=one.source, state=one.state)
        for item in items
        if item.reading is not None
        for one in item.reading.tax_codes
        if one.state in (ReadState.READ, ReadState.REPAIRED)
    )


def reference_of(papers: Iterable[Paper]) -> Paper | None:
    """The paper that the others are compared with: the passport wins, the surest reading first."""
    return min(
        papers,
        key=lambda one: (_RANK_WHAT.index(one.what), _RANK_STATE.index(one.state)),
        default=None,
    )


def severity_of(*sure: bool, worst: Severity = Severity.ERROR) -> Severity:
    """``worst`` where everything compared was read without a doubt, else a warning."""
    return worst if all(sure) else Severity.WARNING
