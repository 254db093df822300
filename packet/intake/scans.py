"""The files of a packet folder: which are scans, in natural order, with their digests.

Nothing is decoded here and no name decides what a file is. What is not used is said in a
finding: a scan must never be missing from the copies without a word.
"""

from __future__ import annotations

import stat
from collections.abc import Iterator, Sequence
from pathlib import Path

from packet.errors import PacketError
from packet.files import stamped_digest
from packet.intake.names import is_ignored, natural_key, same, shown
from packet.intake.picture import LIMITS, Limits
from packet.model import Finding, Packet, Scan, Severity
from packet.rules.fields import nearest

OUT_FOLDER = "out"
_PLAIN_SUFFIXES = (".toml", ".txt", ".md", ".html", ".json", ".csv", ".ics", ".log")


def list_scans(
    packet: Packet, *, limits: Limits = LIMITS
) -> tuple[tuple[Scan, ...], tuple[Finding, ...]]:
    """Every scan of the folders of documents, form and heap, and what is wrong with the others.

    Scans are sorted by folder (in the packet's order), then naturally by name. A missing
    folder holds no scans. Symbolic links that leave the packet, devices and pipes are never
    opened; files beyond ``limits.file_bytes`` are not read. ``Scan.name`` is the name as the
    system gives it, so that ``root / name`` opens it; findings show it escaped
    (``names.shown``). PacketError when the packet's own folder cannot be listed.
    """
    root = packet.root.resolve()
    try:
        entries = _entries(packet.root)
    except OSError as error:
        reason = (error.strerror or "unknown reason").lower()
        raise PacketError(
            f"{packet.root}: the folder cannot be listed ({reason}). "
            "Give yourself the right to read it."
        ) from None
    places = _document_folders(packet, entries)
    scans: list[Scan] = []
    findings: list[Finding] = []
    for name in packet.scan_folders:
        found = list(_folder(root, name, places.get(name), limits))
        scans += [one for one in found if isinstance(one, Scan)]
        findings += [one for one in found if isinstance(one, Finding)]
    others = [path for path in entries if path not in places.values()]
    findings += _not_used(packet, root, others)
    return tuple(scans), tuple(findings)


def _document_folders(packet: Packet, paths: Sequence[Path]) -> dict[str, Path]:
    """Folder of the packet -> where it lies, names compared after NFC."""
    entries = {same(path.name): path for path in paths}
    return {name: entries[same(name)] for name in packet.scan_folders if same(name) in entries}


def _entries(folder: Path) -> list[Path]:
    """What lies in a folder, in natural order; OSError when it cannot be listed."""
    return sorted(folder.iterdir(), key=lambda path: natural_key(path.name))


def _folder(root: Path, name: str, folder: Path | None, limits: Limits) -> Iterator[Scan | Finding]:
    if folder is None:
        return
    if not _inside(root, folder):
        yield _leaves(name)
        return
    if not folder.is_dir():
        yield _finding(
            "not-a-scan", Severity.ERROR, name, "This is a file where a folder of scans should be.",
            "Rename it, make a folder of that name and move the scan into it.",
        )  # fmt: skip
        return
    try:
        paths = _entries(folder)
    except OSError:
        yield _finding(
            "unreadable", Severity.ERROR, name, "This folder may not be read by you.",
            "Give yourself the right to read it.",
        )  # fmt: skip
        return
    for path in paths:
        if not is_ignored(path.name):
            yield _entry(root, f"{folder.name}/{path.name}", path, name, limits)


def _entry(root: Path, name: str, path: Path, folder: str, limits: Limits) -> Scan | Finding:
    if not _inside(root, path):
        return _leaves(name)
    try:
        status = path.stat()
        if stat.S_ISDIR(status.st_mode):
            return _finding(
                "not-a-scan", Severity.WARNING, name,
                "This is a sub-folder, and sub-folders are not entered.",
                f"Move its scans up into {folder}.",
            )  # fmt: skip
        if not stat.S_ISREG(status.st_mode):
            return _finding(
                "not-a-scan", Severity.ERROR, name, "This is a pipe, socket or device, not a file.",
                "Take it out of the folder.",
            )  # fmt: skip
        if status.st_size > limits.file_bytes:
            return _too_large(name, status.st_size, limits)
        digest, stamp = stamped_digest(path)
    except OSError as error:
        reason = (error.strerror or "unknown reason").lower()
        return _finding(
            "unreadable", Severity.ERROR, name, f"This cannot be read ({reason}).",
            "Check that the file is there and that you may read it.",
        )  # fmt: skip
    return Scan(
        name=name,
        path=path,
        folder=folder,
        digest=digest,
        size_bytes=status.st_size,
        stamp=stamp,
    )


def _inside(root: Path, path: Path) -> bool:
    """False when symbolic links lead out of ``root`` (a resolved path), or in a circle."""
    try:
        return path.resolve().is_relative_to(root)
    except (OSError, RuntimeError):
        return False


# --- what is there and not used ---------------------------------------------------------------


def _not_used(packet: Packet, root: Path, others: Sequence[Path]) -> Iterator[Finding]:
    """Pictures and PDFs beside packet.toml, and folders that no document has."""
    folders = [spec.folder for spec in (*packet.documents, packet.rule_set.form)]
    for path in others:
        if is_ignored(path.name) or path.name == OUT_FOLDER:
            continue
        if path.is_dir():
            count = _count_files(path) if _inside(root, path) else 0
            if count:
                yield _unknown_folder(path.name, count, folders)
        elif path.suffix.casefold() not in _PLAIN_SUFFIXES:
            yield _finding(
                "not-used", Severity.WARNING, path.name,
                "This lies beside packet.toml and will not be copied.",
                f"Move it into the folder of its document ({', '.join(folders)}).",
            )  # fmt: skip


def _unknown_folder(name: str, count: int, folders: Sequence[str]) -> Finding:
    near = nearest(name, folders)
    where = near or "a document's folder, or add a [[document]] table for it to packet.toml"
    return _finding(
        "not-used", Severity.WARNING, name,
        f"This is no document's folder: {_files(count)} in it will not be copied.",
        f"Move what belongs to the packet into {where}.",
    )  # fmt: skip


def _count_files(folder: Path) -> int:
    """Files in a folder that no document has; none where build has written (``--out``)."""
    if (folder / "record.json").is_file():
        return 0
    try:
        return sum(not is_ignored(path.name) for path in folder.iterdir())
    except OSError:
        return 0


def _files(count: int) -> str:
    return "1 file" if count == 1 else f"{count} files"


# --- findings ---------------------------------------------------------------------------------


def _finding(code: str, severity: Severity, name: str, message: str, remedy: str) -> Finding:
    return Finding(
        code=code, severity=severity, subject=shown(name), message=message, remedy=remedy
    )


def _leaves(name: str) -> Finding:
    return _finding(
        "not-a-scan", Severity.ERROR, name,
        "This symbolic link leads out of the packet folder, or in a circle: it was not read.",
        "Put a copy of the file itself into the folder.",
    )  # fmt: skip


def _too_large(name: str, size_bytes: int, limits: Limits) -> Finding:
    return Finding(
        code="unreadable",
        severity=Severity.ERROR,
        subject=shown(name),
        message="This file is larger than a scan may be and was not read.",
        measured=size_bytes / 1e6,
        limit=limits.file_bytes / 1e6,
        unit="MB",
        remedy="Scan it again at 300 dpi, or split it into several files.",
    )
