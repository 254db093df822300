"""The recount: do scans, packet.toml, written files and the number on the form still agree?

It shares nothing with what it checks but the values, the packet.toml reader and the workers:
another library (pypdfium2) reads the files, and the sum is done again from their pages. A proof
by the code that made the files would prove nothing.
"""

from __future__ import annotations

import hashlib
import json
import os
import unicodedata
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from packet.errors import PacketError, UsageError
from packet.intake.packet_file import read_packet
from packet.model import Difference, Packet, Recount
from packet.rules.sizes import paper_size_mm
from packet.sheets.second_reader import BUILD_AGAIN, FileSeen, PageSeen, read_file
from packet.sheets.second_reader import count_pages as count_pages  # noqa: PLC0414
from packet.workers import Failed, Part, Workers

ENVELOPE = "envelope.pdf"
COPY_SETS = ("copy-set-1.pdf", "copy-set-2.pdf")
RECORD = "record.json"
NOT_SCANS = frozenset({"scan-me.txt", "thumbs.db", "desktop.ini"})  # and dot files

TIME_LIMIT_S = 120.0  # for one file
A4_WITHIN_MM = 0.1

_DOCUMENT_KEYS = {"folder", "title", "pages", "sheets"}


def _stale(what: str) -> Difference:
    """A difference that a new build cures."""
    return Difference(what=what, remedy=BUILD_AGAIN)


@dataclass(frozen=True, slots=True, kw_only=True)
class _PartCount:
    """One part of the envelope file: sides with content, and sheets of paper."""

    title: str
    pages: int
    sheets: int
    index: bool
    whole_sheets: bool  # it starts on a sheet of its own


def recount(
    root: Path, out: Path, *, written: int | None = None, paper: Mapping[str, int] | None = None
) -> Recount:
    """Compare everything with everything and say what disagrees.

    ``written``: the number on the form. ``paper``: document folder -> sheets counted on paper.
    PacketError when there is no build to compare with; UsageError for an unknown document.
    """
    packet = read_packet(root)
    record = _read_record(out)
    seen, differences = _read_files(out)
    found = [
        *_values(packet, record),
        *_scans(packet, record),
        *_outputs(out, record),
    ]
    found += differences
    found += _pages(seen, record)
    envelope = seen.get(ENVELOPE)
    parts = _parts(packet, envelope) if envelope else ()
    box = _box(packet, envelope) if envelope else None
    found += _documents(packet, parts, record) if envelope else []
    found += _number(box, record, written)
    tick = _tick(packet, parts, record)
    found += _paper(packet, tick, paper or {})
    return Recount(
        agrees=not found,
        box=box,
        differences=tuple(found),
        tick=tuple((title, pages, sheets) for _, title, pages, sheets in tick),
        complete=_complete(record),
        missing=tuple(_incomplete(record)),
        notes=tuple(_notes(packet, record, box, written)),
    )


# --- is it all there? ----------------------------------------------------------------------


def _complete(record: Mapping[str, Any]) -> bool:
    return bool(record.get("complete", True))


def _incomplete(record: Mapping[str, Any]) -> Iterator[Difference]:
    """What the build found missing or unreadable: files that agree do not make it whole."""
    if _complete(record):
        return
    errors = [
        finding
        for finding in record["findings"]
        if finding.get("severity") == "error" and not finding.get("accepted")
    ]
    for error in errors:
        yield Difference(what=str(error.get("message")), remedy=str(error.get("remedy", "")))
    if not errors:
        yield Difference(
            what="The build was not complete.",
            remedy="packet check says what is missing; then build again: packet build.",
        )


def _notes(
    packet: Packet, record: Mapping[str, Any], box: int | None, written: int | None
) -> Iterator[str]:
    if written is not None and written == box:
        yield f"You wrote {written}: it agrees."
    without_form = record.get("sets", {}).get("form_pages") == 0
    if without_form and not packet.form.copied_by_hand:
        yield (
            "The copy sets do not hold the copy of the form yet. Scan the signed form and build "
            "again before you print them; envelope.pdf stays as it is."
        )


# --- the record against the folder ---------------------------------------------------------


def _read_record(out: Path) -> dict[str, Any]:
    """What the last build wrote down; PacketError when there is nothing that can be used."""
    try:
        record = json.loads((out / RECORD).read_bytes())
        whole = (
            record["format"] == 1
            and all(entry["scan"] and entry["digest"] for entry in record["scans"])
            and all({"file", "digest", "pages"} <= entry.keys() for entry in record["outputs"])
            and all("subject" in finding for finding in record["findings"])
            and all(doc.keys() >= _DOCUMENT_KEYS for doc in record["count"]["documents"])
        )
    except FileNotFoundError:
        raise PacketError(
            f"There is no build to recount: {RECORD} is not in the output folder. "
            "Build first: packet build."
        ) from None
    except (OSError, ValueError, LookupError, TypeError, AttributeError, RecursionError):
        whole = False
    if not whole:
        raise PacketError(f"{RECORD} of the last build cannot be read. Build again: packet build.")
    return dict(record)


def _values(packet: Packet, record: Mapping[str, Any]) -> Iterator[Difference]:
    if record.get("values_digest") != packet.values_digest:
        yield _stale("A value in packet.toml, or in the rule set, was changed after the build.")


def _scans(packet: Packet, record: Mapping[str, Any]) -> Iterator[Difference]:
    """Scans that changed, went or came since the build. A file that a finding names is known."""
    before = {entry["scan"]: entry["digest"] for entry in record["scans"]}
    now = dict(_listed(packet))
    known = {finding["subject"] for finding in record["findings"]}
    for name in sorted(before.keys() | now.keys()):
        if name not in now:
            yield _stale(f"The scan {_plain(name)} was there at the build and is gone.")
        elif name in before and before[name] != _digest(now[name]):
            yield _stale(f"The scan {_plain(name)} was changed after the build.")
        elif name not in before and _plain(name) not in known:
            yield _stale(f"The scan {_plain(name)} came after the build and is in no copy.")


def _listed(packet: Packet) -> Iterator[tuple[str, Path]]:
    """Files in the folders of scans, as ``folder/name``."""
    root = packet.root.resolve()
    wanted = set(packet.scan_folders)
    for folder in _entries(root):
        if unicodedata.normalize("NFC", folder.name) in wanted:
            for path in _entries(folder):
                hidden = path.name.startswith(".") or path.name.casefold() in NOT_SCANS
                if not hidden and os.path.isfile(path) and path.resolve().is_relative_to(root):
                    yield f"{folder.name}/{path.name}", path


def _entries(folder: Path) -> list[Path]:
    """What lies in a folder; nothing where it is no folder or may not be read."""
    try:
        return sorted(folder.iterdir())
    except OSError:
        return []


def _outputs(out: Path, record: Mapping[str, Any]) -> Iterator[Difference]:
    for entry in record["outputs"]:
        digest = _digest(out / entry["file"])
        if digest is None:
            yield _stale(f"{entry['file']} is missing from the output folder.")
        elif digest != entry["digest"]:
            yield _stale(f"{entry['file']} is not the file that the last build wrote.")


def _digest(path: Path) -> str | None:
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError:
        return None


def _plain(name: str) -> str:
    return "".join(
        sign if sign.isprintable() else sign.encode("unicode_escape", "surrogatepass").decode()
        for sign in name
    )


# --- the files, page by page ---------------------------------------------------------------


def _read_files(out: Path) -> tuple[dict[str, FileSeen], list[Difference]]:
    """Every set that is there, read in worker processes; equal files are read once."""
    names = (ENVELOPE, *COPY_SETS)
    digests = {name: digest for name in names if (digest := _digest(out / name))}
    first = {digest: name for name, digest in reversed(digests.items())}
    unique = list(first.values())
    seen: dict[str, FileSeen] = {}
    differences: list[Difference] = []
    with Workers(read_file, jobs=1, time_limit_s=TIME_LIMIT_S) as pool:
        for answer in pool.run([str(out / name) for name in unique]):
            name = unique[answer.job]
            if isinstance(answer, Part):
                seen[name] = answer.value
            elif isinstance(answer, Failed):
                differences.append(_stale(f"{name} cannot be opened by a second reader."))
    same = {name: first[digest] for name, digest in digests.items() if first[digest] in seen}
    return {name: seen[read] for name, read in same.items()}, differences


def _pages(seen: Mapping[str, FileSeen], record: Mapping[str, Any]) -> Iterator[Difference]:
    recorded = {entry["file"]: entry["pages"] for entry in record["outputs"]}
    for name, file in seen.items():
        if recorded.get(name) != len(file.pages):
            yield _stale(
                f"{name} holds {len(file.pages)} pages; the build wrote {recorded.get(name)}."
            )
        if any(not _is_a4(page) for page in file.pages):
            yield _stale(f"A page of {name} is not A4.")
    first, second = (seen.get(name) for name in COPY_SETS)
    if first and second and first.pages != second.pages:
        yield _stale("The two copy sets do not hold the same pages.")
    for name in COPY_SETS:
        if name in seen and ENVELOPE in seen:
            yield from _same_documents(name, seen[name], seen[ENVELOPE])


def _is_a4(page: PageSeen) -> bool:
    sides = zip(page.size_mm, paper_size_mm("a4"), strict=True)
    return all(abs(side - nominal) <= A4_WITHIN_MM for side, nominal in sides)


def _same_documents(name: str, copies: FileSeen, envelope: FileSeen) -> Iterator[Difference]:
    """Every page of the envelope must be in the copy set, the same, in the same order."""
    theirs, ours = _numbered(copies), _numbered(envelope)
    if list(theirs) != list(ours) or list(ours) != [str(n) for n in range(1, len(ours) + 1)]:
        yield _stale(
            f"{name} does not hold the same document pages as {ENVELOPE}, or in another order."
        )
        return
    other = [label for label in ours if theirs[label] != ours[label]]
    if other:
        yield _stale(f"{name} and {ENVELOPE} differ on document page {', '.join(other)}.")


def _numbered(file: FileSeen) -> dict[str, str]:
    return {page.label: page.digest for page in file.pages if page.label.isdecimal()}


# --- the sum, done again -------------------------------------------------------------------


def _parts(packet: Packet, envelope: FileSeen) -> tuple[_PartCount, ...]:
    two_sided = packet.count.copies_printed == "two-sided"
    starts = [start for _, start in envelope.parts]
    ends = [*starts[1:], len(envelope.pages)]
    return tuple(
        _PartCount(
            title=title,
            pages=sum(not page.empty or page.label.isdecimal() for page in sides),
            sheets=(len(sides) + 1) // 2 if two_sided else len(sides),
            index=sides[0].label.startswith("I") if sides else False,
            whole_sheets=not two_sided or (start % 2 == 0 and len(sides) % 2 == 0),
        )
        for (title, start), end in zip(envelope.parts, ends, strict=True)
        for sides in (envelope.pages[start:end],)
    )


def _box(packet: Packet, envelope: FileSeen) -> int:
    """Form, every sheet of the envelope file, extra leaves."""
    pages, terms = len(envelope.pages), packet.count
    sheets = (pages + 1) // 2 if terms.copies_printed == "two-sided" else pages
    return terms.form_leaves + sheets + terms.extra_leaves


def _documents(
    packet: Packet, parts: Sequence[_PartCount], record: Mapping[str, Any]
) -> Iterator[Difference]:
    for part in parts:
        if not part.whole_sheets:
            yield _stale(f"{part.title} shares a sheet with another document.")
    ours = [(part.title, part.pages, part.sheets) for part in parts if not part.index]
    theirs = [(doc["title"], doc["pages"], doc["sheets"]) for doc in record["count"]["documents"]]
    if ours != theirs:
        yield _stale("The documents in the written file are not those that the build counted.")
    if any(part.index for part in parts) != packet.count.index_in_envelope:
        yield _stale("The index is in the envelope and should not be, or the other way round.")


def _number(
    box: int | None, record: Mapping[str, Any], written: int | None
) -> Iterator[Difference]:
    counted = record["count"].get("box")
    if box is not None and box != counted:
        yield _stale(
            f"Counted anew from the written file the total is {box}; the build said {counted}."
        )
    right = counted if box is None else box
    if written is not None and written != right:
        yield Difference(
            what=f"On the form stands {written}; the files give {right}.",
            remedy="Count the paper with the list below. If the paper agrees with the files, "
            "correct the number on the form as its notes allow, or ask at the post office.",
        )


# --- the paper -----------------------------------------------------------------------------


def _tick(
    packet: Packet, parts: Sequence[_PartCount], record: Mapping[str, Any]
) -> tuple[tuple[str, str, int, int], ...]:
    """(folder, title, printed sides, sheets) of all that lies in the envelope: sheets sum to box.

    A document that the build found missing stands last, with no page.
    The form is given with its printed sides (rule data) and its leaves (packet.toml).
    """
    form = packet.rule_set.form.folder
    printed = sum(packet.rule_set.form_pages.get(module, 0) for module in packet.form.modules)
    folders = iter([document["folder"] for document in record["count"]["documents"]])
    english = {spec.folder: spec.title_en for spec in packet.documents}
    rows = [(form, "Original form / Modulo originale", printed, packet.count.form_leaves)]
    for part in parts:
        folder = "" if part.index else next(folders, "")
        title = both_titles("Index" if part.index else english.get(folder, ""), part.title)
        rows.append((folder, title, part.pages, part.sheets))
    extra = packet.count.extra_leaves
    if extra:
        rows.append(("", "Other sheets / Altri fogli", extra, extra))
    there = {folder for folder, *_ in rows}
    rows += [
        (spec.folder, both_titles(spec.title_en, spec.title_it), 0, 0)
        for spec in packet.documents
        if _lacks(record, f"{spec.folder}/") and spec.folder not in there
    ]
    return tuple(rows)


def both_titles(english: str, italian: str) -> str:
    """``Passport / Passaporto``; one of them where they are the same or one is not known."""
    return " / ".join(dict.fromkeys(filter(None, (english, italian))))


def _lacks(record: Mapping[str, Any], subject: str) -> bool:
    return any(
        finding["subject"] == subject and finding.get("code") == "missing-document"
        for finding in record["findings"]
    )


def _paper(
    packet: Packet, tick: Sequence[tuple[str, str, int, int]], paper: Mapping[str, int]
) -> Iterator[Difference]:
    sheets = {folder: (title, number) for folder, title, _, number in tick if folder}
    known = [spec.folder for spec in (*packet.documents, packet.rule_set.form)]
    for folder, counted in paper.items():
        if folder not in known:
            raise UsageError(
                f"There is no document {_plain(folder)!r} in this packet; there are: "
                f"{', '.join(known)}."
            )
        title, expected = sheets.get(folder, (folder, 0))
        if counted != expected:
            yield Difference(
                what=f"{title}: {counted} sheets on paper, {expected} in the files.",
                remedy="Count that pile again; print what is missing or take out what does not "
                "belong there.",
            )
