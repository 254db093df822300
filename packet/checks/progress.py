"""What is done and what comes next, for `packet status`. Pure: the caller gathers the facts."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from shlex import quote

from packet.model import SheetCount
from packet.rules.notes import count_box


@dataclass(frozen=True, slots=True, kw_only=True)
class Progress:
    """Facts about a packet on one day.

    ``folder``: the packet as the user named it, for the commands. ``scans``: files outside the
    form's folder; ``form_scans``: inside it; ``unsorted``: in the heap, of no document yet.
    ``documents_missing``: titles of documents wanted and not there. ``errors``/``warnings``:
    findings nobody accepted, as far as is known without reading the scans. ``built``: a record
    lies in the output folder; ``current``: it agrees with the scans, the values and the files;
    ``form_in_build``: the copy sets of that build hold the form. ``recounted``: a recount of this
    very build agreed. ``by_when``: one sentence about the date to keep, "" if not known.
    """

    folder: str
    scans: int
    documents_held: int
    documents_missing: tuple[str, ...] = ()
    errors: int = 0
    warnings: int = 0
    leaves_confirmed: bool = False
    built: bool = False
    current: bool = False
    count: SheetCount | None = None
    unsorted: int = 0
    form_scans: int = 0
    form_in_build: bool = False
    copied_by_hand: bool = False
    recounted: bool = False
    by_when: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Status:
    """Sentences: what is done, and what comes next, the next step first."""

    done: tuple[str, ...]
    next: tuple[str, ...]


def status(progress: Progress) -> Status:
    """Where the packet stands, in the order the job is lived."""
    return Status(done=tuple(_done(progress)), next=tuple(_next(progress)))


def plural(count: int, one: str, many: str | None = None) -> str:
    """``1 page``, ``2 pages``: a number with its noun."""
    return f"{count} {one if count == 1 else many or one + 's'}"


def _done(now: Progress) -> Iterator[str]:
    if now.scans:
        yield (
            f"Scanned: {plural(now.scans, 'file')}, "
            f"{plural(now.documents_held, 'document')} with pages."
        )
    if _settled(now) and not now.errors and not now.documents_missing:
        yield "Checked: nothing is missing or unreadable."
    if now.leaves_confirmed:
        yield "The leaves of the form are counted."
    if _settled(now) and now.count is not None:
        yield f"Built: the number for box {count_box().number} is {now.count.box}."
    if _form_done(now):
        yield (
            "The form is copied elsewhere by you, as packet.toml says."
            if now.copied_by_hand
            else f"The form is scanned ({plural(now.form_scans, 'file')}) and in the copy sets."
        )
    if _recounted(now):
        yield "Recounted: the files agree."


def _next(now: Progress) -> Iterator[str]:
    if now.by_when:
        yield now.by_when
    yield from _prepare(now)
    yield from _finish(now)


def _prepare(now: Progress) -> Iterator[str]:
    """Steps up to a build that agrees with the scans."""
    where = quote(now.folder)
    if not now.scans:
        yield "Scan the documents into their folders; each folder's SCAN-ME.txt says what and how."
    elif now.unsorted:
        yield f"Sort {plural(now.unsorted, 'scan')} into documents: packet sort {where}"
    elif now.documents_missing:
        yield f"Scan what is missing: {'; '.join(now.documents_missing)}."
    if not _settled(now) or now.errors or now.warnings or now.documents_missing:
        yield f"{_look(now)}: packet check {where}"
    if not now.leaves_confirmed:
        yield (
            "Count the leaves of the form in your hand and write the number as form_leaves "
            "under [count] in packet.toml."
        )
    if not _settled(now):
        again = "Build again, something changed since" if now.built else "Build the copies"
        yield f"{again}: packet build {where}"


def _look(now: Progress) -> str:
    counts = [
        plural(number, word)
        for number, word in ((now.errors, "error"), (now.warnings, "warning"))
        if number
    ]
    return f"Look at {' and '.join(counts)}" if counts else "See what is missing or doubtful"


def _finish(now: Progress) -> Iterator[str]:
    """Steps from the number to the counter."""
    where = quote(now.folder)
    if not now.form_scans and not _recounted(now):
        yield (
            f"Fill in the form, last of all box {count_box().number} (packet count {where} gives "
            "the number); stick on the revenue stamp and sign."
        )
    if not now.form_scans and not now.copied_by_hand:
        yield "Scan the complete, signed form into its folder."
        yield f"Build again, so that the copy sets hold the form: packet build {where}"
    if not _recounted(now):
        yield (
            "Print envelope.pdf, copy-set-1.pdf and copy-set-2.pdf at 100 %; print-slip.pdf tells "
            "a copy shop how."
        )
        yield f"Recount before the envelope is handed over: packet recount {where} --written NUMBER"
    yield (
        "At the counter: hand the envelope over open, with your passport; the clerk checks it "
        "and seals it. The post office and the police office decide what they want to see."
    )


def _settled(now: Progress) -> bool:
    return now.built and now.current


def _form_done(now: Progress) -> bool:
    return _settled(now) and (now.copied_by_hand or (now.form_scans > 0 and now.form_in_build))


def _recounted(now: Progress) -> bool:
    return _form_done(now) and now.recounted
