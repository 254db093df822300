"""The build record: every input, decision, output and finding of one build, as JSON.

The record holds no field of ``[applicant]``, ``[passport]`` or ``[visa]``, no absolute path and
no time: the same input gives the same bytes. ``packet.sheets.recount`` reads it.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from typing import Any

from packet import __version__
from packet.model import (
    CopyPlan,
    Finding,
    Item,
    Packet,
    Placement,
    PrintedPage,
    Scan,
    VectorPage,
)

FORMAT = 1
RECORD_NAME = "record.json"
SHAPING_LIBRARIES = (
    "img2pdf",
    "numpy",
    "opencv-python-headless",
    "pillow",
    "pillow-heif",
    "pypdf",
    "pypdfium2",
    "reportlab",
)

FilePage = PrintedPage | str | None  # a page with items, "index", or an empty back


@dataclass(frozen=True, slots=True, kw_only=True)
class Output:
    """One written file; ``pages`` None for what is not a PDF."""

    file: str
    digest: str
    size_bytes: int
    pages: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SetPages:
    """What lies on each page of the written files.

    ``envelope`` and ``copy``: the pages of envelope.pdf and of copy-set-1.pdf in file order.
    ``file_pages``: pages of every PDF by file name.
    """

    envelope: Sequence[FilePage]
    copy: Sequence[FilePage]
    index_pages: int
    file_pages: Mapping[str, int]


def output(file: str, data: bytes, pages: int | None = None) -> Output:
    """The entry for a file whose bytes are ``data``."""
    return Output(file=file, digest=sha256(data).hexdigest(), size_bytes=len(data), pages=pages)


def make_record(
    *,
    packet: Packet,
    scans: Iterable[Scan],
    items: Mapping[str, Sequence[Item]],
    left_out: Iterable[Item],
    plan: CopyPlan,
    pages: SetPages,
    outputs: Iterable[Output],
    count: Mapping[str, Any],
    complete: bool,
    findings: Iterable[Finding],
) -> dict[str, Any]:
    """The record as plain JSON values.

    ``items``: folder -> items as they were laid out; ``left_out``: those that the user left out;
    ``count``: ``packet.sheets.count.count_as_json``; ``findings``: in the order to show them.
    """
    placed = _placed(pages)
    return {
        "format": FORMAT,
        "packet": __version__,
        "versions": library_versions(),
        "rule_set": packet.rule_set.name,
        "values_digest": packet.values_digest,
        "mark": plan.mark,
        "complete": complete,
        "copies_printed": packet.count.copies_printed,
        "scans": [
            {"scan": scan.name, "digest": scan.digest, "bytes": scan.size_bytes} for scan in scans
        ],
        "outputs": [
            {"file": o.file, "digest": o.digest, "bytes": o.size_bytes, "pages": o.pages}
            for o in outputs
        ],
        "count": dict(count),
        "sets": _sets(plan, pages),
        "items": [
            *(
                item_json(item, folder, placed.get(item.subject))
                for folder, group in items.items()
                for item in group
            ),
            *(item_json(item, _folder(item), None, left_out=True) for item in left_out),
        ],
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


def library_versions() -> dict[str, str]:
    """Versions of the installed libraries that shape the bytes of the outputs."""
    from importlib.metadata import PackageNotFoundError, version

    versions = {}
    for name in SHAPING_LIBRARIES:
        try:
            versions[name] = version(name)
        except PackageNotFoundError:
            continue
    return versions


def _sets(plan: CopyPlan, pages: SetPages) -> dict[str, Any]:
    return {
        "index_pages": pages.index_pages,
        "form_pages": 0 if plan.form is None else len(plan.form.pages),
        "document_pages": sum(len(document.pages) for document in plan.documents),
        "file_pages": dict(pages.file_pages),
    }


def _placed(pages: SetPages) -> dict[str, dict[str, Any]]:
    """Subject -> where it is printed, for every item on a page of the envelope or a copy set."""
    placed: dict[str, dict[str, Any]] = {}
    for key, file_pages in (("page", pages.envelope), ("copy_page", pages.copy)):
        for number, file_page in enumerate(file_pages, start=1):
            if isinstance(file_page, PrintedPage):
                for placement in file_page.placements:
                    entry = placed.setdefault(placement.item.subject, _where(placement))
                    entry[key] = number
    return placed


def _where(placement: Placement) -> dict[str, Any]:
    return {
        "page": None,
        "copy_page": None,
        "rect_mm": [_rounded(value, 3) for value in placement.rect_mm],
        "scale": _rounded(placement.scale, 6),
    }


def _folder(item: Item) -> str:
    return item.scan.split("/", 1)[0]


def _image_kind(item: Item) -> str | None:
    if item.image is None:
        return None
    return "vector" if isinstance(item.image, VectorPage) else item.image.format


def _rounded(value: float | None, digits: int) -> float | None:
    """A float that prints the same everywhere: rounded, and never the negative zero."""
    return None if value is None else round(float(value), digits) + 0.0
