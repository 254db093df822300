"""The three levels: which scene a seed gives, as a file with its truth.

easy: flatbed, or a photo with contrast and little tilt. normal: tilt to 20 degrees, wood, cloth,
marble, uneven light. hard: tilt to 33 degrees, patterned or white table, a hand's shadow, fingers
over an edge, blur, glare, cut edges, lens distortion, paper that does not lie flat.
"""

from __future__ import annotations

import io
from dataclasses import replace

import numpy as np
from PIL import Image

from . import papers
from .camera import framed, tilted
from .glass import Glass, OnGlass, scan
from .papers import Paper
from .scenes import Laid, Lens, Light, Photo, shoot
from .truth import TruthItem, TruthPicture, outline_mm, px_per_mm

LEVELS = ("easy", "normal", "hard")
_PHOTO_SIZES = ((2000, 1500), (2400, 1800), (2560, 1920), (3000, 2250))
LARGE = (4000, 3000)
"""Twelve megapixels, for the cost figure: one photo in ten."""
_TABLES = {
    "easy": (("plain", 0.5), ("dark", 0.3), ("wood", 0.2)),
    "normal": (("wood", 0.4), ("cloth", 0.25), ("marble", 0.25), ("plain", 0.05), ("dark", 0.05)),
    "hard": (
        ("gingham", 0.2), ("oilcloth", 0.2), ("tiles", 0.15), ("pale", 0.2), ("wood", 0.1),
        ("marble", 0.08), ("cloth", 0.07),
    ),
}  # fmt: skip
_TILTS = {"easy": (0.0, 7.0), "normal": (2.0, 20.0), "hard": (6.0, 33.0)}


def picture(level: str, seed: int, *, large: bool | None = None) -> TruthPicture:
    """The picture of a seed. ``large``: force (or forbid) twelve megapixels; photos only."""
    rng = np.random.default_rng([LEVELS.index(level), seed])
    draw = rng.random()
    flat, fed = {"easy": (0.5, 0.56), "normal": (0.24, 0.3), "hard": (0.2, 0.23)}[level]
    if large:
        return _photo(rng, level, seed, True)
    if draw < flat:
        return _flatbed(rng, level, seed)
    if draw < fed:
        return _sheet_fed(rng, level, seed)
    twelve = rng.random() < 0.1 if large is None else False
    return _photo(rng, level, seed, bool(twelve))


# --- photos --------------------------------------------------------------------------------------


def _pick(rng: np.random.Generator, table: tuple[tuple[str, float], ...]) -> str:
    shares = np.array([share for _, share in table])
    return table[int(rng.choice(len(table), p=shares / shares.sum()))][0]


def _troubles(rng: np.random.Generator, level: str) -> set[str]:
    """What goes wrong: nothing, or up to two things at once, on the hard level."""
    if level != "hard":
        return set()
    names = ("hand", "fingers", "blur", "glare", "cut", "distortion", "curl", "none")
    shares = (0.16, 0.13, 0.13, 0.14, 0.12, 0.12, 0.13, 0.07)
    count = int(rng.integers(1, 3))
    chosen = {str(name) for name in rng.choice(names, count, replace=False, p=shares)}
    return chosen - {"none"}


def photo_of(rng: np.random.Generator, level: str, seed: int, paper: Paper) -> TruthPicture:
    """A photo of one given paper, with nothing wrong but what every photo of the level has."""
    laid = (Laid(paper=paper, curl_mm=_curl(rng, level, set(), paper)),)
    return _shot(rng, level, seed, laid, set(), large=False)


def _photo(rng: np.random.Generator, level: str, seed: int, large: bool) -> TruthPicture:
    trouble = _troubles(rng, level)
    return _shot(rng, level, seed, _on_table(rng, level, trouble), trouble, large=large)


def _shot(
    rng: np.random.Generator, level: str, seed: int, laid: tuple[Laid, ...], trouble: set[str],
    *, large: bool,
) -> TruthPicture:  # fmt: skip
    size = LARGE if large else _PHOTO_SIZES[int(rng.integers(len(_PHOTO_SIZES)))]
    corners = np.vstack([one.table(outline_mm(one.paper.size_mm)) for one in laid])
    roll = _roll(rng, level)
    upright = bool(np.ptp(corners[:, 1]) > np.ptp(corners[:, 0])) ^ (round(roll / 90) % 2 == 1)
    if rng.random() < 0.15:
        upright = not upright
    if upright:
        size = size[::-1]
    tilt = float(rng.uniform(*_TILTS[level]))
    camera = tilted(
        size_px=size, focal=rng.uniform(0.68, 0.95), tilt_deg=tilt,
        towards_deg=rng.uniform(0, 360), roll_deg=roll,
    )  # fmt: skip
    k1 = float(rng.choice([-1, 1]) * rng.uniform(0.01, 0.035)) if "distortion" in trouble else 0.0
    # a photo of a small thing is seldom tight
    fill = rng.uniform(0.6, 0.93) if level != "easy" else rng.uniform(0.65, 0.92)
    shift = (rng.uniform(-0.7, 0.7), rng.uniform(-0.7, 0.7))
    if "cut" in trouble:
        fill, shift = _cut(rng)
    most_lost = 0.6 if len(laid) == 1 else 0.4  # of two, one would be lost altogether
    camera = framed(camera, corners, fill=float(fill), shift=shift, k1=k1, most_lost=most_lost)
    ground = _table_for(rng, level, laid)
    photo = Photo(
        laid=laid, camera=camera, ground=ground, light=_light(rng, level, trouble),
        lens=Lens(blur_px=rng.uniform(0.55, 0.95), noise=rng.uniform(1, 3.5),
                  sharpen=rng.uniform(0, 0.6)),
        glare=int(rng.integers(1, 3)) if "glare" in trouble else 0,
        fingers=int(rng.integers(1, 3)) if "fingers" in trouble else 0,
        pen=level != "easy" and rng.random() < 0.12,
    )  # fmt: skip
    if "blur" in trouble:
        photo = replace(photo, lens=_blurred(rng, photo))
    pixels, truths = shoot(rng, photo)
    tags = ("photo", ground, f"tilt{tilt:.0f}", *sorted(trouble))
    if large:
        tags = (*tags, "12mp")
    data = _camera_file(rng, pixels)
    return _result(
        level, seed, "photo", ".jpg", data,
        pixels=pixels, items=truths, true_dpi=False, tags=tags,
    )  # fmt: skip


def _on_table(rng: np.random.Generator, level: str, trouble: set[str]) -> tuple[Laid, ...]:
    paper = papers.any_paper(rng)
    while "glare" in trouble and paper.blank:
        paper = papers.any_paper(rng)
    curl = _curl(rng, level, trouble, paper)
    first = Laid(paper=paper, curl_mm=curl, curl_axis_deg=float(rng.choice([0, 90]))
                 + rng.uniform(-15, 15))  # fmt: skip
    if "id1" not in paper.name or rng.random() > 0.25:
        return (first,)
    size = papers.ID1
    other = papers.card_back(rng, size) if "front" in paper.kind else papers.card_front(rng, size)
    gap = rng.uniform(4, 25) if level != "hard" else rng.uniform(2, 12)
    if rng.random() < 0.5:
        place = {"y": size[1] + gap, "x": rng.uniform(-12, 12)}
    else:
        place = {"x": size[0] + gap, "y": rng.uniform(-8, 8)}
    return first, Laid(paper=other, turn_deg=rng.uniform(-6, 6) * min(1, gap / 8), **place)


def _curl(rng: np.random.Generator, level: str, trouble: set[str], paper: Paper) -> float:
    if paper.relief == "card":
        return 0.0
    if paper.relief == "book":
        top = {"easy": 1.0, "normal": 2.0, "hard": 3.0}[level]
        return float(rng.uniform(0.2, top)) if paper.kind == "passport-spread" else 0.0
    if "curl" in trouble:
        return float(rng.uniform(2, 9) * rng.choice([-1, 1]) * min(1.0, max(paper.size_mm) / 250))
    return float(rng.uniform(0, 0.6)) if rng.random() < 0.3 and level != "easy" else 0.0


def _roll(rng: np.random.Generator, level: str) -> float:
    quarter = float(rng.choice([0, 90, 180, 270], p=[0.55, 0.15, 0.15, 0.15]))
    reach = {"easy": 5.0, "normal": 12.0, "hard": 22.0}[level]
    return quarter + float(rng.uniform(-reach, reach))


def _cut(rng: np.random.Generator) -> tuple[float, tuple[float, float]]:
    """A framing that loses a strip or a corner."""
    far = [rng.uniform(-0.5, 0.5), rng.uniform(-0.5, 0.5)]
    axis = int(rng.integers(2))
    far[axis] = float(rng.choice([-1, 1]) * rng.uniform(1.3, 3.0))
    return rng.uniform(0.85, 1.0), (far[0], far[1])


def _table_for(rng: np.random.Generator, level: str, laid: tuple[Laid, ...]) -> str:
    """A ground; on the easy level one that a dark cover does not vanish on."""
    if level == "easy" and laid[0].paper.kind == "passport-cover":
        return "pale"
    return _pick(rng, _TABLES[level])


def _light(rng: np.random.Generator, level: str, trouble: set[str]) -> Light:
    slope = {"easy": 0.1, "normal": 0.38, "hard": 0.42}[level]
    cast = rng.normal(0, {"easy": 0.02, "normal": 0.035, "hard": 0.045}[level], 2)
    return Light(
        slope=rng.uniform(0.2, 1) * slope, towards_deg=rng.uniform(0, 360),
        vignette=rng.uniform(0.02, 0.2), white=rng.uniform(170, 232) if level != "easy"
        else rng.uniform(205, 235),
        hand=rng.uniform(0.25, 0.6) if "hand" in trouble else 0.0,
        cast=(1 + cast[0], 1.0, 1 + cast[1]),
    )  # fmt: skip


def _blurred(rng: np.random.Generator, photo: Photo) -> Lens:
    """Defocus or a shaken hand: seven times in ten past reading, else in doubt or harmless."""
    laid = photo.laid[0]
    quad = photo.camera.project(laid.table(outline_mm(laid.paper.size_mm)))
    scale = px_per_mm(quad, laid.paper.size_mm)
    sigma = rng.uniform(0.36, 0.75) if rng.random() < 0.7 else rng.uniform(0.1, 0.34)
    wide = float(sigma * scale)
    if rng.random() < 0.5:
        return replace(photo.lens, blur_px=max(photo.lens.blur_px, wide), sharpen=0.2)
    length = wide * np.sqrt(12)
    return replace(photo.lens, motion_px=float(length), motion_deg=rng.uniform(0, 180), sharpen=0.2)


def _camera_file(rng: np.random.Generator, pixels: np.ndarray) -> bytes:
    """A JPEG as a phone or a messenger writes it, turned and tagged with its orientation."""
    # EXIF tag 274 (CIPA DC-008): 6 = turn a quarter clockwise to view, 3 half, 8 a quarter back
    orientation = int(rng.choice([1, 6, 3, 8], p=[0.4, 0.4, 0.1, 0.1]))
    stripped = rng.random() < 0.2
    if stripped:
        orientation = 1
    stored = np.rot90(pixels, {1: 0, 6: 1, 3: 2, 8: 3}[orientation])
    image = Image.fromarray(np.ascontiguousarray(stored))
    buffer = io.BytesIO()
    options: dict[str, object] = {"quality": int(rng.integers(70, 96))}
    dpi = rng.choice([0, 72, 96])
    if dpi:
        options["dpi"] = (int(dpi), int(dpi))
    if not stripped:
        exif = Image.Exif()
        exif[271], exif[272], exif[274] = "Maker", "Phone 7", orientation
        options["exif"] = exif.tobytes()
    image.save(buffer, "JPEG", **options)
    return buffer.getvalue()


# --- scans ---------------------------------------------------------------------------------------


def _flatbed(rng: np.random.Generator, level: str, seed: int) -> TruthPicture:
    several = rng.random() < {"easy": 0.25, "normal": 0.35, "hard": 0.5}[level]
    white = level == "hard" and rng.random() < 0.5
    group = _several(rng, white) if several else (_alone(rng, white),)
    small = max(max(paper.size_mm) for paper in group) < 130
    dpi = float(rng.choice([200, 300, 600] if small and len(group) == 1 else [150, 200, 300]))
    skew = {"easy": 3.0, "normal": 6.0, "hard": 12.0}[level]
    size, laid = _arranged(rng, group, skew, tight=level == "hard", whole=dpi < 600)
    tags: list[str] = ["flatbed", f"items{len(group)}"]
    lid = _lid(rng, level, white)
    if level == "easy" and group[0].kind.endswith("page") and lid > 190:
        lid -= 22.0  # white paper on a white lid is for the other levels
    tags.append(f"lid{lid:.0f}")
    if level == "hard" and len(laid) == 1 and rng.random() < 0.25:
        laid = (_pushed(rng, laid[0], size),)
        tags.append("cut")
    glass = Glass(
        size_mm=size, dpi=dpi, lid=lid, laid=laid, lift_mm=rng.uniform(0, 3),
        white=rng.uniform(238, 253), blur_px=rng.uniform(0.4, 0.8), noise=rng.uniform(0.5, 2),
        shadow=rng.uniform(0.12, 0.5),
    )  # fmt: skip
    pixels, truths = scan(rng, glass)
    told = str(rng.choice(["true", "missing", "lying"], p=[0.75, 0.15, 0.1]))
    if told != "true":
        tags.append(f"dpi-{told}")
    suffix, data, pixels = _scan_file(rng, pixels, dpi, told, small)
    return _result(
        level, seed, "flatbed", suffix, data,
        pixels=pixels, items=truths, true_dpi=told == "true", tags=tuple(tags),
    )  # fmt: skip


def _alone(rng: np.random.Generator, white: bool) -> Paper:
    if white:
        draw = papers.card_front if rng.random() < 0.5 else papers.card_back
        return draw(rng, papers.ID1, white=True)
    return papers.any_paper(rng)


def _several(rng: np.random.Generator, white: bool) -> tuple[Paper, ...]:
    """Two to four cards, two A5, or an opening and a card."""
    draw = rng.random()
    if draw < 0.12:
        return papers.page(rng, papers.A5, "other"), papers.page(rng, papers.A5, "other")
    if draw < 0.24:
        return papers.opening(rng), papers.card_front(rng)
    made = []
    for number in range(int(rng.choice([2, 3, 4], p=[0.6, 0.2, 0.2]))):
        front = number % 2 == 0
        draw_card = papers.card_front if front else papers.card_back
        made.append(draw_card(rng, papers.ID1, white=white and rng.random() < 0.6))
    return tuple(made)


def _lid(rng: np.random.Generator, level: str, white: bool) -> float:
    if white:
        return float(rng.uniform(236, 252))
    kind = rng.choice(3, p={"easy": [0.5, 0.2, 0.3], "normal": [0.6, 0.2, 0.2],
                            "hard": [0.7, 0.15, 0.15]}[level])  # fmt: skip
    return float((rng.uniform(228, 250), rng.uniform(110, 190), rng.uniform(10, 45))[kind])


def _arranged(
    rng: np.random.Generator, group: tuple[Paper, ...], skew: float, *, tight: bool, whole: bool
) -> tuple[tuple[float, float], tuple[OnGlass, ...]]:
    """The glass (or the selected part of it) and the papers on it, none over another."""
    gap = rng.uniform(2, 8) if tight else rng.uniform(6, 20)
    columns = 2 if len(group) > 2 else 1
    cells = []
    for paper in group:
        angle = float(rng.uniform(-skew, skew) * rng.choice([0.3, 1.0]))
        if max(paper.size_mm) > 230:
            angle *= 0.3
        quarter = float(rng.choice([0, 90, 180, 270], p=[0.6, 0.13, 0.14, 0.13]))
        if len(group) > 1 and quarter % 180:
            quarter = 0.0
        if paper.size_mm == papers.A5 and len(group) > 1:
            quarter = 90.0
        cells.append((paper, angle + quarter))
    boxes = np.array([_reach(paper.size_mm, turn) for paper, turn in cells])
    wide, high = boxes.max(axis=0) + gap
    laid = []
    for number, (paper, turn) in enumerate(cells):
        row, column = divmod(number, columns)
        laid.append(OnGlass(paper=paper, turn_deg=turn, x=(column + 0.5) * wide + gap / 2,
                            y=(row + 0.5) * high + gap / 2))  # fmt: skip
    need = np.array([columns * wide + gap, -(-len(group) // columns) * high + gap])
    spare = np.zeros(2)
    if rng.random() < 0.65 and whole:
        glass = np.array([216.0, 297.0]) if need[1] < 297 else np.array([218.0, 358.0])
        spare = np.maximum(glass - need, 0)
    move = rng.uniform(0, 1, 2) * spare
    size = need + spare
    moved = tuple(replace(one, x=one.x + move[0], y=one.y + move[1]) for one in laid)
    return (float(size[0]), float(size[1])), moved


def _reach(size: tuple[float, float], turn_deg: float) -> tuple[float, float]:
    a = np.radians(turn_deg)
    c, s = abs(np.cos(a)), abs(np.sin(a))
    return float(size[0] * c + size[1] * s), float(size[0] * s + size[1] * c)


def _pushed(rng: np.random.Generator, one: OnGlass, size: tuple[float, float]) -> OnGlass:
    """The paper pushed over one edge of the glass."""
    wide, high = _reach(one.paper.size_mm, one.turn_deg)
    lost = rng.uniform(4, 0.15 * min(wide, high) + 4)
    side = int(rng.integers(4))
    return (
        replace(one, x=wide / 2 - lost),
        replace(one, x=size[0] - wide / 2 + lost),
        replace(one, y=high / 2 - lost),
        replace(one, y=size[1] - high / 2 + lost),
    )[side]


def _sheet_fed(rng: np.random.Generator, level: str, seed: int) -> TruthPicture:
    """A page that fills the frame, drawn in askew; corners lie in the backing or outside."""
    paper = papers.page(rng)
    while paper.blank:
        paper = papers.page(rng)
    most = {"easy": 1.0, "normal": 2.0, "hard": 3.0}[level]
    skew = float(rng.uniform(-most, most))
    quarter = float(rng.choice([0, 180], p=[0.8, 0.2]))
    wide, high = papers.A4
    if rng.random() < 0.5:
        wide, high = _reach(papers.A4, skew)
    laid = OnGlass(paper=paper, x=wide / 2, y=high / 2, turn_deg=quarter + skew)
    lid = float(rng.choice([rng.uniform(238, 252), rng.uniform(90, 200), rng.uniform(8, 40)]))
    glass = Glass(
        size_mm=(wide, high), dpi=float(rng.choice([200, 300])), lid=lid, laid=(laid,),
        white=rng.uniform(242, 254), noise=rng.uniform(0.5, 1.5), shadow=rng.uniform(0.05, 0.25),
        lift_mm=0.2,
    )  # fmt: skip
    pixels, truths = scan(rng, glass)
    suffix, data, pixels = _scan_file(rng, pixels, glass.dpi, "true", False)
    truths = tuple(replace(one, cut=None) for one in truths)
    tags = ("sheet-fed", f"skew{skew:.1f}", f"lid{lid:.0f}")
    return _result(
        level, seed, "sheet-fed", suffix, data,
        pixels=pixels, items=truths, true_dpi=True, tags=tags,
    )  # fmt: skip


def _scan_file(
    rng: np.random.Generator, pixels: np.ndarray, dpi: float, told: str, small: bool
) -> tuple[str, bytes, np.ndarray]:
    """(suffix, bytes, pixels): grey or colour; JPEG, PNG or TIFF; the dpi told, or not."""
    image = Image.fromarray(pixels)
    if rng.random() < 0.35:
        image = image.convert("L")
    options: dict[str, object] = {}
    if told == "true":
        options["dpi"] = (dpi, dpi)
    elif told == "lying":
        # a card 85.6 mm wide seems 60 mm wide, or a page scanned as if for the screen
        lie = round(dpi * 85.6 / 60.0) if small else int(rng.choice([72, 96]))
        options["dpi"] = (lie, lie)
    form = str(rng.choice(["JPEG", "PNG", "TIFF"], p=[0.7, 0.2, 0.1]))
    if form == "JPEG":
        options["quality"] = int(rng.integers(75, 96))
    if form == "TIFF":
        options["compression"] = "tiff_lzw"
    buffer = io.BytesIO()
    image.save(buffer, form, **options)
    return {"JPEG": ".jpg", "PNG": ".png", "TIFF": ".tif"}[form], buffer.getvalue(), pixels


def _result(
    level: str, seed: int, source: str, suffix: str, data: bytes, *, pixels: np.ndarray,
    items: tuple[TruthItem, ...], true_dpi: bool, tags: tuple[str, ...],
) -> TruthPicture:  # fmt: skip
    return TruthPicture(
        level=level, seed=seed, source=source, suffix=suffix, data=data,
        width_px=pixels.shape[1], height_px=pixels.shape[0], items=items, true_dpi=true_dpi,
        tags=tags,
    )  # fmt: skip
