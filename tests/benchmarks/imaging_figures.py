"""Figures of finding over drawn scenes: found rate, Jaccard, corner error, skew, size, CPU.

    python tests/benchmarks/imaging_figures.py [items per level] [first seed]

Jaccard as in the ICDAR 2015 SmartDoc challenge (best published mean 97.16 %), skew error as in
the ICDAR 2013 contest (share within 0.1 degree; best published 77.48 %).
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

import cv2
import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "imaging"))

import drawing
from helpers import KINDS, angle_deg, corner_error_mm, jaccard, picture_of, run

THINGS = ("card", "spread", "page", "blank")


def scene_of(level: str, seed: int, kind: str) -> drawing.Scene:
    if level == "flatbed":
        return drawing.flatbed(seed, (kind,), dpi=200.0)
    return drawing.photo(seed, level, kind)


def figures(level: str, count: int, first: int) -> str:
    overlaps, corners, skews, sizes, numbers, seconds = [], [], [], [], [], []
    for seed in range(first, first + count):
        kind = THINGS[seed % len(THINGS)]
        scene = scene_of(level, seed, kind)
        began = time.process_time()
        items = run(picture_of(scene), KINDS[kind], encode=False, small=True).items
        seconds.append(time.process_time() - began)
        numbers.append(len(items) == 1)
        truth, size = scene.corners[0], scene.sizes_mm[0]
        best = max(items, key=lambda item: jaccard(item, truth))
        overlaps.append(jaccard(best, truth))
        corners.append(corner_error_mm(best, truth, size))
        skews.append(abs(best.skew_deg - angle_deg(truth)) <= 0.1)
        sizes.append(max(abs(best.size_mm[k] - size[k]) for k in (0, 1)) <= 1.0)
    return (
        f"{level:8} n {count}  found {np.mean(np.array(overlaps) >= 0.5):.3f}  "
        f"Jaccard {np.mean(overlaps):.4f} (p5 {np.percentile(overlaps, 5):.3f})  "
        f"corner {np.mean(corners):.3f} mm  skew<=0.1 {np.mean(skews):.3f}  "
        f"size<=1mm {np.mean(sizes):.3f}  number {np.mean(numbers):.3f}  "
        f"CPU {np.mean(seconds):.2f} s"
    )


def main() -> None:
    cv2.setNumThreads(1)
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 40
    first = int(sys.argv[2]) if len(sys.argv) > 2 else 1000
    for level in ("flatbed", "easy", "normal"):
        print(figures(level, count, first), flush=True)


if __name__ == "__main__":
    main()
