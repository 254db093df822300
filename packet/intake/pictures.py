"""Open one scan, whatever it is, page by page: the single door for untrusted files.

Every native decoder is called from here and from the modules this one loads, and only inside a
worker (``packet.workers``). Whatever a decoder raises becomes a ``ScanError`` in ``_steps``.
"""

from __future__ import annotations

import contextlib
import logging
import os
import stat
import warnings
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO

from packet.errors import ScanError, ScanLimitError
from packet.intake.picture import LIMITS, Limits, Picture
from packet.intake.sniff import HEAD_BYTES, FileType, file_type
from packet.model import VectorPage

_AGAIN = "Scan it again, or save it as a plain JPEG or PDF."


def open_scan(
    path: Path, *, limits: Limits = LIMITS, password: str | None = None
) -> Iterator[Picture | VectorPage]:
    """The pages of a scan, decoded one at a time as they are asked for.

    JPEG, PNG, TIFF, WebP, GIF, BMP, HEIF, AVIF, JPEG 2000 and PDF, known by their content.
    Raises ScanError (code ``not-a-scan`` for a file that is none of these, ``unreadable`` for a
    damaged or locked one) and ScanLimitError, the latter before anything is decoded.
    """
    with _regular_file(path, limits) as file:
        kind = file_type(file.read(HEAD_BYTES))
        if kind is None:
            raise ScanError(
                "is not a picture or a PDF, whatever its name says.",
                "Put a scan in its place, or save it as PDF (a letter, a table); or move it out "
                "of the folder.",
                "not-a-scan",
            )
        file.seek(0)
        yield from _steps(_pages(kind, file, path, limits, password))


def warm_up() -> None:
    """Import what decoding a photo needs, so that a worker's memory limit does not count it.

    What only some scans need (PDF, HEIF, colour profiles) is imported by the first of them.
    """
    import PIL.JpegImagePlugin

    import packet.intake.rasters

    del PIL, packet


def _pages(
    kind: FileType, file: BinaryIO, path: Path, limits: Limits, password: str | None
) -> Iterator[Picture | VectorPage]:
    if kind == "pdf":
        from packet.intake.pdf_pages import pdf_pages

        return pdf_pages(path, limits=limits, password=password)
    from packet.intake.rasters import heif_pages, raster_pages

    if kind == "heif":
        return heif_pages(file, limits=limits)
    return raster_pages(file, kind, limits=limits)


@contextlib.contextmanager
def _regular_file(path: Path, limits: Limits) -> Iterator[BinaryIO]:
    """The file, opened without ever waiting: a pipe, device or folder is refused."""
    try:
        facts = os.stat(path)
        _check_regular(facts)
        flags = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
        handle = os.open(path, flags)
    except (OSError, ValueError) as error:  # ValueError: a name with a null character
        reason = getattr(error, "strerror", None) or "no such name"
        raise ScanError(
            f"cannot be opened ({reason[:1].lower()}{reason[1:]}).",
            "Check that it is still there and that you may read it.",
        ) from None
    with open(handle, "rb") as file:
        facts = os.fstat(handle)
        _check_regular(facts)
        if facts.st_size == 0:
            raise ScanError("is empty (0 bytes).", "Scan or copy it again.", "not-a-scan")
        if facts.st_size > limits.file_bytes:
            raise ScanLimitError(
                f"has {facts.st_size / 1e6:.0f} MB; at most {limits.file_bytes / 1e6:.0f} MB "
                "are read.",
                "Scan it again at 300 dpi, or split it into several files.",
            )
        yield file


def _check_regular(facts: os.stat_result) -> None:
    if stat.S_ISDIR(facts.st_mode):
        raise ScanError("is a folder.", "Name the scans inside it.", "not-a-scan")
    if not stat.S_ISREG(facts.st_mode):
        raise ScanError(
            "is not a regular file (a pipe, socket or device).",
            "Put a scan in its place.",
            "not-a-scan",
        )


def _steps(pages: Iterator[Picture | VectorPage]) -> Iterator[Picture | VectorPage]:
    """``pages`` with library chatter silenced and every foreign exception translated.

    Silence and translation last for one page at a time: nothing is left changed while the
    caller works on a page.
    """
    while True:
        try:
            with _quiet():
                page = next(pages)
        except StopIteration:
            return
        except ScanError:
            raise
        except Exception as error:
            if isinstance(error, MemoryError) or "memory" in str(error):
                raise ScanLimitError(
                    "needs more memory than one scan may take.", "Scan it again at 300 dpi."
                ) from None
            raise ScanError(_what(error), _AGAIN) from error
        yield page
        del page  # before the next one is decoded: two large pages need not be held at once


def _what(error: Exception) -> str:
    """What is wrong, for an exception of a decoder (whose own words may quote the file)."""
    if type(error).__name__ == "DecompressionBombError":
        return "has far more pixels than a scan (a decompression bomb)."
    if "truncated" in str(error).lower() or isinstance(error, EOFError):
        return "is cut short: part of the picture is missing."
    return f"is damaged and cannot be decoded ({type(error).__name__})."


@contextlib.contextmanager
def _quiet() -> Iterator[None]:
    """No library warning, no log line below critical."""
    before = logging.root.manager.disable
    logging.disable(logging.ERROR)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            yield
    finally:
        logging.disable(before)
