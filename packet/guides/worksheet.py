"""The worksheet: what to write in each box of the form, before it is drawn."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from packet.guides.filled import Context, Filled
from packet.guides.fills import KEYS, fill
from packet.model import Finding, Packet
from packet.rules.boxes import Box, EmptyBoxes, FormBoxes, form_boxes
from packet.rules.fees import FeeTable

CHECK_FIRST = "Check this value first: see the top of page 1."
LAST = "Write this number last of all, when every sheet lies before you."


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One box and what stands in it. ``notes`` are whole sentences."""

    box: Box
    filled: Filled = field(repr=False)
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Worksheet:
    """Everything that the worksheet says. ``findings``: doubts and contradictions to clear."""

    packet: Packet
    form: FormBoxes
    lines: tuple[Line, ...]
    empty: tuple[EmptyBoxes, ...]
    findings: tuple[Finding, ...]


def worksheet(
    packet: Packet,
    fees: FeeTable,
    findings: Sequence[Finding] = (),
    count: Mapping[str, Any] | None = None,
    stale: str = "",
) -> Worksheet:
    """What to write, box by box.

    ``findings``: of ``packet.checks.values``. ``count``: the JSON of `packet count`, and
    ``stale`` why it was worked out anew ("" when the files are current).
    """
    open_ones = tuple(finding for finding in findings if finding.needs_user)
    context = Context(
        packet=packet,
        fees=fees,
        count=count,
        stale=stale,
        doubted=frozenset(finding.subject for finding in open_ones),
    )
    form = form_boxes()
    kind = "renewal" if packet.rule_set.is_renewal else "first-issue"
    boxes = [box for box in form.boxes if box.only in ("", kind)]
    filled = [(box, fill(context, box)) for box in boxes]
    used = {box.fill for box, what in filled if what is not None}
    return Worksheet(
        packet=packet,
        form=form,
        lines=tuple(_line(context, box, what) for box, what in filled if what is not None),
        empty=tuple(one for one in form.empty if one.only in ("", kind) and one.unless not in used),
        findings=open_ones,
    )


def _line(context: Context, box: Box, filled: Filled) -> Line:
    notes = list(filled.notes)
    if box.note:
        notes.append(box.note)
    if box.last:
        notes.insert(0, LAST)
    if KEYS.get(box.fill) in context.doubted:
        notes.insert(0, CHECK_FIRST)
    return Line(box=box, filled=filled, notes=tuple(notes))


# --- ranges -----------------------------------------------------------------------------------


def ranges(boxes: Sequence[str]) -> str:
    """``10 to 12, 15, 76 on``: boxes in the form's order, neighbours together."""
    runs: list[list[str]] = []
    for box in sorted(boxes, key=lambda one: int(one.split()[0])):
        if runs and box.isdigit() and int(runs[-1][-1].split()[0]) + 1 == int(box):
            runs[-1].append(box)
        else:
            runs.append([box])
    return ", ".join(_run(run) for run in runs)


def _run(run: Sequence[str]) -> str:
    if len(run) == 1:
        return run[0]
    return f"{run[0]}, {run[1]}" if len(run) == 2 else f"{run[0]} to {run[-1]}"


# --- the same in JSON -------------------------------------------------------------------------


def worksheet_json(sheet: Worksheet) -> dict[str, Any]:
    """``{"boxes": [{"box", "label", "value", "source", "note"}…]}``, in the form's order.

    ``source``: where the value comes from; ``reference``: who says what the box is for. Boxes
    left empty and boxes that nothing is known of come last, by range.
    """
    return {"boxes": [*map(_box_json, sheet.lines), *_others(sheet)]}


def _box_json(line: Line) -> dict[str, Any]:
    words = (f"{line.filled.words[:1].upper()}{line.filled.words[1:]}.",)
    return {
        "box": line.box.number,
        "label": line.box.label_it,
        "label_en": line.box.label_en,
        "value": line.filled.value,
        "source": line.box.take,
        "note": " ".join((*(words if line.filled.words else ()), *line.notes)),
        "as_in_passport": line.box.exact,
        "reference": line.box.source,
    }


def _others(sheet: Worksheet) -> Iterator[dict[str, Any]]:
    for one in sheet.empty:
        yield _range_json(ranges(one.boxes), f"Leave empty: {one.why}.", one.source)
    yield _range_json(ranges(sheet.form.look), "Look at your form.", "")
    yield _range_json(ranges(sheet.form.words), "Words printed on the form: write nothing.", "")


def _range_json(boxes: str, note: str, reference: str) -> dict[str, Any]:
    return {
        "box": boxes,
        "label": "",
        "label_en": "",
        "value": "",
        "source": "",
        "note": note,
        "as_in_passport": False,
        "reference": reference,
    }
