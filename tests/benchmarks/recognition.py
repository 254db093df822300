"""Figures of the text reader on drawn pages, beside their targets. Run by hand:

    python tests/benchmarks/recognition.py --seeds 1000-1599 [--save FILE] [--add FILE ...]

Seeds 0 to 999 are for development (``--misses`` lists what went wrong, for those alone). Seeds
from 1000 are for the figures: never look at them one by one, never tune on them. ``--save`` and
``--add`` put runs in parts together. CPU seconds are process time on one core with one thread;
drawing is not in them. ``--peak`` reads a page of each kind in a process of its own and prints its
peak memory. ``--bad`` reads pages that are cut, covered, mirrored, empty, and counts what was
accepted on them.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

HERE = Path(__file__).resolve()
sys.path[:0] = [str(HERE.parents[1]), str(HERE.parents[2])]

from recognition_score import ACCEPTED, Tally, score  # noqa: E402

sys.path.remove(str(HERE.parent))  # imaging.py here would hide tests/imaging

FIGURE_SEEDS = 1000
BY_SIZE = {
    (125, 176): "passport-spread",
    (88, 125): "passport-page",
    (210, 297): "a4-page",
    (74, 105): "id-card-front",
    (54, 86): "id-card-front",
}
"""What the size alone would make of a page: the guess that is handed to the reader."""
TASKS = (
    ("find boxes", "packet.recognition.boxes", "find_boxes"),
    ("turn, boxes found before", "packet.recognition.turn", "turn_of_text"),
    ("zones of an item", "packet.recognition.mrz", "read_mrz"),
    ("one machine-readable zone", "packet.recognition.mrz", "read_zone"),
    ("page numbers, a look at marks", "packet.recognition.page_numbers", "numbers_by_marks"),
    ("page numbers, a look at boxes", "packet.recognition.page_numbers", "numbers_by_boxes"),
    ("kind, document, tax code", "packet.recognition.contents", "read_contents"),
)
"""CPU time is measured apart for these: (task, module, function). Targets: a zone 0.4,
the turn with the boxes 0.5, page numbers 0.1: a look is at one turn of an opening."""


def request_of(page):
    """The page as imaging would hand it on: its size as shown, the kind by its size alone."""
    from packet.model import Kind
    from packet.readings import ReadRequest

    wide, high = page.size_mm
    shown = (wide, high) if page.turn_deg % 180 == 0 else (high, wide)
    guess = Kind(BY_SIZE[tuple(round(side) for side in sorted(page.size_mm))])
    return ReadRequest(
        pixels=page.pixels, dpi=page.dpi, size_mm=shown, kind=guess, kinds=tuple(Kind)
    )


def run(seeds: range, kinds: tuple[str, ...] | None, tally: Tally) -> None:
    import cv2
    from recognition.pages import draw

    from packet.recognition.read import read_item

    cv2.setNumThreads(1)
    watch(tally)
    for seed in seeds:
        page = draw(seed, kinds[seed % len(kinds)] if kinds else None)
        request = request_of(page)
        start = time.process_time()
        reading = read_item(request)
        tally.cpu["whole item"].append(time.process_time() - start)
        tally.cpu[f"whole item, {page.truth.kind}"].append(tally.cpu["whole item"][-1])
        score(tally, page, reading)


def run_bad(seeds: range, tally: Tally) -> None:
    """Nothing may be accepted but a zone that stands on the page whole."""
    from recognition.pages.bad import bad_pages

    from packet.model import Kind
    from packet.readings import ReadRequest
    from packet.recognition.read import read_item

    for sort, page, right in bad_pages(seeds):
        wide, high = page.size_mm if page.turn_deg % 180 == 0 else page.size_mm[::-1]
        reading = read_item(
            ReadRequest(
                pixels=page.pixels,
                dpi=page.dpi,
                size_mm=(wide, high),
                kind=Kind.OTHER,
                kinds=tuple(Kind),
            )
        )
        zones = [zone.lines for zone in reading.mrz if zone.state in ACCEPTED]
        codes = [one.value for one in reading.tax_codes if one.state in ACCEPTED]
        wrong = any(lines not in right for lines in zones)
        wrong = wrong or any(code != page.truth.tax_code for code in codes)
        tally.add(f"bad input, {sort}: wrong", page, wrong, good=False)


def watch(tally: Tally) -> None:
    """Put a clock around each task, wherever its function was imported to."""
    import importlib

    for task, module, name in TASKS:
        function = getattr(importlib.import_module(module), name)
        timed = clocked(function, tally.cpu[task], tally.cpu[f"{task}, none after all"])
        for other in list(sys.modules.values()):
            if getattr(other, name, None) is function:
                setattr(other, name, timed)


def clocked(function: Callable, into: list[float], nothing: list[float]) -> Callable:
    """``nothing``: the clock of calls that give None."""

    def run_it(*args, **how):
        start = time.process_time()
        told = function(*args, **how)
        (nothing if told is None else into).append(time.process_time() - start)
        return told

    return run_it


def peak_mib() -> float:
    """Peak resident memory of a process that reads one hard page of each kind."""
    import numpy as np
    from recognition.pages import KINDS, draw

    with tempfile.TemporaryDirectory() as folder:
        for number, kind in enumerate(KINDS):
            page = draw(3, kind, "hard")
            np.savez(
                Path(folder) / f"{number}.npz", pixels=page.pixels, dpi=page.dpi, size=page.size_mm
            )
        code = (
            "import resource, sys, numpy as np\n"
            "from pathlib import Path\n"
            "from packet.model import Kind\n"
            "from packet.readings import ReadRequest\n"
            "from packet.recognition.read import read_item\n"
            "for path in sorted(Path(sys.argv[1]).iterdir()):\n"
            "    one = np.load(path)\n"
            "    read_item(ReadRequest(pixels=one['pixels'], dpi=float(one['dpi']),\n"
            "        size_mm=tuple(map(float, one['size'])), kind=Kind.OTHER, kinds=tuple(Kind)))\n"
            "print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)\n"
        )
        environment = {**os.environ, "PYTHONPATH": str(HERE.parents[2])}
        done = subprocess.run(
            [sys.executable, "-c", code, folder],
            capture_output=True,
            text=True,
            check=True,
            env=environment,
        )
    return float(done.stdout)


def main() -> None:
    told = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    told.add_argument("--seeds", default="", help="FIRST-LAST")
    told.add_argument("--kinds", default="", help="kinds of page, by comma: one in turn for a seed")
    told.add_argument("--save", type=Path)
    told.add_argument("--add", type=Path, nargs="*", default=[])
    told.add_argument("--bad", action="store_true")
    told.add_argument("--misses", action="store_true")
    told.add_argument("--peak", action="store_true")
    chosen = told.parse_args()
    tally = Tally()
    for path in chosen.add:
        tally.merge(json.loads(path.read_text("utf-8")))
    if chosen.seeds:
        first, _, last = chosen.seeds.partition("-")
        seeds = range(int(first), int(last or first) + 1)
        if chosen.bad:
            run_bad(seeds, tally)
        else:
            run(seeds, tuple(chosen.kinds.split(",")) if chosen.kinds else None, tally)
    if chosen.save:
        chosen.save.write_text(json.dumps(tally.as_json()), "utf-8")
    print("\n".join(tally.lines()))
    if chosen.misses:
        first = int(chosen.seeds.partition("-")[0] or FIGURE_SEEDS)
        print("\n".join(tally.misses) if first < FIGURE_SEEDS else "figure seeds are not listed")
    if chosen.peak:
        print(f"peak memory of a reading process: {peak_mib():.0f} MiB (target <= 500)")


if __name__ == "__main__":
    main()
