"""Small valid files of every format that intake reads, drawn and invented, for tests to spoil."""

from __future__ import annotations

import io
import zlib

import numpy as np
import pikepdf
import pillow_heif
from pikepdf import Array, Dictionary, Name
from PIL import Image, ImageDraw

A4_PT = (0, 0, 595.276, 841.89)

TOML = b"""\
rule_set = "elective-residence-first-issue"
not_held = ["id-card"]
[applicant]
surname = "Oe"
sex = "F"
date_of_birth = 1958-07-14
country_of_birth = "UTO"
[passport]
booklet_pages = 28
pages = "all"
[count]
form_leaves = 4
copies_printed = "two-sided"
[order]
passport = ["IMG_0007.jpg", "both.pdf#2", "cards.jpg#1.2"]
[[document]]
folder = "extra"
title = "Altro"
[[item]]
scan = "passport/IMG_0012.jpg"
turn = 180
corners = [[1, 2], [30, 2], [30, 40], [1.5, 40]]
accept = ["blurred"]
"""


def picture(size=(120, 84), mode="RGB") -> Image.Image:
    """A light sheet with dark lines on a dark ground; the same at every call."""
    width, height = size
    made = Image.new("RGB", size, (70, 74, 80))
    pen = ImageDraw.Draw(made)
    pen.rectangle([width // 8, height // 8, width * 7 // 8, height * 7 // 8], fill=(248, 246, 240))
    for row in range(height // 5, height * 4 // 5, 6):
        pen.line([width // 5, row, width * 3 // 4 - row % 17, row], fill=(40, 40, 60), width=2)
    return made.convert(mode)


def encoded(kind: str, image: Image.Image | None = None, **options) -> bytes:
    buffer = io.BytesIO()
    (image or picture()).save(buffer, kind, **options)
    return buffer.getvalue()


def heif(image: Image.Image | None = None, **options) -> bytes:
    buffer = io.BytesIO()
    pillow_heif.from_pillow(image or picture()).save(buffer, quality=60, **options)
    return buffer.getvalue()


def bits16() -> Image.Image:
    grey = np.asarray(picture(mode="L")).astype(np.uint16) * 257
    return Image.fromarray(grey)


def saved(pdf: pikepdf.Pdf, **options) -> bytes:
    buffer = io.BytesIO()
    pdf.save(buffer, **options)
    return buffer.getvalue()


def jpeg_stream(pdf: pikepdf.Pdf, image: Image.Image | None = None, **more) -> pikepdf.Stream:
    """An image XObject that holds a JPEG as it is."""
    image = image or picture()
    spaces = {"L": Name.DeviceGray, "RGB": Name.DeviceRGB, "CMYK": Name.DeviceCMYK}
    stream = pdf.make_stream(encoded("JPEG", image))
    stream.Type, stream.Subtype, stream.Filter = Name.XObject, Name.Image, Name.DCTDecode
    stream.Width, stream.Height = image.size
    stream.ColorSpace, stream.BitsPerComponent = spaces[image.mode], 8
    for key, value in more.items():
        stream[f"/{key}"] = value
    return stream


def image_page(pdf: pikepdf.Pdf, box=A4_PT) -> pikepdf.Object:
    """Add a page that shows one JPEG on the whole page."""
    pdf.add_blank_page(page_size=(box[2], box[3]))
    page = pdf.pages[-1]
    page.obj.Resources = Dictionary(XObject=Dictionary(Im=jpeg_stream(pdf)))
    page.obj.Contents = pdf.make_stream(f"q {box[2]} 0 0 {box[3]} 0 0 cm /Im Do Q".encode())
    return page.obj


def drawn_page(pdf: pikepdf.Pdf, words: str = "") -> pikepdf.Object:
    """Add a page of rules and boxes, and words in a Type 3 font (which is always embedded)."""
    pdf.add_blank_page(page_size=(A4_PT[2], A4_PT[3]))
    page = pdf.pages[-1].obj
    lines = [f"72 {700 - 14 * row} {380 - row * 7 % 90} 5 re f" for row in range(30)]
    if words:
        box = pdf.make_stream(b"1000 0 0 0 750 750 d1 0 0 750 750 re f")
        page.Resources = Dictionary(
            Font=Dictionary(
                F1=Dictionary(
                    Type=Name.Font,
                    Subtype=Name.Type3,
                    FontBBox=Array([0, 0, 750, 750]),
                    FontMatrix=Array([0.001, 0, 0, 0.001, 0, 0]),
                    CharProcs=Dictionary(square=box),
                    Encoding=Dictionary(Type=Name.Encoding, Differences=Array([65, Name.square])),
                    FirstChar=65,
                    LastChar=65,
                    Widths=Array([1000]),
                    Resources=Dictionary(),
                )
            )
        )
        lines.append(f"BT /F1 12 Tf 72 740 Td ({words}) Tj ET")
    page.Contents = pdf.make_stream("\n".join(["0.2 g", *lines]).encode())
    return page


def image_pdf(**options) -> bytes:
    with pikepdf.new() as pdf:
        image_page(pdf)
        return saved(pdf, static_id=True, **options)


def drawn_pdf(**options) -> bytes:
    with pikepdf.new() as pdf:
        drawn_page(pdf, "AA A")
        return saved(pdf, static_id=True, **options)


def mixed_pdf(**options) -> bytes:
    with pikepdf.new() as pdf:
        image_page(pdf)
        drawn_page(pdf)
        return saved(pdf, static_id=True, **options)


def deflated_pdf() -> bytes:
    """One image as a deflated raster with a soft mask, object streams."""
    with pikepdf.new() as pdf:
        page = image_page(pdf)
        grey = np.asarray(picture(mode="L"))
        stream = pdf.make_stream(zlib.compress(grey.tobytes()))
        stream.Type, stream.Subtype, stream.Filter = Name.XObject, Name.Image, Name.FlateDecode
        stream.Width, stream.Height = 120, 84
        stream.ColorSpace, stream.BitsPerComponent = Name.DeviceGray, 8
        page.Resources.XObject.Im = stream
        return saved(pdf, static_id=True, object_stream_mode=pikepdf.ObjectStreamMode.generate)


def formats() -> dict[str, tuple[bytes, ...]]:
    """Format -> small valid files of it."""
    exif = Image.Exif()
    exif[274] = 6  # CIPA DC-008: Orientation
    exif[0x010F] = "Camera"
    two = [picture(mode="1"), picture(mode="1").transpose(Image.Transpose.ROTATE_180)]
    return {
        "jpeg": (
            encoded("JPEG", exif=exif, dpi=(300, 300)),
            encoded("JPEG", picture(mode="CMYK")),
            encoded("JPEG", picture(mode="L"), progressive=True),
        ),
        "png": (
            encoded("PNG", picture(mode="RGBA"), dpi=(300, 300)),
            encoded("PNG", picture(mode="P")),
            encoded("PNG", bits16()),
        ),
        "tiff": (
            encoded("TIFF", two[0], compression="group4", dpi=(300, 300), save_all=True,
                    append_images=two[1:]),
            encoded("TIFF", compression="tiff_lzw"),
            encoded("TIFF", picture(mode="CMYK"), compression="jpeg"),
            encoded("TIFF", bits16()),
        ),
        "webp": (encoded("WEBP", exif=exif), encoded("WEBP", picture(mode="RGBA"), lossless=True)),
        "gif": (encoded("GIF", picture(mode="P")),),
        "bmp": (encoded("BMP"), encoded("BMP", picture(mode="P"))),
        "heif": (heif(),),
        "avif": (encoded("AVIF", quality=60),),
        "jpeg2000": (encoded("JPEG2000"),),
        "pdf": (image_pdf(), drawn_pdf(), mixed_pdf(), deflated_pdf()),
    }  # fmt: skip
