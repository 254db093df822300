"""Invented packets of real sizes for the figures of speed: drawn, written, thrown away."""

from __future__ import annotations

import io
import sys
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw, ImageFilter

TESTS = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(TESTS), str(TESTS / "imaging"), str(TESTS.parent)]

import small_packet  # noqa: E402


def mixed(root: Path, level: str = "easy", *, photos: int = 6) -> Path:
    """Phone photos of 12 megapixels, two A4 scans, a PNG of 600 dpi, a scanned PDF of 2 pages."""
    small_packet.make(root, openings=0, papers=0)
    for number in range(photos):
        _photo(number, rough=level != "easy").save(
            root / "passport" / f"IMG_{number:04}.jpg", quality=90
        )
    for number in range(2):
        _paper(50 + number, 300).save(
            root / "means" / f"scan{number}.jpg", quality=85, dpi=(300, 300)
        )
    large_png(root / "means" / "large.png")
    pages = [_paper(70 + number, 200) for number in range(2)]
    pages[0].save(
        root / "means" / "scanned.pdf", save_all=True, append_images=pages[1:], resolution=200
    )
    return root


def large_png(path: Path, seed: int = 60) -> None:
    """An A4 page at 600 dpi: 35 megapixels."""
    _paper(seed, 600).save(path, dpi=(600, 600), compress_level=3)


def papers(root: Path, number: int) -> Path:
    """One A4 scan of 150 dpi a page, no two alike."""
    small_packet.make(root, openings=0, papers=0)
    for page in range(number):
        _paper(page, 150).save(root / "means" / f"p{page}.jpg", quality=80, dpi=(150, 150))
    return root


def _paper(seed: int, dpi: int) -> Image.Image:
    return _grained(small_packet.page(seed, dpi=dpi, lines=46), seed, 3)


def _photo(seed: int, *, rough: bool) -> Image.Image:
    """A passport opening on a table, 4000 x 3000; rough: slanted, shaded, on a patterned ground."""
    random = np.random.default_rng(seed)
    spread = small_packet.page(seed, (176, 125), 330, lines=20)
    ground = Image.new("RGB", (4000, 3000), (92, 74, 60) if rough else (52, 54, 58))
    if rough:
        pen = ImageDraw.Draw(ground)
        for x in range(0, 4000, 61):
            pen.line([(x, 0), (x + 400, 3000)], fill=(104, 84, 66), width=11)
    wide, high = spread.size
    at = np.array([(800, 650), (800 + wide, 650), (800 + wide, 650 + high), (800, 650 + high)])
    shift = random.uniform(-1, 1, (4, 2)) * (150 if rough else 20)
    mask = Image.new("L", spread.size, 255)
    bends = _coefficients(at + shift, [(0, 0), (wide, 0), (wide, high), (0, high)])
    way = Image.Transform.PERSPECTIVE
    laid = spread.transform((4000, 3000), way, bends, Image.Resampling.BICUBIC)
    ground.paste(laid, (0, 0), mask.transform((4000, 3000), way, bends))
    if rough:
        ground = ground.filter(ImageFilter.GaussianBlur(0.8))
    return _grained(ground, seed, 8 if rough else 4)


def _coefficients(shown, flat) -> list[float]:
    rows, values = [], []
    for (x, y), (u, v) in zip(shown, flat, strict=True):
        rows += [[x, y, 1, 0, 0, 0, -u * x, -u * y], [0, 0, 0, x, y, 1, -v * x, -v * y]]
        values += [u, v]
    return list(np.linalg.solve(np.array(rows, float), np.array(values, float)))


def _grained(picture: Image.Image, seed: int, strength: int) -> Image.Image:
    pixels = np.asarray(picture).astype(np.int16)
    noise = np.random.default_rng(seed).integers(-strength, strength + 1, (256, 256, 1))
    tiles = [-(-side // 256) for side in pixels.shape[:2]]
    noise = np.tile(noise, (*tiles, 1))[: pixels.shape[0], : pixels.shape[1]]
    return Image.fromarray(np.clip(pixels + noise, 0, 255).astype(np.uint8))


def again_as_jpeg(path: Path) -> None:
    """Exchange a JPEG by nearly the same picture."""
    with Image.open(path) as picture:
        data = io.BytesIO()
        picture.convert("RGB").save(data, "JPEG", quality=93, dpi=picture.info.get("dpi", (0, 0)))
    path.write_bytes(data.getvalue())
