"""What is fuzzed: bytes in, and nothing but the project's own refusals may come out.

Each target writes the bytes to a file, as a user would have it, and reads that file. A target
raises when a promise is broken: another exception than a refusal, a message with a value in it,
a message of more than one line.
"""

from __future__ import annotations

import atexit
import tempfile
from collections.abc import Callable
from pathlib import Path

from trust import jobs, seeds
from trust.measured import Measured, Taken

from packet.errors import PacketError, PacketFileError, ScanError
from packet.imaging.scan import process_scan
from packet.intake.packet_file import read_packet
from packet.intake.picture import Limits
from packet.intake.pictures import open_scan
from packet.model import Kind, ScanTask

LIMITS = Limits(file_bytes=2_000_000, page_pixels=4_000_000, side_pixels=8_000, pages=8)
MOST_S, MOST_MB = 2.0, 600.0
FORMATS = ("jpeg", "png", "tiff", "webp", "gif", "bmp", "heif", "avif", "jpeg2000", "pdf")

_room = tempfile.TemporaryDirectory(prefix="fuzz-")
ROOM = Path(_room.name)
Job = Callable[[str], int]
_started: dict[Job, Measured] = {}


def _through_a_worker(job: Job, path: str) -> Taken:
    if job not in _started:
        warm = ROOM / "warm.pdf"
        warm.write_bytes(seeds.drawn_pdf())
        _started[job] = Measured(job, 90.0, warm=str(warm)).__enter__()
        atexit.register(_started[job].__exit__)
    return _started[job](path)


def packet_toml(data: bytes) -> None:
    """packet.toml of any bytes: a packet or its list of problems."""
    (ROOM / "packet.toml").write_bytes(data)
    try:
        read_packet(ROOM)
    except PacketFileError as error:
        for problem in error.problems:
            _check_sentence(problem)
    except PacketError as error:
        _check_sentence(str(error).replace(str(ROOM), ""))


def intake(data: bytes) -> None:
    """Any bytes as a scan: its pages within the limits, or one sentence and a remedy."""
    path = ROOM / "scan"
    path.write_bytes(data)
    try:
        for page in open_scan(path, limits=LIMITS):
            assert page is not None
    except ScanError as error:
        _check_sentence(error.what)
        _check_sentence(error.remedy)


def pdf(data: bytes, job: Job = jobs.decode) -> None:
    """A PDF of any bytes through a real worker, and then as ``intake``.

    A refusal takes at most ``MOST_S`` of the worker's processor and ``MOST_MB``. What ends the
    worker is not read in this process, where nothing would end it.
    """
    path = ROOM / "worker.pdf"
    path.write_bytes(data)
    taken = _through_a_worker(job, str(path))
    if taken.end != "read":
        assert taken.end == "refused", taken
        assert (taken.cpu_s or 0.0) <= MOST_S, taken
        assert (taken.peak_mb or 0.0) <= MOST_MB, taken
        _check_sentence(taken.words)
    if "far more to read and to draw" not in taken.words:
        intake(data)


def pdf_unmeasured(data: bytes) -> None:
    """The same, where nothing but the allowance of a page stops what draws too much."""
    pdf(data, jobs.decode_unmeasured)


def inspect(data: bytes) -> None:
    """Any bytes through finding and judging, as ``packet inspect`` does it."""
    path = ROOM / "scan"
    path.write_bytes(data)
    if len(data) > LIMITS.file_bytes:
        return
    task = ScanTask(path=path, name="scan", kinds=tuple(Kind), encode=False)
    try:
        for result in process_scan(task):
            assert result.width_px > 0
            assert all(finding.message for finding in result.findings)
    except ScanError as error:
        _check_sentence(error.what)
        _check_sentence(error.remedy)


def _check_sentence(words: str) -> None:
    assert words.endswith("."), words
    assert "\n" not in words
    assert str(ROOM) not in words
    assert len(words) < 1000


FUNCTIONS = {  # others: intake
    "packet-toml": packet_toml,
    "inspect": inspect,
    "pdf": pdf,
    "pdf-unmeasured": pdf_unmeasured,
}
