"""Worker functions of this folder's tests; each is named by a spawned process."""

from __future__ import annotations

from pathlib import Path

import packet.intake.pictures
from packet.intake.pictures import open_scan


def warm_up():
    packet.intake.pictures.warm_up()


def decode(path):
    """How many pages a scan has, all of them decoded."""
    return sum(1 for _ in open_scan(Path(path)))


def decode_unmeasured(path):
    """The same, where what a PDF page draws is not worked out beforehand: only the allowance is."""
    from packet.intake import pdf_pages

    pdf_pages.check_drawing = lambda *_: None
    return decode(path)
