"""Pages that hold nothing to be read, or not what it seems: no value of them may be accepted."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import cv2
import numpy as np

from . import MRZ_KINDS, draw
from .truth import Page

Right = frozenset[tuple[str, ...]]
"""Zones that stand on the page whole: to read one of them is no fault."""


def cut_zone(seed: int) -> Page:
    """A page with a machine-readable zone whose right end is missing."""
    page = draw(seed, MRZ_KINDS[seed % len(MRZ_KINDS)], "light", turn_deg=0)
    rng = np.random.default_rng([seed, 1])
    share = float(rng.uniform(0.06, 0.4))
    keep = round(page.pixels.shape[1] * (1 - share))
    pixels = np.ascontiguousarray(page.pixels[:, :keep])
    return replace(page, pixels=pixels, size_mm=(page.size_mm[0] * (1 - share), page.size_mm[1]))


def cut_across(seed: int) -> Page:
    """The lower edge runs through the last line of the zone."""
    page = draw(seed, MRZ_KINDS[seed % len(MRZ_KINDS)], "light", turn_deg=0)
    if page.truth.kind == "passport-spread" and page.truth.content == "visa":
        return cut_across(seed + 1)
    per_mm = page.dpi / 25.4
    away = {"TD1": 5.5, "TD2": 8.2}.get(page.truth.mrz_type, 9.2)
    keep = page.pixels.shape[0] - round(away * per_mm)
    return replace(page, pixels=np.ascontiguousarray(page.pixels[:keep]))


def covered_zone(seed: int) -> Page:
    """A finger, or something like it, over part of the zone."""
    page = draw(seed, "data-page", "light", turn_deg=0)
    rng = np.random.default_rng([seed, 2])
    pixels = page.pixels.copy()
    high, wide = pixels.shape[:2]
    middle = (int(rng.uniform(0.2, 0.9) * wide), int(0.92 * high))
    reach = (int(rng.uniform(0.05, 0.1) * wide), int(0.16 * high))
    cv2.ellipse(pixels, middle, reach, 0, 0, 360, (205, 160, 135), -1, cv2.LINE_AA)
    return replace(page, pixels=pixels)


def two_zones(seed: int) -> tuple[Page, Right]:
    """Two data pages, one over the other, in one picture."""
    first = draw(seed, "data-page", "light", turn_deg=0)
    second = draw(seed + 1, "data-page", "light", turn_deg=0)
    size = (first.pixels.shape[1], first.pixels.shape[0])
    lower = cv2.resize(second.pixels, size, interpolation=cv2.INTER_AREA)
    pixels = np.concatenate([first.pixels, lower])
    page = replace(first, pixels=pixels, size_mm=(first.size_mm[0], 2 * first.size_mm[1]))
    return page, frozenset({first.truth.mrz, second.truth.mrz})


def noise(seed: int) -> Page:
    """Noise in bands."""
    page = draw(seed, "blank-page", "light", turn_deg=0)
    rng = np.random.default_rng([seed, 3])
    pixels = rng.integers(0, 256, (600, 900, 3), np.uint8)
    pixels[::7] //= 3
    return replace(page, pixels=pixels, size_mm=(76.2, 50.8))


def bad_pages(seeds: range) -> Iterator[tuple[str, Page, Right]]:
    """(what is wrong, page, zones that may be read) for each seed and sort."""
    none: Right = frozenset()
    for seed in seeds:
        kind = MRZ_KINDS[seed % len(MRZ_KINDS)]
        yield "cut zone", cut_zone(seed), none
        yield "cut across", cut_across(seed), none
        yield "covered zone", covered_zone(seed), none
        yield "two zones", *two_zones(seed)
        yield "mirrored", draw(seed, kind, "light", mirrored=True), none
        yield "handwriting", draw(seed, "hand", "light"), none
        yield "blank", draw(seed, "blank-page", "light"), none
        yield "noise", noise(seed), none
