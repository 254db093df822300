"""Heaps of scans with known truth, for benchmarks/heaps.py: one person's papers, shuffled."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
from PIL import Image
from recognition.pages import LEVELS, cards, papers, passport
from recognition.pages.people import person
from recognition.pages.wear import scanned

DPI = 300.0
TOML = """\
rule_set = "elective-residence-first-issue"
[passport]
booklet_pages = 28
"""
PAPERS = (
    ("lease-it", "deed-it", "hosting-it", "lease-en"),
    ("pension-it", "income-it", "pension-en"),
    ("bank-it", "bank-en"),
    ("policy-it", "policy-en"),
    ("pension-it", "income-en"),
)


def drawings(rng: np.random.Generator) -> Iterator[tuple[object, str, int | None]]:
    """(drawing, document, place in the book) of everything that one person has."""
    who = person(rng)
    yield passport.cover(rng)[0], "passport", 0
    yield passport.data_opening(rng, who)[0], "passport", 1
    contents = rng.choice(["blank", "stamps", "notes"], 13, p=[0.5, 0.3, 0.2])
    for at, content in enumerate(contents):
        sheet, _ = passport.opening(rng, str(content), left=2 + 2 * at)
        yield sheet, "passport", 2 + at
    for side in (cards.id_front, cards.id_back):
        yield side(rng, who)[0], "id-card", None
    for side in (cards.tax_front, cards.tax_back):
        yield side(rng, who)[0], "tax-card", None
    for topics in PAPERS:
        sheet, truth = papers.topic_page(rng, who, str(rng.choice(topics)), first=True)
        yield sheet, truth.folder, None


def picture(rng: np.random.Generator, sheet: object, level: str) -> Image.Image:
    """The drawing as a scan: a paper fills it, all else lies on dark ground; turned at will."""
    pixels = scanned(np.asarray(sheet.image), sheet.size_mm, DPI, LEVELS[level], rng=rng)
    if max(sheet.size_mm) < 200:
        left, top, right, bottom = (int(side) for side in rng.uniform(8, 20, 4) * DPI / 25.4)
        ground = rng.integers(40, 75, 3)
        high, wide = pixels.shape[:2]
        table = np.empty((high + top + bottom, wide + left + right, 3), np.float32)
        table[:] = ground
        table += rng.standard_normal(table.shape[:2], dtype=np.float32)[..., None] * 3
        table[top : top + high, left : left + wide] = pixels
        pixels = np.clip(table, 0, 255).astype(np.uint8)
    return Image.fromarray(np.ascontiguousarray(np.rot90(pixels, int(rng.integers(0, 4)))))


def lay_heap(root: Path, seed: int, level: str) -> dict[str, tuple[str, int | None]]:
    """Draw the heap of a seed; scan -> (document, place in the book)."""
    rng = np.random.default_rng([seed, 66])
    (root / "scans").mkdir(parents=True)
    (root / "packet.toml").write_text(TOML, "utf-8")
    drawn = list(drawings(rng))
    truth = {}
    for number, at in zip(rng.permutation(len(drawn)), range(len(drawn)), strict=True):
        sheet, folder, place = drawn[at]
        name = f"scans/IMG_{1000 + int(number)}.jpg"
        picture(rng, sheet, level).save(root / name, quality=88, dpi=(DPI, DPI))
        truth[name] = (folder, place)
    return truth
