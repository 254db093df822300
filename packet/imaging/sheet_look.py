"""What has the shape of a sheet: A4, A5, an open passport, one of its pages, an ID-2 card.

They have one shape (1.41 to 1.42: ISO 216, ISO/IEC 7810), so in a photo the look alone tells them
apart. Each thing that is seen speaks for or against each of them, in log-odds:

- type is some 3 mm high on all of them, so its height against the paper's tells the paper's size;
- passports and cards have a background print, plain paper has none;
- an opening has a fold down the middle;
- a machine-readable zone is 112 mm wide on a passport's data page, 76 or 91 mm on a card (ICAO
  Doc 9303, parts 4 to 6: 44, 30 or 36 signs, ten an inch);
- a card holds a few lines, a passport's page a dozen, and print on a card runs along its long side;
- what is written on plain paper stands in lines; stamps, or print too blurred to be told, do not.

Weights are from drawn photos (common practice, no source).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from packet.imaging.geometry import Pixels, medians, percentile
from packet.imaging.marks import dark_areas, has_bar_code, has_stripe, level_at, ranked
from packet.imaging.rectify import shrunk
from packet.imaging.upright import ANALYSIS_PX, Print
from packet.model import Kind

_COVER_TEXT = 1.1  # lines darker than the stock, in lengths of the item; a cover's are lighter
_DARK_STOCK, _LIT = 85, 110  # median luma; of its lightest tenth, where a shadow lies on the rest
_LIGHT_PRINT = 1.3  # times that, what is printed on a cover is lighter; of papers in the dark 0.9
_FOLD_DEPTH = 0.045  # of 70 drawn openings on the hard level 0.049 and more, of 130 other sheets 0
_FOLD_STRAY = 0.5  # % of the width
_GLARE, _LEAST_BANDS = 246.0, 8  # luma; of 24
_BLOCK_PX = 34
_STOCK_SIZE, _STOCK_RIM = (280, 200), 9  # pixels of a cover, small; its edge and fold
_LEAST_LIGHT, _LEAST_PRINT = 10, 200  # levels; pixels
_ONE_HALF = 0.85  # of the print: a single cover has up to 0.71 in a half of it, an open one 0.99

_TYPE_MM, _TYPE_SPREAD = 3.2, 0.25  # a line from top to bottom; spread as logarithm
_PLAIN, _TINTED = (4.8, 0.5), (20.0, 0.7)  # background print: median, spread as logarithm
_NO_TEXT = 1.5  # a sheet without a line of text is rare, a passport's page is not
_NO_LINES, _MARKS = 2.9, (25.0, 50.0)  # one with other marks is rarer: per mille, none, certain;
# by less than a page without a background print is: creases are no stamps
_MARKS_PX, _MARKS_SPREAD_PX, _GROUND_PX = (350, 250), 4.0, 127
_NO_FINGERS, _NO_RIM = 0.2, 0.12  # of the short side, left out along each edge
# ICAO Doc 9303: 44 signs of 2.54 mm are 0.894 of 125 mm (part 4), 36 are 0.871 of 105 (part 6);
# measured to 0.006 on drawn photos
_BETWEEN_ZONES, _ZONE_OFF = 0.8825, 0.008
_DARK_MARKS, _NO_LIGHT = 150.0, 0.5  # per mille of dark stock, darker; of it, lighter
# bars over a quarter of a card's length would be 74 mm of a page; the columns of tables are so,
# but their type and text tell them. A magnetic stripe is darker than a hand's shadow
_BARRED, _STRIPE = 3.5, 0.5
_NOT_DARK = 1.0  # a passport's pages are light


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """Measured on an item with its long side along x; see the functions of the same names.

    Lengths of text and zones are in lengths of the item's long side. ``zone``: a machine-readable
    zone along the long side, ``zone_across``: one along the short side; 0: none.
    """

    luma: float
    folded: bool
    tint: float
    line_height: float  # median, pixels of 1400
    text_length: float
    across: bool  # text along the long side
    zone: float
    zone_across: float
    wide_rows: int
    light: float = 0.0  # what print on dark stock is lighter, against the stock
    dark: float = 0.0  # what marks on dark stock are darker, per mille
    marks: float = 0.0  # what stands out where there are no lines of text, per mille
    barred: bool = False  # a wide bar code along the long side, or a magnetic stripe
    bright: float = 255.0  # luma of its lightest tenth


@dataclass(frozen=True, slots=True, kw_only=True)
class Paper:
    """One of the papers of this shape. ``rare``: log-odds against it before anything is seen;
    ``most_text``: in lengths; ``across``: share of them with text along the long side; ``fold``:
    log-odds of a fold seen, and of none; ``zone``: of one wider than 0.8 lengths, of a narrower
    one, of one along the short side, of a wide row like one of its lines; ``shorter``: more of a
    wide one as long as 36 signs on ID-2; ``no_zone``: of text along the long side without one."""

    kinds: tuple[Kind, ...]
    long_mm: float
    rare: float
    tinted: bool = True
    most_text: float
    across: float
    type_mm: float = _TYPE_MM
    type_spread: float = _TYPE_SPREAD
    fold: tuple[float, float] = (-3.0, 0.0)
    zone: tuple[float, float, float, float] = (-1.0, -1.0, 0.0, 0.0)
    shorter: float = 0.0
    no_zone: float = 0.0


PAPERS = (
    Paper(
        kinds=(Kind.A4_PAGE, Kind.FORM_PAGE), long_mm=297.0, rare=0.0, tinted=False,
        most_text=math.inf, across=0.15, fold=(-1.5, 0.0),
    ),
    Paper(
        kinds=(Kind.OTHER,), long_mm=210.0, rare=1.75, tinted=False,  # A5
        most_text=math.inf, across=0.15, fold=(-1.5, 0.0),
    ),
    Paper(
        kinds=(Kind.PASSPORT_SPREAD,), long_mm=176.0, rare=0.0, most_text=8.5, across=0.5,
        fold=(2.0, -2.5), zone=(-4.0, -1.0, 3.0, 0.0),
    ),
    Paper(
        kinds=(Kind.PASSPORT_PAGE, Kind.VISA_PAGE), long_mm=125.0, rare=1.5, most_text=6.5,
        across=0.4, zone=(3.0, 0.0, 0.0, 1.0), shorter=-2.0, no_zone=-2.0,
    ),
    Paper(
        kinds=(Kind.ID_CARD_FRONT, Kind.ID_CARD_BACK), long_mm=105.0, rare=1.7, most_text=8.0,
        across=0.95, type_mm=2.5, type_spread=0.4, zone=(1.0, 3.0, 0.0, 0.0), shorter=2.0,
    ),
)  # fmt: skip


def likeliest(look: Look) -> tuple[tuple[Kind, ...], ...]:
    """Groups of kinds of the sheet's shape, the likeliest first; dark stock without dark print on
    it, or with much lighter one, is a cover, else no sheet."""
    if is_cover(look):
        return ((Kind.PASSPORT_COVER,),)
    light = look.luma >= _DARK_STOCK or look.bright >= _LIT
    papers = [one for one in PAPERS if one.tinted or light]
    return tuple(one.kinds for one in sorted(papers, key=lambda one: -odds_of(look, one)))


def is_cover(look: Look) -> bool:
    """Dark stock without dark print on it, or with much lighter one: its grain may look like dark
    lines. Dark marks that make no lines, and no light print, are those of a blurred card."""
    printed = look.text_length >= _COVER_TEXT and look.light < _LIGHT_PRINT
    marked = look.dark > _DARK_MARKS and (look.light < _NO_LIGHT or look.barred)
    return look.luma < _DARK_STOCK and not (printed or marked)


def odds_of(look: Look, paper: Paper) -> float:
    """Log-odds that a look speaks for a paper, less what they all have in common."""
    texts = min(1.0, look.text_length)
    odds = -paper.rare + paper.fold[0 if look.folded else 1]
    odds += _background(look.tint) * (0.5 if paper.tinted else -0.5)
    odds -= max(0.0, look.text_length - paper.most_text)
    if not paper.tinted:
        none, certain = _MARKS
        marks = min(max((look.marks - none) / (certain - none), 0.0), 1.0)
        odds -= (_NO_TEXT + _NO_LINES * marks) * (1 - texts)
    elif look.luma < _DARK_STOCK and Kind.ID_CARD_FRONT not in paper.kinds:
        odds -= _NOT_DARK
    if look.barred and Kind.ID_CARD_FRONT in paper.kinds:
        odds += _BARRED
    if look.line_height > 0:
        type_mm = look.line_height / ANALYSIS_PX * paper.long_mm
        away = math.log(type_mm / paper.type_mm) / paper.type_spread
        odds += texts * (max(-0.5 * away * away, -5.0) - math.log(paper.type_spread / _TYPE_SPREAD))
    if look.text_length > 0.5:
        odds += math.log(paper.across if look.across else 1 - paper.across)
    return odds + _zone_odds(look, paper)


def _background(tint: float) -> float:
    """Log-odds of a background print."""
    level = math.log(max(tint, 1.0))
    plain, tinted = (
        -0.5 * ((level - math.log(median)) / spread) ** 2 - math.log(spread)
        for median, spread in (_PLAIN, _TINTED)
    )
    return min(max(tinted - plain, -3.0), 2.5)


def _zone_odds(look: Look, paper: Paper) -> float:
    wide, narrow, short, row = paper.zone
    odds = short if look.zone_across > 0.5 else 0.0
    if look.zone > 0.8:
        short_of = min(max((_BETWEEN_ZONES - look.zone) / _ZONE_OFF, 0.0), 1.0)
        return odds + wide + paper.shorter * short_of
    if look.zone > 0.65:
        return odds + narrow
    if look.across and not look.wide_rows:
        odds += paper.no_zone * min(1.0, look.text_length)
    # two rows from side to side: a zone that reflections or background print have broken
    return odds + (row * min(look.wide_rows, 2) if look.across and look.wide_rows <= 3 else 0.0)


def lying(grey: Pixels) -> Pixels:
    """Turned a quarter where its long side runs down the picture."""
    if grey.shape[0] <= grey.shape[1]:
        return grey
    return np.asarray(cv2.rotate(grey, cv2.ROTATE_90_CLOCKWISE), np.uint8)


def look_of(grey: Pixels, printed: Print) -> Look:
    """The measures that tell items of the sheet's shape apart."""
    upright = grey.shape[0] > grey.shape[1]
    wide = lying(grey)
    axis = printed.main_axis
    lines, contrast = printed.along(axis)
    heights = lines.heights
    long = max(grey.shape)
    zones = [0.0 if zone is None else zone[2] / long for zone in printed.zones]
    luma = float(level_at(wide, 50))
    dark = luma < _DARK_STOCK
    return Look(
        luma=luma,
        folded=has_fold(wide),
        tint=background_print(wide),
        line_height=float(np.median(heights)) * ANALYSIS_PX / long if len(heights) else 0.0,
        text_length=lines.length / long,
        across=(axis == 1) == upright,
        zone=zones[int(upright)],
        zone_across=zones[int(not upright)],
        wide_rows=wide_rows(lines.boxes, contrast.shape[1]),
        light=float(level_at(_light_on(wide), 99)) / max(luma, 1.0) if dark else 0.0,
        dark=dark_marks(wide) if dark else 0.0,
        marks=marks_of(wide) if lines.length < long else 0.0,
        barred=has_bar_code(wide) or has_stripe(dark_areas(wide, below=_STRIPE), wide.shape),
        bright=float(level_at(wide, 90)),
    )


def has_fold(grey: Pixels) -> bool:
    """A narrow dark valley down the middle of an item with its long side along x, straight from
    edge to edge."""
    depth, stray = fold_valley(grey)
    return depth > _FOLD_DEPTH and stray < _FOLD_STRAY


def fold_valley(grey: Pixels) -> tuple[float, float]:
    """Depth of the dark line down the middle that reaches an edge, against the darker of its two
    sides (a shadow that begins there has one side only), and its stray in % of the width.

    24 bands over the height, those left out that a reflection has whitened, each by its median
    row and the middle of the floor of its valley, which may be soft. Depth: what seven bands in
    ten have; stray: within what seven in ten lie of the middle one. (0, 100) where the line ends
    before both edges, as a rule printed on a page does.
    """
    height, width = grey.shape
    half, core, middle = round(0.07 * width), round(0.02 * width), width // 2
    if half < 6 or height < 60:
        return 0.0, 100.0
    rim = round(0.015 * height)
    strip = grey[rim : height - rim, middle - half : middle + half + 1]
    step = max(1, len(strip) // (24 * 20))
    deep = len(strip) // (24 * step)
    bands = strip[: 24 * step * deep : step].reshape(24, deep, -1)
    rows = ranked(bands.swapaxes(0, 1), deep // 2).astype(np.float32)
    rows = np.asarray(cv2.blur(rows, (3, 1)), np.float32)
    sides = rows[:, : half - core], rows[:, half + core + 1 :]
    paper = np.minimum(*(np.percentile(side, 70, axis=1) for side in sides))
    seen = paper < _GLARE
    if seen.sum() >= _LEAST_BANDS:
        rows, paper = rows[seen], paper[seen]
    inner = rows[:, half - core : half + core + 1]
    dark = np.maximum(paper[:, None] - inner, 0.0)
    depths = dark.max(axis=1) / np.maximum(paper, 1.0)
    floor = np.maximum(dark - 0.6 * dark.max(axis=1, keepdims=True), 0.0)
    places = floor @ np.arange(inner.shape[1]) / np.maximum(floor.sum(axis=1), 1e-6)
    depth = percentile(depths, 30)
    away = np.abs(places - medians(places))
    stray = percentile(away, 70) / width * 100
    ends = (away < 0.006 * width) & (depths > 0.4 * medians(depths))
    if not (ends[0] or ends[-1]):
        return 0.0, 100.0
    return depth, stray


def is_printed_on_half(grey: Pixels) -> bool:
    """Light print on one half alone of dark stock with its long side along x."""
    light = _light_on(grey)
    ink = light > max(_LEAST_LIGHT, 0.4 * level_at(light, 99.5))
    width, fold = ink.shape[1], _STOCK_RIM  # a worn fold is lighter, too
    halves = ink[:, : width // 2 - fold].sum(), ink[:, width // 2 + fold :].sum()
    return bool(max(halves) > max(_LEAST_PRINT, _ONE_HALF * sum(halves)))


def _light_on(grey: Pixels) -> Pixels:
    """What is lighter than the stock around it, in levels, small, without its edge."""
    small = shrunk(grey, _STOCK_SIZE)
    stock = cv2.morphologyEx(small, cv2.MORPH_OPEN, np.ones((11, 11), np.uint8))
    inner = slice(_STOCK_RIM, -_STOCK_RIM)
    return np.asarray(cv2.subtract(small, stock)[inner, inner], np.uint8)


def marks_of(grey: Pixels) -> float:
    """What nine tenths of an item lie below, in contrast with what is some % of its length around
    them, per mille; where fingers hold it is left out. 3 to 12 on blank drawn sheets, 30 and more
    on pages with stamps, however blurred."""
    small = shrunk(grey, _MARKS_PX).astype(np.float32)
    around = cv2.GaussianBlur(small, (0, 0), _MARKS_SPREAD_PX)
    ground = cv2.GaussianBlur(small, (0, 0), 3 * _MARKS_SPREAD_PX)
    contrast = np.abs(small - around) / np.maximum(ground, 20.0)
    return 1000 * percentile(_inner(contrast, _NO_FINGERS), 90)


def dark_marks(grey: Pixels) -> float:
    """What the darkest 2 % of an item are darker than most of what is around them, per mille of
    that; the edge of a shadow across it is none."""
    small = shrunk(grey, _MARKS_PX)
    ground = cv2.medianBlur(small, _GROUND_PX).astype(np.float32)
    darker = (ground - small) / np.maximum(ground, 20.0)
    return 1000 * percentile(_inner(darker, _NO_RIM), 98)


def _inner(layer: NDArray[Any], share: float) -> NDArray[Any]:
    """Without a share of the short side along each edge."""
    rim = round(share * min(layer.shape))
    return layer[rim:-rim, rim:-rim]


def background_print(grey: Pixels) -> float:
    """Fine contrast of the quieter parts of the paper, per mille of its luma: security print."""
    size = (max(1, grey.shape[1] // 2), max(1, grey.shape[0] // 2))
    small = shrunk(grey, size).astype(np.float32)
    fine = np.abs(small - cv2.GaussianBlur(small, (0, 0), 4))
    rows, columns = (size[1] - 10) // _BLOCK_PX, (size[0] - 10) // _BLOCK_PX
    if min(rows, columns) < 1:
        return 0.0
    contrast, paper = (_block_medians(layer, rows, columns) for layer in (fine, small))
    return 1000 * percentile(contrast / np.maximum(paper, 20.0), 30)


def _block_medians(layer: NDArray[np.float32], rows: int, columns: int) -> NDArray[np.float32]:
    """Medians of blocks of 34 x 34 pixels, of every second pixel each way."""
    part = layer[10 : 10 + rows * _BLOCK_PX : 2, 10 : 10 + columns * _BLOCK_PX : 2]
    side = _BLOCK_PX // 2
    blocks = part.reshape(rows, side, columns, side).swapaxes(1, 2).reshape(rows, columns, -1)
    middle = blocks.shape[2] // 2
    return np.asarray(np.partition(blocks, middle, axis=2)[:, :, middle], np.float32)


def wide_rows(boxes: NDArray[np.int64], width: int) -> int:
    """How many rows of print run from side to side, as no front's do beside its portrait; a row
    may be broken by a reflection or a finger."""
    rows: list[list[NDArray[np.int64]]] = []
    for box in sorted(boxes, key=lambda box: int(box[1])):
        last = rows[-1][-1] if rows else None
        if last is not None and abs(2 * (box[1] - last[1]) + box[3] - last[3]) < last[3]:
            rows[-1].append(box)
        else:
            rows.append([box])
    wide = 0
    for row in rows:
        x, w = np.array([box[0] for box in row]), np.array([box[2] for box in row])
        wide += bool((x + w).max() - x.min() > 0.85 * width and w.sum() > 0.62 * width)
    return wide
