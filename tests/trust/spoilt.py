"""Bad files, made by rule from the small valid ones of ``seeds``: the same at every call.

``bad_files``: what must be refused or read within bounds, never crash or hang. ``odd_files``:
valid files that are merely odd and must be accepted.
"""

from __future__ import annotations

import io
import struct
import zlib
from collections.abc import Iterator

import numpy as np
import pikepdf
from pikepdf import Array, Dictionary, Name
from PIL import Image, ImageCms

from trust import seeds

Named = tuple[str, bytes]
XMP = (
    b"<x:xmpmeta xmlns:x='adobe:ns:meta/'><rdf:RDF "
    b"xmlns:rdf='http://www.w3.org/1999/02/22-rdf-syntax-ns#'/></x:xmpmeta>"
)

MAGICS = (
    b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n", b"II*\0", b"MM\0*", b"II+\0", b"GIF89a", b"BM",
    b"RIFF\x10\0\0\0WEBP", b"\0\0\0\x18ftypheic\0\0\0\0mif1heic",
    b"\0\0\0\x18ftypavif\0\0\0\0mif1avif", b"\0\0\0\x0cjP  \r\n\x87\n", b"\xff\x4f\xff\x51",
    b"%PDF-1.7\n",
)  # fmt: skip


def bad_files() -> Iterator[Named]:
    """(name, bytes) of more than 300 files."""
    yield from _cut_and_flipped()
    yield from _wrong_types()
    yield from _lying_headers()
    yield from _bombs()
    yield from _bad_pdfs()


# --- damage by rule ----------------------------------------------------------------------------


def _cut_and_flipped() -> Iterator[Named]:
    random = np.random.default_rng(4)
    for kind, group in seeds.formats().items():
        for number, data in enumerate(group):
            stem = f"{kind}-{number}"
            for share in (0.02, 0.3, 0.7, 0.97):
                yield f"{stem}-cut-{share}", data[: max(1, int(len(data) * share))]
            for turn in range(4):
                spoilt = bytearray(data)
                for at in random.integers(0, len(data), 2 + 6 * turn):
                    spoilt[at] ^= 1 << int(random.integers(0, 8))
                yield f"{stem}-flip-{turn}", bytes(spoilt)
            hole = len(data) // 3
            yield f"{stem}-hole", data[:hole] + bytes(hole) + data[2 * hole :]
            yield f"{stem}-doubled", data[: len(data) // 2] + data
            yield f"{stem}-ones", data[:hole] + b"\xff" * hole + data[2 * hole :]


def _wrong_types() -> Iterator[Named]:
    words = b"Only words, whatever the name says.\n" * 30
    pile = io.BytesIO()
    yield "words.jpg", words
    yield "words.pdf", words
    yield "empty.pdf", b""
    yield "one-byte.jpg", b"\xff"
    yield "zeros.tif", bytes(100_000)
    yield "archive.zip.jpg", b"PK\x03\x04" + words
    yield "program.png", b"\x7fELF\x02\x01\x01" + words
    yield "windows-program.pdf", b"MZ\x90\0" + words
    yield "page.html.pdf", b"<!doctype html><script>alert(1)</script>" + words
    yield "drawing.svg.png", b"<svg xmlns='http://www.w3.org/2000/svg'/>"
    yield "postscript.pdf", b"%!PS-Adobe-3.0\n1 1 moveto\n"
    yield "video.heic", b"\0\0\0\x18ftypisom\0\0\2\0isomiso2avc1mp41" + words
    yield "raw.tif", b"II*\0\x10\0\0\0CR\2\0" + words
    for number, magic in enumerate(MAGICS):
        yield f"magic-only-{number}", magic
        yield f"magic-and-words-{number}", magic + words
        pile.write(magic)
    yield "all-magics", pile.getvalue()


# --- headers that lie --------------------------------------------------------------------------


def _png(width: int, height: int, data: bytes, depth: int = 8, colour: int = 2) -> bytes:
    """PNG chunks (ISO/IEC 15948, clause 5.3) around any data."""

    def chunk(name: bytes, body: bytes) -> bytes:
        crc = zlib.crc32(name + body)
        return struct.pack(">I", len(body)) + name + body + struct.pack(">I", crc)

    header = struct.pack(">IIBBBBB", width, height, depth, colour, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", data) + chunk(b"IEND", b"")
    )


def _tiff(entries: list[tuple[int, int, int, int]], *, following: int = 0, tail=b"") -> bytes:
    """A little-endian TIFF of one IFD (TIFF 6.0, section 2): (tag, type, count, value)."""
    fields = b"".join(struct.pack("<HHII", *entry) for entry in sorted(entries))
    ifd = struct.pack("<H", len(entries)) + fields + struct.pack("<I", following)
    return b"II*\0\x08\0\0\0" + ifd + tail


def _tiff_tags(width: int, height: int, *, compression=1, strips=1, at=8, size=100):
    return [
        (256, 4, 1, width), (257, 4, 1, height), (258, 3, 1, 8), (259, 3, 1, compression),
        (262, 3, 1, 1), (273, 4, strips, at), (277, 3, 1, 1), (278, 4, 1, height),
        (279, 4, strips, size),
    ]  # fmt: skip


def _lying_headers() -> Iterator[Named]:
    deflated = zlib.compress(bytes(1000))
    for width, height in ((0, 10), (10, 0), (2**31 - 1, 1), (1, 2**31 - 1), (60_000, 60_000),
                          (30_000, 30_000), (31_000, 3_800), (5000, 5000)):  # fmt: skip
        yield f"png-says-{width}x{height}", _png(width, height, deflated)
        yield f"tiff-says-{width}x{height}", _tiff(_tiff_tags(width, height))
        bmp = bytearray(seeds.encoded("BMP"))
        bmp[18:26] = struct.pack("<ii", min(width, 2**31 - 1), min(height, 2**31 - 1))
        yield f"bmp-says-{width}x{height}", bytes(bmp)
        gif = bytearray(seeds.formats()["gif"][0])
        gif[6:10] = struct.pack("<HH", width & 0xFFFF, height & 0xFFFF)
        yield f"gif-says-{width}x{height}", bytes(gif)
        jpeg = bytearray(seeds.encoded("JPEG"))
        frame = jpeg.index(b"\xff\xc0") + 5
        jpeg[frame : frame + 4] = struct.pack(">HH", height & 0xFFFF, width & 0xFFFF)
        yield f"jpeg-says-{width}x{height}", bytes(jpeg)
        heif = seeds.heif()
        at = heif.index(b"ispe") + 8
        sized = heif[:at] + struct.pack(">II", width & 0xFFFFFFFF, height & 0xFFFFFFFF)
        yield f"heif-says-{width}x{height}", sized + heif[at + 8 :]
    for depth, colour in ((3, 2), (16, 3), (1, 6), (8, 7), (255, 255)):
        yield f"png-depth-{depth}-colour-{colour}", _png(40, 30, deflated, depth, colour)
    yield "tiff-loop-of-directories", _tiff(_tiff_tags(9, 9), following=8)
    yield "tiff-directory-beyond-the-end", b"II*\0" + struct.pack("<I", 2**31)
    yield "tiff-strips-beyond-the-end", _tiff(_tiff_tags(900, 900, at=2**31, size=810_000))
    yield "tiff-a-million-strips", _tiff(_tiff_tags(900, 900, strips=1_000_000, at=2**20))
    yield "tiff-4-thousand-million-tags", _tiff([(270, 2, 2**32 - 1, 8), *_tiff_tags(9, 9)])
    yield "tiff-g4-noise", _tiff(_tiff_tags(4000, 4000, compression=4, at=122, size=5000),
                                 tail=bytes(range(256)) * 20)  # fmt: skip
    yield "tiff-old-jpeg", _tiff(_tiff_tags(900, 900, compression=6, at=122, size=50))
    exif = seeds.encoded("JPEG")
    loop = b"Exif\0\0II*\0\x08\0\0\0\x01\0\x69\x87\x04\0\x01\0\0\0\x08\0\0\0\x08\0\0\0"
    segment = b"\xff\xe1" + struct.pack(">H", len(loop) + 2) + loop
    yield "jpeg-exif-loop", exif[:2] + segment + exif[2:]
    yield "jpeg-200-comments", exif[:2] + b"\xff\xfe\xff\xff" + bytes(65533) * 1 + exif[2:]
    yield "jpeg-segment-of-length-0", exif[:2] + b"\xff\xe1\0\0" + exif[2:]


# --- bombs -------------------------------------------------------------------------------------


def _bombs() -> Iterator[Named]:
    """Small files that unpack to a lot."""
    grey = zlib.compressobj(9)
    body = b"".join(grey.compress(bytes(20_001)) for _ in range(2_000)) + grey.flush()
    yield "bomb-400-megapixels.png", _png(20_000, 20_000, body, 8, 0)
    text = zlib.compress(bytes(50_000_000), 9)
    small = seeds.encoded("PNG")

    def chunk(name, data):
        return (
            struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))
        )

    yield "bomb-text-chunk.png", small[:33] + chunk(b"zTXt", b"k\0\0" + text) + small[33:]
    yield "bomb-profile-chunk.png", small[:33] + chunk(b"iCCP", b"k\0\0" + text) + small[33:]
    many = [Image.new("1", (8, 8)) for _ in range(260)]
    buffer = io.BytesIO()
    many[0].save(buffer, "TIFF", save_all=True, append_images=many[1:])
    yield "bomb-260-pages.tif", buffer.getvalue()
    frames = [Image.new("P", (300, 300), n % 250) for n in range(300)]
    buffer = io.BytesIO()
    frames[0].save(buffer, "GIF", save_all=True, append_images=frames[1:])
    yield "bomb-300-frames.gif", buffer.getvalue()
    twice = zlib.compress(zlib.compress(bytes(60_000_000), 9), 9)
    yield "bomb-content.pdf", _with_content(zlib.compress(bytes(150_000_000), 9), "/FlateDecode")
    yield "bomb-twice-deflated.pdf", _with_content(twice, "[/FlateDecode /FlateDecode]")
    yield "bomb-image.pdf", _image_bomb(30_000, 30_000)
    yield (
        "bomb-many-paths.pdf",
        _with_content(zlib.compress(b"0 0 m 500 800 l S\n" * 3_000_000, 9), "/FlateDecode"),
    )
    yield "bomb-nested-forms.pdf", _nested_forms(24)
    yield "bomb-pages.pdf", _many_pages(5000)
    yield "bomb-page-size.pdf", _sized_page(14_400 * 100)
    yield "bomb-pattern.pdf", _tiny_pattern()
    yield "bomb-one-image-often.pdf", _one_image_often(20_000)
    short = zlib.compress(b"0 0 m 500 800 l S\n" * 850_000, 9)  # as much as is not counted too much
    yield "bomb-paths-just-below.pdf", _with_content(short, "/FlateDecode")


def _with_content(data: bytes, filters: str) -> bytes:
    head = f"<< /Length {len(data)} /Filter {filters} >>\nstream\n".encode()
    return _assembled([*_head(), head + data + b"\nendstream"])


def _head(page: bytes = b"", kids: bytes = b"[3 0 R]", count: int = 1) -> list[bytes]:
    """Catalog, pages and one page whose content is object 4."""
    return [
        b"<< /Type /Catalog /Pages 2 0 R >>",
        b"<< /Type /Pages /Kids " + kids + b" /Count %d >>" % count,
        b"<< /Type /Page /Parent 2 0 R /MediaBox [0 0 595 842] /Contents 4 0 R " + page + b" >>",
    ]


def _assembled(objects: list[bytes], trailer: bytes = b"", header: bytes = b"%PDF-1.7\n") -> bytes:
    out = bytearray(header)
    places = []
    for number, body in enumerate(objects, start=1):
        places.append(len(out))
        out += b"%d 0 obj\n" % number + body + b"\nendobj\n"
    start = len(out)
    out += b"xref\n0 %d\n0000000000 65535 f \n" % (len(objects) + 1)
    out += b"".join(b"%010d 00000 n \n" % place for place in places)
    out += b"trailer\n<< /Size %d /Root 1 0 R " % (len(objects) + 1) + trailer + b">>\n"
    return bytes(out + b"startxref\n%d\n%%%%EOF\n" % start)


def _stream(data: bytes, entries: bytes = b"") -> bytes:
    return b"<< /Length %d " % len(data) + entries + b" >>\nstream\n" + data + b"\nendstream"


def _image_bomb(width: int, height: int) -> bytes:
    rows = zlib.compressobj(9)
    data = b"".join(rows.compress(bytes(width)) for _ in range(height // 20)) + rows.flush()
    image = (
        b"/Type /XObject /Subtype /Image /Width %d /Height %d /ColorSpace /DeviceGray "
        b"/BitsPerComponent 8 /Filter /FlateDecode" % (width, height)
    )
    resources = b"/Resources << /XObject << /Im 5 0 R >> >>"
    show = _stream(b"q 595 0 0 842 0 0 cm /Im Do Q")
    return _assembled([*_head(resources), show, _stream(data, image)])


def _nested_forms(depth: int) -> bytes:
    """Each form shows the next one ten times: ten to the depth squares."""
    objects = [*_head(b"/Resources << /XObject << /F 5 0 R >> >>"), _stream(b"/F Do")]
    for number in range(depth):
        entries = b"/Type /XObject /Subtype /Form /BBox [0 0 595 842] "
        if number < depth - 1:
            entries += b"/Resources << /XObject << /F %d 0 R >> >>" % (len(objects) + 2)
            objects.append(_stream(b"/F Do " * 10, entries))
        else:
            objects.append(_stream(b"0 0 5 5 re f", entries))
    return _assembled(objects)


def _many_pages(count: int) -> bytes:
    objects = _head(kids=b"[" + b"3 0 R " * count + b"]", count=count)
    return _assembled([*objects, _stream(b"")])


def _one_image_often(times: int) -> bytes:
    image = (
        b"/Type /XObject /Subtype /Image /Width 3000 /Height 3000 /ColorSpace /DeviceGray "
        b"/BitsPerComponent 8 /Filter /FlateDecode"
    )
    resources = b"/Resources << /XObject << /Im 5 0 R >> >>"
    show = zlib.compress(b"q 595 0 0 842 0 0 cm /Im Do Q\n" * times, 9)
    grey = zlib.compress(bytes(range(250)) * 36_000, 9)
    return _assembled(
        [*_head(resources), _stream(show, b"/Filter /FlateDecode"), _stream(grey, image)]
    )


def _sized_page(side: int) -> bytes:
    objects = _head()
    objects[2] = objects[2].replace(b"[0 0 595 842]", b"[0 0 %d %d]" % (side, side))
    return _assembled([*objects, _stream(b"0 0 100 100 re f")])


def _tiny_pattern() -> bytes:
    pattern = (
        b"/Type /Pattern /PatternType 1 /PaintType 1 /TilingType 1 /BBox [0 0 1 1] "
        b"/XStep 0.01 /YStep 0.01 /Resources << >>"
    )
    show = b"/Pattern cs /P scn 0 0 595 842 re f"
    resources = b"/Resources << /Pattern << /P 5 0 R >> >>"
    return _assembled([*_head(resources), _stream(show), _stream(b"0 0 1 1 re f", pattern)])


# --- PDFs --------------------------------------------------------------------------------------


def _bad_pdfs() -> Iterator[Named]:
    show = _stream(b"100 100 200 200 re f")
    yield "loop-kids.pdf", _assembled([*_head(kids=b"[2 0 R]"), show])
    yield (
        "loop-two-nodes.pdf",
        _assembled(
            [
                *_head(kids=b"[5 0 R]"),
                show,
                b"<< /Type /Pages /Kids [2 0 R] /Parent 2 0 R /Count 1 >>",
            ]
        ),
    )
    yield "loop-parent.pdf", _assembled(
        [b"<< /Type /Catalog /Pages 2 0 R >>",
         b"<< /Type /Pages /Kids [3 0 R] /Count 1 /Parent 2 0 R >>",
         b"<< /Type /Page /Parent 3 0 R /Contents 4 0 R >>", show]
    )  # fmt: skip
    yield (
        "loop-length.pdf",
        _assembled([*_head(), b"<< /Length 4 0 R >>\nstream\n0 0 9 9 re f\nendstream"]),
    )
    yield "loop-form.pdf", _assembled(
        [*_head(b"/Resources << /XObject << /F 5 0 R >> >>"), _stream(b"/F Do"),
         _stream(b"/F Do", b"/Type /XObject /Subtype /Form /BBox [0 0 595 842] "
                 b"/Resources << /XObject << /F 5 0 R >> >>")]
    )  # fmt: skip
    yield "loop-reference.pdf", _assembled([*_head(b"/Resources 5 0 R"), show, b"5 0 R"])
    yield "loop-xref.pdf", _assembled([*_head(), show], b"/Prev 15 ")
    yield "loop-outline.pdf", _assembled(
        [b"<< /Type /Catalog /Pages 2 0 R /Outlines 5 0 R >>", *_head()[1:], show,
         b"<< /First 5 0 R /Last 5 0 R /Next 5 0 R /Title (x) /Count 9 >>"]
    )  # fmt: skip
    for count in (0, -1, 2, 10**9):
        yield f"count-says-{count}.pdf", _assembled([*_head(count=count), show])
    yield "no-pages.pdf", _assembled([b"<< /Type /Catalog >>"])
    yield "kids-of-nothing.pdf", _assembled([*_head(kids=b"[9 0 R 99 0 R]", count=2), show])
    yield "root-is-a-number.pdf", _assembled([b"42", *_head()[1:], show])
    yield "deep-arrays.pdf", _assembled([*_head(b"/X " + b"[" * 5000 + b"]" * 5000), show])
    yield (
        "deep-dictionaries.pdf",
        _assembled([*_head(b"/X " + b"<< /X " * 3000 + b"1" + b" >>" * 3000), show]),
    )
    yield "deep-page-tree.pdf", _deep_tree(2000)
    yield "long-name.pdf", _assembled([*_head(b"/" + b"N" * 500_000 + b" 1"), show])
    yield "huge-number.pdf", _assembled([*_head(b"/Rotate " + b"9" * 5000), show])
    yield "odd-rotate.pdf", _assembled([*_head(b"/Rotate 45"), show])
    for box in (b"[0 0 0 0]", b"[5 5 5 5]", b"[nan 0 1 1]", b"[0 0]", b"(text)",
                b"[0 0 1e300 1e300]", b"[0 0 -1 -1]", b"[0 0 0.0001 842]"):  # fmt: skip
        objects = _head()
        objects[2] = objects[2].replace(b"[0 0 595 842]", box)
        yield f"box-{box.decode()}.pdf", _assembled([*objects, show])
    for unit in (b"0", b"-1", b"1e30", b"(x)"):
        yield f"unit-{unit.decode()}.pdf", _assembled([*_head(b"/UserUnit " + unit), show])
    yield (
        "content-of-noise.pdf",
        _assembled([*_head(), _stream(np.random.default_rng(1).bytes(200_000))]),
    )
    yield "unknown-filter.pdf", _assembled([*_head(), _stream(b"x", b"/Filter /Nonsense")])
    yield "crypt-filter.pdf", _assembled([*_head(), _stream(b"x", b"/Filter /Crypt")])
    for filters in (b"/DCTDecode", b"/JPXDecode", b"/JBIG2Decode", b"/CCITTFaxDecode",
                    b"/LZWDecode", b"/RunLengthDecode", b"/ASCII85Decode"):  # fmt: skip
        image = (
            b"/Type /XObject /Subtype /Image /Width 3000 /Height 3000 /ColorSpace /DeviceGray "
            b"/BitsPerComponent 8 /Filter " + filters
        )
        noise = np.random.default_rng(2).bytes(20_000)
        resources = b"/Resources << /XObject << /Im 5 0 R >> >>"
        yield (
            f"image-of-noise-{filters[1:].decode()}.pdf",
            _assembled(
                [
                    *_head(resources),
                    _stream(b"q 595 0 0 842 0 0 cm /Im Do Q"),
                    _stream(noise, image),
                ]
            ),
        )
    yield (
        "encrypted-with-nonsense.pdf",
        _assembled(
            [*_head(), show, b"<< /Filter /Standard /V 5 /R 6 /O () /U () /P -1 >>"],
            b"/Encrypt 5 0 R /ID [<00><00>] ",
        ),
    )
    yield (
        "encrypted-by-another.pdf",
        _assembled([*_head(), show, b"<< /Filter /Unknown >>"], b"/Encrypt 5 0 R /ID [<00><00>] "),
    )
    with pikepdf.new() as pdf:
        seeds.drawn_page(pdf)
        locked = pikepdf.Encryption(user="secret", owner="secret", R=6)
        yield "locked.pdf", seeds.saved(pdf, encryption=locked)
    yield "header-at-2000.pdf", b" " * 2000 + seeds.drawn_pdf()


def _deep_tree(depth: int) -> bytes:
    objects = [b"<< /Type /Catalog /Pages 2 0 R >>"]
    for number in range(depth):
        objects.append(b"<< /Type /Pages /Kids [%d 0 R] /Count 1 >>" % (number + 3))
    page = b"<< /Type /Page /Parent %d 0 R /MediaBox [0 0 595 842] >>" % (depth + 1)
    return _assembled([*objects, page])


# --- valid, and merely odd -----------------------------------------------------------------------


def odd_files() -> Iterator[Named]:
    """Valid files that pdfium or Pillow can show; all must be accepted."""
    for kind, group in seeds.formats().items():
        for number, data in enumerate(group):
            yield f"plain-{number}.{kind}", data
    yield from _odd_pictures()
    yield from _odd_pdfs()
    yield "wrong-suffix.pdf", seeds.encoded("PNG")
    yield "wrong-suffix.jpg", seeds.drawn_pdf()
    yield "no-suffix", seeds.encoded("JPEG")


def _odd_pictures() -> Iterator[Named]:
    for turn in range(1, 9):
        exif = Image.Exif()
        exif[274] = turn  # CIPA DC-008: Orientation
        yield f"turned-{turn}.jpg", seeds.encoded("JPEG", exif=exif)
        yield f"turned-{turn}.tif", seeds.encoded("TIFF", tiffinfo={274: turn})
    for mode in ("1", "L", "LA", "P", "RGBA", "I;16"):
        image = seeds.bits16() if mode == "I;16" else seeds.picture(mode=mode)
        yield f"mode-{mode}.png", seeds.encoded("PNG", image)
    for mode in ("CMYK", "LAB", "YCbCr", "I;16"):
        image = seeds.bits16() if mode == "I;16" else seeds.picture(mode="RGB")
        if mode == "LAB":
            profiles = ImageCms.createProfile("sRGB"), ImageCms.createProfile("LAB")
            image = ImageCms.profileToProfile(image, *profiles, outputMode="LAB")
        elif mode != "I;16":
            image = image.convert(mode)
        yield f"mode-{mode}.tif", seeds.encoded("TIFF", image)
    for compression in ("group3", "group4", "packbits", "tiff_lzw", "tiff_adobe_deflate", "jpeg"):
        mode = "1" if compression.startswith("group") else "RGB"
        image = seeds.picture(mode=mode)
        yield f"{compression}.tif", seeds.encoded("TIFF", image, compression=compression)
    yield "big.tif", seeds.encoded("TIFF", big_tiff=True)
    yield "progressive.jpg", seeds.encoded("JPEG", progressive=True)
    yield "cmyk.jpg", seeds.encoded("JPEG", seeds.picture(mode="CMYK"))
    yield "trailing-bytes.jpg", seeds.encoded("JPEG") + b"after the end" * 50
    yield "interlaced.gif", seeds.encoded("GIF", interlace=True)


def _odd_pdfs() -> Iterator[Named]:
    stream_modes = pikepdf.ObjectStreamMode
    yield "object-streams.pdf", seeds.mixed_pdf(object_stream_mode=stream_modes.generate)
    yield "linearised.pdf", seeds.mixed_pdf(linearize=True)
    yield "pdf-2.0.pdf", seeds.mixed_pdf(force_version="2.0")
    yield "pdf-1.0.pdf", seeds.image_pdf(force_version="1.0")
    yield "bytes-before-the-header.pdf", b"\r\n  \n" + seeds.image_pdf()
    yield "bytes-after-the-end.pdf", seeds.image_pdf() + b"\n\n\0\0"
    yield "incremental-update.pdf", incremental(seeds.drawn_pdf())
    for turn in (90, 180, 270, 450, -90):
        with pikepdf.new() as pdf:
            seeds.image_page(pdf).Rotate = turn
            seeds.drawn_page(pdf).Rotate = turn
            yield f"rotate-{turn}.pdf", seeds.saved(pdf)
    with pikepdf.new() as pdf:
        page = seeds.drawn_page(pdf)
        page.MediaBox = Array([-100, -50, 495, 792])
        page.CropBox = Array([0, 0, 400, 600])
        page.UserUnit = 1.5
        yield "boxes-and-unit.pdf", seeds.saved(pdf)
    with pikepdf.new() as pdf:
        page = seeds.image_page(pdf)
        page.Resources.XObject.Im = seeds.jpeg_stream(pdf, seeds.picture(mode="CMYK"))
        yield "cmyk-image.pdf", seeds.saved(pdf)
    with pikepdf.new() as pdf:
        page = seeds.image_page(pdf)
        deep = pdf.make_stream(zlib.compress(np.asarray(seeds.bits16()).byteswap().tobytes()))
        deep.Type, deep.Subtype, deep.Filter = Name.XObject, Name.Image, Name.FlateDecode
        deep.Width, deep.Height = 120, 84
        deep.ColorSpace, deep.BitsPerComponent = Name.DeviceGray, 16
        page.Resources.XObject.Im = deep
        yield "16-bit-image.pdf", seeds.saved(pdf)
    with pikepdf.new() as pdf:
        seeds.drawn_page(pdf)
        open_to_all = pikepdf.Encryption(user="", owner="owner", R=6)
        yield "locked-for-changes-only.pdf", seeds.saved(pdf, encryption=open_to_all)
    with pikepdf.new() as pdf:
        seeds.drawn_page(pdf)
        pdf.Root.Names = Dictionary()
        pdf.Root.Metadata = pdf.make_stream(XMP, Type=Name.Metadata, Subtype=Name.XML)
        yield "metadata.pdf", seeds.saved(pdf)


def incremental(data: bytes) -> bytes:
    """The file with an update after its end: a new page content (ISO 32000-2, 7.5.6)."""
    with pikepdf.open(io.BytesIO(data)) as pdf:
        number = pdf.pages[0].obj.Contents.objgen[0]
        size = int(pdf.trailer.Size)
        root = pdf.Root.objgen[0]
    previous = int(data.rsplit(b"startxref", 1)[1].split()[0])
    at = len(data)
    update = b"%d 0 obj\n" % number + _stream(b"72 72 300 400 re f") + b"\nendobj\n"
    table = b"xref\n%d 1\n%010d 00000 n \n" % (number, at)
    trailer = b"trailer\n<< /Size %d /Root %d 0 R /Prev %d >>\n" % (size, root, previous)
    start = at + len(update)
    return data + update + table + trailer + b"startxref\n%d\n%%%%EOF\n" % start


# --- valid, and much ----------------------------------------------------------------------------


def heavy_files() -> Iterator[Named]:
    """Valid pages that take seconds to read; all must be accepted."""
    lines = _lines(300_000)
    yield "lines.pdf", _with_content(lines, "[]")
    yield "lines-deflated.pdf", _with_content(zlib.compress(lines), "/FlateDecode")
    page = seeds.picture((4960, 7016))  # A4 at 600 dpi
    for kind, filters in (("JPEG2000", Name.JPXDecode), ("JPEG", Name.DCTDecode)):
        with pikepdf.new() as pdf:
            obj = seeds.image_page(pdf)
            image = pdf.make_stream(seeds.encoded(kind, page))
            image.Type, image.Subtype, image.Filter = Name.XObject, Name.Image, filters
            image.Width, image.Height = page.size
            image.ColorSpace, image.BitsPerComponent = Name.DeviceRGB, 8
            obj.Resources.XObject.Im = image
            yield f"a4-600-dpi-{kind}.pdf", seeds.saved(pdf)


def _lines(count: int) -> bytes:
    """A drawing of short lines at random over an A4 page."""
    random = np.random.default_rng(7)
    starts = random.random((count, 2)) * (590, 840)
    ends = starts + random.random((count, 2)) * 20 - 10
    table = np.hstack([starts, ends])
    return b"\n".join(b"%.2f %.2f m %.2f %.2f l S" % tuple(row) for row in table.tolist())
