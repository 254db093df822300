"""What a worker says of one corpus file: a module-level function, as packet.workers needs."""

from __future__ import annotations

from pathlib import Path

from packet.intake.picture import Picture
from packet.intake.pictures import open_scan, warm_up

__all__ = ["look", "warm_up"]


def look(job):
    """One dictionary per page of the file ``job["path"]``: kind, size in pixels, size in mm."""
    for page in open_scan(Path(job["path"]), password=job["password"]):
        if isinstance(page, Picture):
            size_px = [page.width_px, page.height_px]
            yield {"px": size_px, "mm": page.size_mm, "dpi": page.dpi, "native": page.native}
        else:
            yield {"px": None, "mm": page.size_mm, "dpi": None, "native": False}
