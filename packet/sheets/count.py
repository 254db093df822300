"""The number for the box that asks for the total of sheets (box 25), term by term.

MOD. 209, note (g): the sheets that the application consists of, forms and photocopies of the
documents. A sheet is one piece of paper; printed on one side, sheets equal pages.
"""

from __future__ import annotations

from typing import Any, Literal

from packet.model import (
    CopyPlan,
    DocumentCount,
    Finding,
    OtherReading,
    Packet,
    Severity,
    SheetCount,
)
from packet.rules.notes import count_box


def leaves(pages: int, *, two_sided: bool) -> int:
    """Sheets of paper for one document: two-sided printing starts anew at each document."""
    return (pages + 1) // 2 if two_sided else pages


def count_sheets(packet: Packet, plan: CopyPlan) -> SheetCount:
    """Every term of the box number, from the plan. Form pages never enter: its leaves do."""
    choice = packet.count
    two_sided = choice.copies_printed == "two-sided"
    documents = tuple(
        DocumentCount(
            folder=document.spec.folder,
            kind=document.spec.kinds[0].value,
            title=document.spec.title_it,
            title_en=document.spec.title_en,
            pages=len(document.pages),
            sheets=leaves(len(document.pages), two_sided=two_sided),
        )
        for document in plan.documents
        if document.spec.in_envelope
    )
    pages = sum(document.pages for document in documents)
    sheets = sum(document.sheets for document in documents)
    index = 0
    if choice.index_in_envelope:
        from packet.sheets.cover import index_page_count

        index = leaves(index_page_count(packet, plan, enclosed=True), two_sided=two_sided)
    box = choice.form_leaves + sheets + index + choice.extra_leaves
    return SheetCount(
        box=box,
        form_leaves=choice.form_leaves,
        envelope_pages=pages,
        blank_backs=2 * sheets - pages if two_sided else 0,
        envelope_sheets=sheets,
        index_leaves=index,
        extra_leaves=choice.extra_leaves,
        other_readings=_other_readings(packet, box),
        documents=documents,
    )


def _other_readings(packet: Packet, box: int) -> tuple[OtherReading, ...]:
    printed = sum(packet.rule_set.form_pages.get(module, 0) for module in packet.form.modules)
    in_hand = packet.count.form_leaves
    readings = [
        OtherReading(
            reading="copies-only",
            box=box - in_hand,
            why="Some guides count the photocopies without the form; the official note (g) "
            "counts both.",
        )
    ]
    if printed and printed != in_hand:
        readings.append(
            OtherReading(
                reading="form-one-sided",
                box=box - in_hand + printed,
                why=f"If the form lies before you printed on one side only, its {printed} "
                "printed pages are as many sheets.",
            )
        )
    readings.append(
        OtherReading(
            reading="slip-counted",
            box=box + 1,
            why="Some put the receipt of the payment slip in the envelope and count it; the "
            "note (g) names only forms and photocopies.",
        )
    )
    return tuple(readings)


def count_findings(count: SheetCount) -> tuple[Finding, ...]:
    """A warning where the number does not fit into the two cells of the box."""
    box = count_box()
    if count.box <= box.largest:
        return ()
    return (
        Finding(
            code="two-cells",
            severity=Severity.WARNING,
            subject="count",
            message=f"The total of sheets is {count.box}: box {box.number} of the form has "
            f"{box.cells} cells and holds at most {box.largest}.",
            measured=float(count.box),
            limit=float(box.largest),
            unit="sheets",
            remedy="Print two passport openings on each sheet (openings_per_sheet = 2); if that "
            'is not enough, print the copies on two sides (copies_printed = "two-sided"); '
            "else ask at the post office.",
            source="one public list of the boxes; count the cells on your own form",
        ),
    )


def count_as_json(
    count: SheetCount, *, complete: bool, basis: Literal["files", "plan"]
) -> dict[str, Any]:
    """The count as ``packet count --json`` prints it and the build record holds it."""
    return {
        "box": count.box,
        "form_leaves": count.form_leaves,
        "envelope_pages": count.envelope_pages,
        "blank_backs": count.blank_backs,
        "envelope_sheets": count.envelope_sheets,
        "index_leaves": count.index_leaves,
        "extra_leaves": count.extra_leaves,
        "complete": complete,
        "basis": basis,
        "other_readings": [
            {"reading": other.reading, "box": other.box, "why": other.why}
            for other in count.other_readings
        ],
        "documents": [
            {
                "folder": document.folder,
                "kind": document.kind,
                "title": document.title,
                "title_en": document.title_en,
                "pages": document.pages,
                "sheets": document.sheets,
            }
            for document in count.documents
        ],
    }
