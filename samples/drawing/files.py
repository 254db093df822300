"""Writing pictures and scanned PDFs the way scanners and phones do, the same bytes each time."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
from PIL import Image

MM_PER_PT = 25.4 / 72
TURNS = {1: 0, 3: 180, 6: 90, 8: -90}
"""Anti-clockwise turn that stores an upright picture under an EXIF orientation (CIPA DC-008)."""


def jpeg_bytes(
    picture: np.ndarray, *, quality: int, dpi: int | None = None, orientation: int | None = None,
    camera: bool = False,
) -> bytes:  # fmt: skip
    """A JPEG; `orientation` stores the pixels turned and says so in EXIF."""
    image = Image.fromarray(picture)
    exif = Image.Exif()
    if orientation is not None:
        image = image.rotate(TURNS[orientation], expand=True)
        exif[0x0112] = orientation
    if camera:
        exif[0x010F], exif[0x0110] = "UTO PHONE", "UTO PHONE 1"
        exif[0x8825] = {1: "N", 2: (0.0, 0.0, 0.0), 3: "E", 4: (0.0, 0.0, 0.0)}
    options = {"dpi": (dpi, dpi)} if dpi else {}
    target = io.BytesIO()
    block = exif.tobytes() if len(exif) else b""
    image.save(target, "JPEG", quality=quality, optimize=True, exif=block, **options)
    return target.getvalue()


def write_heic(path: Path, picture: np.ndarray, quality: int) -> None:
    """An HEIC, as some phones store photos."""
    import pillow_heif

    pillow_heif.from_pillow(Image.fromarray(picture)).save(path, quality=quality)


def write_scan_pdf(
    path: Path, pages: list[np.ndarray], *, dpi: float, quality: int, title: str = "Scan"
) -> None:
    """A PDF as a scanner writes it: one JPEG a page, nothing else."""
    objects: list[bytes] = []
    kids = " ".join(f"{4 + 3 * n} 0 R" for n in range(len(pages)))
    objects.append(b"<< /Type /Catalog /Pages 2 0 R >>")
    objects.append(f"<< /Type /Pages /Kids [{kids}] /Count {len(pages)} >>".encode())
    objects.append(f"<< /Title ({title}) /Producer (UTO SCAN) >>".encode())
    for number, page in enumerate(pages):
        first = 4 + 3 * number
        height, width = page.shape[:2]
        w, h = width / dpi * 72, height / dpi * 72
        space = "/DeviceGray" if page.ndim == 2 else "/DeviceRGB"
        body = jpeg_bytes(page, quality=quality, dpi=round(dpi))
        draw = f"q {w:.3f} 0 0 {h:.3f} 0 0 cm /Im0 Do Q".encode()
        objects.append(
            f"<< /Type /Page /Parent 2 0 R /MediaBox [0 0 {w:.3f} {h:.3f}] "
            f"/Contents {first + 1} 0 R "
            f"/Resources << /XObject << /Im0 {first + 2} 0 R >> >> >>".encode()
        )
        objects.append(b"<< /Length %d >>\nstream\n" % len(draw) + draw + b"\nendstream")
        head = (
            f"<< /Type /XObject /Subtype /Image /Width {width} /Height {height} "
            f"/ColorSpace {space} /BitsPerComponent 8 "
            f"/Filter /DCTDecode /Length {len(body)} >>\nstream\n"
        )
        objects.append(head.encode() + body + b"\nendstream")
    path.write_bytes(_assemble(objects))


def _assemble(objects: list[bytes]) -> bytes:
    data = bytearray(b"%PDF-1.4\n%\xe2\xe3\xcf\xd3\n")
    places = []
    for number, body in enumerate(objects, start=1):
        places.append(len(data))
        data += b"%d 0 obj\n" % number + body + b"\nendobj\n"
    start = len(data)
    data += b"xref\n0 %d\n0000000000 65535 f \n" % (len(objects) + 1)
    for place in places:
        data += b"%010d 00000 n \n" % place
    data += b"trailer\n<< /Size %d /Root 1 0 R /Info 3 0 R >>\n" % (len(objects) + 1)
    return bytes(data + b"startxref\n%d\n%%%%EOF\n" % start)
