"""The build record: every input, decision, output and finding of one build, as JSON.

The record holds no field of ``[applicant]``, ``[passport]`` or ``[visa]``, no absolute path and
no time: the same input gives the same bytes. ``packet.sheets.recount`` reads it.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from packet import __version__
from packet.files import file_digest
from packet.model import (
    CopyPlan,
    Finding,
    Item,
    Packet,
    PageResult,
    Placement,
    PrintedPage,
    Scan,
    SheetCount,
    VectorPage,
)
from packet.sheets.count import count_as_json
from packet.versions import code_digest, library_versions

if TYPE_CHECKING:
    from packet.sheets.sets import WrittenSets

FORMAT = 1
RECORD_NAME = "record.json"


def make_record(
    *,
    packet: Packet,
    scans: Iterable[Scan],
    pages: Iterable[PageResult],
    items: Mapping[str, Sequence[Item]],
    plan: CopyPlan,
    count: SheetCount,
    findings: Iterable[Finding],
    complete: bool,
    texts_read: bool = False,
    looks_apart: Sequence[str] = (),
    written: WrittenSets,
    files: Mapping[str, Path],
) -> dict[str, Any]:
    """The record as plain JSON values.

    ``pages``: every scan page as it was seen; ``items``: folder -> items as they were laid out
    (those of ``pages`` that are not among them were left out); ``files``: every output but the
    record itself, where it lies now; ``findings``: in the order to show them; ``looks_apart``:
    what the next build need not compare (``duplicates.looks_apart``).
    """
    return {
        "format": FORMAT,
        **made_by(),
        "rule_set": packet.rule_set.name,
        "values_digest": packet.values_digest,
        "mark": plan.mark,
        "complete": complete,
        "texts_read": texts_read,
        "looks_apart": list(looks_apart),
        "copies_printed": packet.count.copies_printed,
        "scans": [
            {"scan": scan.name, "digest": scan.digest, "bytes": scan.size_bytes} for scan in scans
        ],
        "outputs": [
            {
                "file": file,
                "digest": file_digest(path),
                "bytes": path.stat().st_size,
                "pages": written.file_pages.get(file),
            }
            for file, path in files.items()
        ],
        "count": count_as_json(count, complete=complete, basis="files"),
        "sets": {
            "index_pages": written.index_pages,
            "form_pages": written.form_pages,
            "document_pages": written.document_pages,
            "file_pages": dict(written.file_pages),
        },
        "items": list(_items(pages, items, _placed(written))),
        "findings": [finding_json(finding) for finding in findings],
    }


def record_json(record: Mapping[str, Any]) -> bytes:
    """The bytes of record.json: sorted keys, one line a value, UTF-8, a newline at the end."""
    text = json.dumps(record, ensure_ascii=False, sort_keys=True, indent=1, allow_nan=False)
    # A file name that is not UTF-8 reaches us with surrogates, which only escapes can carry.
    return (text + "\n").encode("utf-8", "backslashreplace")


def read_record(out: Path) -> dict[str, Any] | None:
    """The record in an output folder; None when there is none that this version can read.

    A damaged record is no reason to stop: without one, count works from the scans and build
    makes it anew.
    """
    try:
        record = json.loads((out / RECORD_NAME).read_bytes())
    except (OSError, ValueError, RecursionError):
        return None
    return record if isinstance(record, dict) and record.get("format") == FORMAT else None


def finding_json(finding: Finding) -> dict[str, Any]:
    """One finding with the keys that every ``--json`` output uses."""
    return {
        "code": finding.code,
        "severity": finding.severity.value,
        "subject": finding.subject,
        "message": finding.message,
        "measured": _rounded(finding.measured, 4),
        "limit": _rounded(finding.limit, 4),
        "unit": finding.unit,
        "remedy": finding.remedy,
        "source": finding.source,
        "accepted": finding.accepted,
    }


def item_json(
    item: Item,
    document: str,
    placed: Mapping[str, Any] | None,
    *,
    left_out: bool = False,
) -> dict[str, Any]:
    """One item: what was decided about it and where it is printed."""
    return {
        "scan": item.scan,
        "page": item.page,
        "item": item.item,
        "kind": item.kind.value,
        "document": document,
        "corners": [[_rounded(x, 2), _rounded(y, 2)] for x, y in item.corners_px],
        "turn_deg": item.turn_deg,
        "skew_deg": _rounded(item.skew_deg, 3),
        "size_mm": [_rounded(side, 3) for side in item.size_mm],
        "measured_mm": (
            None if item.measured_mm is None else [_rounded(side, 2) for side in item.measured_mm]
        ),
        "dpi": _rounded(item.dpi, 2),
        "tone": item.tone,
        "image": _image_kind(item),
        "image_digest": None if item.image is None else item.image.digest,
        "blank": item.blank,
        "left_out": left_out,
        "placed": placed,
    }


def made_by() -> dict[str, Any]:
    """What made a record: packet's version, its code, and the libraries' versions."""
    return {"packet": __version__, "code": code_digest(), "versions": library_versions()}


def _items(
    pages: Iterable[PageResult],
    items: Mapping[str, Sequence[Item]],
    placed: Mapping[str, Mapping[str, Any]],
) -> Iterator[dict[str, Any]]:
    """Items in reading order, then those left out."""
    kept = set()
    for folder, group in items.items():
        for item in group:
            kept.add(item.subject)
            yield item_json(item, folder, placed.get(item.subject))
    for page in pages:
        for item in page.items:
            if item.subject not in kept:
                yield item_json(item, item.scan.split("/", 1)[0], None, left_out=True)


def _placed(written: WrittenSets) -> dict[str, dict[str, Any]]:
    """Subject -> where it is printed, for every item on a page of the envelope or a copy set."""
    placed: dict[str, dict[str, Any]] = {}
    for key, sides in (("page", written.envelope_pages), ("copy_page", written.copy_pages)):
        for number, side in enumerate(sides, start=1):
            if isinstance(side, PrintedPage):
                for placement in side.placements:
                    entry = placed.setdefault(placement.item.subject, _where(placement))
                    entry[key] = number
    return placed


def _where(placement: Placement) -> dict[str, Any]:
    return {
        "page": None,
        "copy_page": None,
        "rect_mm": [_rounded(value, 3) for value in placement.rect_mm],
        "scale": _rounded(placement.scale, 6),
        "turn_deg": placement.turn_deg,
    }


def _image_kind(item: Item) -> str | None:
    if item.image is None:
        return None
    return "vector" if isinstance(item.image, VectorPage) else item.image.format


def _rounded(value: float | None, digits: int) -> float | None:
    """A float that prints the same everywhere: rounded, and never the negative zero."""
    return None if value is None else round(float(value), digits) + 0.0
