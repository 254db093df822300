"""Running the imaging room on drawn scenes, and the figures of what it finds."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
from drawing import Scene

from packet.imaging.geometry import overlap
from packet.imaging.item import picture_page
from packet.imaging.tone import light_field, toned
from packet.intake.picture import Picture
from packet.model import Item, ItemOverride, Kind, PageResult, ScanTask

KINDS = {
    "card": (Kind.ID_CARD_FRONT, Kind.ID_CARD_BACK, Kind.A4_PAGE),
    "spread": (Kind.PASSPORT_SPREAD, Kind.PASSPORT_COVER, Kind.PASSPORT_PAGE, Kind.VISA_PAGE),
    "page": (Kind.A4_PAGE, Kind.LETTER_PAGE, Kind.OTHER),
}
KINDS["blank"] = KINDS["spread"]


def picture_of(scene: Scene) -> Picture:
    return Picture(pixels=scene.pixels, dpi=scene.dpi, source=scene.source)


def run(
    picture: Picture,
    kinds: tuple[Kind, ...],
    *,
    overrides: tuple[ItemOverride, ...] = (),
    **options: object,
) -> PageResult:
    task = ScanTask(
        path=Path("scan.jpg"), name="folder/scan.jpg", kinds=kinds, overrides=overrides, **options
    )
    return picture_page(task, picture)


def set_tone(image: np.ndarray, *, kind: Kind, tone: str, dpi: float) -> np.ndarray:
    """An item (h, w, 3) RGB divided by its own light and put through its tone curve."""
    field = light_field(cv2.cvtColor(image, cv2.COLOR_RGB2GRAY), dpi=dpi)
    return toned(image, field, kind=kind, tone=tone, dpi=dpi)


def jaccard(item: Item, corners: np.ndarray) -> float:
    """Jaccard index of two outlines, the measure of the ICDAR 2015 SmartDoc challenge."""
    return overlap(np.array(item.corners_px), corners)[0]


def corner_error_mm(item: Item, corners: np.ndarray, size_mm: tuple[float, float]) -> float:
    """Mean distance of the four corners from the truth, at the item's own scale."""
    miss = np.linalg.norm(np.array(item.corners_px) - corners, axis=1).mean()
    return float(miss / (np.linalg.norm(corners[1] - corners[0]) / size_mm[0]))


def angle_deg(corners: np.ndarray) -> float:
    side = (corners[1] - corners[0]) + (corners[2] - corners[3])
    return float(np.degrees(np.arctan2(side[1], side[0])))


def codes(item: Item) -> list[str]:
    return [finding.code for finding in item.findings]
