"""One scan through imaging and, where the extra is installed, through the text reader.

What a worker runs when texts may be read; without the extra it is imaging alone.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from packet.model import PageResult, ScanTask


def scan_job(*, read: bool) -> Callable[[ScanTask], Iterator[PageResult]]:
    """What a worker is to run; where no text is read, it is spared the models."""
    from packet.imaging.scan import process_scan

    return read_scan if read else process_scan


def warm_up() -> None:
    """Import what every job needs, and load the models, before a worker's memory is limited."""
    import packet.imaging.scan
    from packet.recognition.engine import load_engine

    packet.imaging.scan.warm_up()
    if load_engine() is not None:
        import packet.recognition.barcode
        import packet.recognition.mrz
        import packet.recognition.read


def read_scan(task: ScanTask) -> Iterator[PageResult]:
    """As ``imaging.scan.process_scan``; with ``task.read`` each item has its ``reading`` too."""
    from packet.imaging.scan import process_scan
    from packet.recognition.read import read_item

    yield from process_scan(task, reader=read_item if task.read else None)
