"""The flow, written once: packet folder -> scans -> items -> order -> pages -> sets -> record.

``gather`` runs everything up to the pages in memory; ``build`` writes; ``count`` answers from
the written files when they are current and from ``gather`` when they are not.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from packet import reading
from packet.cache import open_cache
from packet.errors import NothingBuiltError, OutputError, PacketError
from packet.files import file_digest, sweep, unchanged, whole_files, writing
from packet.model import (
    CopyPlan,
    Finding,
    Item,
    Packet,
    PageResult,
    Scan,
    Severity,
    SheetCount,
)
from packet.reading import Listed, Reader, list_packet

Progress = reading.Progress
RECORD = "record.json"
REVIEW = "review.html"
SET_FILES = ("envelope.pdf", "copy-set-1.pdf", "copy-set-2.pdf")


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
    looks_apart: tuple[str, ...] = ()

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
    use_cache: bool = True,
    read: bool = False,
) -> Gathered:
    """Read the packet and its scans, in worker processes, and lay the pages out.

    ``read``: the text of the items too.
    """
    sweep(root / "out")
    listed = list_packet(root, encode=encode, preview=preview, read=read, password=password)
    with Reader(jobs=jobs, cache=open_cache(use_cache), read=listed.reads) as reader:
        pages, failures = reader.see(listed.wanted, progress=progress)
    return lay_out_packet(listed, pages, failures)


def lay_out_packet(
    listed: Listed,
    pages: Sequence[PageResult],
    failures: Sequence[Finding],
    apart: Sequence[str] = (),
) -> Gathered:
    """What was read from the scans, in order, on pages, counted and judged.

    ``apart``: looks that are known to be of different pages (``duplicates.looks_apart``).
    """
    from packet.checks.accept import apply_accepts
    from packet.checks.completeness import check_documents
    from packet.checks.duplicates import find_duplicates, looks_apart
    from packet.checks.severity import worst_first
    from packet.checks.turns import turned_like_neighbours, unsure_turns
    from packet.intake.order import order_findings, order_items
    from packet.sheets.count import count_findings, count_sheets
    from packet.sheets.layout import lay_out

    pages = turned_like_neighbours(pages)
    packet, scans = listed.packet, listed.scans
    items = order_items(packet, [item for page in pages for item in page.items])
    plan = lay_out(packet, items)
    count = count_sheets(packet, plan)
    kept = [item for folder in items.values() for item in folder]
    doubles = find_duplicates(kept, apart)
    findings = (
        *listed.findings,
        *failures,
        *(finding for page in pages for finding in page.findings),
        *(finding for item in kept for finding in item.findings),
        *order_findings(packet, [item for page in pages for item in page.items], scans),
        *check_documents(packet, items),
        *(_read_findings(packet, items) if any(item.reading for item in kept) else ()),
        *doubles,
        *unsure_turns(kept),
        *plan.findings,
        *count_findings(count),
    )
    return Gathered(
        packet=packet,
        scans=scans,
        pages=tuple(pages),
        items=items,
        plan=plan,
        count=count,
        findings=worst_first(apply_accepts(packet, findings)),
        looks_apart=looks_apart(kept, doubles),
    )


def _read_findings(packet: Packet, items: Mapping[str, Sequence[Item]]) -> tuple[Finding, ...]:
    from packet.checks.agreement import check_scans

    return check_scans(packet, items)


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
    use_cache: bool = True,
    read: bool = False,
) -> Built:
    """Write the three sets, the print slip, the review page and, last, the record.

    Where the files of the last build are what a new one would write, they are left as they are.
    ``use_cache`` False: everything is made from the scans, and nothing is kept. ``read``: read the
    text of the items too.
    """
    from packet.intake.packet_file import read_packet

    read_packet(root)  # no folder of outputs is made for what is no packet
    out = out_folder(root, out)
    with writing(out):
        listed = list_packet(root, encode=True, preview=True, read=read, password=password)
        built = current_build(listed, out) if use_cache else None
        if built is not None:
            return built
        with Reader(jobs=jobs, cache=open_cache(use_cache), spool=out, read=listed.reads) as reader:
            pages, failures = reader.see(listed.wanted, progress=progress)
        apart = told_apart(out) if use_cache else ()
        return write_build(listed, pages, failures, out, apart=apart, known=reader.known_names)


def current_build(listed: Listed, out: Path) -> Built | None:
    """The build in ``out``, where the same packet would write the very same files again."""
    from packet.report.fresh import record_findings, why_stale
    from packet.report.record import made_by, read_record

    record = read_record(out)
    if why_stale(listed.packet, listed.scans, out, record) or record is None:
        return None
    if any(record.get(key) != value for key, value in made_by().items()):
        return None
    if record.get("texts_read") != listed.reads:
        return None
    return Built(record=record, findings=record_findings(record))


def told_apart(out: Path) -> tuple[str, ...]:
    """The looks that the last build told apart, where the same code made it."""
    from packet.report.record import made_by, read_record

    record = read_record(out) or {}
    same = all(record.get(key) == value for key, value in made_by().items())
    looks = record.get("looks_apart") if same else None
    return tuple(map(str, looks)) if isinstance(looks, list) else ()


def write_build(
    listed: Listed,
    pages: Sequence[PageResult],
    failures: Sequence[Finding],
    out: Path,
    *,
    apart: Sequence[str] = (),
    known: Collection[str] = (),
) -> Built:
    """Lay out what was read from the scans, make the files, prove and write them.

    The caller holds ``out`` (``files.writing``). ``apart``: as ``lay_out_packet`` has it.
    ``known``: names of the scans that were not read now, for the cache knew them.
    """
    from packet.report.record import make_record, record_json
    from packet.report.review import ReviewInput, review_pieces
    from packet.sheets.sets import make_sets

    seen = lay_out_packet(listed, pages, failures, apart)
    if not seen.plan.documents and seen.plan.form is None:
        raise NothingBuiltError(
            "Nothing was built: no scan could be used. Put scans into the folders beside "
            "packet.toml (each has a SCAN-ME.txt) and look at: packet check.",
            seen.findings,
        )
    review = ReviewInput(
        packet=seen.packet,
        plan=seen.plan,
        pages=seen.pages,
        count=seen.count,
        findings=seen.findings,
        complete=seen.complete,
    )
    with whole_files(out, last=RECORD) as parts:
        written = make_sets(
            seen.packet,
            seen.plan,
            seen.count,
            seen.complete,
            parts,
            documents_complete=seen.ready,
        )
        _prove(written.files, written.file_pages)
        with parts.new(REVIEW) as file:
            file.writelines(piece.encode("utf-8") for piece in review_pieces(review))
        record = make_record(
            packet=seen.packet,
            scans=seen.scans,
            pages=seen.pages,
            items=seen.items,
            plan=seen.plan,
            count=seen.count,
            findings=seen.findings,
            complete=seen.complete,
            texts_read=listed.reads,
            looks_apart=seen.looks_apart,
            written=written,
            files={**written.files, REVIEW: parts.made[REVIEW]},
        )
        _refuse_changed(seen.scans, known)
        parts.add(RECORD, record_json(record))
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
    if any((out / name).exists() for name in SET_FILES) and not (out / RECORD).exists():
        raise OutputError(
            f"{out}: files named like the sets ({', '.join(SET_FILES)}) lie there without a "
            "record.json: they may be yours. Name another folder, or move them away."
        )
    return out


def _prove(files: Mapping[str, Path], expected: Mapping[str, int]) -> None:
    """Open what will be written with a second reader and count: the plan alone proves nothing."""
    from packet.sheets.recount import count_pages

    for name, pages in expected.items():
        counted = count_pages(files[name])
        if counted != pages:
            raise PacketError(
                f"{name}: the written file holds {counted} pages where {pages} were planned. "
                "Nothing was written; this is a fault of packet, please report it."
            )


def _refuse_changed(scans: Sequence[Scan], known: Collection[str]) -> None:
    """PacketError when a scan changed while it was being read.

    Of those that the cache knew (``known``) only the bytes of the digest were used: there what the
    system says of the file will do.
    """
    for scan in scans:
        try:
            same = scan.name in known and unchanged(scan.path, scan.stamp)
            same = same or file_digest(scan.path) == scan.digest
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
    use_cache: bool = True,
    read: bool = False,
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
    seen = gather(
        root,
        encode=False,
        jobs=jobs,
        password=password,
        progress=progress,
        use_cache=use_cache,
        read=read,
    )
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
