"""``packet new``: a packet folder, whole or not at all; empty, or begun from an old packet."""

from __future__ import annotations

import contextlib
import os
import shutil
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path
from typing import Any

from packet.errors import OutputError, PacketError, PacketFileError, UsageError
from packet.files import file_digest, part_folder, sweep
from packet.intake.carry import Carried, carry
from packet.intake.names import is_ignored, shown
from packet.intake.packet_file import PACKET_FILE, read_packet
from packet.intake.packet_text import packet_text
from packet.intake.proposals import with_proposals
from packet.intake.scan_notes import SCAN_ME, scan_note
from packet.model import Packet, RuleSet
from packet.rules.reader import load_rule_set, rule_set_names

FIRST_ISSUE = "elective-residence-first-issue"
RENEWAL = "elective-residence-renewal"


@dataclass(frozen=True, slots=True, kw_only=True)
class Answers:
    """What the user was asked; None or an empty text = not given."""

    surname: str = field(default="", repr=False)
    given_names: str = field(default="", repr=False)
    booklet_pages: int | None = None
    form_leaves: int | None = None
    not_held: tuple[str, ...] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """What was made.

    ``again``: one line for each thing to scan anew, and why; ``check``: one for each that was
    carried over and that the user should look at.
    """

    paths: tuple[Path, ...]
    again: tuple[str, ...] = ()
    check: tuple[str, ...] = ()


def new_packet(
    folder: Path,
    *,
    rule_set: str | None = None,
    answers: Answers | None = None,
    old: Path | None = None,
    today: date | None = None,
    read: Mapping[str, Any] | None = None,
) -> Made:
    """Make the packet folder ``folder`` (readable by the owner alone).

    ``rule_set``: a name, or a path ending in ``.toml``, which is copied into the packet; None
    = elective residence, a renewal when ``old`` is given. ``old``: an earlier packet, never
    changed. ``today``: the day on which carried papers must still be valid. ``read``: key path ->
    value read from a passport, proposed as comments for the user to confirm. UsageError when the
    folder is not empty or lies inside a packet, PacketFileError when an answer or the old packet
    cannot be used, OutputError when nothing could be written.
    """
    _refuse_place(folder)
    before = _read_old(old) if old is not None else None
    name = rule_set or _default_rule_set(before)
    rules = load_rule_set(name)
    carried = _start(folder, rules, before, today)
    packet = _answered(carried.packet, answers or Answers())
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        place = folder if folder.exists() else folder.parent
        sweep(place)
        with part_folder(place) as room:
            beside = room / "new"
            beside.mkdir(mode=0o700)
            made = [*_fill(beside, packet, name, read or {}), *_copy_scans(beside, carried)]
            _put_in_place(beside, folder)
    except OSError as error:
        raise _not_made(folder, error) from None
    paths = (folder, *(folder / path.relative_to(beside) for path in made))
    return Made(paths=paths, again=carried.again, check=carried.check)


# --- before anything is written ---------------------------------------------------------------


def _refuse_place(folder: Path) -> None:
    if os.path.lexists(folder) and not os.path.isdir(folder):
        raise UsageError(f"{folder}: is not a folder. Name one that does not exist yet.")
    try:
        full = os.path.isdir(folder) and any(not is_ignored(path.name) for path in folder.iterdir())
    except OSError as error:
        raise _not_made(folder, error) from None
    if full:
        raise UsageError(
            f"{folder}: is not empty, and nothing in it is changed. "
            "Name a folder that is empty or does not exist yet."
        )
    for above in folder.resolve().parents:
        if os.path.isfile(above / PACKET_FILE):
            raise UsageError(
                f"{folder}: lies inside another packet. "
                "Name a folder outside it: one folder for one person and one application."
            )


def _read_old(old: Path) -> Packet:
    try:
        return read_packet(old)
    except PacketFileError as error:
        raise PacketFileError(str(old / error.file), error.problems) from None


def _default_rule_set(before: Packet | None) -> str:
    if before is None:
        return FIRST_ISSUE
    if before.rule_set.name in rule_set_names():
        return RENEWAL
    raise UsageError(
        "The old packet has a rule set of your own: name the one for the new packet "
        "with --rule-set."
    )


def _start(folder: Path, rules: RuleSet, before: Packet | None, today: date | None) -> Carried:
    if before is not None:
        carried = carry(before, rules, today)
        made_from = _seen_from_beside(folder, before.root)
        return replace(carried, packet=replace(carried.packet, root=folder, made_from=made_from))
    packet = Packet(root=folder, rule_set=rules, documents=rules.documents)
    packet = replace(packet, form=replace(packet.form, modules=(min(rules.form_pages),)))
    return Carried(packet=packet, scans=(), again=(), check=())


def _seen_from_beside(folder: Path, old: Path) -> str:
    """The way from the folder that holds ``folder`` to the old packet; its name on other drives."""
    try:
        way = os.path.relpath(old.resolve(), folder.resolve().parent)
    except ValueError:
        way = old.resolve().name
    return Path(way).as_posix()


def _answered(packet: Packet, answers: Answers) -> Packet:
    """The packet with every answer that was given."""
    person, passport, count = packet.applicant, packet.passport, packet.count
    if answers.form_leaves is not None:
        count = replace(count, form_leaves=answers.form_leaves, form_leaves_confirmed=True)
    return replace(
        packet,
        applicant=replace(
            person,
            surname=answers.surname or person.surname,
            given_names=answers.given_names or person.given_names,
        ),
        passport=replace(passport, booklet_pages=answers.booklet_pages or passport.booklet_pages),
        count=count,
        not_held=packet.not_held if answers.not_held is None else answers.not_held,
    )


# --- writing ----------------------------------------------------------------------------------


def _fill(beside: Path, packet: Packet, rule_set: str, read: Mapping[str, Any]) -> Iterator[Path]:
    """packet.toml, the user's own rule set, and a folder with SCAN-ME.txt for each document."""
    name = rule_set
    if rule_set.endswith(".toml"):
        name = Path(rule_set).name
        name = "rule-set.toml" if name.casefold() == PACKET_FILE else name
        yield _write(beside / name, Path(rule_set).read_bytes())
    text = with_proposals(packet_text(packet, rule_set=name), read)
    yield _write(beside / PACKET_FILE, text.encode("utf-8"))
    read_packet(beside)  # what was answered must be readable: nothing is made otherwise
    for spec in (*packet.documents, packet.rule_set.form):
        folder = beside / spec.folder
        folder.mkdir(mode=0o700)
        yield folder
        yield _write(folder / SCAN_ME, scan_note(packet, spec).encode("utf-8"))


def _write(path: Path, data: bytes) -> Path:
    handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(handle, "wb") as stream:
        stream.write(data)
        stream.flush()
        os.fsync(stream.fileno())
    return path


def _copy_scans(beside: Path, carried: Carried) -> Iterator[Path]:
    """True copies, never links; each compared with the digest that was read before."""
    for scan in carried.scans:
        path = beside / scan.folder / scan.path.name
        path.parent.mkdir(mode=0o700, exist_ok=True)  # the heap's is not made before
        shutil.copyfile(scan.path, path)
        path.chmod(0o600)
        if file_digest(path) != scan.digest:
            raise PacketError(
                f"{shown(scan.name)}: changed while it was copied, and nothing was made. "
                "Close the program that writes it and try again."
            )
        yield path


def _put_in_place(beside: Path, folder: Path) -> None:
    """Rename the whole folder; into an empty one that is there (perhaps ".") entry by entry."""
    if not folder.exists():
        beside.rename(folder)
        return
    moved: list[Path] = []
    try:
        for path in sorted(beside.iterdir(), key=lambda one: one.name == PACKET_FILE):
            path.rename(folder / path.name)
            moved.append(folder / path.name)
    except BaseException:
        _remove(moved)
        raise
    with contextlib.suppress(OSError):
        os.chmod(folder, 0o700)


def _remove(paths: Sequence[Path]) -> None:
    for path in paths:
        if path.is_dir():
            shutil.rmtree(path, ignore_errors=True)
        else:
            path.unlink(missing_ok=True)


def _not_made(folder: Path, error: OSError) -> OutputError:
    reason = (error.strerror or "unknown reason").lower()
    return OutputError(
        f"{folder}: the packet could not be made ({reason}), and nothing is left behind. "
        "Choose another place, or free some space, and try again."
    )
