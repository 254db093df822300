"""The scans of one or many packets, read in worker processes; what the cache knows is not read.

A ``Reader`` holds one pool of workers and one cache for a whole run. At most one scan a worker
is in flight, and what was read is handed on at once, its pictures on the disk (``packet.spool``).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

from packet.cache import Cache
from packet.errors import ScanError
from packet.files import file_digest
from packet.model import (
    EncodedImage,
    Finding,
    ItemOverride,
    Kind,
    Packet,
    PageResult,
    Scan,
    ScanTask,
    Severity,
    VectorPage,
)
from packet.spool import Blob, Spool

if TYPE_CHECKING:
    from packet.workers import Workers

TIME_LIMIT_S = 90.0  # for one page of a scan
DEFAULT_JOBS = 2

Progress = Callable[[int, int, str], None]  # scans done, scans in all, name of the one just done


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """One scan to read: what a worker is told, and the SHA-256 (hex) of its bytes."""

    task: ScanTask
    digest: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """What was read from scan ``number``; ``failure`` says why there are no further pages."""

    number: int
    pages: tuple[PageResult, ...] = field(repr=False)
    failure: Finding | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Listed:
    """A packet and its scans before any of them is decoded."""

    packet: Packet
    scans: tuple[Scan, ...]
    findings: tuple[Finding, ...]
    wanted: tuple[Wanted, ...] = field(repr=False)

    @property
    def reads(self) -> bool:
        """Whether the text of the items is read."""
        return any(one.task.read for one in self.wanted)


def list_packet(
    root: Path, *, encode: bool, preview: bool, read: bool = False, password: str | None = None
) -> Listed:
    """packet.toml, the scans with their digests, and what a worker would be told of each.

    ``read``: read the text of each item too (the extra must be whole: ``recognition.extra``).
    """
    from packet.intake.packet_file import read_packet

    packet = read_packet(root)
    return list_scans_of(packet, encode=encode, preview=preview, read=read, password=password)


def list_scans_of(
    packet: Packet, *, encode: bool, preview: bool, read: bool = False, password: str | None = None
) -> Listed:
    """As ``list_packet``, for a packet.toml that was read, or changed, already."""
    from packet.intake.scans import list_scans

    scans, findings = list_scans(packet)
    tasks = (
        replace(_task(packet, scan), encode=encode, preview=preview, read=read, password=password)
        for scan in scans
    )
    wanted = tuple(
        Wanted(task=task, digest=scan.digest) for task, scan in zip(tasks, scans, strict=True)
    )
    return Listed(packet=packet, scans=scans, findings=findings, wanted=wanted)


class Reader:
    """One pool and one cache: ``with Reader(jobs=2, cache=cache) as reader``.

    ``spool``: the folder on whose disk pictures wait (without a name); None = the system's place.
    ``read``: False where no task reads texts.
    """

    def __init__(
        self,
        *,
        jobs: int | None = None,
        cache: Cache | None = None,
        spool: Path | None = None,
        read: bool = True,
    ) -> None:
        self.jobs = jobs or DEFAULT_JOBS
        self._read = read
        self.cache = cache
        self._spool = Spool(spool)
        self._pool: Workers | None = None
        self.known_names: set[str] = set()
        """Scans of one packet that ``see`` took from the cache."""

    def __enter__(self) -> Reader:
        return self

    def __exit__(self, *error: object) -> None:
        if self._pool is not None:
            self._pool.__exit__(*error)
            self._pool = None
        if self.cache is not None:
            self.cache.trim()

    def known(self, wanted: Wanted) -> tuple[PageResult, ...] | None:
        """What the cache holds for this scan; a fuller reading is good for a lesser one."""
        if self.cache is None:
            return None
        task = wanted.task
        if not task.encode and not task.lossless:
            full = self.cache.find(
                replace(task, encode=True, preview=True), wanted.digest, self._spool.put
            )
            if full is not None:
                return tuple(_bare(page) for page in full)
        return self.cache.find(task, wanted.digest, self._spool.put)

    def read(self, many: Iterable[Wanted], *, at_most: int | None = None) -> Iterator[Seen]:
        """Read every scan, answers as they come; ``at_most``: how many there are, where known.

        Answers are numbered from 0 in the order of ``many``.
        """
        from packet.workers import Failed, Part

        given: dict[int, Wanted] = {}

        def tasks() -> Iterator[ScanTask]:
            for number, wanted in enumerate(many):
                given[number] = wanted
                yield wanted.task

        held: dict[int, list[PageResult]] = {}
        for answer in self._workers(at_most).run(tasks()):
            pages = held.setdefault(answer.job, [])
            if isinstance(answer, Part):
                pages.append(self._stowed(answer.value))
                continue
            del held[answer.job]
            wanted = given.pop(answer.job)
            failure = None
            if isinstance(answer, Failed):
                failure = _unreadable(wanted.task.name, answer.error)
            else:
                self._keep(wanted, pages)
            pages.sort(key=lambda page: page.page)
            yield Seen(number=answer.job, pages=tuple(pages), failure=failure)

    def see(
        self, many: Sequence[Wanted], *, progress: Progress | None = None
    ) -> tuple[tuple[PageResult, ...], tuple[Finding, ...]]:
        """Every page of every scan, in the order given; a scan that fails is one finding."""
        from packet.intake.names import shown

        seen: dict[int, Seen] = {}

        def done(number: int, one: Seen) -> None:
            seen[number] = one
            if progress is not None:
                progress(len(seen), len(many), shown(many[number].task.name))

        missing = []
        for number, wanted in enumerate(many):
            pages = self.known(wanted)
            if pages is None:
                missing.append(number)
            else:
                self.known_names.add(wanted.task.name)
                done(number, Seen(number=number, pages=pages))
        if missing:
            # the longest work first: at the end no worker waits long for another
            missing.sort(key=lambda number: _shortness(many[number].task.path))
            for one in self.read((many[number] for number in missing), at_most=len(missing)):
                done(missing[one.number], one)
        in_order = [seen[number] for number in range(len(many))]
        return (
            tuple(page for one in in_order for page in one.pages),
            tuple(one.failure for one in in_order if one.failure is not None),
        )

    def _stowed(self, page: PageResult) -> PageResult:
        """The page with its pictures on the disk."""
        items = tuple(
            replace(item, image=self._image(item.image), preview=self._put(item.preview))
            for item in page.items
        )
        return replace(page, items=items, preview=self._put(page.preview))

    def _image(self, image: EncodedImage | VectorPage | None) -> EncodedImage | VectorPage | None:
        if isinstance(image, EncodedImage):
            return replace(image, data=self._put(image.data))
        if isinstance(image, VectorPage):
            return replace(image, pdf_bytes=self._put(image.pdf_bytes))
        return image

    def _put(self, blob: Blob) -> Blob:
        return self._spool.put(blob) if isinstance(blob, bytes) else blob

    def _workers(self, at_most: int | None) -> Workers:
        if self._pool is None:
            from packet.recognition.scan import scan_job
            from packet.workers import Workers

            jobs = self.jobs if at_most is None else max(1, min(self.jobs, at_most))
            self._pool = Workers(scan_job(read=self._read), jobs=jobs, time_limit_s=TIME_LIMIT_S)
        return self._pool

    def _keep(self, wanted: Wanted, pages: Sequence[PageResult]) -> None:
        """Keep a result, unless the scan was exchanged while it was being read."""
        if self.cache is None:
            return
        try:
            same = file_digest(wanted.task.path) == wanted.digest
        except OSError:
            return
        if same:
            self.cache.keep(wanted.task, wanted.digest, pages)


def _shortness(path: Path) -> tuple[bool, int]:
    """A key that sorts PDF files first, which may be of many pages, then large files."""
    try:
        return path.suffix.lower() != ".pdf", -path.stat().st_size
    except OSError:
        return True, 0


def _bare(page: PageResult) -> PageResult:
    items = tuple(replace(item, image=None, preview=b"") for item in page.items)
    return replace(page, items=items, preview=b"")


def _unreadable(name: str, error: ScanError) -> Finding:
    from packet.intake.names import shown

    return Finding(
        code=error.code,
        severity=Severity.ERROR,
        subject=shown(name),
        message=f"{shown(name)} {error.what}",
        remedy=error.remedy,
    )


def _task(packet: Packet, scan: Scan) -> ScanTask:
    """What a worker needs to know; what only the later stages use is not told, so that a
    changed ``accept``, ``document`` or ``leave_out`` reads no scan again."""
    overrides = tuple(o for o in packet.overrides if o.scan == scan.name)
    bare = (replace(one, accept=(), document=None, leave_out=False) for one in overrides)
    return ScanTask(
        path=scan.path,
        name=scan.name,
        kinds=_kinds(packet, scan.folder, overrides),
        overrides=tuple(
            one for one in bare if one != ItemOverride(scan=one.scan, page=one.page, item=one.item)
        ),
    )


def _kinds(packet: Packet, folder: str, overrides: Sequence[ItemOverride]) -> tuple[Kind, ...]:
    """What may be on a scan: its folder's kinds, then those of documents it is moved to.

    On one of the heap anything may be, whatever packet.toml says of its items: so they are found
    and numbered alike before and after they are sorted.
    """
    specs = {spec.folder: spec for spec in (*packet.documents, packet.rule_set.form)}
    folders = [folder, *(o.document for o in overrides if o.document)]
    if folder == packet.heap:
        folders = [*specs]
    kinds = [kind for name in folders if name in specs for kind in specs[name].kinds]
    return tuple(dict.fromkeys(kinds))
