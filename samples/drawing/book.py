"""The invented passport book: covers, data page, visa and stamp pages, blank openings."""

from __future__ import annotations

import cv2
import numpy as np
from PIL import Image, ImageDraw

from .canvas import Colour, Fonts, Item, Sheet, guilloche, noise, rosette
from .people import Person, day, passport_mrz, visa_mrz

PAGE_MM = (88.0, 125.0)
"""One page of a passport book, ID-3 of ISO/IEC 7810 (ICAO Doc 9303 part 4)."""
SPREAD_MM = (176.0, 125.0)
DPI = 400.0
CORNER_MM = 3.0
PAPER = (239, 240, 232)
INK = (38, 40, 46)
PALE = (128, 144, 140)
COVER = (24, 58, 56)
GOLD = (196, 168, 98)
MRZ_PITCH_MM = 2.54
Stamp = tuple[float, float, list[str], Colour, float, str]
"""A stamp in a page: x, y in mm, lines, colour, turn in degrees, shape."""


def portrait(sheet: Sheet, box: tuple[float, float, float, float], person: Person) -> None:
    """A cartoon head and shoulders in a box (x, y, w, h in mm): drawn shapes, nobody's face."""
    x, y, w, h = box
    part = Sheet((w, h), sheet.dpi, sheet.fonts, (226, 229, 231))
    middle, line = w / 2, (88, 70, 64)
    long_hair = person.sex == "F"
    part.ellipse(middle, h * 0.42, w * 0.315, h * 0.275, fill=person.hair)
    if long_hair:
        part.rect(
            middle - w * 0.315, h * 0.40, w * 0.63, h * 0.30, fill=person.hair, radius=w * 0.1
        )
    part.ellipse(middle, h * 1.04, w * 0.45, h * 0.29, fill=person.jacket)
    part.rect(middle - w * 0.1, h * 0.62, w * 0.2, h * 0.17, fill=person.skin, radius=w * 0.06)
    part.draw.polygon(
        part.px(middle - w * 0.13, h * 0.76, middle + w * 0.13, h * 0.76, middle, h * 0.9),
        fill=(244, 244, 242),
    )
    part.ellipse(middle, h * 0.47, w * 0.235, h * 0.235, fill=person.skin)
    part.draw.chord(
        part.px(middle - w * 0.25, h * 0.2, middle + w * 0.25, h * 0.52), 186, 354, fill=person.hair
    )
    for side in (-1, 1):
        eye = middle + side * w * 0.095
        part.ellipse(eye, h * 0.46, w * 0.035, h * 0.016, fill=(250, 250, 250))
        part.ellipse(eye, h * 0.46, w * 0.017, h * 0.016, fill=(54, 50, 56))
        part.line([eye - w * 0.05, h * 0.422, eye + w * 0.05, h * 0.422], person.hair, w * 0.014)
        part.ellipse(middle + side * w * 0.235, h * 0.475, w * 0.028, h * 0.04, fill=person.skin)
    part.line([middle, h * 0.475, middle - w * 0.022, h * 0.535, middle + w * 0.012, h * 0.54],
              line, 0.22)  # fmt: skip
    part.draw.arc(
        part.px(middle - w * 0.07, h * 0.54, middle + w * 0.07, h * 0.595), 20, 160,
        fill=(150, 78, 74), width=max(2, round(0.4 * part.scale)),
    )  # fmt: skip
    sheet.image.paste(part.image, (round(x * sheet.scale), round(y * sheet.scale)))
    sheet.rect(x, y, w, h, outline=(150, 154, 156), width=0.12)


def stamp(
    sheet: Sheet, at_mm: tuple[float, float], lines: list[str], colour: Colour,
    rng: np.random.Generator, *, turn_deg: float, shape: str = "box",
    size: tuple[float, float] = (40, 24),
) -> None:  # fmt: skip
    """An ink stamp about a point: uneven ink, no office's real design."""
    side = round(max(size) * 1.5 * sheet.scale)
    mask = Image.new("L", (side, side), 0)
    pen = ImageDraw.Draw(mask)
    half_w, half_h = size[0] / 2 * sheet.scale, size[1] / 2 * sheet.scale
    middle, width = side / 2, max(2, round(0.55 * sheet.scale))
    box = [middle - half_w, middle - half_h, middle + half_w, middle + half_h]
    if shape == "round":
        pen.ellipse(box, outline=255, width=width)
        inner = [box[0] + 3 * width, box[1] + 3 * width, box[2] - 3 * width, box[3] - 3 * width]
        pen.ellipse(inner, outline=255, width=max(1, width // 2))
    else:
        pen.rounded_rectangle(box, 1.6 * sheet.scale, outline=255, width=width)
    step = size[1] / (len(lines) + 0.6)
    for index, line in enumerate(lines):
        wanted = 1.25 if index == len(lines) // 2 else 1.0
        font = sheet.fonts.face("bold", min(step * 0.62 * wanted, 4.4) * sheet.scale)
        at = middle - half_h + (index + 0.8) * step * sheet.scale
        pen.text((middle, at), line, font=font, fill=255, anchor="mm")
    mask = mask.rotate(turn_deg, Image.Resampling.BICUBIC)
    ink: np.ndarray = np.asarray(mask, dtype=np.float32) / 255
    ink = cv2.GaussianBlur(ink, (0, 0), 0.045 * sheet.scale)
    worn = noise(rng, ink.shape, (26, 26)) * 0.5 + noise(rng, ink.shape, (5, 5)) * 0.35
    ink = ink * np.clip(0.74 + worn, 0.12, 0.95)
    full = np.zeros(sheet.shape, np.float32)
    left, top = (round(mm * sheet.scale - middle) for mm in at_mm)
    t0, l0 = max(0, top), max(0, left)
    t1, l1 = min(full.shape[0], top + side), min(full.shape[1], left + side)
    full[t0:t1, l0:l1] = ink[t0 - top : t1 - top, l0 - left : l1 - left]
    sheet.blend(np.full((*full.shape, 3), colour, np.uint8), full)


def _spread(fonts: Fonts, size: tuple[float, float], seed: float) -> Sheet:
    sheet = Sheet(size, DPI, fonts, PAPER)
    colours = ((206, 222, 220), (226, 214, 206), (212, 220, 200))
    guilloche(sheet, (2, 3, size[0] - 4, size[1] - 6), colours, seed=seed)
    return sheet


def _emblem(sheet: Sheet, x: float, y: float, colour: Colour) -> None:
    rosette(sheet, x, y, 17, colour, petals=9)
    rosette(sheet, x, y, 9, colour, petals=6)


def _close(sheet: Sheet, rng: np.random.Generator, *, across: bool, upright_by: str, kind: str,
           gutter: float = 0.30) -> Item:  # fmt: skip
    """Fold shadow, rim of the cover, paper grain; then the item with round corners."""
    height, width = sheet.shape
    length = height if across else width
    mm = (np.arange(length, dtype=np.float32) + 0.5) / sheet.scale
    mm -= mm.mean()
    dark = gutter * np.exp(-np.abs(mm) / 5.5) * np.where(mm < 0, 0.75, 1.0)
    fold = dark + 0.42 * np.exp(-((mm / 0.22) ** 2)) - 0.035 * np.exp(-(((mm - 11) / 7) ** 2))
    shade = 1 - (fold[:, None] if across else fold[None, :])
    grain = 1 + 0.012 * noise(rng, sheet.shape, (7, 7)) + 0.01 * noise(rng, sheet.shape, (90, 90))
    sheet.shade(shade * grain)
    w, h = sheet.size_mm
    if kind != "passport-cover":
        sheet.rect(0, 0, w, h, outline=COVER, width=0.55, radius=CORNER_MM)
        sheet.rect(0.5, 0.5, w - 1, h - 1, outline=(196, 196, 186), width=0.22, radius=CORNER_MM)
    return sheet.finish(kind, radius_mm=CORNER_MM, upright_by=upright_by)


def covers(fonts: Fonts, rng: np.random.Generator) -> Item:
    """Both outer covers, the book lying open with its face down: back left, front right."""
    sheet = Sheet(SPREAD_MM, DPI, fonts, COVER)
    weave = noise(rng, sheet.shape, (4, 4)) + 0.8 * noise(rng, sheet.shape, (140, 140))
    sheet.replace(np.asarray(sheet.image) + (weave * 9)[..., None])
    x = 132
    sheet.text(x, 24, "UTOPIA", 21, face="bold", fill=GOLD, anchor="ms")
    sheet.text(x, 31.5, "INVENTED STATE · SPECIMEN", 7, fill=GOLD, anchor="ms")
    _emblem(sheet, x, 60, GOLD)
    sheet.ellipse(x, 60, 19.5, 19.5, outline=GOLD, width=0.4)
    sheet.text(x, 97, "PASSPORT", 17, face="bold", fill=GOLD, anchor="ms")
    sheet.text(x, 103.5, "PASSAPORTO", 9, fill=GOLD, anchor="ms")
    sheet.rect(x - 6, 109, 12, 7, outline=GOLD, width=0.45, radius=1)
    sheet.line([x - 6, 112.5, x - 2.5, 112.5], GOLD, 0.45)
    sheet.line([x + 2.5, 112.5, x + 6, 112.5], GOLD, 0.45)
    sheet.ellipse(x, 112.5, 2.4, 2.4, outline=GOLD, width=0.45)
    sheet.text(44, 118, "SPECIMEN", 6, fill=(60, 96, 92), anchor="ms")
    return _close(sheet, rng, across=False, upright_by="text", kind="passport-cover", gutter=0.12)


def _page_number(sheet: Sheet, x: float, y: float, number: int) -> None:
    sheet.text(x, y, str(number), 9, face="bold", fill=PALE, anchor="ms")


def data_opening(fonts: Fonts, person: Person, rng: np.random.Generator) -> Item:
    """Pages 2 and 3, held with the fold across: notes above, the data page below."""
    sheet = _spread(fonts, (125.0, 176.0), 0.4)
    sheet.text(62.5, 13, "UTOPIA · SPECIMEN", 9, face="bold", fill=PALE, anchor="ms")
    sheet.text(10, 24, "Note · Notes", 7.5, face="bold", fill=INK)
    notes = (
        "This book is a drawing. The state, the holder and every number in it are invented. "
        "It opens no border and proves nothing."
    )
    sheet.wrap(10, 30, 105, notes, 7.5, fill=(70, 74, 78))
    sheet.text(10, 63, "Firma del titolare · Signature of bearer", 6, fill=(70, 74, 78))
    sheet.line([10, 61, 80, 61], INK, 0.15)
    sheet.text(14, 58, person.given_names.title().split()[0] + " " + person.surname.title(), 17,
               face="hand", fill=(34, 44, 92))  # fmt: skip
    _page_number(sheet, 62.5, 84, 2)
    sheet.rect(3, 90.5, 119, 60, fill=(232, 238, 236))
    guilloche(sheet, (4, 91, 117, 59), ((208, 222, 226), (228, 214, 212)), seed=2.2, width=0.1)
    rosette(sheet, 92, 122, 24, (214, 206, 190), petals=10)
    sheet.text(9, 97, "UTOPIA", 11, face="bold", fill=(30, 74, 72))
    sheet.text(47, 97, "PASSPORT · PASSAPORTO", 8, face="bold", fill=(30, 74, 72))
    portrait(sheet, (7, 101, 33, 42.5), person)
    _data_fields(sheet, person)
    sheet.text(70, 146.5, "SPECIMEN", 21, face="bold", fill=(222, 176, 170), anchor="ms")
    sheet.rect(3, 150.5, 119, 22.5, fill=(240, 240, 234))
    for index, line in enumerate(passport_mrz(person)):
        sheet.spaced(6.6, 160.3 + index * 6.35, line, 11.2, MRZ_PITCH_MM)
    sheet.text(118.5, 97, "3", 9, face="bold", fill=PALE, anchor="ms")
    return _close(sheet, rng, across=True, upright_by="text", kind="passport-spread")


def _data_fields(sheet: Sheet, person: Person) -> None:
    def field(x: float, y: float, label: str, value: str) -> None:
        sheet.text(x, y, label, 4.6, fill=(60, 86, 86))
        sheet.text(x, y + 3.5, value, 8.2, face="bold", fill=INK)

    field(45, 102, "Tipo · Type", "P")
    field(59, 102, "Codice · Code", "UTO")
    field(83, 102, "Passaporto N. · Passport No.", person.passport_number)
    field(45, 109.5, "Cognome · Surname", person.surname)
    field(45, 117, "Nome · Given names", person.given_names)
    field(83, 109.5, "Cittadinanza · Nationality", "UTOPIAN")
    field(45, 124.5, "Data di nascita · Date of birth", day(person.born))
    field(83, 124.5, "Sesso · Sex", person.sex)
    field(83, 117, "Luogo di nascita · Place of birth", person.birthplace)
    field(45, 132, "Rilascio · Date of issue", day(person.passport_issued))
    field(83, 132, "Scadenza · Date of expiry", day(person.passport_expires))
    field(100, 124.5, "Autorità · Authority", "SPECIMEN")


def visa_opening(
    fonts: Fonts, person: Person, rng: np.random.Generator, pages: tuple[int, int]
) -> Item:
    """An opening held with the fold across: entry stamp above, a visa-like label below."""
    sheet = _spread(fonts, (125.0, 176.0), 1.3)
    _turned_number(sheet, pages)
    lines = ["INGRESSO · ENTRY", day(person.entered).replace(".", " "), "SPECIMEN"]
    stamp(sheet, (78, 52), lines, (34, 62, 130), rng, turn_deg=8, size=(46, 26))
    label = Sheet((117, 78), DPI, fonts, (230, 234, 224))
    guilloche(label, (0, 0, 117, 60), ((196, 216, 206), (232, 206, 196)), seed=3.1, width=0.1)
    rosette(label, 98, 24, 15, (186, 170, 120), petals=11)
    label.text(6, 8, "VISTO NAZIONALE", 11, face="bold", fill=(44, 82, 70))
    label.text(52, 8, "SPECIMEN VISA", 7.5, fill=(44, 82, 70))
    label.text(111, 8, person.visa_number, 9.5, face="bold", fill=(150, 40, 40), anchor="rs")
    portrait(label, (6, 13, 26, 33.5), person)
    _visa_fields(label, person)
    label.text(74, 57, "SPECIMEN", 16, face="bold", fill=(220, 178, 170), anchor="ms")
    label.rect(0, 61, 117, 17, fill=(238, 239, 232))
    for index, line in enumerate(visa_mrz(person)):
        label.spaced(2.6, 67.2 + index * 6.35, line, 11.2, MRZ_PITCH_MM)
    label.rect(0, 0, 117, 78, outline=(196, 200, 190), width=0.12)
    sheet.image.paste(label.image, (round(6.6 * sheet.scale), round(93.5 * sheet.scale)))
    return _close(sheet, rng, across=True, upright_by="text", kind="passport-spread")


def _visa_fields(label: Sheet, person: Person) -> None:
    def field(x: float, y: float, name: str, value: str) -> None:
        label.text(x, y, name, 4.6, fill=(80, 92, 84))
        label.text(x, y + 3.6, value, 8.4, face="bold", fill=INK)

    field(37, 14, "Valido per · Valid for", "ITALIA")
    field(37, 22, "Dal · From", day(person.visa_from))
    field(63, 22, "Al · Until", day(person.visa_to))
    field(37, 30, "Tipo · Type", "D")
    field(63, 30, "Ingressi · Entries", "MULT")
    field(85, 30, "Giorni · Days", "365")
    field(37, 38, "Cognome, nome · Surname, name", f"{person.surname} {person.given_names}")
    field(37, 46, "Passaporto · Passport", person.passport_number)
    field(63, 46, "Motivo · Purpose", "RESIDENZA ELETTIVA")


def _turned_number(sheet: Sheet, pages: tuple[int, int]) -> None:
    """Page numbers of an opening held with the fold across: they stand at the left edge."""
    for number, y in ((pages[0], 44.0), (pages[1], 132.0)):
        small = Sheet((10, 5), sheet.dpi, sheet.fonts, (0, 0, 0))
        small.text(5, 3.9, str(number), 9, face="bold", fill=(255, 255, 255), anchor="ms")
        mask = small.image.rotate(-90, expand=True).convert("L")
        place = (round(1.3 * sheet.scale), round((y - 5) * sheet.scale))
        sheet.image.paste(PALE, place, mask)


def plain_opening(
    fonts: Fonts, rng: np.random.Generator, pages: tuple[int, int], last: int
) -> Item:
    """Any other opening, the fold upright; page 0 is the inside front cover."""
    sheet = _spread(fonts, SPREAD_MM, 0.8 + pages[0] * 0.37)
    for side, number in enumerate(pages):
        middle = 44.0 + 88.0 * side
        if number == 0:
            _inside_front(sheet)
        elif number > last:
            _inside_back(sheet)
        else:
            _emblem(sheet, middle, 58, (208, 214, 200))
            title = "VISTI · VISAS" if number > 1 else "UTOPIA"
            sheet.text(middle, 12, title, 7, fill=PALE, anchor="ms")
            _page_number(sheet, middle, 118, number)
    if pages == (last // 2, last // 2 + 1):
        for y in range(10, 118, 6):
            sheet.line([88, y, 88, y + 3.4], (250, 250, 246), 0.35)
    if 1 in pages:
        sheet.text(132, 40, "PASSPORT", 15, face="bold", fill=(70, 104, 100), anchor="ms")
        sheet.text(132, 47, "PASSAPORTO", 9, fill=(70, 104, 100), anchor="ms")
        sheet.text(132, 88, "SPECIMEN", 12, face="bold", fill=(196, 150, 144), anchor="ms")
        text = f"This passport has {last} pages · Questo passaporto consta di {last} pagine"
        sheet.text(132, 108, text, 5.4, fill=PALE, anchor="ms")
    return _close_plain(sheet, rng)


def stamped_opening(fonts: Fonts, rng: np.random.Generator, pages: tuple[int, int], last: int,
                    stamps: list[Stamp]) -> Item:  # fmt: skip
    """A plain opening with stamps."""
    sheet = _spread(fonts, SPREAD_MM, 0.8 + pages[0] * 0.37)
    for side, number in enumerate(pages):
        middle = 44.0 + 88.0 * side
        _emblem(sheet, middle, 58, (208, 214, 200))
        sheet.text(middle, 12, "VISTI · VISAS", 7, fill=PALE, anchor="ms")
        _page_number(sheet, middle, 118, number)
    for x, y, lines, colour, turn, shape in stamps:
        size = (34.0, 34.0) if shape == "round" else (42.0, 24.0)
        stamp(sheet, (x, y), lines, colour, rng, turn_deg=turn, shape=shape, size=size)
    return _close_plain(sheet, rng)


def _close_plain(sheet: Sheet, rng: np.random.Generator) -> Item:
    return _close(sheet, rng, across=False, upright_by="page-number", kind="passport-spread",
                  gutter=float(rng.uniform(0.24, 0.36)))  # fmt: skip


def _inside_front(sheet: Sheet) -> None:
    sheet.rect(0, 0, 88, 125, fill=(214, 222, 214))
    guilloche(sheet, (2, 3, 84, 119), ((190, 208, 202), (208, 204, 186)), seed=4.2)
    rosette(sheet, 44, 46, 26, (164, 186, 178), petals=14)
    text = (
        "The specimen state UTO asks all whom it may concern to let the bearer of this drawing "
        "pass freely from one test to the next."
    )
    sheet.wrap(12, 88, 64, text, 7, face="italic", fill=(64, 88, 84))
    sheet.text(44, 114, "SPECIMEN", 8, face="bold", fill=(120, 146, 138), anchor="ms")


def _inside_back(sheet: Sheet) -> None:
    sheet.rect(88, 0, 88, 125, fill=(214, 222, 214))
    guilloche(sheet, (90, 3, 84, 119), ((190, 208, 202), (208, 204, 186)), seed=5.3)
    sheet.text(98, 22, "Avvertenza · Important", 8, face="bold", fill=(64, 88, 84))
    text = (
        "Do not bend, pierce or expose to heat. Non piegare, forare o esporre al calore. "
        "In case of an emergency please inform: nobody, the bearer is invented."
    )
    sheet.wrap(98, 29, 68, text, 7, fill=(64, 88, 84))
    sheet.line([98, 66, 166, 66], PALE, 0.15)
    sheet.line([98, 76, 166, 76], PALE, 0.15)
    sheet.text(132, 112, "SPECIMEN", 8, face="bold", fill=(120, 146, 138), anchor="ms")
