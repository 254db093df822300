"""Draw a PDF page as a viewer shows it, at an exact size in pixels."""

from __future__ import annotations

from typing import TYPE_CHECKING

from packet.model import VectorPage
from packet.spool import bytes_of
from packet.units import mm_to_px

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray
    from pypdfium2 import PdfPage


def render(page: PdfPage, size_px: tuple[int, int]) -> NDArray[np.uint8]:
    """The page with annotations and form fields on white: (H, W, 3) RGB of exactly that size."""
    import numpy as np
    from pypdfium2 import PdfBitmap, raw

    width, height = size_px
    bitmap = PdfBitmap.new_foreign(width, height, raw.FPDFBitmap_BGR, rev_byteorder=True)
    raw.FPDFBitmap_FillRect(bitmap, 0, 0, width, height, 0xFFFFFFFF)
    flags = raw.FPDF_ANNOT | raw.FPDF_REVERSE_BYTE_ORDER | raw.FPDF_RENDER_LIMITEDIMAGECACHE
    raw.FPDF_RenderPageBitmap(bitmap, page, 0, 0, width, height, 0, flags)
    if page.formenv:
        raw.FPDF_FFLDraw(page.formenv, bitmap, page, 0, 0, width, height, 0, flags)
    return np.array(bitmap.to_numpy(), order="C")


def vector_pixels(page: VectorPage, dpi: float) -> NDArray[np.uint8]:
    """A page kept as vectors, drawn at ``dpi``: (H, W, 3) RGB."""
    from pypdfium2 import PdfDocument

    width, height = (max(1, round(mm_to_px(side, dpi))) for side in page.size_mm)
    with PdfDocument(bytes_of(page.pdf_bytes)) as pdf:
        return render(pdf[0], (width, height))


def small_size_px(page: PdfPage, long_side: int) -> tuple[int, int]:
    """The page's shape with ``long_side`` pixels along its longer side."""
    width, height = page.get_size()
    scale = long_side / max(width, height)
    return max(1, round(width * scale)), max(1, round(height * scale))
