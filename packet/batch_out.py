"""What a batch writes beside the packets: the summary, and the files to print in one folder."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from pathlib import Path

from packet.batch import OUT
from packet.errors import UsageError
from packet.files import make_private_folder, write_all_whole
from packet.intake.packet_file import PACKET_FILE
from packet.report.batch_files import batch_csv, batch_json
from packet.report.batch_page import batch_html
from packet.report.batch_rows import BatchRow

SUMMARY = ("batch.csv", "batch.json", "batch.html")
NOT_COMPLETE = "not-complete"


def write_summary(root: Path, rows: Sequence[BatchRow], today: date) -> tuple[Path, ...]:
    """batch.csv, batch.json and batch.html in ``root``, whole, readable by the owner alone."""
    made = (batch_csv(rows), batch_json(rows, today), batch_html(rows, today))
    write_all_whole(root, dict(zip(SUMMARY, made, strict=True)), last=SUMMARY[-1])
    return tuple(root / name for name in SUMMARY)


def refuse_inside_packet(folder: Path) -> None:
    """UsageError where files to print would lie among the scans of a packet."""
    for place in (folder.resolve(), *folder.resolve().parents):
        if (place / PACKET_FILE).is_file():
            raise UsageError(
                f"--print-to {folder}: lies inside a packet. Name a folder outside all packets."
            )


def gather_prints(
    root: Path, rows: Sequence[BatchRow], folder: Path, *, one_file: bool = False
) -> tuple[Path, ...]:
    """Copies of every file to print, named after its packet; what was written.

    ``client-a/out/envelope.pdf`` becomes ``client-a-envelope.pdf``. What is not complete goes
    into a folder of that name: it must not be printed by oversight. ``one_file``: both copy sets
    in one file instead of two.
    """
    refuse_inside_packet(folder)
    make_private_folder(folder)
    written: list[Path] = []
    taken: set[str] = set()
    for row in rows:
        if not row.files:
            continue
        stem = _free(row.name.replace("/", "-"), taken)
        place = folder if row.complete else folder / NOT_COMPLETE
        files = {f"{stem}-{name}": data for name, data in _files(root, row, one_file)}
        write_all_whole(place, files, last=list(files)[-1])
        other = folder / NOT_COMPLETE if row.complete else folder
        for name in files:  # of an earlier run, when the packet stood otherwise
            (other / name).unlink(missing_ok=True)
        written += [place / name for name in files]
    return tuple(written)


def _files(root: Path, row: BatchRow, one_file: bool) -> Iterator[tuple[str, bytes]]:
    from packet.sheets.sets import COPY_SETS

    for file in row.files:
        if not one_file or file.name not in COPY_SETS:
            yield file.name, (root / row.name / OUT / file.name).read_bytes()
        elif file.name == COPY_SETS[0]:
            from packet.sheets.print_file import BOTH_SETS, both_sets

            yield BOTH_SETS, both_sets((root / row.name / OUT / file.name).read_bytes())


def _free(stem: str, taken: set[str]) -> str:
    """A name that no other packet of this run has, whatever the case of letters."""
    number, free = 1, stem
    while free.casefold() in taken:
        number += 1
        free = f"{stem}-{number}"
    taken.add(free.casefold())
    return free
