"""How much processor time and memory one page of a PDF may take to be read and drawn.

``pdf_bounds`` works out beforehand what a page draws, but in a damaged file pypdf may see less
than pdfium does. This is what stops pdfium, whatever it sees. All values are choices of this
project; the times are those of the machine of its figures.

The aim is a refusal within 2 s and 600 MB. A bomb is small, so a small file gets a fixed time,
and what more a file may take grows with its bytes. Measured over the 126 PDFs of public test
suites: 0.25 s and 60 MB for the slowest and the largest page of common size, so that a machine
three times as slow has a third of its time left. Measured for what takes the most a byte or a
pixel: 240,000 curves (5.9 MB deflated) 10 s and 150 MB; a scan of 35 megapixels as JPEG 2000
(3.5 MB) 3.1 s and 540 MB; 100 megapixels of CMYK that deflate to nearly nothing (0.4 MB) 5.1 s
and 690 MB; a page of 120 megapixels 0.3 s and 450 MB. About three times that time is allowed.
"""

from __future__ import annotations

import contextlib
import math

from packet.allowance import allowance, widen
from packet.errors import ScanLimitError
from packet.intake.pdf_images import Painted
from packet.intake.picture import Limits
from packet.units import mm_to_px

STEP_S = 1.2  # a worker's first PDF takes a quarter of a second more, for imports
STEP_BYTES = 250_000_000  # the worker itself has 80 to 190 million
FREE_BYTES = 100_000  # of a file
S_PER_BYTE = 6e-6  # of a file beyond that
MEMORY_PER_BYTE = 20.0
IMAGE_S_PER_PIXEL = 0.15e-6
IMAGE_S_PER_BYTE = 3e-6  # of the file, where the page is more than the image: see allow_images
MEMORY_PER_PIXEL = 16.0
DRAWN_S_PER_PIXEL = 0.02e-6  # of a page that is drawn larger than an A3 page at 300 dpi
_FREE_PIXELS = mm_to_px(297.0, 300.0) * mm_to_px(420.0, 300.0)


def page_allowance(file_bytes: int, number: int) -> contextlib.AbstractContextManager[None]:
    """For page ``number`` (from 1) of a file, the opening of the file counted to the first."""
    beyond = max(0, file_bytes - FREE_BYTES)
    return allowance(
        cpu_s=STEP_S + S_PER_BYTE * beyond,
        memory_bytes=STEP_BYTES + MEMORY_PER_BYTE * beyond,
        refusal=ScanLimitError(
            f"takes far more to read and to draw than paper holds (page {number}).",
            "Print that page and scan it, or save it as a picture.",
        ),
    )


def allow_images(seen: Painted, file_bytes: int, limits: Limits, *, alone: bool) -> None:
    """More for decoding a page's images; ``alone``: nothing else is drawn on it.

    One that is shown again in its place counts once. A page that is one image takes what decoding
    it takes; on any other, a few bytes that say they are a large image buy no time for all else.
    """
    placed = {(image.size_px, image.corners_pt) for image in seen.images}
    pixels = min(sum(math.prod(size) for size, _ in placed), limits.page_pixels)
    most_s = math.inf if alone else IMAGE_S_PER_BYTE * file_bytes
    widen(
        cpu_s=min(IMAGE_S_PER_PIXEL * pixels, most_s),
        memory_bytes=MEMORY_PER_PIXEL * pixels,
    )


def allow_drawing(pixels: int) -> None:
    """More for a page that is drawn so large."""
    beyond = max(0.0, pixels - _FREE_PIXELS)
    widen(cpu_s=DRAWN_S_PER_PIXEL * beyond, memory_bytes=MEMORY_PER_PIXEL * beyond)
