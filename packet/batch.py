"""Every packet below one folder, built by one pool of workers; one row for each.

A packet that fails is a row and never a stop. A packet whose build is current is not built
again, so a batch that was killed goes on where it stopped. What two packets must not share (a
passport number, an identity paper's scan) is compared over all of them, chosen or not.
"""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, field, replace
from datetime import date
from itertools import chain
from itertools import count as count_from
from pathlib import Path

from packet import pipeline
from packet.cache import open_cache
from packet.checks.people import Holder, mixed_papers
from packet.checks.values import check_values
from packet.errors import PacketError, UsageError
from packet.files import sweep, writing
from packet.guides.calendar import key_days
from packet.intake.names import is_ignored, natural_key, shown
from packet.intake.order import documents_of
from packet.intake.packet_file import PACKET_FILE
from packet.model import Finding, PageResult
from packet.reading import Listed, Progress, Reader, Seen, Wanted, list_packet
from packet.report.batch_rows import BatchRow, State, failed_row, made_row

OUT = "out"
MOST_JOBS = 4  # workers when none is named: each takes some 200 MB


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """Which packets, and how. ``only``: paths below ROOT or last parts of them; () = all.

    ``changed``: leave out those whose build is current. ``jobs``: scans read at once.
    ``read``: the text of the items too.
    """

    only: tuple[str, ...] = ()
    changed: bool = False
    jobs: int | None = None
    use_cache: bool = True
    read: bool = False
    password: str | None = field(default=None, repr=False)


def find_packets(root: Path) -> tuple[str, ...]:
    """Every packet folder below ``root``, as a path with ``/``, in natural order.

    A packet's own folders, hidden folders and links are not entered. PacketError when there is
    none.
    """
    if not root.is_dir():
        raise PacketError(f"{root}: there is no such folder. Name the one that holds the packets.")
    if (root / PACKET_FILE).is_file():
        raise PacketError(
            f"{root}: is a packet itself. Use packet build, or name the folder above."
        )
    found = []
    for folder, inner, files in os.walk(root):
        if PACKET_FILE in files:
            found.append(Path(folder).relative_to(root).as_posix())
            inner.clear()
        inner[:] = [name for name in inner if not name.startswith(".")]
    if not found:
        raise PacketError(
            f"{root}: holds no packet folder. Make one with: packet new {root / 'NAME'}"
        )
    return tuple(sorted(found, key=lambda name: [natural_key(part) for part in name.split("/")]))


def batch(
    root: Path,
    choice: Choice,
    *,
    today: date,
    executor: Executor | None = None,
    progress: Progress | None = None,
) -> tuple[BatchRow, ...]:
    """Build the chosen packets where they are not current; one row for each, in natural order.

    ``executor``: each packet is built by it as one call of ``build_packet``, wherever it runs
    its calls (it must see ``root`` under the same path); None = here, in one pool of workers
    over all packets. ``today``: the day on which dates are looked at; no file to print knows it.
    """
    run = _Run(root, choice, today=today, progress=progress)
    if executor is None:
        run.here()
    else:
        run.elsewhere(executor)
    return run.finished()


def build_packet(
    root: str, use_cache: bool = True, password: str | None = None, read: bool = False
) -> str:
    """Build one packet with one worker; "" or the sentence that says why it could not be."""
    try:
        pipeline.build(Path(root), jobs=1, use_cache=use_cache, password=password, read=read)
    except Exception as error:
        return _sentence(error)
    return ""


def _chosen(names: Sequence[str], only: Sequence[str]) -> Iterator[str]:
    if not only:
        yield from names
        return
    for wanted in only:
        path = Path(wanted).as_posix()
        found = [name for name in names if path in (name, name.rpartition("/")[2])]
        if not found:
            from packet.rules.fields import nearest

            near = nearest(path, names)
            hint = f" Perhaps {near}." if near else ""
            raise UsageError(f"--only {shown(wanted)}: there is no such packet here.{hint}")
        yield from found


@dataclass(slots=True)
class _Open:
    """A packet some of whose scans are still being read."""

    name: str
    listed: Listed
    seen: dict[int, Seen]
    missing: int
    known: frozenset[str]


class _Run:
    """One batch while it goes on: what is open, and the rows that are done."""

    def __init__(
        self, root: Path, choice: Choice, *, today: date, progress: Progress | None
    ) -> None:
        self.root, self.choice, self.today, self.progress = root, choice, today, progress
        self.names = find_packets(root)
        self.chosen = frozenset(_chosen(self.names, choice.only))
        self.rows: dict[str, BatchRow] = {}
        self.holders: list[Holder] = []
        self.done = 0
        self.total = sum(_count_files(root / name) for name in self.chosen) if progress else 0

    # --- here, in one pool ---------------------------------------------------------------------

    def here(self) -> None:
        """Scans of all packets go through one pool; a packet is written when its last is read."""
        jobs = self.choice.jobs or min(os.cpu_count() or 1, MOST_JOBS)
        given: dict[int, tuple[_Open, int]] = {}
        cache = open_cache(self.choice.use_cache)
        with Reader(jobs=jobs, cache=cache, spool=self.root, read=self.choice.read) as reader:
            missing = self._missing(reader, given)
            first = next(missing, None)
            if first is None:
                return
            for one in reader.read(chain([first], missing)):
                packet, number = given.pop(one.number)
                packet.seen[number] = one
                packet.missing -= 1
                self._step(packet.name, packet.listed.wanted[number].task.name)
                if not packet.missing:
                    self._write(packet)

    def _missing(self, reader: Reader, given: dict[int, tuple[_Open, int]]) -> Iterator[Wanted]:
        """Every scan that must be read, packet after packet; asked for when a worker is idle."""
        asked = count_from()
        for name, listed in self._stale():
            known = {n: reader.known(wanted) for n, wanted in enumerate(listed.wanted)}
            seen = {n: Seen(number=n, pages=p) for n, p in known.items() if p is not None}
            names = frozenset(listed.wanted[number].task.name for number in seen)
            packet = _Open(name, listed, seen, len(known) - len(seen), names)
            self._step(name, "", len(seen))
            if not packet.missing:
                self._write(packet)
                continue
            for number, wanted in enumerate(listed.wanted):
                if known[number] is None:
                    given[next(asked)] = (packet, number)
                    yield wanted

    def _write(self, packet: _Open) -> None:
        in_order = [packet.seen[number] for number in range(len(packet.listed.wanted))]
        packet.seen = {}
        pages: list[PageResult] = [page for one in in_order for page in one.pages]
        failures = [one.failure for one in in_order if one.failure is not None]
        out = self.root / packet.name / OUT
        try:
            with writing(out):
                apart = pipeline.told_apart(out) if self.choice.use_cache else ()
                built = pipeline.write_build(
                    packet.listed, pages, failures, out, apart=apart, known=packet.known
                )
        except Exception as error:
            self.rows[packet.name] = failed_row(packet.name, _sentence(error), failures)
            return
        self._made(packet.name, packet.listed, built, anew=True)

    # --- by an executor ------------------------------------------------------------------------

    def elsewhere(self, executor: Executor) -> None:
        """Each packet is one call; here the rows are made of the records that they wrote."""
        calls = [
            (name, len(listed.wanted), executor.submit(
                build_packet,
                str((self.root / name).resolve()),
                self.choice.use_cache,
                self.choice.password,
                self.choice.read,
            ))
            for name, listed in self._stale()
        ]  # fmt: skip
        for name, scans, call in calls:
            try:
                error = call.result()
                if not error:
                    self._built_elsewhere(name)
            except Exception as failure:
                error = _sentence(failure)
            if error:
                self.rows[name] = failed_row(name, error)
            self._step(name, "", scans)

    def _built_elsewhere(self, name: str) -> None:
        listed = self._list(name)
        built = pipeline.current_build(listed, self.root / name / OUT)
        if built is None:
            raise PacketError(
                "What was built elsewhere is not what this machine would build: the same "
                "version of packet and of its libraries must run on both."
            )
        self._made(name, listed, built, anew=True)

    # --- both ----------------------------------------------------------------------------------

    def _stale(self) -> Iterator[tuple[str, Listed]]:
        """The chosen packets that must be built; the others get their row, or none, at once."""
        for name in self.names:
            try:
                listed = self._list(name)
            except Exception as error:
                if name in self.chosen:
                    self.rows[name] = failed_row(name, _sentence(error))
                continue
            self.holders.append(_holder(name, listed))
            if name not in self.chosen:
                continue
            out = self.root / name / OUT
            if out.is_dir():
                sweep(out)
            built = pipeline.current_build(listed, out) if self.choice.use_cache else None
            if built is None:
                yield name, listed
                continue
            self._step(name, "", len(listed.wanted))
            if not self.choice.changed:
                self._made(name, listed, built, anew=False)

    def _list(self, name: str) -> Listed:
        return list_packet(
            self.root / name,
            encode=True,
            preview=True,
            read=self.choice.read,
            password=self.choice.password,
        )

    def _made(self, name: str, listed: Listed, built: pipeline.Built, *, anew: bool) -> None:
        self.rows[name] = made_row(
            name,
            packet=listed.packet,
            record=built.record,
            findings=(*built.findings, *check_values(listed.packet, self.today)),
            days=key_days(listed.packet, self.today),
            built=anew,
        )

    def _step(self, packet: str, scan: str, number: int = 1) -> None:
        if self.progress is not None and number:
            self.done += number
            where = f"{packet}: {scan}" if scan else packet
            self.progress(self.done, max(self.total, self.done), shown(where))

    def finished(self) -> tuple[BatchRow, ...]:
        """The rows, with what two packets hold that belongs to one person."""
        mixed = mixed_papers(self.holders)
        rows = [self.rows[name] for name in self.names if name in self.rows]
        return tuple(_with(row, mixed.get(row.name, ())) for row in rows)


def _with(row: BatchRow, found: Sequence[Finding]) -> BatchRow:
    if not found:
        return row
    state: State = "failed" if row.state == "failed" else "needs-you"
    return replace(row, state=state, doubtful=(*found, *row.doubtful))


def _holder(name: str, listed: Listed) -> Holder:
    identity = {spec.folder for spec in listed.packet.documents if spec.identity}
    return Holder(
        name=name,
        passport_number=listed.packet.passport.number,
        identity_scans={
            scan.digest: scan.name
            for scan in listed.scans
            if documents_of(listed.packet, scan) & identity
        },
        made_from=listed.packet.made_from,
    )


def _count_files(packet: Path) -> int:
    """About how many scans a packet has, for the bar: files one folder down."""
    number = 0
    for folder, inner, files in os.walk(packet):
        if Path(folder) != packet:
            number += sum(not is_ignored(name) for name in files)
            inner.clear()
        inner[:] = [name for name in inner if name != OUT]
    return number


def _sentence(error: Exception) -> str:
    if isinstance(error, PacketError):
        return str(error)
    if isinstance(error, OSError):
        place = f"{error.filename}: " if error.filename else ""
        return f"{place}the system says: {error.strerror or error}."
    return f"a fault of packet itself ({type(error).__name__}): please report it."
