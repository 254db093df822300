"""Hand-written PDFs of one page or more, small enough to see what each one holds."""

from __future__ import annotations

import zlib

import numpy as np


def number(value):
    return f"{value:.6f}".rstrip("0").rstrip(".")


def array(values):
    return "[" + " ".join(number(value) for value in values) + "]"


def assemble(objects, catalog=""):
    """Objects 1, 2, 3 … (bytes each) with a cross-reference table; object 1 is the catalog."""
    out = bytearray(b"%PDF-1.7\n")
    places = []
    for index, body in enumerate(objects, start=1):
        places.append(len(out))
        out += f"{index} 0 obj\n".encode() + body + b"\nendobj\n"
    start = len(out)
    out += f"xref\n0 {len(objects) + 1}\n0000000000 65535 f \n".encode()
    out += b"".join(f"{place:010d} 00000 n \n".encode() for place in places)
    out += f"trailer\n<< /Size {len(objects) + 1} /Root 1 0 R {catalog}>>\n".encode()
    return bytes(out + f"startxref\n{start}\n%%EOF\n".encode())


def stream(data, entries=""):
    head = f"<< /Length {len(data)} {entries} >>\nstream\n".encode()
    return head + data + b"\nendstream"


def image_object(pixels, entries="", jpeg=None):
    """An image XObject: (H, W, 3) RGB or (H, W) grey, deflated, or the JPEG stream given."""
    height, width = pixels.shape[:2]
    space = "/DeviceRGB" if pixels.ndim == 3 else "/DeviceGray"
    data, kind = (jpeg, "/DCTDecode") if jpeg else (zlib.compress(pixels.tobytes()), "/FlateDecode")
    return stream(
        data,
        f"/Type /XObject /Subtype /Image /Width {width} /Height {height} "
        f"/ColorSpace {space} /BitsPerComponent 8 /Filter {kind} {entries}",
    )


def page_pdf(
    content,
    *,
    media=(0, 0, 595.276, 841.89),
    page="",
    resources="",
    more=(),
    catalog="",
):
    """One page. Objects: 1 catalog, 2 pages, 3 page, 4 content, 5 … those of ``more``."""
    return assemble(
        [
            f"<< /Type /Catalog /Pages 2 0 R {catalog} >>".encode(),
            b"<< /Type /Pages /Kids [3 0 R] /Count 1 >>",
            (
                f"<< /Type /Page /Parent 2 0 R /MediaBox {array(media)} /Contents 4 0 R "
                f"/Resources << {resources} >> {page} >>"
            ).encode(),
            stream(content.encode()),
            *more,
        ]
    )


def image_pdf(pixels, matrix, *, media, page="", entries="", before="", after="", jpeg=None):
    """A page that paints one image through ``matrix`` (a b c d e f)."""
    place = " ".join(number(value) for value in matrix)
    return page_pdf(
        f"q {before} {place} cm /Im Do {after} Q",
        media=media,
        page=page,
        resources="/XObject << /Im 5 0 R >>",
        more=[image_object(np.ascontiguousarray(pixels), entries, jpeg)],
    )


def image_pages_pdf(pixels, pages):
    """One page for each (matrix, media, rotate), all painting the same image."""
    first = 4  # objects: 1 catalog, 2 pages, 3 image, then page and content in turn
    kids = " ".join(f"{first + 2 * index} 0 R" for index in range(len(pages)))
    objects = [
        b"<< /Type /Catalog /Pages 2 0 R >>",
        f"<< /Type /Pages /Kids [{kids}] /Count {len(pages)} >>".encode(),
        image_object(np.ascontiguousarray(pixels)),
    ]
    for index, (matrix, media, rotate) in enumerate(pages):
        place = " ".join(number(value) for value in matrix)
        head = (
            f"<< /Type /Page /Parent 2 0 R /MediaBox {array(media)} /Rotate {rotate} "
            "/Resources << /XObject << /Im 3 0 R >> >> "
            f"/Contents {first + 2 * index + 1} 0 R >>"
        )
        objects.append(head.encode())
        objects.append(stream(f"q {place} cm /Im Do Q".encode()))
    return assemble(objects)
