"""The list of scans and photos of each packet: what lies where and how it was taken."""

from __future__ import annotations

import json
import zlib
from dataclasses import dataclass, field, replace
from pathlib import Path

import cv2
import numpy as np

from . import book, cards, papers
from .camera import Placed, Quad, Shot, flatbed, phone
from .canvas import Fonts, Item
from .files import jpeg_bytes, write_heic, write_scan_pdf
from .people import Person

SEED = 20261125
A4_GLASS_MM = (220.0, 308.0)
FLAT_QUALITY = 66
PHOTO_QUALITY = 66


@dataclass(slots=True, kw_only=True)
class Studio:
    """Where to draw, with which faces, and the truth gathered so far."""

    root: Path
    fonts: Fonts
    truth: dict[str, list[dict[str, object]]] = field(default_factory=dict)

    def rng(self, name: str) -> np.random.Generator:
        """Random numbers that depend on the file's name alone."""
        return np.random.default_rng([SEED, zlib.crc32(name.encode())])

    def path(self, name: str) -> Path:
        """The place of a file, its folder made."""
        path = self.root / name
        path.parent.mkdir(parents=True, exist_ok=True)
        return path

    def note(self, name: str, page: int, items: list[Item], quads: list[Quad], **more: str) -> None:
        """Keep the truth about the items of one page of a file."""
        for item, quad in zip(items, quads, strict=True):
            entry: dict[str, object] = {
                "page": page, "kind": item.kind, "corners": quad, "size_mm": list(item.size_mm),
                "upright_by": item.upright_by,
            }  # fmt: skip
            self.truth.setdefault(name, []).append({**entry, **more})

    def write_truth(self) -> None:
        """truth.json: one line an item, so that a change shows as a small difference."""
        blocks = []
        for name in sorted(self.truth):
            rows = ",\n    ".join(json.dumps(entry) for entry in self.truth[name])
            blocks.append(f"  {json.dumps(name)}: [\n    {rows}\n  ]")
        (self.root / "truth.json").write_text("{\n" + ",\n".join(blocks) + "\n}\n")

    def scan(
        self, name: str, placed: list[Placed], glass: tuple[float, float], *, bound: bool = False,
        quality: int = FLAT_QUALITY,
    ) -> None:  # fmt: skip
        """One flatbed scan as a JPEG with 300 dpi."""
        picture, quads = flatbed(placed, glass, self.rng(name), book=bound)
        self.path(name).write_bytes(jpeg_bytes(picture, quality=quality, dpi=300))
        self.note(name, 1, [p.item for p in placed], quads)

    def photo(
        self, name: str, item: Item, shot: Shot, *, orientation: int | None = None,
        camera: bool = False, quality: int = PHOTO_QUALITY, **more: str,
    ) -> None:  # fmt: skip
        """One phone photo, JPEG or HEIC by the name's end."""
        picture, quads = phone(item, shot, self.rng(name))
        if name.endswith(".heic"):
            write_heic(self.path(name), picture, 46)
        else:
            data = jpeg_bytes(picture, quality=quality, orientation=orientation, camera=camera)
            self.path(name).write_bytes(data)
        self.note(name, 1, [item], quads, **more)

    def scan_pdf(
        self, name: str, items: list[Item], *, dpi: float = 200, quality: int = 58
    ) -> None:
        """A4 sheets scanned in grey to one PDF, each lying a little askew."""
        rng, pages = self.rng(name), []
        for number, item in enumerate(items, start=1):
            turn = float(rng.uniform(0.3, 1.4) * rng.choice([-1, 1]))
            centre = (
                A4_GLASS_MM[0] / 2 + rng.uniform(-0.8, 0.8),
                A4_GLASS_MM[1] / 2 + rng.uniform(-1, 1),
            )
            placed = Placed(item=item, centre_mm=centre, turn_deg=turn)
            picture, quads = flatbed([placed], A4_GLASS_MM, rng, dpi=dpi, lid=238)
            pages.append(cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY))
            self.note(name, number, [item], quads)
        write_scan_pdf(self.path(name), pages, dpi=dpi, quality=quality)

    def policy(self, name: str, person: Person, pages: int) -> None:
        """The born-digital policy; its truth is given at 300 dpi."""
        papers.insurance(self.path(name), self.fonts, person, pages)
        right, bottom = (round(mm * 300 / 25.4 - 0.5, 2) for mm in papers.A4_MM)
        corners = [[-0.5, -0.5], [right, -0.5], [right, bottom], [-0.5, bottom]]
        blank = np.zeros((1, 1, 4), np.uint8)
        item = Item(rgba=blank, size_mm=papers.A4_MM, kind="a4-page")
        for page in range(1, pages + 1):
            self.note(name, page, [item], [corners])


STAMPS: dict[tuple[int, int], list[book.Stamp]] = {
    (8, 9): [
        (42, 46, ["EXIT · USCITA", "14 06 2022", "SPECIMEN"], (120, 44, 62), 11.0, "box"),
        (128, 78, ["ENTRY", "02 07 22", "SPECIMEN"], (38, 92, 66), -18.0, "round"),
    ],
    (10, 11): [
        (48, 74, ["LUMENPORT", "19 03 24", "SPECIMEN"], (40, 60, 128), 24.0, "round"),
        (132, 40, ["ENTRY · INGRESSO", "05 09 2024", "SPECIMEN"], (46, 46, 54), -6.0, "box"),
        (124, 84, ["EXIT · USCITA", "21 09 2024", "SPECIMEN"], (46, 46, 54), 4.0, "box"),
    ],
}


def opening(fonts: Fonts, person: Person, rng: np.random.Generator, pages: tuple[int, int],
            last: int = 28) -> Item:  # fmt: skip
    """The opening with these two pages; 0 and last + 1 are the inside covers."""
    if pages == (2, 3):
        return book.data_opening(fonts, person, rng)
    if pages == (6, 7):
        return book.visa_opening(fonts, person, rng, pages)
    if pages in STAMPS:
        return book.stamped_opening(fonts, rng, pages, last, STAMPS[pages])
    return book.plain_opening(fonts, rng, pages, last)


PORTRAIT, LANDSCAPE = (1800, 2400), (2400, 1800)

PASSPORT_SHOTS: dict[int, tuple[float, int | None, Shot | None]] = {
    1: (1.6, None, None),
    2: (-1.2, None, None),
    3: (0, 6, Shot(table="wood", size_px=PORTRAIT, pitch=5, yaw=-3, roll=2.5, light=-2.2)),
    4: (0, 3, Shot(table="dark", pitch=-4, yaw=6, roll=-3, light=2.4)),
    5: (0, 8, Shot(table="oak", size_px=PORTRAIT, pitch=7, yaw=2, roll=-2, light=-0.8)),
    6: (181.4, None, None),
    7: (0, None, Shot(table="oak", pitch=6, yaw=-4, roll=1.5, light=3.6)),
    8: (2.4, None, None),
    9: (0, 6, Shot(table="wood", size_px=PORTRAIT, pitch=4, yaw=3, roll=92, light=0.4)),
    10: (-2.1, None, None),
    11: (0, None, Shot(table="cloth", pitch=8, yaw=2, roll=-2.5, light=-2.6)),
    12: (0.9, None, None),
    13: (0, 3, Shot(table="dark", pitch=5, yaw=-5, roll=4, light=-1.2)),
    14: (-2.8, None, None),
    15: (0, None, Shot(table="wood", pitch=-6, yaw=-3, roll=-1.5, light=1.2)),
    16: (1.1, None, None),
}
"""By scan: the turn on the glass; or the EXIF orientation and the shot."""


def passport(studio: Studio, person: Person, folder: str) -> None:
    """Sixteen scans of a book of 28 pages: the covers, then fifteen openings."""
    for number, (turn, orientation, shot) in PASSPORT_SHOTS.items():
        name = f"{folder}/IMG_{number:02d}.jpg"
        rng = studio.rng(name + " drawn")
        if number == 1:
            item = book.covers(studio.fonts, rng)
        else:
            item = opening(studio.fonts, person, rng, (2 * number - 4, 2 * number - 3))
        if shot is None:
            off = rng.uniform(-2, 2, 2)
            at = (108 + float(off[0]), 80 + float(off[1]))
            placed = Placed(item=item, centre_mm=at, turn_deg=turn)
            studio.scan(name, [placed], (220, 160), bound=True)
        else:
            studio.photo(name, item, shot, orientation=orientation, camera=number == 3)


def card_pair(studio: Studio, name: str, front: Item, back: Item, *, quality: int = FLAT_QUALITY,
              turns: tuple[float, float] = (1.9, -2.6)) -> None:  # fmt: skip
    """Both sides of a card in one scan, one below the other."""
    placed = [
        Placed(item=front, centre_mm=(62, 38), turn_deg=turns[0]),
        Placed(item=back, centre_mm=(66, 101), turn_deg=turns[1]),
    ]
    studio.scan(name, placed, (128, 140), quality=quality)


def demo(studio: Studio, person: Person) -> None:
    """The packet of the demo, and the form to be copied in later."""
    fonts = studio.fonts
    passport(studio, person, "demo/passport")
    rng = studio.rng("demo cards")
    front, back = cards.id_front(fonts, person, rng), cards.id_back(fonts, person, rng)
    card_pair(studio, "demo/id-card/scan0001.jpg", front, back)
    small = Shot(table="wood", size_px=(1800, 1350), fill=0.72, pitch=7, yaw=-3, roll=4, light=2.2)
    studio.photo("demo/tax-card/IMG_2201.jpg", cards.tax_front(fonts, person, rng), small)
    small = replace(small, pitch=4, yaw=5, roll=-3, light=2.7)
    studio.photo("demo/tax-card/IMG_2202.jpg", cards.tax_back(fonts, person, rng), small)
    rng = studio.rng("demo papers")
    studio.scan_pdf("demo/home/lease.pdf", papers.lease(fonts, person, rng))
    studio.policy("demo/insurance/policy.pdf", person, 2)
    shots = (
        ("IMG_2210.jpg", 6, Shot(table="wood", pitch=7, yaw=-2, roll=1.8, light=-2.0)),
        ("IMG_2211.jpg", 1, Shot(table="dark", pitch=-5, yaw=5, roll=-2.4, light=0.7)),
        ("IMG_2212.heic", None, Shot(table="oak", pitch=9, yaw=2, roll=1.2, light=-0.9)),
        ("IMG_2213.jpg", 8, Shot(table="dark", pitch=5, yaw=-6, roll=-1.4, light=3.9)),
    )
    for number, (file, orientation, shot) in enumerate(shots):
        item = papers.pension(fonts, person, rng, number)
        a4 = replace(shot, size_px=(1950, 2600), fill=0.91, extra=("folds",), shadow=0.2)
        studio.photo(f"demo/means/{file}", item, a4, orientation=orientation, quality=62)
    pages = [papers.form_page(fonts, person, studio.rng(f"form {n}"), n) for n in range(1, 9)]
    studio.scan_pdf("form-later/form.pdf", pages, quality=48)


def _batch_passport(studio: Studio, person: Person, folder: str, table: str) -> None:
    base = Shot(table=table, size_px=(2000, 1500), pitch=5, yaw=-3, roll=2, light=2.2)
    for number, pages in enumerate(((2, 3), (6, 7), (8, 9)), start=1):
        name = f"{folder}/passport/IMG_{number:04d}.jpg"
        item = opening(studio.fonts, person, studio.rng(name + " drawn"), pages)
        tall = item.size_mm[1] > item.size_mm[0]
        shot = replace(
            base, size_px=(1500, 2000) if tall else (2000, 1500), roll=base.roll - 2 * number,
            yaw=base.yaw + 2 * number, light=base.light + 0.5 * number,
        )  # fmt: skip
        studio.photo(name, item, shot, orientation=6 if tall else None, quality=46)


def batch_client(studio: Studio, person: Person, folder: str, table: str) -> None:
    """A small packet without faults: written passport pages and one page per other document."""
    fonts, rng = studio.fonts, studio.rng(folder)
    _batch_passport(studio, person, folder, table)
    card_pair(studio, f"{folder}/id-card/scan0001.jpg", cards.id_front(fonts, person, rng),
              cards.id_back(fonts, person, rng), quality=48, turns=(-1.2, 1.6))  # fmt: skip
    card_pair(studio, f"{folder}/tax-card/scan0002.jpg", cards.tax_front(fonts, person, rng),
              cards.tax_back(fonts, person, rng), quality=48, turns=(0.8, -1.4))  # fmt: skip
    studio.scan_pdf(f"{folder}/home/lease.pdf", papers.lease(fonts, person, rng, 1), quality=42)
    shot = Shot(table=table, size_px=(1950, 2600), fill=0.91, pitch=5, yaw=3, roll=-1.5,
                extra=("folds",))  # fmt: skip
    statement = papers.pension(fonts, person, rng, 2)
    studio.photo(f"{folder}/means/IMG_0011.jpg", statement, shot, quality=48)
    studio.policy(f"{folder}/insurance/policy.pdf", person, 1)


def batch_renewal(studio: Studio, person: Person, folder: str) -> None:
    """As batch_client, with both sides of the old permit."""
    batch_client(studio, person, folder, "oak")
    rng = studio.rng(folder + " permit")
    front = cards.permit_front(studio.fonts, person, rng)
    back = cards.permit_back(studio.fonts, person, rng)
    card_pair(studio, f"{folder}/permit/scan0003.jpg", front, back, quality=48, turns=(2.2, 0.7))


def batch_faulty(studio: Studio, person: Person, folder: str) -> None:
    """No insurance scan, a text named .jpg, a blurred photo, a card with one side only."""
    fonts, rng = studio.fonts, studio.rng(folder)
    _batch_passport(studio, person, folder, "dark")
    front = Placed(item=cards.id_front(fonts, person, rng), centre_mm=(60, 40), turn_deg=1.1)
    studio.scan(f"{folder}/id-card/scan0001.jpg", [front], (128, 90), quality=46)
    card_pair(studio, f"{folder}/tax-card/scan0002.jpg", cards.tax_front(fonts, person, rng),
              cards.tax_back(fonts, person, rng), quality=46)  # fmt: skip
    shot = Shot(table="wood", size_px=(1950, 2600), fill=0.9, pitch=6, blur_px=7.0)
    lease = papers.lease(fonts, person, rng, 1)[0]
    studio.photo(f"{folder}/home/IMG_0010.jpg", lease, shot, quality=48, fault="blurred")
    shot = Shot(table="dark", size_px=(1950, 2600), fill=0.9, pitch=4, extra=("folds",))
    pension = papers.pension(fonts, person, rng, 1)
    studio.photo(f"{folder}/means/IMG_0011.jpg", pension, shot, quality=48)
    text = "This file is a text that somebody named .jpg by mistake.\n"
    studio.path(f"{folder}/means/IMG_0012.jpg").write_text(text)
