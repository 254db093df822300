"""What to carry and pay at the post office counter and at the appointment, before it is drawn.

Amounts come from the fee table, each with its source. The length of the permit is the office's to
set: where it is not known, the sums for each length that may apply are printed side by side.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import ROUND_CEILING, Decimal
from typing import Any

from packet.checks.progress import plural
from packet.guides.calendar import KeyDay, key_days, long_day
from packet.model import DocumentSpec, Kind, Packet
from packet.rules.boxes import form_boxes
from packet.rules.fees import STAMP, Fee, FeeTable
from packet.rules.notes import count_box
from packet.rules.terms import appointment_term

Row = tuple[str, str]  # what, and a small line beneath
ROUND_UP_TO = Decimal(10)  # euro: the cash to carry is rounded up to a whole note


@dataclass(frozen=True, slots=True, kw_only=True)
class Sum:
    """One column of amounts. ``band`` None: no contribution is due."""

    title_it: str
    title_en: str
    band: Fee | None
    slip: Decimal
    cash: Decimal
    all_in: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class Counter:
    """Everything that the two sheets say.

    ``warnings``: (loud line, words), for a missed term and for amounts read long ago.
    """

    packet: Packet
    fees: FeeTable
    sums: tuple[Sum, ...]
    by_when: str = field(repr=False)
    warnings: tuple[Row, ...]
    in_envelope: tuple[Row, ...]
    stays: tuple[Row, ...]
    carry: tuple[Row, ...]
    ask: tuple[Row, ...]
    back: tuple[Row, ...]
    appointment_carry: tuple[Row, ...]
    appointment_after: tuple[Row, ...]
    money_notes: tuple[str, ...]

    @property
    def cash_to_carry(self) -> Decimal:
        """The highest sum at the counter, rounded up to a whole note."""
        highest = max(one.cash for one in self.sums)
        return (highest / ROUND_UP_TO).to_integral_value(ROUND_CEILING) * ROUND_UP_TO


def counter(
    packet: Packet, fees: FeeTable, today: date, count: Mapping[str, Any] | None = None
) -> Counter:
    """The two sheets for one day. ``count``: the JSON of a count whose files are current."""
    days = key_days(packet, today)
    sums = tuple(_sums(packet, fees, today))
    return Counter(
        packet=packet,
        fees=fees,
        sums=sums,
        by_when=_by_when(days),
        warnings=tuple(_warnings(days, fees, today)),
        in_envelope=tuple(_in_envelope(packet, fees, count)),
        stays=tuple(_stays(packet)),
        carry=tuple(_carry(packet)),
        ask=tuple(_ask(packet, sums)),
        back=tuple(_back()),
        appointment_carry=tuple(_appointment_carry(packet)),
        appointment_after=tuple(_appointment_after()),
        money_notes=tuple(_money_notes(packet, fees, sums)),
    )


# --- money ------------------------------------------------------------------------------------


def _sums(packet: Packet, fees: FeeTable, today: date) -> Iterator[Sum]:
    if _is_minor(packet, fees, today):
        words = f"under {fees.free_under_age}: no contribution"
        yield _sum(fees, None, "minorenne", words)
        return
    wanted = packet.rule_set.fee_bands
    bands = [band for band in fees.bands if not wanted or band.name in wanted] or fees.bands
    for band in bands:
        yield _sum(fees, band, band.title_it, band.title_en)


def _sum(fees: FeeTable, band: Fee | None, italian: str, english: str) -> Sum:
    return Sum(
        title_it=italian,
        title_en=english,
        band=band,
        slip=fees.slip(band),
        cash=fees.cash(band),
        all_in=fees.all_in(band),
    )


def _is_minor(packet: Packet, fees: FeeTable, today: date) -> bool:
    born = packet.applicant.date_of_birth
    if born is None:
        return False
    had_birthday = (today.month, today.day) >= (born.month, born.day)
    return today.year - born.year - (not had_birthday) < fees.free_under_age


def _money_notes(packet: Packet, fees: FeeTable, sums: tuple[Sum, ...]) -> Iterator[str]:
    if len(sums) > 1:
        yield (
            "The office sets the length of the permit, and with it the contribution: carry the "
            "higher sum and a margin. Amounts change: ask before you pay."
        )
    else:
        yield "Carry a margin. Amounts change: ask before you pay."
    if any(one.band is None for one in sums):
        yield f"No contribution under {fees.free_under_age}: {fees.free_source}. Ask to be sure."


def fee_sources(fees: FeeTable, sums: tuple[Sum, ...]) -> tuple[str, ...]:
    """Each amount with its decree, the day from which it is valid, and when it was read."""
    bands = [one.band for one in sums if one.band is not None]
    told: dict[str, list[Fee]] = {}
    for fee in (*fees.items, *bands):
        told.setdefault(_source_words(fee), []).append(fee)
    return tuple(
        f"{', '.join(str(fee.amount) for fee in group)}: {words}; read "
        f"{_short(min(fee.as_of for fee in group))}."
        for words, group in told.items()
    )


def _source_words(fee: Fee) -> str:
    words = fee.source
    if fee.published:
        words += f", G.U. of {_short(fee.published)}"
    if fee.valid_from:
        words += f", valid from {_short(fee.valid_from)}"
    elif not fee.published:
        words += "; decree and day from which it is valid: ask"
    else:
        words += "; day from which it is valid: ask"
    if fee.parts is not None:
        parts = fee.parts
        words += f" ({parts.net} + VAT {parts.vat_percent} % = {parts.gross}, + {parts.commission})"
    return words


def _short(day: date) -> str:
    return f"{day.day} {day:%b} {day.year:04d}"


# --- warnings ---------------------------------------------------------------------------------


def _by_when(days: tuple[KeyDay, ...]) -> str:
    for one in days:
        if one.kind in ("entry-term", "renewal") and one.state in ("ahead", "today"):
            return f"{long_day(one.day)} ({one.source})"
    return ""


def _warnings(days: tuple[KeyDay, ...], fees: FeeTable, today: date) -> Iterator[Row]:
    for one in days:
        if one.kind in ("entry-term", "renewal") and one.state in ("missed", "late"):
            loud = "THE TERM IS OVER" if one.state == "missed" else "THE TERM MAY BE OVER"
            yield loud, f"{one.title}: the day was {long_day(one.day)}. {one.note}"
    if is_old(fees.oldest, today):
        yield (
            "AMOUNTS READ MORE THAN A YEAR AGO",
            f"Last read on {long_day(fees.oldest)}. Ask the post office before you pay.",
        )


def is_old(as_of: date, today: date) -> bool:
    """More than a year between the two days."""
    return (as_of.year + 1, as_of.month, as_of.day) < (today.year, today.month, today.day)


# --- the lists --------------------------------------------------------------------------------


def enclosed(packet: Packet) -> tuple[DocumentSpec, ...]:
    """The documents whose copies go into the envelope, without those not held."""
    return tuple(
        spec for spec in packet.documents if spec.in_envelope and spec.folder not in packet.not_held
    )


def _in_envelope(packet: Packet, fees: FeeTable, count: Mapping[str, Any] | None) -> Iterator[Row]:
    stamp = fees.item(STAMP)
    forms = " and ".join(str(module) for module in packet.form.modules)
    yield f"original form {forms}, signed", f"with its {stamp.title_it}"
    sheets = {one["folder"]: one["sheets"] for one in count["documents"]} if count else {}
    for spec in enclosed(packet):
        many = f": {plural(sheets[spec.folder], 'sheet')}" if sheets.get(spec.folder) else ""
        yield f"copy: {_small(spec.title_en)}{many}", _other(spec)
    if packet.count.index_in_envelope:
        yield "index of the copies", "indice"
    known = count is not None and count["complete"] and count["box"] <= count_box().largest
    number = count["box"] if count and known else "____"
    yield f"{number} sheets in all", f"fogli, the number in box {count_box().number}"


def _small(title: str) -> str:
    """A title inside a line: its first letter small, unless the word is an abbreviation."""
    return title if title[:2].isupper() else title[:1].lower() + title[1:]


def _other(spec: DocumentSpec) -> str:
    """The Italian title, where it is another than the English one."""
    return spec.title_it if spec.title_it != spec.title_en else ""


def _stays(packet: Packet) -> Iterator[Row]:
    yield "every original document", "only copies go in"
    yield "copy sets 1 and 2", "appointment; own file"
    yield "the photos", "le foto: for the appointment"


def _carry(packet: Packet) -> Iterator[Row]:
    yield "original passport", "passaporto originale"
    yield "the envelope, open", "busta aperta: the clerk seals it"
    yield "cash", "contanti: the sum below"
    yield "black pen", "penna nera"
    if not packet.rule_set.is_renewal:
        yield (
            "proof of how you entered",
            "if the passport bears no stamp: ticket, boarding pass (common practice, ask)",
        )


def _ask(packet: Packet, sums: tuple[Sum, ...]) -> Iterator[Row]:
    if len(sums) > 1:
        yield "which contribution is due?", "quale contributo?"
    yield f"is the number in box {count_box().number} right?", "i fogli sono giusti?"
    yield "does a copy of the slip go in?", "copia del bollettino?"
    yield "when and where to appear?", "quando e dove?"


def _back() -> Iterator[Row]:
    yield "receipt with its two codes", "ricevuta con i codici"
    yield "appointment letter", "lettera di convocazione"
    yield "receipt of the payment", "ricevuta del bollettino"
    yield "your passport", "passaporto"


def _appointment_carry(packet: Packet) -> Iterator[Row]:
    photos = appointment_term()
    yield "receipt of the post office", "ricevuta, with its codes"
    yield "appointment letter", "lettera di convocazione"
    yield f"{photos.length} photos", f"foto tessera ({photos.source})"
    yield "copy set", "the one ticked for the appointment"
    for spec in enclosed(packet):
        yield f"original: {_small(spec.title_en)}", _other(spec)
    has_permit = any(Kind.PERMIT_FRONT in spec.kinds for spec in enclosed(packet))
    if packet.rule_set.is_renewal and not has_permit:
        yield "the permit that ends", "permesso in scadenza (common practice)"


def _appointment_after() -> Iterator[Row]:
    yield "what is still missing?", "manca qualche documento?"
    yield "how long will the permit be?", "quale durata avrà il permesso?"
    yield "how do I learn that it is ready?", "come saprò che è pronto?"
    yield "may I keep the receipt?", "posso tenere la ricevuta?"


# --- in JSON ----------------------------------------------------------------------------------


def counter_json(sheet: Counter) -> dict[str, Any]:
    """Lists of {"what", "note"}; amounts as texts in euro with two decimals."""
    lists = {
        "in_envelope": sheet.in_envelope,
        "stays_with_you": sheet.stays,
        "carry": sheet.carry,
        "ask": sheet.ask,
        "comes_back": sheet.back,
        "appointment_carry": sheet.appointment_carry,
        "appointment_ask": sheet.appointment_after,
        "warnings": sheet.warnings,
    }
    return {
        **{
            name: [{"what": what, "note": note} for what, note in rows]
            for name, rows in lists.items()
        },
        "by_when": sheet.by_when,
        "fees": [
            {
                "name": fee.name,
                "title": fee.title_it,
                "amount": str(fee.amount),
                "pay": fee.pay,
                "source": fee.source,
                "valid_from": fee.valid_from.isoformat() if fee.valid_from else None,
                "as_of": fee.as_of.isoformat(),
            }
            for fee in (*sheet.fees.items, *(s.band for s in sheet.sums if s.band))
        ],
        "sums": [
            {
                "contribution": one.title_en,
                "slip": str(one.slip),
                "cash_at_counter": str(one.cash),
                "with_stamp": str(one.all_in),
            }
            for one in sheet.sums
        ],
        "cash_to_carry": str(sheet.cash_to_carry),
        "photos": appointment_term().length,
        "form": form_boxes().form,
    }
