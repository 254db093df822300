"""The flow, written once: packet folder -> scans -> items -> order -> pages -> sets -> record.

``gather`` runs everything up to the pages in memory; ``build`` writes; ``count`` answers from
the written files when they are current and from ``gather`` when they are not.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from packet.errors import OutputError, PacketError
from packet.files import file_digest, sweep, write_all_whole, writing
from packet.model import (
    CopyPlan,
    Finding,
    Item,
    ItemOverride,
    Kind,
    Packet,
    PageResult,
    Scan,
    ScanTask,
    Severity,
    SheetCount,
)

TIME_LIMIT_S = 90.0  # for one page of a scan
RECORD = "record.json"
REVIEW = "review.html"

Progress = Callable[[int, int, str], None]  # scans done, scans in all, name of the one just done


@dataclass(frozen=True, slots=True, kw_only=True)
class Gathered:
    """A packet and all that was found in its scans, before anything is written."""

    packet: Packet
    scans: tuple[Scan, ...]
    pages: tuple[PageResult, ...]
    items: Mapping[str, tuple[Item, ...]]
    plan: CopyPlan
    count: SheetCount
    findings: tuple[Finding, ...]

    @property
    def ready(self) -> bool:
        """No unaccepted error; a form that is not scanned yet is only a note."""
        from packet.checks.severity import ready

        return ready(self.findings)

    @property
    def complete(self) -> bool:
        """No unaccepted error at all, in the form's scans neither."""
        return not any(
            finding.severity is Severity.ERROR and finding.needs_user for finding in self.findings
        )


def gather(
    root: Path,
    *,
    encode: bool,
    preview: bool = False,
    jobs: int | None = None,
    password: str | None = None,
    progress: Progress | None = None,
) -> Gathered:
    """Read the packet and its scans, in worker processes, and lay the pages out."""
    from packet.checks.accept import apply_accepts
    from packet.checks.completeness import check_documents
    from packet.checks.duplicates import find_duplicates
    from packet.checks.severity import worst_first
    from packet.intake.order import order_findings, order_items
    from packet.intake.packet_file import read_packet
    from packet.intake.scans import list_scans
    from packet.sheets.count import count_findings, count_sheets
    from packet.sheets.layout import lay_out

    packet = read_packet(root)
    scans, listing = list_scans(packet)
    pages, failures = see_scans(
        [_task(packet, scan, encode=encode, preview=preview, password=password) for scan in scans],
        jobs=jobs,
        progress=progress,
    )
    items = order_items(packet, [item for page in pages for item in page.items])
    plan = lay_out(packet, items)
    count = count_sheets(packet, plan)
    kept = [item for folder in items.values() for item in folder]
    findings = (
        *listing,
        *failures,
        *(finding for page in pages for finding in page.findings),
        *(finding for item in kept for finding in item.findings),
        *order_findings(packet, [item for page in pages for item in page.items], scans),
        *check_documents(packet, items),
        *find_duplicates(kept),
        *plan.findings,
        *count_findings(count),
    )
    return Gathered(
        packet=packet,
        scans=scans,
        pages=pages,
        items=items,
        plan=plan,
        count=count,
        findings=worst_first(apply_accepts(packet, findings)),
    )


def see_scans(
    tasks: Sequence[ScanTask], *, jobs: int | None = None, progress: Progress | None = None
) -> tuple[tuple[PageResult, ...], tuple[Finding, ...]]:
    """Every page of every scan, in the order of ``tasks``; a scan that fails is one finding."""
    from packet.imaging.scan import process_scan
    from packet.intake.names import shown
    from packet.workers import Failed, Part, Workers

    pages: list[tuple[int, PageResult]] = []
    failures: list[tuple[int, Finding]] = []
    done = 0
    wanted = min(jobs or 2, max(1, len(tasks)))
    with Workers(process_scan, jobs=wanted, time_limit_s=TIME_LIMIT_S) as pool:
        for answer in pool.run(tasks):
            if isinstance(answer, Part):
                pages.append((answer.job, answer.value))
                continue
            if isinstance(answer, Failed):
                failures.append((answer.job, _unreadable(tasks[answer.job].name, answer)))
            done += 1
            if progress is not None:
                progress(done, len(tasks), shown(tasks[answer.job].name))
    pages.sort(key=lambda pair: (pair[0], pair[1].page))
    failures.sort(key=lambda pair: pair[0])
    return tuple(page for _, page in pages), tuple(finding for _, finding in failures)


def _unreadable(name: str, failed: Any) -> Finding:
    from packet.intake.names import shown

    return Finding(
        code=failed.error.code,
        severity=Severity.ERROR,
        subject=shown(name),
        message=f"{shown(name)} {failed.error.what}",
        remedy=failed.error.remedy,
    )


def _task(
    packet: Packet, scan: Scan, *, encode: bool, preview: bool, password: str | None
) -> ScanTask:
    overrides = tuple(o for o in packet.overrides if o.scan == scan.name)
    return ScanTask(
        path=scan.path,
        name=scan.name,
        kinds=_kinds(packet, scan.folder, overrides),
        overrides=overrides,
        encode=encode,
        preview=preview,
        password=password,
    )


def _kinds(packet: Packet, folder: str, overrides: Sequence[ItemOverride]) -> tuple[Kind, ...]:
    """What may be on a scan: its folder's kinds, then those of documents it is moved to."""
    specs = {spec.folder: spec for spec in (*packet.documents, packet.rule_set.form)}
    folders = [folder, *(o.document for o in overrides if o.document)]
    kinds = [kind for name in folders if name in specs for kind in specs[name].kinds]
    return tuple(dict.fromkeys(kinds))


# --- build ---------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Built:
    """What a build wrote: the record, and the findings that go with it."""

    record: Mapping[str, Any]
    findings: tuple[Finding, ...]


def build(
    root: Path,
    out: Path | None = None,
    *,
    jobs: int | None = None,
    password: str | None = None,
    progress: Progress | None = None,
) -> Built:
    """Write the three sets, the print slip, the review page and, last, the record."""
    from packet.intake.packet_file import read_packet

    read_packet(root)  # no folder of outputs is made for what is no packet
    out = out_folder(root, out)
    with writing(out):
        return _build(root, out, jobs=jobs, password=password, progress=progress)


def _build(
    root: Path, out: Path, *, jobs: int | None, password: str | None, progress: Progress | None
) -> Built:
    from packet.report.record import make_record, record_json
    from packet.report.review import ReviewInput, review_html
    from packet.sheets.sets import make_sets

    seen = gather(root, encode=True, preview=True, jobs=jobs, password=password, progress=progress)
    if not seen.plan.documents and seen.plan.form is None:
        raise PacketError(
            "Nothing was built: no scan could be used. Put scans into the folders beside "
            "packet.toml (each has a SCAN-ME.txt) and look at: packet check."
        )
    written = make_sets(
        seen.packet,
        seen.plan,
        seen.count,
        complete=seen.complete,
        documents_complete=seen.ready,
    )
    _prove(written.files, written.file_pages)
    review = review_html(
        ReviewInput(
            packet=seen.packet,
            plan=seen.plan,
            pages=seen.pages,
            count=seen.count,
            findings=seen.findings,
            complete=seen.complete,
        )
    )
    files = {**written.files, REVIEW: review}
    record = make_record(
        packet=seen.packet,
        scans=seen.scans,
        pages=seen.pages,
        items=seen.items,
        plan=seen.plan,
        count=seen.count,
        findings=seen.findings,
        complete=seen.complete,
        written=written,
        files=files,
    )
    _refuse_changed(seen.scans)
    write_all_whole(out, {**files, RECORD: record_json(record)}, last=RECORD)
    return Built(record=record, findings=seen.findings)


def out_folder(root: Path, out: Path | None) -> Path:
    """The folder of the outputs; OutputError where it would mix with the scans."""
    if out is None:
        return root / "out"
    inside = out.resolve()
    if inside == root.resolve() or (
        inside.is_relative_to(root.resolve()) and inside != (root / "out").resolve()
    ):
        raise OutputError(
            f"{out}: outputs do not go among the scans. Name a folder outside the packet, or "
            "leave --out away."
        )
    return out


def _prove(files: Mapping[str, bytes], expected: Mapping[str, int]) -> None:
    """Open what will be written with a second reader and count: the plan alone proves nothing."""
    from packet.sheets.recount import count_pages

    for name, pages in expected.items():
        counted = count_pages(files[name])
        if counted != pages:
            raise PacketError(
                f"{name}: the written file holds {counted} pages where {pages} were planned. "
                "Nothing was written; this is a fault of packet, please report it."
            )


def _refuse_changed(scans: Sequence[Scan]) -> None:
    """PacketError when a scan changed while it was being read."""
    for scan in scans:
        try:
            same = file_digest(scan.path) == scan.digest
        except OSError:
            same = False
        if not same:
            raise PacketError(
                f"{scan.name} changed while the packet was being built: nothing was written. "
                "Build again when all scans are in place."
            )


# --- count ---------------------------------------------------------------------------------


def count(
    root: Path,
    out: Path | None = None,
    *,
    jobs: int | None = None,
    password: str | None = None,
    progress: Progress | None = None,
) -> tuple[Mapping[str, Any], tuple[Finding, ...], str]:
    """The count JSON, its findings, and why the written files were not used ("" when they were).

    Answers from the record while the scans, the values of packet.toml and every output are
    unchanged since the build; otherwise works the number out anew from the scans.
    """
    from packet.checks.severity import worst_first
    from packet.intake.packet_file import read_packet
    from packet.intake.scans import list_scans
    from packet.report.fresh import record_findings, why_stale
    from packet.report.record import read_record
    from packet.sheets.count import count_as_json

    packet = read_packet(root)
    scans, _ = list_scans(packet)
    folder = out or root / "out"
    sweep(folder)
    record = read_record(folder)
    stale = why_stale(packet, scans, folder, record)
    if not stale and record is not None:
        return record["count"], worst_first(record_findings(record)), ""
    seen = gather(root, encode=False, jobs=jobs, password=password, progress=progress)
    return (
        count_as_json(seen.count, complete=seen.complete, basis="plan"),
        seen.findings,
        stale,
    )


def current_count(packet: Packet, folder: Path) -> Mapping[str, Any] | None:
    """The count JSON of the build in ``folder``, None where it is not current. Reads no scan."""
    from packet.intake.scans import list_scans
    from packet.report.fresh import why_stale
    from packet.report.record import read_record

    record = read_record(folder)
    stale = why_stale(packet, list_scans(packet)[0], folder, record)
    return None if stale or record is None else record["count"]


# --- status --------------------------------------------------------------------------------


def status(
    root: Path, out: Path | None = None, *, today: date | None = None
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """(what is done, what comes next): from the folder and the record, no scan is decoded.

    ``today``: the day on which the next date to keep is looked up; None = no date is named.
    """
    from packet.checks.progress import Progress as Facts
    from packet.checks.progress import status as sentences
    from packet.guides.calendar import by_when, key_days
    from packet.intake.packet_file import read_packet
    from packet.intake.scans import list_scans
    from packet.report.fresh import counted_sheets, record_findings, why_stale
    from packet.report.record import read_record

    packet = read_packet(root)
    scans, listing = list_scans(packet)
    folder = out or root / "out"
    sweep(folder)
    record = read_record(folder)
    current = not why_stale(packet, scans, folder, record)
    form = packet.rule_set.form.folder
    held = {scan.folder for scan in scans} - {form}
    findings = record_findings(record) if record is not None and current else listing
    open_ones = [finding for finding in findings if finding.needs_user]
    said = sentences(
        Facts(
            folder=str(root),
            scans=sum(scan.folder != form for scan in scans),
            documents_held=len(held),
            documents_missing=tuple(
                spec.title_en
                for spec in packet.documents
                if spec.folder not in held and spec.folder not in packet.not_held
            ),
            errors=sum(finding.severity is Severity.ERROR for finding in open_ones),
            warnings=sum(finding.severity is Severity.WARNING for finding in open_ones),
            leaves_confirmed=packet.count.form_leaves_confirmed,
            built=record is not None,
            current=current,
            count=counted_sheets(record) if record is not None and current else None,
            form_scans=sum(scan.folder == form for scan in scans),
            form_in_build=bool(record and record["sets"]["form_pages"]),
            copied_by_hand=packet.form.copied_by_hand,
            by_when=by_when(key_days(packet, today)) if today is not None else "",
        )
    )
    return said.done, said.next
