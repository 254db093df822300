"""What the application costs, read from ``fees.toml`` or a table of the user's own.

Every amount needs a source and the day on which it was last read; an amount without them is
refused, for nobody could check it.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import ROUND_HALF_UP, Decimal
from functools import cache
from pathlib import Path
from typing import Literal, cast

from packet.errors import PacketFileError
from packet.rules.data import FOLDER
from packet.rules.fields import Table, read_toml

CENT = Decimal("0.01")
STAMP, SERVICE, CARD = "stamp", "service", "card"


@dataclass(frozen=True, slots=True, kw_only=True)
class Parts:
    """What an amount is made of: a net price, value added tax on it, a commission."""

    net: Decimal
    vat_percent: Decimal
    commission: Decimal

    @property
    def gross(self) -> Decimal:
        """Net price with its tax, rounded to the cent."""
        return (self.net * (1 + self.vat_percent / 100)).quantize(CENT, ROUND_HALF_UP)

    @property
    def total(self) -> Decimal:
        """All parts together."""
        return self.gross + self.commission


@dataclass(frozen=True, slots=True, kw_only=True)
class Fee:
    """One amount in euro. ``pay``: beforehand or at the counter. ``valid_from``: where known."""

    name: str
    title_it: str
    title_en: str
    amount: Decimal
    pay: Literal["before", "counter"]
    source: str
    as_of: date
    published: date | None = None
    valid_from: date | None = None
    parts: Parts | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class FeeTable:
    """All amounts: those that everybody pays, and the contribution by length of the permit."""

    items: tuple[Fee, ...]
    bands: tuple[Fee, ...]
    as_of: date
    written: str
    free_under_age: int
    free_source: str

    def item(self, name: str) -> Fee:
        """The item of that name."""
        return next(fee for fee in self.items if fee.name == name)

    def slip(self, band: Fee | None) -> Decimal:
        """The payment slip: card and contribution (none for ``band`` None)."""
        return self.item(CARD).amount + (band.amount if band else Decimal("0.00"))

    def cash(self, band: Fee | None) -> Decimal:
        """What is paid at the counter when the stamp was bought before."""
        others = (f.amount for f in self.items if f.pay == "counter" and f.name != CARD)
        return self.slip(band) + sum(others, Decimal("0.00"))

    def all_in(self, band: Fee | None) -> Decimal:
        """Everything, the stamp too."""
        before = (f.amount for f in self.items if f.pay == "before")
        return self.cash(band) + sum(before, Decimal("0.00"))

    @property
    def oldest(self) -> date:
        """The day on which the amount that was read longest ago was read."""
        return min(fee.as_of for fee in (*self.items, *self.bands))


@cache
def fee_table() -> FeeTable:
    """The amounts that come with the package."""
    path = FOLDER / "fees.toml"
    return read_fees(path, path.name)


def read_fees(path: Path, shown_as: str) -> FeeTable:
    """The amounts in a file; PacketFileError with every fault of it."""
    problems: list[str] = []
    top = Table(read_toml(path, shown_as), problems=problems)
    as_of = top.day("as_of", required=True) or date.min
    contribution = top.table("contribution")
    table = FeeTable(
        items=tuple(_fee(one, as_of, is_band=False) for one in top.tables("item")),
        bands=tuple(_fee(one, as_of, is_band=True) for one in top.tables("band")),
        as_of=as_of,
        written=top.text("written"),
        free_under_age=contribution.integer("free_under_age", 18, low=0, high=99) or 0,
        free_source=contribution.text("source", required=True),
    )
    contribution.close()
    top.close()
    names = [fee.name for fee in table.items]
    for name in (STAMP, SERVICE, CARD):
        if names.count(name) != 1:
            problems.append(f'item: expected exactly one [[item]] with name = "{name}".')
    if not table.bands:
        problems.append("band: found nothing, expected at least one [[band]] table.")
    if problems:
        raise PacketFileError(shown_as, problems)
    return table


def _fee(table: Table, as_of: date, *, is_band: bool) -> Fee:
    amount = _amount(table, "amount")
    pay = "counter" if is_band else table.choice("pay", ("before", "counter"), "counter")
    parts = _parts(table.table("parts")) if "parts" in table else None
    if parts is not None and parts.total != amount:
        table.problem("amount", str(amount), f"the sum of its parts, {parts.total}")
    fee = Fee(
        name=table.text("name", required=True),
        title_it=table.text("title_it", required=True),
        title_en=table.text("title_en", required=True),
        amount=amount,
        pay=cast(Literal["before", "counter"], pay),
        source=_source(table),
        as_of=table.day("as_of") or as_of,
        published=table.day("published"),
        valid_from=table.day("valid_from"),
        parts=parts,
    )
    table.close()
    return fee


def _source(table: Table) -> str:
    source = table.text("source", limit=300)
    if not source:
        table.problems.append(
            f"{table.path('source')}: found nothing, expected the decree or office that sets the "
            "amount: an amount without a source is not used. Write where you read it."
        )
    return source


def _parts(table: Table) -> Parts:
    parts = Parts(
        net=_amount(table, "net"),
        vat_percent=_amount(table, "vat_percent", decimals=False),
        commission=_amount(table, "commission"),
    )
    table.close()
    return parts


def _amount(table: Table, key: str, *, decimals: bool = True) -> Decimal:
    text = table.text(key, required=True)
    whole, point, cents = text.partition(".")
    shaped = whole.isascii() and whole.isdigit() and len(whole) <= 6
    shaped = shaped and (len(cents) == 2 and cents.isdigit() if decimals else not point)
    if not shaped:
        if text:
            table.problem(key, text, 'an amount in quotes, such as "30.46"')
        return Decimal("0.00")
    return Decimal(text)
