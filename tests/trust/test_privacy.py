"""Nothing personal is left where it should not be: markers in every carrier, then a search.

Carriers: EXIF with maker note, GPS and thumbnail (CIPA DC-008), TIFF tags (TIFF 6.0), XMP (ISO
16684-1), IPTC in APP13 and 8BIM, JPEG comments, PNG tEXt, zTXt, iTXt, eXIf (ISO/IEC 15948 and
its third edition), GIF comments (GIF89a), WebP EXIF and XMP chunks, HEIF and AVIF items
(ISO/IEC 23008-12), PDF information, XMP and piece information (ISO 32000-2, 14.3 and 14.5).
"""

from __future__ import annotations

import io
import os
import stat
import struct
import sys
import time
import zlib

import numpy as np
import pikepdf
import pypdfium2
import pytest
import small_packet
from pikepdf import Dictionary, Name, String
from PIL import Image, PngImagePlugin

from packet import pipeline
from packet.cli import main
from trust import seeds
from trust.looking import holds

MARK = "MARKER7Q"
XMP = f"<x:xmpmeta xmlns:x='adobe:ns:meta/'><rdf>{MARK}-xmp</rdf></x:xmpmeta>".encode()
IPTC = b"\x1c\x02\x50" + struct.pack(">H", len(MARK) + 5) + f"{MARK}-iptc".encode()
PHOTOSHOP = b"8BIM\x04\x04\0\0" + struct.pack(">I", len(IPTC)) + IPTC + b"\0" * (len(IPTC) % 2)
WORDS = {
    "surname": "Qzwurname", "given_names": "Xgivenname", "place_of_birth": "Wplaceville",
    "tax_code": "QZWXGV58L54Z999Y", "number": "PNO7734QX", "visa": "VNO9911ZT",
    "street": "Via Qtest 77", "email": "qz@example.invalid", "border": "Qborder",
}  # fmt: skip
TOML = small_packet.TOML.replace(
    '[applicant]\nsurname = "Ōe Ñandú"\ngiven_names = "Zoë"\n',
    f"""[applicant]
surname = "{WORDS["surname"]}"
given_names = "{WORDS["given_names"]}"
sex = "F"
date_of_birth = 1931-02-03
place_of_birth = "{WORDS["place_of_birth"]}"
country_of_birth = "UTO"
tax_code = "{WORDS["tax_code"]}"
[visa]
number = "{WORDS["visa"]}"
[entry]
date = 2033-04-05
border = "{WORDS["border"]}"
[address]
street = "{WORDS["street"]}"
email = "{WORDS["email"]}"
""",
).replace("[passport]\n", f'[passport]\nnumber = "{WORDS["number"]}"\nexpires = 2039-08-09\n')
NAMES = {WORDS["surname"], WORDS["given_names"]}


def exif(what: str) -> bytes:
    """An EXIF block with markers in every kind of tag, a maker note, GPS and a thumbnail."""
    words = f"{MARK}-{what}"
    made = Image.Exif()
    for tag in (0x010E, 0x010F, 0x0110, 0x0131, 0x013B, 0x8298, 0x9C9C, 0x9C9D, 0xC62F):
        made[tag] = words.encode("utf-16-le") if 0x9C00 < tag < 0x9D00 else words
    inner = made.get_ifd(0x8769)
    inner[0x927C] = words.encode()  # MakerNote
    inner[0x9286] = b"ASCII\0\0\0" + words.encode()  # UserComment
    inner[0xA430] = words  # CameraOwnerName
    inner[0xA431] = words  # BodySerialNumber
    inner[0xA435] = words  # LensSerialNumber
    inner[0xA420] = words  # ImageUniqueID
    place = made.get_ifd(0x8825)
    place[1], place[2] = "N", (41.0, 53.0, 12.0)
    place[0x001D] = words
    place[0x001B] = b"ASCII\0\0\0" + words.encode()
    return made.tobytes()


def jpeg_with_all() -> bytes:
    buffer = io.BytesIO()
    sheet().save(
        buffer, "JPEG", quality=85, dpi=(150, 150), exif=exif("jpeg"), xmp=XMP,
        comment=f"{MARK}-comment".encode(),
    )  # fmt: skip
    data = buffer.getvalue()
    segments = b"".join(
        b"\xff" + bytes([marker]) + struct.pack(">H", len(body) + 2) + body
        for marker, body in (
            (0xED, b"Photoshop 3.0\0" + PHOTOSHOP),
            (0xE1, b"http://ns.adobe.com/xmp/extension/\0" + f"{MARK}-extended".encode()),
            (0xE5, f"{MARK}-app5".encode()),
            (0xEC, f"Ducky{MARK}".encode()),
            (0xEF, f"{MARK}-app15".encode()),
        )
    )
    return data[:2] + segments + data[2:] + f"{MARK}-behind-the-end".encode()


def png_with_all() -> bytes:
    text = PngImagePlugin.PngInfo()
    text.add_text("Author", f"{MARK}-text")
    text.add_text("Comment", f"{MARK}-ztxt" * 40, zip=True)
    text.add_itxt("XML:com.adobe.xmp", XMP.decode(), "it", "x", zip=True)
    text.add(b"prVt", f"{MARK}-private".encode())
    buffer = io.BytesIO()
    sheet().save(buffer, "PNG", pnginfo=text, exif=exif("png"), dpi=(150, 150))
    data = buffer.getvalue()
    return data + f"{MARK}-after-iend".encode()


def tiff_with_all() -> bytes:
    tags = {270: f"{MARK}-description", 305: MARK, 306: MARK, 315: MARK, 316: f"{MARK}-host",
            285: MARK, 269: MARK, 33432: MARK, 700: XMP, 33723: IPTC, 34377: PHOTOSHOP}  # fmt: skip
    buffer = io.BytesIO()
    sheet().convert("L").save(buffer, "TIFF", tiffinfo=tags, dpi=(150, 150))
    return buffer.getvalue()


def gif_with_all() -> bytes:
    return seeds.encoded("GIF", sheet().convert("P"), comment=f"{MARK}-gif".encode())


def webp_with_all() -> bytes:
    return seeds.encoded("WEBP", sheet(), exif=exif("webp"), xmp=XMP)


def heif_with_all() -> bytes:
    return seeds.heif(sheet(), exif=exif("heif"), xmp=XMP)


def avif_with_all() -> bytes:
    return seeds.encoded("AVIF", sheet(), exif=exif("avif"), xmp=XMP, quality=70)


def jpeg2000_with_all() -> bytes:
    return seeds.encoded("JPEG2000", sheet(), comment=f"{MARK}-j2k")


def pdf_with_all(make) -> bytes:
    with pikepdf.new() as pdf:
        page = make(pdf)
        for key in ("Title", "Author", "Subject", "Keywords", "Creator", "Producer", "Own"):
            pdf.docinfo[f"/{key}"] = String(f"{MARK}-{key}")
        xml = Dictionary(Type=Name.Metadata, Subtype=Name.XML)
        pdf.Root.Metadata = pdf.make_stream(XMP, xml)
        page.Metadata = pdf.make_stream(XMP, xml)
        page.PieceInfo = Dictionary(Own=Dictionary(Private=String(MARK)))
        for image in page.get("/Resources", {}).get("/XObject", {}).values():
            image.write(jpeg_with_all(), filter=Name.DCTDecode)
            image.Width, image.Height = sheet().size
            image.Metadata = pdf.make_stream(XMP, xml)
            image.OPI = Dictionary(Own=String(MARK))
            image.PieceInfo = Dictionary(Own=Dictionary(Private=String(MARK)))
        pdf.trailer.Private = String(MARK)
        return seeds.saved(pdf) + f"% {MARK}\n".encode()


def drawn_with_image(pdf):
    """A drawn page with a small JPEG on it: kept as vectors, its picture as it lies."""
    page = seeds.drawn_page(pdf, "AA")
    page.Resources.XObject = Dictionary(Im=seeds.jpeg_stream(pdf))
    page.Contents = pdf.make_stream(
        page.Contents.read_bytes() + b"\nq 120 0 0 84 300 100 cm /Im Do Q"
    )
    return page


CARRIERS = {
    "a.jpg": jpeg_with_all, "b.png": png_with_all, "c.tif": tiff_with_all, "d.gif": gif_with_all,
    "e.webp": webp_with_all, "f.heic": heif_with_all, "g.avif": avif_with_all,
    "h.jp2": jpeg2000_with_all, "i.pdf": lambda: pdf_with_all(seeds.image_page),
    "j.pdf": lambda: pdf_with_all(lambda pdf: seeds.drawn_page(pdf, "AA")),
    "k.pdf": lambda: pdf_with_all(drawn_with_image),
}  # fmt: skip


def sheet() -> Image.Image:
    return small_packet.page(7, dpi=75)


@pytest.fixture(scope="module")
def room(tmp_path_factory):
    return tmp_path_factory.mktemp("PathMarker88")


@pytest.fixture(scope="module")
def built(room):
    root = small_packet.make(room / "p", openings=1, papers=0)
    (root / "packet.toml").write_text(TOML, "utf-8")
    for name, make in CARRIERS.items():
        (root / "means" / name).write_bytes(make())
    result = pipeline.build(root, jobs=2)
    return root, result


@pytest.mark.parametrize("name", CARRIERS)
def test_the_carrier_carries(name):
    """The search finds the marker in the input itself."""
    data = CARRIERS[name]()
    assert holds(data, MARK)


def test_every_carrier_is_printed(built):
    scans = {item["scan"] for item in built[1].record["items"] if item["placed"]}
    assert {f"means/{name}" for name in CARRIERS} <= scans


def test_no_marker_is_in_any_output(built):
    for path in sorted((built[0] / "out").iterdir()):
        assert not holds(path.read_bytes(), MARK), path.name


def test_no_place_user_or_host_is_in_any_output(built, room):
    import getpass
    import socket

    words = {str(room), room.name, "PathMarker88", socket.gethostname(), os.path.expanduser("~")}
    if len(getpass.getuser()) > 5:
        words.add(getpass.getuser())
    for path in sorted((built[0] / "out").iterdir()):
        for word in (word for word in words if len(word) > 5):
            assert not holds(path.read_bytes(), word), path.name


def test_no_file_name_is_in_a_pdf(built):
    for path in sorted((built[0] / "out").glob("*.pdf")):
        for name in ("open_1", "a.jpg", "k.pdf"):
            assert not holds(path.read_bytes(), f"means/{name}"), path.name
            assert not holds(path.read_bytes(), "open_1"), path.name


def test_no_value_is_in_review_record_or_message(built):
    """Names, numbers, codes and dates of packet.toml; the index alone prints the name."""
    days = ("1931", "2033-04-05", "2039-08-09", "03.02.1931", "03/02/1931")
    root, result = built
    said = " ".join(f.message + f.remedy + f.subject for f in result.findings)
    for name in ("review.html", "record.json"):
        text = (root / "out" / name).read_text("utf-8")
        for word in (*WORDS.values(), *days):
            assert word not in text, f"{name}: {word}"
            assert word not in said


def test_no_value_but_the_name_is_on_paper(built):
    for path in sorted((built[0] / "out").glob("*.pdf")):
        with pypdfium2.PdfDocument(path) as pdf:
            text = " ".join(pdf[n].get_textpage().get_text_range() for n in range(len(pdf)))
        for word in set(WORDS.values()) - NAMES:
            assert word not in text, path.name


def test_commands_say_no_value(built, capsys):
    root, _ = built
    for words in (
        ["check", root], ["check", root, "--json"], ["count", root], ["status", root],
        ["recount", root], ["recount", root, "--json"],
    ):  # fmt: skip
        with pytest.raises(SystemExit):
            main([str(word) for word in words])
        said = "".join(capsys.readouterr())
        assert not [word for word in WORDS.values() if word in said], words


BROKEN = {
    "surname": 'surname = ["Qzwurname"]', "sex": 'sex = "Qzw"', "birth": 'date_of_birth = "Qzw"',
    "country": 'country_of_birth = "Qzwu"', "citizenship": "citizenship = 7734",
    "tax": 'tax_code = "Qzw\\u0007"', "given": 'given_names = "Qzw\\u200f"',
    "place": 'place_of_birth = ["Qzw"]', "long": f'surname = "{"Qzw" * 100}"',
    "twice": 'surname = "Qzw"\nsurname = "Qzw"', "unfinished": 'surname = "Qzw',
    "bare": "surname = Qzw",
    "status": 'civil_status = "Qzw"', "glyph": 'surname = "Qzw\\U0001F6C2"',
}  # fmt: skip


@pytest.mark.parametrize("fault", BROKEN)
def test_a_broken_packet_toml_is_reported_without_its_values(tmp_path, capsys, fault):
    (tmp_path / "packet.toml").write_text(
        f'rule_set = "elective-residence-first-issue"\n[applicant]\n{BROKEN[fault]}\n', "utf-8"
    )
    for words in (["check", str(tmp_path)], ["build", str(tmp_path), "--json"]):
        with pytest.raises(SystemExit) as stop:
            main(words)
        said = "".join(capsys.readouterr())
        assert stop.value.code == 2
        assert "Qzw" not in said
        assert "7734" not in said


def test_the_same_holds_for_every_personal_section(tmp_path, capsys):
    (tmp_path / "packet.toml").write_text(
        'rule_set = "elective-residence-first-issue"\n'
        '[passport]\nnumber = 7734991\nexpires = "7734991"\n'
        "[visa]\nnumber = 7734991\nduration_days = 7734991\nentries = 7734991\n"
        '[entry]\nborder = 7734991\ndate = "7734991"\n'
        '[address]\nprovince = "7734991"\npostcode = 7734991\nemail = [7734991]\n',
        "utf-8",
    )
    with pytest.raises(SystemExit):
        main(["check", str(tmp_path)])
    said = "".join(capsys.readouterr())
    assert "passport.number" in said
    assert "7734991" not in said


def test_cropped_away_pixels_are_gone(tmp_path):
    """A bright red field beside the opening on the glass is in no picture of any output."""
    root = small_packet.make(tmp_path / "p", openings=0, papers=1)
    glass = small_packet.opening_on_glass(3)
    glass.paste((255, 0, 0), (0, 0, glass.width, 60))
    glass.save(root / "passport" / "red.png", dpi=(150, 150))
    (root / "packet.toml").write_text(
        (root / "packet.toml").read_text("utf-8")
        + '[[item]]\nscan = "passport/red.png"\ntone = "colour"\n',
        "utf-8",
    )
    built = pipeline.build(root, jobs=1)
    assert any(i["scan"] == "passport/red.png" and i["placed"] for i in built.record["items"])
    for path in (root / "out").glob("*.pdf"):
        with pikepdf.open(path) as pdf:
            for thing in pdf.objects:
                if isinstance(thing, pikepdf.Stream) and thing.get("/Subtype") == "/Image":
                    picture = pikepdf.PdfImage(thing).as_pil_image().convert("RGB")
                    seen = np.asarray(picture).astype(int)
                    red = (seen[..., 0] > 180) & (seen[..., 1] < 100) & (seen[..., 2] < 100)
                    assert not red.any(), path.name


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no such modes")
def test_folders_and_files_are_private(tmp_path):
    before = os.umask(0)
    try:
        root = small_packet.make(tmp_path / "p", openings=0, papers=1)
        pipeline.build(root, jobs=1)
        with pytest.raises(SystemExit):
            main(["new", str(tmp_path / "new"), "--json"])
    finally:
        os.umask(before)

    assert stat.S_IMODE((root / "out").stat().st_mode) == 0o700
    assert {stat.S_IMODE(p.stat().st_mode) for p in (root / "out").iterdir()} == {0o600}
    made = [tmp_path / "new", *(p for p in (tmp_path / "new").rglob("*") if p.is_dir())]
    assert {stat.S_IMODE(p.stat().st_mode) for p in made} == {0o700}


def test_the_review_page_says_at_its_head_what_it_is(built):
    text = (built[0] / "out" / "review.html").read_text("utf-8")
    assert "picture of every\nidentity page" in text[: text.index("<main>")]


def test_clock_and_time_zone_change_nothing(built, monkeypatch):
    """The same bytes with another zone, locale and file times in the future."""
    root, _ = built
    before = {p.name: p.read_bytes() for p in (root / "out").iterdir()}
    for path in root.rglob("*.*"):
        os.utime(path, (4e9, 4e9))
    monkeypatch.setenv("TZ", "Pacific/Kiritimati")
    monkeypatch.setenv("LC_ALL", "tr_TR.UTF-8")
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1")
    if hasattr(time, "tzset"):
        time.tzset()
    try:
        pipeline.build(root, jobs=1)
    finally:
        monkeypatch.undo()
        if hasattr(time, "tzset"):
            time.tzset()
    assert {p.name: p.read_bytes() for p in (root / "out").iterdir()} == before


def test_zlib_is_seen_through():
    """The search looks into deflated chunks that lie in a stream."""
    with pikepdf.new() as pdf:
        page = seeds.drawn_page(pdf)
        page.Contents = pdf.make_stream(b"% " + zlib.compress(MARK.encode() * 9))
        assert holds(seeds.saved(pdf), MARK)
