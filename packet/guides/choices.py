"""Boxes that take a cross or a code of a few, those filled by hand, and the number of sheets."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import replace
from typing import Any

from packet.guides.filled import DATE_GROUPS, Context, Fill, Filled, missing
from packet.rules.boxes import Box, form_boxes
from packet.rules.fees import STAMP
from packet.rules.notes import count_box

SINGLE = frozenset({"1", "01", "SINGLE", "ONE", "UNO", "UNA", "SINGOLO"})
MANY = frozenset({"MULT", "MULT.", "MULTI", "MULTIPLE", "MULTIPLI", "MULTIPLO"})
_TWO = frozenset({"2", "02", "TWO", "DUE"})


# --- choices ----------------------------------------------------------------------------------


def cross(context: Context, box: Box) -> Filled:
    return Filled(value="X")


def cross_no(context: Context, box: Box) -> Filled:
    return Filled(value="X", words="at NO")


def module(number: int) -> Fill:
    def fill_it(context: Context, box: Box) -> Filled | None:
        return Filled(value="X") if number in context.packet.form.modules else None

    return fill_it


def box_22(context: Context, box: Box) -> Filled:
    choice, modules = context.packet.form.box_22, context.packet.form.modules
    if choice == "number":
        note = "The number of forms filled in: common practice; others put X in both cells."
        return Filled(value=f"{len(modules):02d}", notes=(note,))
    if choice == "crosses":
        note = "X in both cells: one practice; others write the number of forms, as 01."
        return Filled(value="XX", notes=(note,))
    return Filled(
        notes=(
            f"Practices differ: some write the number of forms ({len(modules):02d}), others put X "
            'in both cells. Ask, then set box_22 = "number" or "crosses" under [form].',
        )
    )


def civil_status(context: Context, box: Box) -> Filled:
    status = context.packet.applicant.civil_status
    if not status:
        return missing("applicant.civil_status", 1)
    letter = form_boxes().civil_status.get(status)
    if letter is None:
        return Filled(blank=1, notes=("Look at note (i) of your form for the letter.",))
    words = ", ".join(f"{one} {name}" for name, one in form_boxes().civil_status.items())
    return Filled(value=letter, notes=(f"{words}.",))


def sex(context: Context, box: Box) -> Filled:
    sex = context.packet.applicant.sex
    return Filled(value=form_boxes().sex[sex]) if sex else missing("applicant.sex", 1)


def issued_by(context: Context, box: Box) -> Filled:
    known = form_boxes().issued_by
    words = {
        "own-state": "your own state",
        "consulate-abroad": "your consulate in a third state",
        "consulate-italy": "your consulate in Italy",
    }
    listed = ", ".join(f"{code} {words[name]}" for name, code in known.items())
    note = f"{listed}; others on table 5 of your kit."
    choice = context.packet.passport.issued_by
    if not choice:
        empty = missing("passport.issued_by", 2)
        return replace(empty, notes=(*empty.notes, note))
    return Filled(value=known[choice], notes=(note,))


def entries(wanted: Collection[str]) -> Fill:
    def fill_it(context: Context, box: Box) -> Filled:
        said = context.packet.visa.entries.strip().upper()
        if not said:
            return missing("visa.entries", 1)
        if said in wanted:
            return Filled(value="X")
        if said in SINGLE | MANY:
            return Filled(blank=1, words="leave empty")
        if said in _TWO:
            return Filled(blank=1, notes=("Two entries: look at your form.",))
        return Filled(blank=1, notes=("entries is not 1, 2 or MULT: look at the visa.",))

    return fill_it


# --- by hand ----------------------------------------------------------------------------------


def stamp(context: Context, box: Box) -> Filled:
    fee = context.fees.item(STAMP)
    return Filled(words=f"{fee.amount} EUR, stuck on the form")


def signing_day(context: Context, box: Box) -> Filled:
    return Filled(
        blank=sum(DATE_GROUPS),
        groups=DATE_GROUPS,
        notes=("The day on which you sign, when you sign: not the day of entry.",),
    )


def signature(context: Context, box: Box) -> Filled:
    return Filled(words="sign here on the form")


def look(context: Context, box: Box) -> Filled:
    return Filled(words="look at your form")


def count_number(context: Context, box: Box) -> Filled:
    """The number of the count engine, from the files of the build or from the scans."""
    cells, count = context.cells(box) or 2, context.count
    if count is None:
        return Filled(blank=cells, notes=("Not known yet: packet count gives the number.",))
    number, largest = int(count["box"]), count_box().largest
    if number > largest:
        note = (
            f"{number} sheets: more than the {cells} cells hold. Put two openings of the passport "
            "on a sheet (openings_per_sheet), then print two-sided (copies_printed); ask the "
            "office if it is still too many."
        )
        return Filled(blank=cells, notes=(note,))
    if not count["complete"]:
        note = (
            f"{number} for now, and not to be written yet: something is missing or unreadable. "
            "See packet check, then build and print this sheet again."
        )
        return Filled(blank=cells, notes=(note,))
    return Filled(value=f"{number:0{cells}d}", notes=_count_notes(context, count))


def _count_notes(context: Context, count: Mapping[str, Any]) -> tuple[str, ...]:
    leaves = f"{count['form_leaves']} leaves of the form + {count['envelope_sheets']} of copies"
    if count["index_leaves"]:
        leaves += f" + {count['index_leaves']} of index"
    if count["extra_leaves"]:
        leaves += f" + {count['extra_leaves']} other"
    basis = (
        "From the files of the last build, which agree with the scans."
        if count["basis"] == "files"
        else f"Worked out from the scans: {context.stale} Build, then print this sheet again."
    )
    doubt = (
        ()
        if context.packet.count.form_leaves_confirmed
        else ("Nobody has counted the leaves of the form yet: count them in your hand first.",)
    )
    return (f"{leaves}.", basis, *doubt, "Count the paper before you write it.")
