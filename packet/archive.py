"""The user's own file of a packet: the copy set, packet.toml and the record, in one locked PDF."""

from __future__ import annotations

import hashlib
from pathlib import Path

from packet.errors import PacketError, UsageError
from packet.files import write_new

SHORTEST_PASSWORD = 8  # signs; common practice, no source
LONGEST_PASSWORD_BYTES = 127  # ISO 32000-2, 7.6.4.3.3: what is beyond is ignored


def check_password(password: str) -> None:
    """UsageError where a password is too short or too long to protect the file."""
    if len(password) < SHORTEST_PASSWORD:
        raise UsageError(f"The password is too short: take at least {SHORTEST_PASSWORD} signs.")
    if len(password.encode("utf-8", "surrogatepass")) > LONGEST_PASSWORD_BYTES:
        raise UsageError(
            f"The password is too long: a PDF takes {LONGEST_PASSWORD_BYTES} bytes at most."
        )


def archive(
    root: Path, target: Path | None = None, *, password: str, out: Path | None = None
) -> Path:
    """Write the archive of the packet's current build and return its path.

    ``target``: default ``FOLDER-archive.pdf`` beside the packet folder; never overwritten.
    PacketError when there is no build, or not a current one.
    """
    from packet.intake.packet_file import PACKET_FILE, read_packet
    from packet.intake.scans import list_scans
    from packet.report.fresh import why_stale
    from packet.report.record import RECORD_NAME, read_record
    from packet.sheets.archive import archive_pdf
    from packet.sheets.recount import COPY_SETS, count_pages

    check_password(password)
    folder = out or root / "out"
    target = target or beside(root)
    packet = read_packet(root)
    scans, _ = list_scans(packet)
    record = read_record(folder)
    stale = why_stale(packet, scans, folder, record)
    if stale or record is None:
        raise PacketError(f"Nothing was archived. {stale} Build first: packet build {root}")
    copy_set = (folder / COPY_SETS[0]).read_bytes()
    named = next(one for one in record["outputs"] if one["file"] == COPY_SETS[0])
    if hashlib.sha256(copy_set).hexdigest() != named["digest"]:
        raise PacketError("Nothing was archived: the copy set changed at this moment. Try again.")
    attachments = {
        PACKET_FILE: (root / PACKET_FILE).read_bytes(),
        RECORD_NAME: (folder / RECORD_NAME).read_bytes(),
    }
    locked = archive_pdf(copy_set, attachments, password)
    if count_pages(locked, password) != named["pages"]:
        raise PacketError(
            "Nothing was archived: the locked file does not hold the pages of the copy set. This "
            "is a fault of packet, please report it."
        )
    try:
        write_new(target, locked)
    except FileExistsError:
        raise PacketError(
            f"{target} is there already and is not overwritten. Name another file with -o."
        ) from None
    return target


def beside(root: Path) -> Path:
    """``FOLDER-archive.pdf`` beside the packet folder."""
    place = root.resolve()
    return place.with_name(f"{place.name or 'packet'}-archive.pdf")
