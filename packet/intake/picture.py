"""What intake hands to imaging: one decoded picture, and the limits it was decoded within.

Light on purpose: nothing heavy is imported, so that any room may name these types.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from packet.model import SizeMm

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

Source = Literal["camera", "scanner", "pdf", "unknown"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Picture:
    """One page of a scan as upright sRGB pixels.

    ``pixels``: (H, W, 3) uint8 RGB, C-contiguous, the file's own orientation applied; grey and
    bilevel sources have three equal channels, transparent parts lie on white.
    ``dpi``: (x, y) after orientation; None where the file gives none, or an aspect ratio only,
    or where a PDF page of one image is so large that its scale means nothing.
    ``source``: "camera" when the file says what took it, "scanner" when not and dpi >= 100,
    "pdf" when the picture is a PDF page: then dpi is true by construction.
    ``size_mm``: (width, height) of the PDF page as a viewer shows it; None for other files.
    ``native``: False where a PDF page was rendered, not taken from its one image.
    ``more_pictures``: the file holds further pictures that are not pages (MPO, GIF, animation).
    ``page``: from 1.
    """

    pixels: NDArray[np.uint8] = field(repr=False)
    dpi: tuple[float, float] | None
    source: Source
    page: int = 1
    size_mm: SizeMm | None = None
    native: bool = True
    more_pictures: bool = False

    @property
    def width_px(self) -> int:
        """Width in pixels."""
        return int(self.pixels.shape[1])

    @property
    def height_px(self) -> int:
        """Height in pixels."""
        return int(self.pixels.shape[0])


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """How large a scan may be; read from its header, before anything is decoded.

    The defaults hold an A3 page in colour at 600 dpi (70 megapixels) with room to spare, fit the
    memory of one worker, and keep a side below what OpenCV can warp (32,767). They are choices of
    this project, no outside source.
    """

    file_bytes: int = 250_000_000
    page_pixels: int = 120_000_000
    side_pixels: int = 32_000
    pages: int = 200


LIMITS = Limits()
