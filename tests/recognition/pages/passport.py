"""Pages of invented passports: data page, visa, stamps, blank pages, notes, covers."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from .people import Person, td3, visa
from .sheet import Sheet, deep, pastel
from .truth import Truth

PAGE = (88.0, 125.0)
LYING = (125.0, 88.0)
OPEN = (176.0, 125.0)
OPEN_LYING = (125.0, 176.0)
DPI = 360.0
_HEADS = ("PASSPORT", "PASSAPORTO", "PASSEPORT", "PASAPORTE", "REISEPASS")
_LABELS = (
    (
        "Surname",
        "Given names",
        "Nationality",
        "Date of birth",
        "Sex",
        "Place of birth",
        "Date of issue",
        "Date of expiry",
        "Authority",
        "Passport No.",
    ),
    (
        "Cognome / Surname",
        "Nome / Given names",
        "Cittadinanza / Nationality",
        "Data di nascita / Date of birth",
        "Sesso / Sex",
        "Luogo di nascita / Place of birth",
        "Data di rilascio / Date of issue",
        "Data di scadenza / Date of expiry",
        "Autorità / Authority",
        "Passaporto N. / Passport No.",
    ),
    (
        "Nom / Surname",
        "Prénoms / Given names",
        "Nationalité / Nationality",
        "Date de naissance / Date of birth",
        "Sexe / Sex",
        "Lieu de naissance / Place of birth",
        "Date de délivrance / Date of issue",
        "Date d'expiration / Date of expiry",
        "Autorité / Authority",
        "Passeport n° / Passport No.",
    ),
    (
        "Apellidos / Surname",
        "Nombre / Given names",
        "Nacionalidad / Nationality",
        "Fecha de nacimiento / Date of birth",
        "Sexo / Sex",
        "Lugar de nacimiento / Place of birth",
        "Fecha de expedición / Date of issue",
        "Fecha de caducidad / Date of expiry",
        "Autoridad / Authority",
        "Pasaporte No. / Passport No.",
    ),
)
_MONTHS = ["JAN", "FEB", "MAR", "APR", "MAY", "JUN", "JUL", "AUG", "SEP", "OCT", "NOV", "DEC"]
Rng = np.random.Generator


def day(rng: Rng) -> Callable[[object], str]:
    """A way to write dates, chosen once for a paper."""
    ways = (
        lambda d: f"{d:%d.%m.%Y}",
        lambda d: f"{d:%d/%m/%Y}",
        lambda d: f"{d.day:02d} {_MONTHS[d.month - 1]} {d.year}",
        lambda d: f"{d.day:02d} {_MONTHS[d.month - 1]}/{_MONTHS[d.month - 1]} {d.year % 100:02d}",
        lambda d: f"{d:%d %m %Y}",
    )
    return ways[int(rng.integers(0, len(ways)))]


def _ground(sheet: Sheet) -> None:
    rng = sheet.rng
    for _ in range(int(rng.integers(1, 4))):
        sheet.tint(
            float(rng.uniform(0.25, 0.75)), pastel(rng, 150, 225), float(rng.uniform(1.2, 3))
        )


def data_leaf(rng: Rng, who: Person) -> tuple[Sheet, tuple[str, ...]]:
    """The data page, 125 x 88, and its lines."""
    sheet = Sheet(rng, LYING, DPI, pastel(rng, 226, 250))
    _ground(sheet)
    ink, quiet = deep(rng), (90, 96, 104)
    value = str(rng.choice(["bold", "sans", "mono-bold", "mono", "serif-bold"]))
    labels = _LABELS[int(rng.integers(0, len(_LABELS)))]
    heads = list(rng.permutation(_HEADS)[: int(rng.integers(1, 4))])
    sheet.fit(6, 7.5, 62, " / ".join(heads), float(rng.uniform(8, 12)), role="bold", ink=ink)
    sheet.fit(72, 7.5, 48, f"STATE OF {who.state}", float(rng.uniform(7, 10)), ink=ink)
    left = bool(rng.random() < 0.8)
    photo = (5.5, 15.0, float(rng.uniform(29, 35)), float(rng.uniform(38, 43)))
    if not left:
        photo = (120 - photo[2], *photo[1:])
    sheet.portrait(photo, grey=bool(rng.random() < 0.4))
    x0 = photo[0] + photo[2] + 4 if left else 6.0
    ghost = bool(rng.random() < 0.5)
    width = (121 if left else photo[0] - 2) - x0 - (14 if ghost else 0)
    write = day(rng)
    rows = _rows(who, labels, write, x0, width)
    small, size = float(rng.uniform(4.2, 5.4)), float(rng.uniform(7.5, 9.5))
    step = (62.5 - 12.5) / (max(row[0] for row in rows) + 1)
    for row, x, room, label, text in rows:
        y = 13.5 + row * step
        sheet.fit(x, y, room, label, small, ink=quiet)
        sheet.fit(x, y + step * 0.48, room, text, size, role=value, ink=ink)
    if ghost:
        sheet.portrait((x0 + width + 1.5, 44.0, 12.0, 15.5), grey=True)
    if rng.random() < 0.6:
        sheet.scribble(photo[0], photo[1] + photo[3] + 0.5, photo[2], 6.5)
    lines = td3(who)
    sheet.machine_zone(
        lines,
        left=float(rng.uniform(5.0, 7.2)),
        bottom=float(rng.uniform(8.2, 10.2)),
        step=float(rng.uniform(5.9, 6.5)),
        pale=bool(rng.random() < 0.6),
    )
    return sheet, lines


def _rows(who: Person, labels: tuple[str, ...], write: Callable[[object], str], x0: float,
          width: float) -> list[tuple[int, float, float, str, str]]:  # fmt: skip
    half = width * 0.5
    return [
        (0, x0, half * 0.5, "Type", "P"),
        (0, x0 + half * 0.5, half * 0.5, "Code", who.state),
        (0, x0 + half, half, labels[9], who.number),
        (1, x0, width * 0.95, labels[0], who.surname),
        (2, x0, width * 0.95, labels[1], who.given_names),
        (3, x0, half, labels[2], who.state),
        (3, x0 + half, half, labels[3], write(who.born)),
        (4, x0, half, labels[4], who.sex.replace("<", "X")),
        (4, x0 + half, half, labels[5], who.birthplace),
        (5, x0, half, labels[6], write(who.issued)),
        (5, x0 + half, half, labels[8], "PASSPORT OFFICE"),
        (6, x0, half, labels[7], write(who.expires)),
    ]


def data_page(rng: Rng, who: Person) -> tuple[Sheet, Truth]:
    """The data page by itself."""
    sheet, lines = data_leaf(rng, who)
    return sheet, Truth(
        kind="passport-page",
        content="data",
        folder="passport",
        text=True,
        mrz_type="TD3",
        mrz=lines,
        person=who,
    )


def data_opening(rng: Rng, who: Person) -> tuple[Sheet, Truth]:
    """The whole opening, the fold lying, the data page below."""
    below, lines = data_leaf(rng, who)
    sheet = Sheet(rng, OPEN_LYING, DPI, pastel(rng, 224, 248))
    upper = int(rng.integers(0, 4))
    if upper == 0:
        _text_page_lying(sheet)
    elif upper == 1:
        page = Sheet(rng, PAGE, DPI, pastel(rng, 224, 248))
        _ground(page)
        _print_page(page, rng)
        sheet.turned(page, 0, 0, 1)
    elif upper == 2:
        _ground(sheet)
        sheet.fit(30, 20, 70, "SIGNATURE OF BEARER / FIRMA DEL TITOLARE", 7, ink=(80, 86, 96))
        sheet.scribble(30, 30, 60, 16)
    else:
        _ground(sheet)
    sheet.turned(below, 0, 88, 0)
    _fold(sheet, lying=True)
    return sheet, Truth(
        kind="passport-spread",
        content="data",
        folder="passport",
        text=True,
        mrz_type="TD3",
        mrz=lines,
        person=who,
    )


def _text_page_lying(sheet: Sheet) -> None:
    _ground(sheet)
    text = (
        "The authorities of the specimen state request all whom it may concern to allow the bearer "
        "to pass freely and to give every help and protection. Le autorità chiedono a quanti vi "
        "possano essere interessati di lasciar passare il titolare."
    )
    sheet.column(14, 24, 96, text, 8.5, role="serif", ink=deep(sheet.rng))


def _print_page(page: Sheet, rng: Rng) -> None:
    """A page of a book with its own print: a heading, a text, or nothing."""
    roll = rng.random()
    ink = tuple(int(v) for v in rng.integers(60, 130, 3))
    if roll < 0.4:
        page.put_text(
            44,
            12,
            str(rng.choice(["VISAS", "VISTI", "VISA", "VISAS / VISTI"])),
            9,
            ink=ink,
            anchor="ms",
        )
    elif roll < 0.6:
        text = (
            "This passport is the property of the state. It must not be altered in any way. "
            "Questo passaporto è proprietà dello Stato. The holder should sign on page 3. Loss or "
            "theft must be reported to the nearest police office and to the authority of issue."
        )
        page.column(10, 24, 68, text, 7, ink=ink)


def _fold(sheet: Sheet, *, lying: bool) -> None:
    """The shadow of the fold."""
    wide, high = sheet.image.size
    along = np.arange(high if lying else wide, dtype=np.float32) / sheet.scale
    depth = float(sheet.rng.uniform(0.06, 0.3))
    shade = 1 - depth * np.exp(-np.abs(along - 88.0) / float(sheet.rng.uniform(0.6, 3.0)))
    sheet.shade(shade[:, None] if lying else shade[None, :])


# --- openings with page numbers ------------------------------------------------------------


def opening(rng: Rng, content: str, left: int | None = None) -> tuple[Sheet, Truth]:
    """An opening held with the fold upright: ``blank``, ``stamps`` or ``notes``.

    ``left``: the number of its left page; None = any.
    """
    drawn = 2 * int(rng.integers(1, 26))
    left = drawn if left is None else left
    sheet = Sheet(rng, OPEN, DPI, pastel(rng, 222, 250))
    _ground(sheet)
    headed = content == "notes" or rng.random() < 0.35
    places = number_places(rng)
    _numbers(sheet, left, places)
    if headed:
        _headings(sheet, content)
    if rng.random() < 0.2:
        _serial(sheet)
    if content == "stamps":
        _stamps(sheet, places)
    if content == "blank" and rng.random() < 0.15:
        sheet.scribble(30, 40, 40, 12)
    _fold(sheet, lying=False)
    return sheet, Truth(
        kind="passport-spread",
        content=content,
        folder="passport",
        text=bool(headed and content == "notes"),
        numbers=(left, left + 1),
    )


def number_places(rng: Rng) -> tuple[tuple[float, float], tuple[float, float]]:
    """Where the two numbers stand: lower outer corners, lower middles, seldom inner or upper."""
    y = float(rng.uniform(115.5, 120.5))
    roll = rng.random()
    if roll < 0.5:
        x = float(rng.uniform(5, 14))
        return (x, y), (176 - x, y)
    if roll < 0.92:
        return (44.0, y), (132.0, y)
    x = float(rng.uniform(72, 80))
    return (x, y), (176 - x, y)


def _numbers(sheet: Sheet, left: int, places: tuple[tuple[float, float], ...]) -> None:
    rng = sheet.rng
    form = str(rng.choice(["{}", "{}", "{}", "{}", "– {} –", "- {} -", "{:02d}", "· {} ·"]))
    points = float(rng.uniform(7.5, 13))
    role = str(rng.choice(["sans", "bold", "serif", "serif-bold", "mono"]))
    dark = float(rng.uniform(0, 1))
    ink = tuple(int(40 + 85 * dark + v) for v in rng.integers(0, 30, 3))
    for number, (x, y) in zip((left, left + 1), places, strict=True):
        sheet.put_text(x, y, form.format(number), points, role=role, ink=ink, anchor="ms")


def _headings(sheet: Sheet, content: str) -> None:
    rng = sheet.rng
    ink = tuple(int(v) for v in rng.integers(50, 130, 3))
    if content != "notes":
        head = str(rng.choice(["VISAS", "VISTI", "VISAS / VISTI", "VISA", "Visas"]))
        for x in (44, 132):
            sheet.put_text(x, 11, head, 8.5, ink=ink, anchor="ms")
        return
    texts = (
        "Owners of this passport should report its loss at once to the police and to the authority "
        "that issued it. It may be withdrawn at any time. Children need their own passport.",
        "Il presente passaporto è rilasciato ai sensi della legge. Il titolare deve firmarlo "
        "nell'apposito spazio. In caso di smarrimento avvisare subito le autorità di polizia.",
    )
    for x, number in ((10, 0), (98, 1)):
        head = ("NOTES", "AVVERTENZE")[number]
        sheet.put_text(x, 18, head, 9, role="bold", ink=ink)
        sheet.column(
            x, 28, 66, " ".join([texts[number]] * int(rng.integers(1, 3))), 7.5, ink=ink, bottom=104
        )


def _serial(sheet: Sheet) -> None:
    """A perforated number through both pages: dots."""
    rng, ink = sheet.rng, (70, 66, 60)
    for side in (0.0, 88.0):
        x = side + 24.0
        for _ in range(9):
            for row in range(5):
                for column in range(3):
                    if rng.random() < 0.55:
                        cx, cy = sheet.px(x + column * 1.1, 109 + row * 1.1)
                        radius = 0.28 * sheet.scale
                        sheet.draw.ellipse(
                            (cx - radius, cy - radius, cx + radius, cy + radius), fill=ink
                        )
            x += 4.6


_STAMP_WORDS = (
    "ENTRY",
    "INGRESSO",
    "EXIT",
    "USCITA",
    "ADMITTED",
    "IMMIGRATION",
    "ARRIVED",
    "ENTRADA",
    "SALIDA",
    "EINREISE",
    "ENTRÉE",
)
_STAMP_PLACES = ("PORT EXAMPLE", "LUMENPORT", "AEROPORTO DI PROVA", "NORTH GATE", "SPECIMEN 07")


def _stamps(sheet: Sheet, places: tuple[tuple[float, float], ...]) -> None:
    rng = sheet.rng
    for _ in range(int(rng.integers(1, 7))):
        size = (float(rng.uniform(28, 46)), float(rng.uniform(18, 34)))
        x = float(rng.choice([44, 132])) + float(rng.uniform(-20, 20))
        y = float(rng.uniform(22, 92))
        reach = max(size) / 2 + 4
        if any(np.hypot(x - px, y - py) < reach for px, py in places):
            continue
        stamp_on(sheet, x, y, size)


def stamp_on(sheet: Sheet, x: float, y: float, size: tuple[float, float]) -> None:
    """One stamp of an invented border post, at any angle."""
    rng = sheet.rng
    date = (
        f"{rng.integers(1, 29):02d} {_MONTHS[int(rng.integers(0, 12))]} {rng.integers(2015, 2027)}"
    )
    lines = [
        str(rng.choice(_STAMP_WORDS)),
        date,
        str(rng.choice(_STAMP_PLACES)),
        str(rng.integers(100, 999)),
    ]
    turn = float(rng.normal(0, 12)) if rng.random() < 0.5 else float(rng.uniform(0, 360))
    inks = ((36, 42, 130), (150, 30, 40), (30, 90, 60), (40, 40, 48), (95, 40, 120))
    sheet.ink_stamp(
        x,
        y,
        lines[: int(rng.integers(2, 5))],
        size,
        turn,
        inks[int(rng.integers(0, 5))],
        shape=str(rng.choice(["box", "box", "round", "six"])),
        wear=float(rng.uniform(0.1, 0.45)),
    )


# --- visas ---------------------------------------------------------------------------------


def _sticker(rng: Rng, who: Person, kind: str) -> tuple[Sheet, tuple[str, ...]]:
    size, width = ((120.0, 80.0), 44) if kind == "MRV-A" else ((105.0, 74.0), 36)
    label = Sheet(rng, size, DPI, pastel(rng, 220, 246))
    _ground(label)
    ink = deep(rng)
    scale = size[0] / 120
    label.fit(
        6,
        8,
        50,
        str(rng.choice(["VISTO", "VISA", "VISTO NAZIONALE", "VISUM VISA"])),
        13,
        role="bold",
        ink=ink,
    )
    label.put_text(
        size[0] - 6, 8, who.visa_number, 11, role="mono-bold", ink=(150, 40, 40), anchor="rs"
    )
    label.portrait((5, 13, 27 * scale, 35 * scale), grey=bool(rng.random() < 0.4))
    x0, write = 5 + 27 * scale + 4, day(rng)
    last = who.visa_from.replace(year=who.visa_from.year + 1)
    rows = (
        ("VALIDO PER / VALID FOR", "ITALIA", "", ""),
        ("DAL / FROM", write(who.visa_from), "AL / UNTIL", write(last)),
        ("TIPO DI VISTO / TYPE OF VISA", "D", "NUMERO DI INGRESSI / ENTRIES", "MULT"),
        ("RILASCIATO A / ISSUED IN", "LUMENPORT", "IL / ON", write(who.visa_from)),
        ("COGNOME, NOME / SURNAME, NAME", f"{who.surname} {who.given_names}", "", ""),
        ("PASSAPORTO / PASSPORT No.", who.number, "DURATA / DURATION", str(who.visa_days)),
    )
    step, half = (size[1] - 36) / len(rows), (size[0] - 6 - x0) / 2
    for number, (a, b, c, d) in enumerate(rows):
        y = 14.5 + number * step
        for x, name, value in ((x0, a, b), (x0 + half, c, d)):
            label.fit(x, y, half - 1 if c else 2 * half, name, 4.6, ink=(96, 100, 108))
            label.fit(
                x, y + 0.52 * step, half - 1 if c else 2 * half, value, 8, role="bold", ink=ink
            )
    lines = visa(who, width)
    room = size[0] - width * 2.54
    label.machine_zone(
        lines,
        left=room * float(rng.uniform(0.4, 0.6)),
        bottom=float(rng.uniform(8.4, 10)),
        step=float(rng.uniform(5.9, 6.5)),
        pale=bool(rng.random() < 0.7),
    )
    return label, lines


def visa_page(rng: Rng, who: Person) -> tuple[Sheet, Truth]:
    """A single page with a visa, held so that the visa reads: 125 x 88."""
    kind = str(rng.choice(["MRV-A", "MRV-B"]))
    sheet = Sheet(rng, LYING, DPI, pastel(rng, 222, 250))
    _ground(sheet)
    lines, _ = _stick(sheet, who, kind, top=0.0)
    return sheet, Truth(
        kind="visa-page",
        content="visa",
        folder="passport",
        text=True,
        mrz_type=kind,
        mrz=lines,
        person=who,
    )


def _stick(
    sheet: Sheet, who: Person, kind: str, top: float
) -> tuple[tuple[str, ...], tuple[float, float, float, float]]:
    """The lines, and the box x, y, width, height that the sticker covers."""
    label, lines = _sticker(sheet.rng, who, kind)
    x = float(sheet.rng.uniform(0.3, 1)) * (125 - label.size_mm[0])
    y = top + float(sheet.rng.uniform(0.2, 0.9)) * (88 - label.size_mm[1])
    sheet.turned(label, x, y, 0)
    return lines, (x, y, *label.size_mm)


def _under(
    place: tuple[float, float], quarter: int, box: tuple[float, float, float, float]
) -> bool:
    """Whether a number of the upright book lies, also in part, under a sticker."""
    x, y = place
    at = (125 - y, x) if quarter == 1 else (y, 176 - x)
    reach = 6.0
    return all(box[k] - reach < at[k] < box[k] + box[k + 2] + reach for k in (0, 1))


def visa_opening(rng: Rng, who: Person) -> tuple[Sheet, Truth]:
    """An opening with a visa on one page, held so that the visa reads: the fold lies."""
    kind = str(rng.choice(["MRV-A", "MRV-B"]))
    book = Sheet(rng, OPEN, DPI, pastel(rng, 222, 250))
    _ground(book)
    left = 2 * int(rng.integers(1, 26))
    places = number_places(rng)
    _numbers(book, left, places)
    if rng.random() < 0.5:
        stamp_on(book, float(rng.uniform(24, 64)), float(rng.uniform(30, 90)), (38.0, 24.0))
    sheet = Sheet(rng, OPEN_LYING, DPI, (240, 240, 240))
    quarter = int(rng.choice([1, 3]))
    sheet.turned(book, 0, 0, quarter)
    lines, box = _stick(sheet, who, kind, top=float(rng.choice([0.0, 88.0])))
    _fold(sheet, lying=True)
    seen = [
        None if _under(place, quarter, box) else left + side for side, place in enumerate(places)
    ]
    return sheet, Truth(
        kind="passport-spread",
        content="visa",
        folder="passport",
        text=True,
        mrz_type=kind,
        mrz=lines,
        numbers=(seen[0], seen[1]),
        numbers_turn=360 - 90 * quarter,
        person=who,
    )


# --- covers --------------------------------------------------------------------------------


def cover(rng: Rng) -> tuple[Sheet, Truth]:
    """The outer covers: the front alone, or both, the front to the right."""
    both = bool(rng.random() < 0.6)
    size = OPEN if both else PAGE
    base = ((24, 30, 58), (84, 22, 34), (20, 58, 48), (30, 30, 32), (60, 20, 24))[
        int(rng.integers(0, 5))
    ]
    sheet = Sheet(rng, size, DPI, base)
    gold = ((196, 168, 98), (206, 188, 140), (170, 150, 100))[int(rng.integers(0, 3))]
    middle = 132 if both else 44
    sheet.fit(
        middle,
        20,
        76,
        str(rng.choice(["SPECIMEN STATE", "UTOPIA", "UNION OF SPECIMENS"])),
        15,
        role="serif-bold",
        ink=gold,
        anchor="ms",
    )
    cx, cy = sheet.px(middle, 58)
    for ring in (15, 12, 5):
        radius = ring * sheet.scale
        sheet.draw.ellipse(
            (cx - radius, cy - radius, cx + radius, cy + radius),
            outline=gold,
            width=max(2, round(0.6 * sheet.scale)),
        )
    for angle in np.linspace(0, 2 * np.pi, int(rng.integers(5, 13)))[:-1]:
        end = (middle + 12 * np.cos(angle), 58 + 12 * np.sin(angle))
        sheet.rule(middle, 58, *end, gold, 0.5)
    sheet.fit(middle, 96, 70, str(rng.choice(_HEADS)), 17, role="serif-bold", ink=gold, anchor="ms")
    if rng.random() < 0.6:
        sheet.rect((middle - 5, 108, 10, 6), outline=gold, line=0.5)
    grain = 1 + 0.05 * sheet.rng.standard_normal((sheet.image.height, sheet.image.width)).astype(
        np.float32
    )
    sheet.shade(grain)
    if both:
        _fold(sheet, lying=False)
    return sheet, Truth(kind="passport-cover", content="cover", folder="passport", text=True)
