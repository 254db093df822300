"""Curves for the limits of rules/quality.toml: share of flagged items over the limit. By hand:

    python tests/benchmarks/limits.py --level hard --seeds 0-79

Drawn pictures are rectified by their true outlines, so that the curve is that of the measure and
not of the finder. For each limit: recall among items with the fault, alarms among those without.
A hand's shadow that is evened out is no fault, so the recall of ``shadow`` is no target.
"""

from __future__ import annotations

import argparse
import io
import os
import sys
from pathlib import Path

import numpy as np

HERE = Path(__file__).resolve()
sys.path[:0] = [str(HERE.parents[1] / "imaging"), str(HERE.parents[2])]

Values = list[tuple[float, bool]]
CODES = ("blurred", "glare", "blank", "covered", "shadow")


def _measured(level: str, seed: int) -> dict[str, Values]:
    from evaluation.levels import picture
    from PIL import Image, ImageOps

    from packet.imaging.blemishes import covered_mm, ground_of, shadow_percent
    from packet.imaging.flat import flatten
    from packet.imaging.quality import (
        PASSPORT_PAPER,
        edge_width_mm,
        glare_mm,
        ink_share_percent,
        seen_part,
    )
    from packet.imaging.tone import light_field, toned
    from packet.model import Kind

    drawn = picture(level, seed, large=False)
    shown = ImageOps.exif_transpose(Image.open(io.BytesIO(drawn.data))).convert("RGB")
    pixels = np.asarray(shown)
    found: dict[str, Values] = {code: [] for code in CODES}
    for item in drawn.items:
        kind = Kind(item.kind)
        flat = flatten([pixels], item.quad, item.size_mm)
        part = seen_part(flat.grey, item.quad, width_px=drawn.width_px, height_px=drawn.height_px)
        field = light_field(part, dpi=flat.dpi)
        grey = toned(part, field, kind=kind, tone="grey", dpi=flat.dpi)
        if item.blur is not None:
            found["blurred"].append((edge_width_mm(part, flat) or 0.0, item.blur))
        if item.glare is not None and drawn.source == "photo":
            found["glare"].append((glare_mm(part, dpi=flat.dpi) or 0.0, item.glare))
        fold = kind is Kind.PASSPORT_SPREAD
        if drawn.source == "photo":
            ground = ground_of(grey, dpi=flat.dpi)
            found["covered"].append((covered_mm(ground), item.covered))
            shade = shadow_percent(ground, fold=fold)
            if not item.covered:
                found["shadow"].append((shade, "hand" in drawn.tags))
        if item.blank is not None and kind is not Kind.PASSPORT_COVER:
            tinted = kind in PASSPORT_PAPER
            share = ink_share_percent(grey, dpi=flat.dpi, fold=fold, tinted=tinted)
            found["blank"].append((share, item.blank))
    return found


def _curve(code: str, values: Values) -> None:
    from packet.imaging.limits import limit_for

    level = np.array([value for value, _ in values])
    fault = np.array([flag for _, flag in values], bool)
    now = limit_for(code)
    print(f"\n{code}: {len(level)} items, {int(fault.sum())} with the fault; "
          f"limit {now.limit:g} {now.unit}")  # fmt: skip
    print(f"{'limit':>8} {'recall':>8} {'alarms':>8}")
    for factor in (0.4, 0.6, 0.8, 0.9, 1.0, 1.1, 1.25, 1.6, 2.0):
        limit = now.limit * factor
        told = level < limit if code == "blank" else level > limit
        recall = told[fault].mean() if fault.any() else float("nan")
        alarms = told[~fault].mean() if (~fault).any() else float("nan")
        print(f"{limit:8.2f} {recall:8.3f} {alarms:8.3f}")


def main() -> None:
    """Draw, measure, print the curves."""
    parser = argparse.ArgumentParser(description="Curves for the limits of quality.toml.")
    parser.add_argument("--level", choices=("easy", "normal", "hard"), default="hard")
    parser.add_argument("--seeds", default="0-19", help="like 0-19")
    given = parser.parse_args()
    os.nice(5)
    low, _, high = given.seeds.partition("-")
    total: dict[str, Values] = {code: [] for code in CODES}
    for seed in range(int(low), int(high or low) + 1):
        for code, values in _measured(given.level, seed).items():
            total[code] += values
        print(f"\r{seed}", end="", file=sys.stderr, flush=True)
    for code, values in total.items():
        _curve(code, values)


if __name__ == "__main__":
    main()
