"""The imaging stage by itself, for ``packet inspect`` and ``packet normalise``."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from functools import partial
from pathlib import Path
from typing import Any

from packet.errors import OutputError
from packet.files import make_private_folder, sweep, write_new
from packet.model import EncodedImage, Item, Kind, PageResult, ScanTask, Tone
from packet.reading import TIME_LIMIT_S
from packet.spool import bytes_of

Answers = Iterator[dict[str, Any]]


def inspect_scans(
    paths: Iterable[str], *, kinds: tuple[Kind, ...], password: str | None, read: bool = False
) -> Answers:
    """One JSON object per path, in order, each as soon as it is known.

    The next path is asked for only after the answer: a caller may write one, read one.
    """

    task = partial(_look, kinds=kinds, password=password, read=read)
    for path, pages, error in _each(paths, task, read=read):
        if error:
            yield {"scan": path, "error": error}
        else:
            yield {
                "scan": path,
                "pages": [{"width_px": p.width_px, "height_px": p.height_px} for p in pages],
                "items": [_item_json(item) for page in pages for item in page.items],
            }


def normalise_scans(
    paths: Iterable[str],
    out: Path,
    *,
    kinds: tuple[Kind, ...],
    tone: Tone,
    password: str | None,
    read: bool = False,
) -> Answers:
    """Write every item as ``STEM-p01-i1.png`` into ``out``; one JSON object per item.

    A name that is taken gets ``-2``, ``-3`` …: nothing is overwritten.
    """

    def task(path: str) -> ScanTask:
        return ScanTask(
            path=Path(path),
            name=path,
            kinds=kinds,
            tone=tone,
            lossless=True,
            read=read,
            password=password,
        )

    make_private_folder(out)
    sweep(out)
    for path, pages, error in _each(paths, task, read=read):
        if error:
            yield {"scan": path, "error": error}
        for item in (item for page in pages for item in page.items):
            assert isinstance(item.image, EncodedImage)
            file = _write_free(out, f"{Path(path).stem}-p{item.page:02}-i{item.item}", item.image)
            yield {
                "scan": path,
                "page": item.page,
                "item": item.item,
                "file": str(file),
                "kind": item.kind.value,
                "size_mm": _rounded(item.size_mm),
                "dpi": round(item.dpi, 2),
            }


def read_scans(
    paths: Iterable[str], *, kinds: tuple[Kind, ...], password: str | None
) -> Iterator[tuple[str, tuple[Item, ...], str]]:
    """(path, its items with what their text says, "" or why it cannot be read), in order."""

    task = partial(_look, kinds=kinds, password=password, read=True)
    for path, pages, error in _each(paths, task, read=True):
        yield path, tuple(item for page in pages for item in page.items), error


def _look(path: str, *, kinds: tuple[Kind, ...], password: str | None, read: bool) -> ScanTask:
    """Find and judge only, on a small picture."""
    return ScanTask(
        path=Path(path),
        name=path,
        kinds=kinds,
        encode=False,
        small=True,
        read=read,
        password=password,
    )


def _each(
    paths: Iterable[str], task: Callable[[str], ScanTask], *, read: bool
) -> Iterator[tuple[str, list[PageResult], str]]:
    """(path, its pages, "" or the sentence that says why it cannot be read), in order."""
    from packet.intake.names import shown
    from packet.recognition.scan import scan_job
    from packet.workers import Failed, Part, Workers

    given: list[str] = []

    def tasks() -> Iterator[ScanTask]:
        for path in paths:
            given.append(path)
            yield task(path)

    pages: list[PageResult] = []
    with Workers(scan_job(read=read), jobs=1, time_limit_s=TIME_LIMIT_S) as pool:
        for answer in pool.run(tasks()):
            if isinstance(answer, Part):
                pages.append(answer.value)
                continue
            path = given[answer.job]
            error = ""
            if isinstance(answer, Failed):
                error = f"{shown(path)} {answer.error.what} {answer.error.remedy}".strip()
            yield path, pages, error
            pages = []


def _item_json(item: Item) -> dict[str, Any]:
    return {
        "page": item.page,
        "corners": [[round(x, 2), round(y, 2)] for x, y in item.corners_px],
        "kind": item.kind.value,
        "size_mm": _rounded(item.size_mm),
        "measured_mm": None if item.measured_mm is None else _rounded(item.measured_mm),
        "turn_deg": item.turn_deg,
        "skew_deg": round(item.skew_deg, 3),
        "dpi": round(item.dpi, 2),
        "findings": [finding.code for finding in item.findings],
    }


def _rounded(size: tuple[float, float]) -> list[float]:
    return [round(size[0], 2), round(size[1], 2)]


def _write_free(out: Path, stem: str, image: EncodedImage) -> Path:
    for number in range(1, 10_000):
        path = out / (f"{stem}.png" if number == 1 else f"{stem}-{number}.png")
        try:
            write_new(path, bytes_of(image.data))
        except FileExistsError:
            continue
        return path
    raise OutputError(f"{out}: every name for {stem} is taken. Name another folder with -o.")
