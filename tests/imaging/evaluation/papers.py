"""Documents with known truth: pages, cards, openings of a passport, covers, odd sizes.

Every paper is drawn as it reads when held upright. No look is taken from a real document.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import dataclass, field

import cv2
import numpy as np

from .ink import Leaf, Rgb, code, smooth, word, words

A4 = (210.0, 297.0)  # ISO 216
A5 = (148.0, 210.0)  # ISO 216
LETTER = (215.9, 279.4)  # ANSI/ASME Y14.1
ID1 = (85.60, 53.98)  # ISO/IEC 7810
ID2 = (105.0, 74.0)  # ISO/IEC 7810
PAGE = (88.0, 125.0)  # ISO/IEC 7810 ID-3, upright
_DARK: tuple[Rgb, ...] = ((28, 28, 32), (40, 40, 44), (24, 30, 60))


@dataclass(frozen=True, slots=True, kw_only=True)
class Paper:
    """A drawn paper. ``rgb`` (H, W, 3) and ``mask`` (H, W) uint8 at ``scale`` pixels a mm.

    ``rim_mm``: dark cover that shows beyond the paper's own edge (not part of the item).
    ``relief``: "sheet" may curl, "book" has a fold (``fold``: its direction), "card" is stiff.
    """

    name: str
    kind: str
    size_mm: tuple[float, float]
    scale: float
    rgb: np.ndarray = field(repr=False)
    mask: np.ndarray = field(repr=False)
    blank: bool = False
    glossy: bool = False
    relief: str = "sheet"
    rim_mm: float = 0.0
    rim_rgb: Rgb = (40, 20, 20)


def _paper(leaf: Leaf, name: str, kind: str, *, radius_mm: float = 0.0, **more: object) -> Paper:
    rgb = np.asarray(leaf.image)
    mask = np.full(rgb.shape[:2], 255, np.uint8)
    if radius_mm:
        mask[:] = 0
        r = round(radius_mm * leaf.scale)
        h, w = mask.shape
        cv2.rectangle(mask, (r, 0), (w - 1 - r, h - 1), 255, -1)
        cv2.rectangle(mask, (0, r), (w - 1, h - 1 - r), 255, -1)
        for x in (r, w - 1 - r):
            for y in (r, h - 1 - r):
                cv2.circle(mask, (x, y), r, 255, -1, cv2.LINE_AA)
    return Paper(
        name=name, kind=kind, size_mm=leaf.size_mm, scale=leaf.scale, rgb=rgb, mask=mask, **more
    )  # type: ignore[arg-type]


def _white(rng: np.random.Generator) -> Rgb:
    level = int(rng.integers(240, 254))
    return (level, level - int(rng.integers(0, 3)), level - int(rng.integers(0, 7)))


# --- pages ---------------------------------------------------------------------------------------


def page(rng: np.random.Generator, size: tuple[float, float] = A4, kind: str = "a4-page") -> Paper:
    """A page of one of several layouts."""
    layouts: tuple[tuple[str, Callable[[Leaf], None], float], ...] = (
        ("typed", _typed, 0.3),
        ("letter", _letterhead, 0.2),
        ("table", _table, 0.2),
        ("form", _form, 0.15),
        ("few-lines", _few_lines, 0.08),
        ("blank", lambda leaf: None, 0.07),
    )
    pick = rng.choice(len(layouts), p=[share for _, _, share in layouts])
    name, draw, _ = layouts[pick]
    leaf = Leaf(rng, size, 12.0 if size[0] > 130 else 14.0, _white(rng))
    draw(leaf)
    if name != "blank" and rng.random() < 0.25:
        leaf.stamp(rng.uniform(0.5, 0.85) * size[0], rng.uniform(0.7, 0.88) * size[1], 15.0)
    return _paper(leaf, f"{kind}:{name}", kind, blank=name == "blank")


def _ink(rng: np.random.Generator) -> Rgb:
    return _DARK[int(rng.choice(3, p=[0.6, 0.3, 0.1]))]


def _typed(leaf: Leaf) -> None:
    rng, (wide, high) = leaf.rng, leaf.size_mm
    em = rng.uniform(3.5, 4.6)
    left, right = rng.uniform(18, 28), rng.uniform(15, 25)
    if wide < 180:
        left, right = left * 0.6, right * 0.6
    y = rng.uniform(16, 30)
    ink = _ink(rng)
    leaf.text(left, y, words(rng, 4).capitalize(), em * 1.3, ink, "Bold")
    y += em * 3
    end = high * rng.uniform(0.45, 0.93)
    while y < end - 2 * em:
        lines = min(int(rng.integers(2, 9)), int((end - y) / em / 1.45) + 1)
        y = leaf.paragraph(left, y, wide - left - right, lines, em, ink) + em * 0.9
    leaf.text(wide / 2, high - 13, str(rng.integers(1, 20)), 3.2, ink)


def _letterhead(leaf: Leaf) -> None:
    rng, (wide, high) = leaf.rng, leaf.size_mm
    colour = tuple(int(v) for v in rng.integers(20, 190, 3))
    if rng.random() < 0.5:
        leaf.rect((15, 12, 20, 20), fill=colour)
        leaf.text(40, 13, words(rng, 2).title(), 6.0, colour, "Bold")
    else:
        leaf.text(wide * 0.35, 12, words(rng, 2).upper(), 6.0, colour, "Bold")
    leaf.fill_line(40, 23, 90, 3.0, (90, 90, 96))
    if rng.random() < 0.7:
        leaf.rule(15, 36, wide - 15, 36, colour, 0.5)
    for row in range(4):
        leaf.fill_line(wide * 0.58, 48 + 5 * row, 55, 3.9, _DARK[0])
    y = leaf.paragraph(20, 82, wide - 42, int(rng.integers(3, 8)), 4.0, _DARK[0]) + 6
    y = leaf.paragraph(20, y, wide - 42, int(rng.integers(4, 11)), 4.0, _DARK[0]) + 14
    leaf.scribble(wide * 0.6, min(y, high - 50), 42, 14)
    leaf.fill_line(20, high - 16, wide - 45, 2.7, (110, 110, 114))


def _table(leaf: Leaf) -> None:
    rng, (wide, high) = leaf.rng, leaf.size_mm
    leaf.text(18, 16, words(rng, 3).capitalize(), 5.4, _DARK[0], "Bold")
    left, top, right = 16.0, rng.uniform(32, 60), wide - 16.0
    columns = int(rng.integers(3, 7))
    rows = int(rng.integers(8, int((high - top - 22) / 8)))
    pitch = rng.uniform(6.4, 7.8)
    grid = rng.random() < 0.6
    leaf.rect((left, top, right - left, pitch), fill=(222, 226, 232))
    edges = np.sort(np.append(rng.uniform(0.15, 0.85, columns - 1), [0, 1])) * (right - left) + left
    for row in range(rows + 1):
        y = top + row * pitch
        leaf.rule(left, y, right, y, (70, 70, 74), 0.3 if grid else 0.15)
        if row == rows:
            break
        for a, b in itertools.pairwise(edges):
            if b - a > 9:
                leaf.fill_line(a + 1.5, y + 1.2, (b - a - 3) * rng.uniform(0.4, 1), 3.4, _DARK[0])
    if grid:
        for x in edges:
            leaf.rule(x, top, x, top + rows * pitch, (70, 70, 74), 0.3)


def _form(leaf: Leaf) -> None:
    rng, (wide, high) = leaf.rng, leaf.size_mm
    if rng.random() < 0.5:
        leaf.rect((10, 10, wide - 20, high - 20), outline=(60, 60, 66), line=0.4)
    leaf.text(18, 15, words(rng, 3).upper(), 5.0, _DARK[0], "Bold")
    tint = tuple(int(v) for v in rng.integers(120, 200, 3))
    y = 30.0
    while y < high - 30:
        leaf.fill_line(18, y, 60, 2.9, (60, 60, 66))
        cells = int(rng.integers(8, max(9, int((wide - 40) / 6))))
        for cell in range(cells):
            leaf.rect((18 + cell * 5.6, y + 4.5, 5.2, 6.4), outline=tint, line=0.25)
            if rng.random() < 0.6:
                leaf.text(19.3 + cell * 5.6, y + 4.4, code(rng, 1), 4.6, (26, 30, 90))
        y += rng.uniform(14, 17)


def _few_lines(leaf: Leaf) -> None:
    rng, (wide, high) = leaf.rng, leaf.size_mm
    y = rng.uniform(0.1, 0.6) * high
    leaf.paragraph(rng.uniform(18, 45), y, 0.5 * wide, int(rng.integers(2, 5)), 4.2, _ink(rng))


def receipt(rng: np.random.Generator) -> Paper:
    """A narrow slip of a size outside every catalogue."""
    size = (round(float(rng.uniform(56, 82)), 1), round(float(rng.uniform(110, 220)), 1))
    return _odd(rng, size, "receipt")


def odd(rng: np.random.Generator) -> Paper:
    """A slip, an A5 page, a photo-sized note, a ticket."""
    pick = rng.integers(3)
    if pick == 0:
        return receipt(rng)
    if pick == 1:
        made = page(rng, A5, "other")
        return made
    size = (round(float(rng.uniform(120, 190)), 1), round(float(rng.uniform(64, 110)), 1))
    return _odd(rng, size, "ticket")


def _odd(rng: np.random.Generator, size: tuple[float, float], name: str) -> Paper:
    leaf = Leaf(rng, size, 14.0, _white(rng))
    wide, high = size
    ink = (60, 58, 64) if rng.random() < 0.4 else _DARK[0]
    leaf.text(wide * 0.2, 6, words(rng, 2).upper(), 4.6, ink, "Bold")
    y = 16.0
    while y < high - 26:
        leaf.fill_line(5, y, (wide - 24) * rng.uniform(0.5, 1), 3.2, ink)
        leaf.text(wide - 17, y, f"{rng.uniform(1, 99):.2f}", 3.2, ink)
        y += rng.uniform(4.6, 5.6)
    if rng.random() < 0.6:
        leaf.barcode((wide * 0.2, high - 19, wide * 0.6, 11))
    return _paper(leaf, f"other:{name}", "other")


# --- cards ---------------------------------------------------------------------------------------


def _card_leaf(rng: np.random.Generator, size: tuple[float, float], white: bool) -> Leaf:
    if white:
        base = _white(rng)
    else:
        hue = rng.uniform(-34, 10, 3)
        base = tuple(int(v) for v in np.clip(228 + hue, 120, 246))
        if rng.random() < 0.12:
            base = tuple(int(v) for v in rng.integers(60, 150, 3))
    leaf = Leaf(rng, size, 18.0, base)
    if rng.random() < 0.85:
        for _ in range(2):
            tint = tuple(int(v) for v in rng.integers(90, 210, 3))
            leaf.tint(rng.uniform(0.15, 0.45), tint, rng.uniform(0.9, 2.4))
    return leaf


def card_front(
    rng: np.random.Generator, size: tuple[float, float] = ID1, white: bool = False
) -> Paper:
    """A card with a portrait on the left or right, a title, named fields, sometimes a chip."""
    leaf = _card_leaf(rng, size, white)
    wide, _high = size
    k = wide / 85.6
    right = rng.random() < 0.25
    ink = _DARK[0]
    if rng.random() < 0.5:
        bar = tuple(int(v) for v in rng.integers(20, 170, 3))
        leaf.rect((0, 0, wide, 8.5 * k), fill=bar)
        leaf.text(5 * k, 1.6 * k, words(rng, 3).upper(), 3.6 * k, (245, 245, 245), "Bold")
    else:
        leaf.text(5 * k, 2.5 * k, words(rng, 3).upper(), 3.6 * k, ink, "Bold")
    photo_x = wide - 29 * k if right else 5 * k
    leaf.portrait((photo_x, 12 * k, 23 * k, 29.5 * k), bool(rng.random() < 0.6))
    x = 6 * k if right else 32 * k
    for row in range(5):
        y = (11.5 + 7.4 * row) * k
        leaf.text(x, y, word(rng), 1.9 * k, (90, 90, 110))
        leaf.text(x, y + 2.2 * k, words(rng, 2).upper()[:20], 3.0 * k, ink, "Bold")
    if rng.random() < 0.3:
        leaf.chip(wide - (42 if right else 18) * k, 17 * k)
    if rng.random() < 0.6:
        leaf.scribble(photo_x, 43 * k, 22 * k, 7 * k)
    kind = "id-card-front"
    radius = 3.18 if size == ID1 or rng.random() < 0.5 else 0.0
    name = f"{kind}:{'id1' if size == ID1 else 'id2'}{'-white' if white else ''}"
    return _paper(leaf, name, kind, radius_mm=radius, glossy=True, relief="card")


def card_back(
    rng: np.random.Generator, size: tuple[float, float] = ID1, white: bool = False
) -> Paper:
    """Fields above, then three lines of machine-readable zone, or a stripe and a bar code."""
    leaf = _card_leaf(rng, size, white)
    wide, high = size
    k = wide / 85.6
    ink = _DARK[0]
    style = rng.integers(3)
    if style == 0:
        for row in range(3):
            y = (4 + 8 * row) * k
            leaf.text(5 * k, y, word(rng), 1.9 * k, (90, 90, 110))
            leaf.text(5 * k, y + 2.3 * k, words(rng, 3).upper()[:26], 2.8 * k, ink)
        if rng.random() < 0.4:
            leaf.portrait((wide - 18 * k, 5 * k, 12 * k, 15 * k), True)
        for row in range(3):
            line = code(rng, 30, (0.2, 0.3, 0.5)[row])
            leaf.fixed((wide - 76.2) / 2, high - 18.4 * k + 4.9 * row, line, 2.54, 3.9, ink)
        name = "mrz"
    else:
        if rng.random() < 0.6:
            leaf.rect((0, 4 * k, wide, 12.7 * k), fill=(34, 30, 30))
        leaf.barcode((6 * k, 21 * k, rng.uniform(45, 70) * k, 8 * k))
        leaf.text(6 * k, 30.5 * k, code(rng, 16), 3.2 * k, ink)
        for row in range(3):
            leaf.fill_line(6 * k, (36 + 4.4 * row) * k, 66 * k, 2.3 * k, ink)
        name = "stripe"
    radius = 3.18 if size == ID1 or rng.random() < 0.5 else 0.0
    size_name = "id1" if size == ID1 else "id2"
    return _paper(
        leaf, f"id-card-back:{size_name}-{name}{'-white' if white else ''}", "id-card-back",
        radius_mm=radius, glossy=True, relief="card",
    )  # fmt: skip


# --- passport ------------------------------------------------------------------------------------


def _book_base(rng: np.random.Generator) -> Rgb:
    return tuple(int(v) for v in np.clip(rng.uniform(218, 244) + rng.uniform(-16, 8, 3), 0, 250))


def _book_print(leaf: Leaf) -> None:
    rng = leaf.rng
    for _ in range(int(rng.integers(1, 4))):
        tint = tuple(int(v) for v in rng.integers(110, 220, 3))
        leaf.tint(rng.uniform(0.2, 0.5), tint, rng.uniform(0.9, 2.2))


def _fold(leaf: Leaf, horizontal: bool) -> None:
    """The valley of a fold: a dark line, a soft shadow wider on one side, sometimes stitches."""
    rng, (wide, high) = leaf.rng, leaf.size_mm
    length = high if horizontal else wide
    pixels = leaf.image.height if horizontal else leaf.image.width
    away = (np.arange(pixels, dtype=np.float32) + 0.5) / leaf.scale - length / 2
    deep, reach = rng.uniform(0.06, 0.3), rng.uniform(1.5, 7)
    lean = rng.uniform(-0.6, 0.6)
    factor = 1 - deep * np.exp(-np.abs(away) / reach) * (1 + lean * np.sign(away))
    factor *= 1 - rng.uniform(0.15, 0.5) * np.exp(-((away / 0.22) ** 2))
    leaf.shade(factor[:, None] if horizontal else factor[None, :])


def data_opening(rng: np.random.Generator) -> Paper:
    """The data page under the page above it: reads with the fold horizontal, 125 x 176."""
    leaf = Leaf(rng, (125.0, 176.0), 13.0, _book_base(rng))
    _book_print(leaf)
    y0 = 88.0
    _data_fields(leaf, y0)
    if rng.random() < 0.5:
        leaf.scribble(60, 66, 44, 12)
        leaf.paragraph(12, 12, 100, int(rng.integers(3, 8)), 3.4, _DARK[0])
    elif rng.random() < 0.6:
        leaf.paragraph(14, 16, 96, int(rng.integers(6, 12)), 3.2, (70, 60, 90))
    _fold(leaf, True)
    return _book(leaf, "data", "passport-spread")


def _data_fields(leaf: Leaf, y0: float) -> None:
    rng, ink = leaf.rng, _DARK[0]
    leaf.text(8, y0 + 4, words(rng, 2).upper(), 4.4, (60, 50, 110), "Bold")
    leaf.text(80, y0 + 5, code(rng, 9), 4.4, ink, "Bold")
    leaf.portrait((7, y0 + 15, 34, 43), bool(rng.random() < 0.3))
    for row in range(6):
        y = y0 + 13 + 8.2 * row
        leaf.text(46, y, words(rng, 2), 2.1, (100, 100, 120))
        leaf.text(46, y + 2.7, words(rng, 2).upper()[:24], 3.5, ink)
    for row in range(2):
        line = code(rng, 44, (0.4, 0.2)[row])
        leaf.fixed(6.6, y0 + 66.5 + 8.5 * row, line, 2.54, 4.2, ink)


def _book(leaf: Leaf, name: str, kind: str, *, blank: bool = False) -> Paper:
    rng = leaf.rng
    dark = tuple(int(v) for v in rng.integers(16, 90, 3))
    return _paper(
        leaf, f"{kind}:{name}", kind, blank=blank, relief="book",
        radius_mm=float(rng.choice([0.0, 2.0, 3.2])),
        rim_mm=float(rng.choice([0.0, 0.5, 0.9], p=[0.5, 0.3, 0.2])), rim_rgb=dark,
        glossy=name == "data" or "cover" in name,
    )  # fmt: skip


def opening(rng: np.random.Generator) -> Paper:
    """An opening with the fold vertical: stamps, a visa, a note, or only its page numbers."""
    leaf = Leaf(rng, (176.0, 125.0), 13.0, _book_base(rng))
    _book_print(leaf)
    what = rng.choice(["stamps", "visa", "note", "blank"], p=[0.4, 0.2, 0.15, 0.25])
    number = int(rng.integers(2, 50)) // 2 * 2
    corner = rng.random() < 0.7
    for side in (0, 1):
        x = (8 if side == 0 else 161) if corner else (42 if side == 0 else 130)
        leaf.text(x, 115, str(number + side), 3.4, (90, 80, 100))
    if rng.random() < 0.6:
        for side in (0, 1):
            leaf.text(34 + 88 * side, 5, word(rng).upper()[:8], 3.0, (140, 120, 150))
    for side in (0, 1) if rng.random() < 0.5 else (int(rng.integers(2)),):
        _fill_page(leaf, str(what), side * 88.0)
    _fold(leaf, False)
    return _book(leaf, str(what), "passport-spread", blank=what == "blank")


def _fill_page(leaf: Leaf, what: str, x0: float) -> None:
    rng = leaf.rng
    if what == "stamps":
        for _ in range(int(rng.integers(1, 5))):
            leaf.stamp(x0 + rng.uniform(20, 68), rng.uniform(22, 102), rng.uniform(12, 21))
    elif what == "visa":
        pale = tuple(int(v) for v in rng.integers(185, 240, 3))
        top = rng.uniform(6, 34)
        leaf.rect((x0 + 2.5, top, 83, 76), fill=pale)
        leaf.text(x0 + 6, top + 3, words(rng, 1).upper(), 4.6, (50, 70, 120), "Bold")
        leaf.portrait((x0 + 6, top + 12, 24, 31), False)
        for row in range(6):
            leaf.text(x0 + 34, top + 12 + 6 * row, words(rng, 2).upper()[:18], 2.9, _DARK[0])
        for row in range(2):
            line = code(rng, 32, 0.3)
            leaf.fixed(x0 + 4.5, top + 58 + 8 * row, line, 2.5, 3.8, _DARK[0])
    elif what == "note":
        leaf.paragraph(x0 + 9, rng.uniform(16, 40), 68, int(rng.integers(5, 14)), 3.3, (60, 50, 80))


def single_page(rng: np.random.Generator) -> Paper:
    """One page by itself: the data page (125 x 88), or another (88 x 125)."""
    if rng.random() < 0.4:
        leaf = Leaf(rng, (125.0, 88.0), 14.0, _book_base(rng))
        _book_print(leaf)
        _data_fields(leaf, 0.0)
        return _book(leaf, "data", "passport-page")
    leaf = Leaf(rng, PAGE, 14.0, _book_base(rng))
    _book_print(leaf)
    leaf.text(10, 115, str(rng.integers(1, 50)), 3.4, (90, 80, 100))
    _fill_page(leaf, str(rng.choice(["stamps", "note"])), 0.0)
    return _book(leaf, "other", "passport-page")


def cover(rng: np.random.Generator) -> Paper:
    """Outside of the book, one cover or both opened: dark cloth, gold print."""
    both = rng.random() < 0.5
    size = (176.0, 125.0) if both else PAGE
    hue = np.array(((92, 22, 28), (20, 32, 74), (18, 60, 44), (24, 24, 26))[int(rng.integers(4))])
    base = tuple(int(v) for v in np.clip(hue * rng.uniform(0.7, 1.3), 5, 140))
    leaf = Leaf(rng, size, 12.0, base)
    gold = (196, 164, 92) if rng.random() < 0.8 else (190, 190, 190)
    x0 = 88.0 if both else 0.0
    title = words(rng, 1).upper()[:10]
    leaf.text(x0 + 22, 14, title, 7.0, gold, "Bold")
    leaf.text(x0 + 26, 98, word(rng).upper()[:9], 6.0, gold, "Bold")
    t = np.linspace(0, 2 * np.pi, 240)
    for radius in (24, 20, 13, 6):
        reach = radius * (1 + 0.1 * np.cos(t * rng.integers(5, 12)))
        ring = np.column_stack([x0 + 44 + reach * np.cos(t), 60 + reach * np.sin(t)]) * leaf.scale
        leaf.draw.line([tuple(p) for p in ring], fill=gold, width=round(0.8 * leaf.scale))
    if rng.random() < 0.5:
        leaf.rect((x0 + 38, 110, 12, 7), outline=gold, line=0.7)
    grain = smooth(rng, (leaf.image.height, leaf.image.width), 0.5 * leaf.scale)
    leaf.shade(1 + 0.05 * grain)
    if both:
        _fold(leaf, False)
    made = _paper(
        leaf, f"passport-cover:{'open' if both else 'single'}", "passport-cover",
        radius_mm=3.2, relief="book", glossy=True,
    )  # fmt: skip
    return made


# --- choosing ------------------------------------------------------------------------------------

_MAKERS: tuple[tuple[Callable[[np.random.Generator], Paper], float], ...] = (
    (page, 0.26),
    (lambda rng: page(rng, LETTER, "letter-page"), 0.05),
    (card_front, 0.12),
    (card_back, 0.10),
    (lambda rng: card_front(rng, ID2), 0.03),
    (lambda rng: card_back(rng, ID2), 0.02),
    (data_opening, 0.10),
    (opening, 0.19),
    (single_page, 0.05),
    (cover, 0.04),
    (odd, 0.04),
)


def any_paper(rng: np.random.Generator) -> Paper:
    """A paper such as a packet holds, by weight."""
    shares = np.array([share for _, share in _MAKERS])
    return _MAKERS[int(rng.choice(len(_MAKERS), p=shares / shares.sum()))][0](rng)
