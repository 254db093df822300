"""What a packet folder holds of a person's papers, and its removal: the end of a packet's life.

The one place that removes originals. Only what packet knows to be a scan, an output or a left
over of its own is removed, inside the folder alone: a symbolic link is taken away, what it
points to is not touched, and a folder that is a link is not entered.
"""

from __future__ import annotations

import contextlib
import os
import stat
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from packet.errors import PacketError
from packet.files import PART_PREFIX, writing

What = Literal["scan", "output", "unfinished", "packet.toml"]
CAUTION = (
    "Deleted is not erased: on flash media (SSD, USB stick, SD card, phone) and in backups the "
    "data may stay readable. Only an encrypted disk protects against that."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Removable:
    """One file that forget removes. ``name``: its path below ``base``."""

    what: What
    base: Path
    name: str
    size_bytes: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Inventory:
    """What goes and what stays. ``stays``: (name, why) of what the user should look at.

    ``digests``: of the scans, now and at the last build; what the cache holds of them goes too.
    """

    removable: tuple[Removable, ...]
    digests: tuple[str, ...]
    stays: tuple[tuple[str, str], ...]
    caution: str


def inventory(root: Path, out: Path | None = None, *, everything: bool = False) -> Inventory:
    """What ``forget`` removes; nothing is decoded. ``everything``: packet.toml too."""
    from packet.intake.packet_file import PACKET_FILE, read_packet
    from packet.intake.scans import list_scans
    from packet.report.record import read_record

    packet = read_packet(root)
    base = root.resolve()
    found = list(_scans(base, packet.scan_folders))
    found += _outputs(base / "out", own=True)
    if out is not None and out.resolve() != (base / "out").resolve():
        found += _outputs(out.resolve(), own=False)
    stays = [] if everything else [(PACKET_FILE, "it holds your values; --all removes it too")]
    if everything:
        found += _file("packet.toml", base, PACKET_FILE)
    removable = tuple(one for one in found if isinstance(one, Removable))
    stays += [one for one in found if isinstance(one, tuple)]
    digests = {scan.digest for scan in list_scans(packet)[0]}
    record = read_record(out or base / "out") or {}
    digests |= {str(entry.get("digest")) for entry in record.get("scans", ())}
    return Inventory(
        removable=removable, digests=tuple(sorted(digests)), stays=tuple(stays), caution=CAUTION
    )


def remove(root: Path, out: Path | None, listed: Inventory) -> tuple[list[str], list[str]]:
    """Remove what ``listed`` names: (names removed, sentences about what could not be)."""
    from packet import cache

    removed, failed = [], []
    folders = [root / "out", *([out] if out is not None else [])]
    with contextlib.ExitStack() as held:
        for folder in {folder.resolve() for folder in folders if folder.is_dir()}:
            held.enter_context(writing(folder))  # no build may be at work
        for one in listed.removable:
            try:
                _unlink(one)
                removed.append(one.name)
            except FileNotFoundError:
                continue  # gone already
            except OSError as error:
                reason = (error.strerror or "unknown reason").lower()
                failed.append(f"{one.name} could not be removed ({reason}).")
        cache.forget(listed.digests)
    _remove_empty(root.resolve(), listed.removable)
    return removed, failed


# --- finding -----------------------------------------------------------------------------------

_Found = Removable | tuple[str, str]


def _scans(base: Path, wanted: Sequence[str]) -> Iterator[_Found]:
    from packet.intake.names import IGNORED, is_ignored, same, shown

    names = {same(name) for name in wanted}
    for entry in _listed(base):
        if same(entry.name) in names:
            if not entry.is_dir(follow_symlinks=False):
                yield entry.name, "it is a link or a file where a folder should be: left alone"
                continue
            for scan in _listed(base / entry.name):
                name = f"{entry.name}/{scan.name}"
                if scan.is_dir(follow_symlinks=False):
                    yield shown(name), "a sub-folder, which packet never entered: look inside"
                elif scan.name.casefold() not in IGNORED:
                    yield from _file("scan", base, name)
        elif entry.name != "out" and not is_ignored(entry.name) and entry.name != "packet.toml":
            yield shown(entry.name), "packet did not make or read it: look at it yourself"


def _outputs(folder: Path, *, own: bool) -> Iterator[_Found]:
    """Outputs in ``folder``; all files of the packet's own ``out``, known names elsewhere."""
    from packet.intake.names import shown
    from packet.report.record import RECORD_NAME
    from packet.sheets.sets import COPY_SETS, ENVELOPE, PRINT_SLIP

    known = {ENVELOPE, *COPY_SETS, PRINT_SLIP, "review.html", RECORD_NAME}
    if folder.is_symlink():
        yield folder.name, "it is a link: what it points to is left alone"
        return
    for entry in _listed(folder):
        if entry.name.startswith(PART_PREFIX):
            yield from _tree("unfinished", folder, entry.name)
        elif entry.is_dir(follow_symlinks=False):
            if own:
                yield f"out/{shown(entry.name)}", "a folder that packet did not make: look inside"
        elif own or entry.name in known:
            yield from _file("output", folder, entry.name)


def _tree(what: What, base: Path, name: str) -> Iterator[_Found]:
    """Every file below ``base / name``, links not followed."""
    for entry in _listed(base / name) if not (base / name).is_symlink() else ():
        inner = f"{name}/{entry.name}"
        if entry.is_dir(follow_symlinks=False):
            yield from _tree(what, base, inner)
        else:
            yield from _file(what, base, inner)


def _file(what: What, base: Path, name: str) -> Iterator[_Found]:
    with contextlib.suppress(OSError):
        size = os.lstat(base / name).st_size
        yield Removable(what=what, base=base, name=name, size_bytes=size)


def _listed(folder: Path) -> list[os.DirEntry[str]]:
    from packet.intake.names import natural_key

    try:
        with os.scandir(folder) as entries:
            return sorted(entries, key=lambda entry: natural_key(entry.name))
    except (FileNotFoundError, NotADirectoryError):
        return []
    except OSError as error:
        reason = (error.strerror or "unknown reason").lower()
        raise PacketError(
            f"{folder}: the folder cannot be listed ({reason}). Nothing was removed."
        ) from None


# --- removing ----------------------------------------------------------------------------------


def _unlink(one: Removable) -> None:
    """Remove a file without following a link on the way, where the system can do that."""
    path = one.base / one.name
    if os.unlink not in os.supports_dir_fd:
        if path.parent.resolve().is_relative_to(one.base):
            path.unlink()
        return
    *folders, name = one.name.split("/")
    flags = os.O_RDONLY | os.O_DIRECTORY | os.O_NOFOLLOW
    handle = os.open(one.base, flags)
    try:
        for folder in folders:
            inner = os.open(folder, flags, dir_fd=handle)
            os.close(handle)
            handle = inner
        if not stat.S_ISDIR(os.stat(name, dir_fd=handle, follow_symlinks=False).st_mode):
            os.unlink(name, dir_fd=handle)
    finally:
        os.close(handle)


def _remove_empty(root: Path, removed: Sequence[Removable]) -> None:
    """Folders that packet made and that are empty now; the documents' folders stay."""
    folders = {(one.base / one.name).parent for one in removed if one.what == "unfinished"}
    for folder in sorted(folders, key=lambda path: -len(path.parts)):
        with contextlib.suppress(OSError):
            folder.rmdir()
    if not (root / "out").is_symlink():
        with contextlib.suppress(OSError):
            (root / "out").rmdir()
