"""The figures: one row for each item and each picture, measured against the truth.

Jaccard index as the SmartDoc challenge defines it (ICDAR 2015, competition 1): the found outline
is warped by the homography that takes the true outline to the page's rectangle; then area of the
intersection over area of the union. Skew as DISEC 2013 means it: the angle that is left in the
text lines of the result; here three lines of the paper are followed through the true camera into
the picture and from there through the found outline into the result.
"""

from __future__ import annotations

import tempfile
import time
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import cv2
import numpy as np

from packet.imaging.geometry import common_area
from packet.model import Item, Kind, ScanTask

from .levels import picture
from .truth import TruthItem, TruthPicture

FOUND = 0.5
_SAME = {
    "permit-front": "id-card-front", "tax-card-front": "id-card-front",
    "permit-back": "id-card-back", "tax-card-back": "id-card-back",
    "visa-page": "passport-page", "form-page": "a4-page",
}  # fmt: skip
"""Kinds that nothing but reading can tell apart."""
_FAMILY = {"id-card-front": "card", "id-card-back": "card"}


@dataclass(frozen=True, slots=True, kw_only=True)
class ItemRow:
    """One true item and what was found. ``jaccard`` is 0 where nothing was.

    ``size_off_mm``: with the kind given, None where no size can be known. ``corner_mm``: mean over
    the corners inside the picture.
    """

    level: str
    seed: int
    source: str
    tags: tuple[str, ...]
    truth: TruthItem
    jaccard: float
    jaccard_px: float
    jaccard_as: float | None
    corner_mm: float | None = None
    skew_deg: float | None = None
    turn_deg: int | None = None
    turn_right: bool = False
    kind: str | None = None
    size_off_mm: float | None = None
    codes: tuple[str, ...] = ()

    @property
    def kind_right(self) -> bool:
        """The kind, but for what only reading can tell."""
        return self.kind is not None and _SAME.get(self.kind, self.kind) == self.truth.kind

    @property
    def family_right(self) -> bool:
        """As ``kind_right``, the sides of a card taken as one."""
        if self.kind is None:
            return False
        kind = _SAME.get(self.kind, self.kind)
        return _FAMILY.get(kind, kind) == _FAMILY.get(self.truth.kind, self.truth.kind)


@dataclass(frozen=True, slots=True, kw_only=True)
class PictureRow:
    """One picture: how many items, what it cost. ``cpu_s``: to find and judge what is on the
    decoded picture; ``decode_s``: to decode it; ``floor_s``: decode, one cubic warp, encode."""

    level: str
    seed: int
    tags: tuple[str, ...]
    true_items: int
    found_items: int
    found_as: int | None
    megapixels: float
    cpu_s: float
    decode_s: float = 0.0
    floor_s: float | None = None
    error: str = ""
    items: tuple[ItemRow, ...] = field(default=(), repr=False)


def evaluate(level: str, seed: int, *, with_kind: bool = True) -> PictureRow:
    """Draw the picture of a seed, run the imaging room on it, measure."""
    drawn = picture(level, seed)
    with tempfile.TemporaryDirectory(prefix="evaluation-") as folder:
        path = Path(folder) / f"{level}-{seed}{drawn.suffix}"
        path.write_bytes(drawn.data)
        return evaluate_file(drawn, path, with_kind=with_kind)


def evaluate_file(drawn: TruthPicture, path: Path, *, with_kind: bool = True) -> PictureRow:
    """Run the imaging room on a file whose truth is known, without a hint and with the kind."""
    row = PictureRow(
        level=drawn.level, seed=drawn.seed, tags=drawn.tags, true_items=len(drawn.items),
        found_items=0, found_as=None, megapixels=drawn.width_px * drawn.height_px / 1e6, cpu_s=0.0,
    )  # fmt: skip
    try:
        blind, cpu_s, decode_s = _run(path, ())
    except Exception as error:  # a crash is a result of the evaluation, not of this tool
        return replace(row, error=f"{type(error).__name__}: {error}",
                       items=measure(drawn, (), None))  # fmt: skip
    told = None
    if with_kind:
        try:
            told, _, _ = _run(path, tuple(dict.fromkeys(Kind(one.kind) for one in drawn.items)))
        except Exception as error:
            row = replace(row, error=f"with kind: {type(error).__name__}: {error}")
    return replace(
        row, found_items=len(blind), found_as=None if told is None else len(told), cpu_s=cpu_s,
        decode_s=decode_s, floor_s=_floor(drawn) if "12mp" in drawn.tags else None,
        items=measure(drawn, blind, told),
    )  # fmt: skip


def _run(path: Path, kinds: tuple[Kind, ...]) -> tuple[tuple[Item, ...], float, float]:
    """(the items, CPU seconds to find and judge them, CPU seconds to decode the file)."""
    from packet.imaging.item import picture_page
    from packet.intake.pictures import open_scan

    task = ScanTask(path=path, name=path.name, kinds=kinds, encode=False, small=True)
    start = time.process_time()
    pictures = list(open_scan(path))
    decoded = time.process_time()
    items = [item for one in pictures for item in picture_page(task, one).items]
    return tuple(items), time.process_time() - decoded, decoded - start


def _floor(drawn: TruthPicture) -> float:
    """CPU seconds to decode, warp once (cubic, true scale at 300 dpi) and encode."""
    start = time.process_time()
    pixels = cv2.imdecode(np.frombuffer(drawn.data, np.uint8), cv2.IMREAD_COLOR)
    item = drawn.items[0]
    wide, high = (side * 300 / 25.4 for side in item.size_mm)
    target = np.array([[0, 0], [wide, 0], [wide, high], [0, high]], np.float32)
    matrix = cv2.getPerspectiveTransform(item.quad.astype(np.float32), target)
    size = (round(wide), round(high))
    warped = cv2.warpPerspective(pixels, matrix, size, flags=cv2.INTER_CUBIC)
    cv2.imencode(".jpg", warped, [cv2.IMWRITE_JPEG_QUALITY, 85])
    return time.process_time() - start


# --- geometry ------------------------------------------------------------------------------------


def measure(
    drawn: TruthPicture, found: Sequence[Item], told: Sequence[Item] | None
) -> tuple[ItemRow, ...]:
    """One row for each true item."""
    pairs = match(drawn.items, found)
    pairs_told = match(drawn.items, told) if told is not None else None
    rows = []
    for number, truth in enumerate(drawn.items):
        as_item = None if pairs_told is None else pairs_told[number]
        row = ItemRow(
            level=drawn.level, seed=drawn.seed, source=drawn.source, tags=drawn.tags, truth=truth,
            jaccard=0.0, jaccard_px=0.0,
            jaccard_as=None if pairs_told is None
            else 0.0 if as_item is None else page_jaccard(truth, quad_of(as_item)),
            size_off_mm=_size_off(drawn, truth, as_item) if told is not None else None,
        )  # fmt: skip
        item = pairs[number]
        rows.append(row if item is None else _filled(row, drawn, item))
    return tuple(rows)


def _filled(row: ItemRow, drawn: TruthPicture, item: Item) -> ItemRow:
    truth, quad = row.truth, quad_of(item)
    start, corner_mm = corner_error(truth, quad, (drawn.width_px, drawn.height_px))
    return replace(
        row,
        jaccard=page_jaccard(truth, quad),
        jaccard_px=polygon_jaccard(truth.quad, quad),
        corner_mm=corner_mm,
        skew_deg=rest_skew(truth, quad, item.size_mm),
        turn_deg=item.turn_deg,
        turn_right=item.turn_deg == truth.turn_deg and start == 0,
        kind=item.kind.value,
        codes=tuple(finding.code for finding in item.findings),
    )


def quad_of(item: Item) -> np.ndarray:
    """The found outline, (4, 2)."""
    return np.array(item.corners_px, np.float64)


def match(truths: Sequence[TruthItem], found: Sequence[Item]) -> list[Item | None]:
    """For each true item the found one that overlaps it most; each is used once."""
    table = np.array(
        [[polygon_jaccard(t.quad, quad_of(f)) for f in found] for t in truths], np.float64
    ).reshape(len(truths), len(found))
    pairs: list[Item | None] = [None] * len(truths)
    while table.size and table.max() > 0.05:
        row, column = np.unravel_index(int(table.argmax()), table.shape)
        pairs[row] = found[column]
        table[row, :] = table[:, column] = 0
    return pairs


def polygon_jaccard(a: np.ndarray, b: np.ndarray) -> float:
    """Intersection over union of two outlines, or of their hulls."""
    middle = a.mean(axis=0)
    one, two = (cv2.convexHull((quad - middle).astype(np.float32))[:, 0] for quad in (a, b))
    both = common_area(one, two)
    either = cv2.contourArea(one) + cv2.contourArea(two) - both
    return both / either if either > 0 else 0.0


def to_page(truth: TruthItem) -> np.ndarray:
    """The homography from the picture to millimetres on the paper."""
    wide, high = truth.size_mm
    page = np.array([[0, 0], [wide, 0], [wide, high], [0, high]], np.float32)
    return cv2.getPerspectiveTransform(truth.quad.astype(np.float32), page)


def _mapped(matrix: np.ndarray, points: np.ndarray) -> np.ndarray:
    return cv2.perspectiveTransform(points.reshape(-1, 1, 2).astype(np.float64), matrix)[:, 0]


def page_jaccard(truth: TruthItem, quad: np.ndarray) -> float:
    """The Jaccard index in the coordinates of the page (SmartDoc 2015)."""
    matrix = to_page(truth)
    return polygon_jaccard(_mapped(matrix, truth.quad), _mapped(matrix, quad))


def corner_error(
    truth: TruthItem, quad: np.ndarray, size_px: tuple[int, int]
) -> tuple[int, float | None]:
    """(how far the found corners are rolled against the true ones, mean error in mm).

    Corners outside the picture cannot be seen and do not count; None where none is inside.
    """
    matrix = to_page(truth)
    wide, high = truth.size_mm
    page = np.array([[0, 0], [wide, 0], [wide, high], [0, high]], np.float64)
    found = _mapped(matrix, quad)
    far = [np.linalg.norm(np.roll(found, -start, axis=0) - page, axis=1) for start in range(4)]
    start = int(np.argmin([one.mean() for one in far]))
    inside = ((truth.quad > -1) & (truth.quad < np.array(size_px))).all(axis=1)
    return start, float(far[start][inside].mean()) if inside.any() else None


def rest_skew(truth: TruthItem, quad: np.ndarray, size_mm: tuple[float, float]) -> float:
    """The angle of the paper's lines in the result, to the nearest quarter turn, in degrees."""
    wide, high = size_mm
    target = np.array([[0, 0], [wide, 0], [wide, high], [0, high]], np.float32)
    matrix = cv2.getPerspectiveTransform(quad.astype(np.float32), target)
    ends = _mapped(matrix, truth.lines).reshape(3, 2, 2)
    along = ends[:, 1] - ends[:, 0]
    angles = np.degrees(np.arctan2(along[:, 1], along[:, 0]))
    rest = (angles - angles[1] + 45) % 90 - 45 + (angles[1] + 45) % 90 - 45
    return float(np.median(rest))


def _size_off(drawn: TruthPicture, truth: TruthItem, item: Item | None) -> float | None:
    """Worst side's error in mm; None where the size cannot be known (odd size, no true dpi)."""
    if truth.kind == "other" and not drawn.true_dpi:
        return None
    if item is None:
        return float("inf")
    found, true = sorted(item.size_mm), sorted(truth.size_mm)
    return max(abs(found[k] - true[k]) for k in (0, 1))
