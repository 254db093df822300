"""Figures of the imaging room on drawn pictures, beside their targets. Run by hand:

    python tests/benchmarks/imaging.py --level normal --seeds 1000-1199 --jobs 2

Seeds 0 to 999 are for development: look at them, tune on them. Seeds 1000 and up are for the
figures: never look into them one by one, never tune on them (DEVELOPERS.md names those that have
been looked at since). A figure that is quoted names its level and its seeds. Pictures live in a
temporary folder and are never kept, unless ``--keep`` says where. A run that is interrupted (SIGINT
or SIGTERM) prints the table of what it has done.
``--worst`` lists the items that went wrong, for development seeds. ``--duplicates`` takes each seed
as a packet in which openings were photographed twice, and prints recall and false pairs.
"""

from __future__ import annotations

import argparse
import json
import os
import signal
import sys
from collections.abc import Iterable
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path
from typing import TYPE_CHECKING

HERE = Path(__file__).resolve()
sys.path[:0] = [str(HERE.parents[1] / "imaging"), str(HERE.parents[2])]

if TYPE_CHECKING:
    from evaluation.measure import PictureRow


def _seeds(text: str) -> list[int]:
    seeds: list[int] = []
    for part in text.split(","):
        low, _, high = part.partition("-")
        seeds += range(int(low), int(high or low) + 1)
    return seeds


def _one(job: tuple[str, int, bool, str | None]) -> PictureRow:
    import cv2
    from evaluation.levels import picture
    from evaluation.measure import evaluate, evaluate_file

    cv2.setNumThreads(1)
    level, seed, with_kind, keep = job
    if keep is None:
        return evaluate(level, seed, with_kind=with_kind)
    path, drawn = _kept(level, seed, Path(keep)), picture(level, seed)
    path = path.with_suffix(drawn.suffix)
    path.write_bytes(drawn.data)
    told = {
        "tags": drawn.tags,
        "true_dpi": drawn.true_dpi,
        "items": [
            {
                "kind": one.kind, "name": one.name, "size_mm": one.size_mm,
                "corners": one.quad.round(2).tolist(), "turn_deg": one.turn_deg,
                "blank": one.blank, "blur": one.blur, "glare": one.glare, "cut": one.cut,
            }
            for one in drawn.items
        ],
    }  # fmt: skip
    path.with_suffix(".json").write_text(json.dumps(told, indent=1), "utf-8")
    return evaluate_file(drawn, path, with_kind=with_kind)


def _kept(level: str, seed: int, folder: Path) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    return folder / f"{level}-{seed:05}"


def _run(jobs: Iterable[tuple[str, int, bool, str | None]], workers: int) -> list[PictureRow]:
    jobs = list(jobs)
    rows = []
    with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
        try:
            for number, row in enumerate(pool.map(_one, jobs, chunksize=1), start=1):
                rows.append(row)
                print(f"\r{number}/{len(jobs)}", end="", file=sys.stderr, flush=True)
        except KeyboardInterrupt:
            pool.shutdown(wait=False, cancel_futures=True)
    print(file=sys.stderr)
    return rows


def _pairs(seeds: list[int]) -> None:
    from evaluation.pairs import evaluate_pairs

    rows = [evaluate_pairs(seed) for seed in seeds]
    pairs, seen = sum(row.pairs for row in rows), sum(row.seen for row in rows)
    false = sum(row.false_pairs for row in rows)
    print(f"duplicates: {seen} of {pairs} pairs seen (target >= 0.9), {false} false (target 0), "
          f"{sum(row.pictures for row in rows)} pictures")  # fmt: skip


def main() -> None:
    """Draw, run, print the table."""
    from evaluation.table import print_table, print_worst

    parser = argparse.ArgumentParser(description="Figures of the imaging room on drawn pictures.")
    parser.add_argument("--level", choices=("easy", "normal", "hard", "all"), default="all")
    parser.add_argument("--seeds", default="0-19", help="like 0-19 or 3,7,9 (1000 up: figures)")
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--no-kind", action="store_true", help="skip the run with the kind given")
    parser.add_argument("--worst", type=int, default=0, help="list so many items that went wrong")
    parser.add_argument("--keep", help="folder that the pictures and their truth are kept in")
    parser.add_argument("--duplicates", action="store_true", help="packets with openings twice")
    given = parser.parse_args()
    os.nice(5)
    signal.signal(signal.SIGTERM, signal.default_int_handler)
    if given.duplicates:
        _pairs(_seeds(given.seeds))
        return
    levels = ("easy", "normal", "hard") if given.level == "all" else (given.level,)
    for level in levels:
        jobs = [(level, seed, not given.no_kind, given.keep) for seed in _seeds(given.seeds)]
        rows = _run(jobs, given.jobs)
        print_table(level, given.seeds, rows)
        sys.stdout.flush()
        if given.worst:
            print_worst(rows, given.worst)


if __name__ == "__main__":
    main()
