"""A shuffled heap through ``packet sort``, beside their targets. Run by hand:

    python tests/benchmarks/heaps.py --seeds 1000-1004 [--level middle]

Each seed draws one heap: a passport of 28 pages (cover, data opening, 13 numbered openings, blank,
stamped or with notes), two cards, five A4 papers, each on a picture of its own, turned at will,
under shuffled names; then ``sort_packet`` reads them with the extra and writes its plan. Seeds 0 to
999 are for development (``--misses`` lists what went wrong there), from 1000 for figures.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
import time
from bisect import bisect_left
from collections import Counter
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve()
sys.path[:0] = [str(HERE.parents[1]), str(HERE.parents[2])]
FIGURE_SEEDS = 1000
LEVELS = ("light", "middle", "hard")
TARGETS = {"in its document": 1.0, "in a wrong one": 0.0, "order of openings": 0.98}


def tally(plan: Any, truth: dict[str, tuple[str, int | None]], misses: bool) -> Counter[str]:
    """How many items are placed right, wrong or not at all, and openings in order."""
    hits: Counter[str] = Counter(items=len(truth), seen=len(plan.placed))
    for one in plan.placed:
        folder, _ = truth[one.item.scan]
        state = "right" if one.document == folder else "unsure" if not one.document else "wrong"
        hits[state] += 1
        if misses and state != "right":
            print(f"    {state}: {folder} as {one.document}, {one.item.kind.value}: {one.why}")
    wanted = sorted(
        (name for name, (_, place) in truth.items() if place is not None),
        key=lambda name: truth[name][1],
    )
    found = [leaf.item.scan for leaf in plan.order.get("passport", ())]
    hits["openings"] += len(wanted)
    found = [name for name in found if name in wanted]
    loose = {one.item.scan for one in plan.loose}
    placed = [truth[name][1] or 0 for name in found if name not in loose]
    hits["in order"] += rising(placed)
    hits["out of order"] += len(placed) - rising(placed)
    if misses and found != wanted:
        print("    order:", [truth[name][1] for name in found], len(plan.loose), "loose")
    return hits


def rising(places: list[int]) -> int:
    """Length of the longest part of a list that rises: so many stand in order."""
    ends: list[int] = []
    for place in places:
        at = bisect_left(ends, place)
        ends[at : at + 1] = [place]
    return len(ends)


def main() -> None:
    from recognition_score import wilson

    sys.path.remove(str(HERE.parent))  # imaging.py here is not the package of that name
    from sorting.drawn_heap import lay_heap

    from packet.sorting.run import sort_packet

    parser = argparse.ArgumentParser()
    parser.add_argument("--seeds", default="0-1")
    parser.add_argument("--level", choices=[*LEVELS, "all"], default="all")
    parser.add_argument("--misses", action="store_true")
    parser.add_argument("--no-read", action="store_true")
    options = parser.parse_args()
    first, _, last = options.seeds.partition("-")
    seeds = range(int(first), int(last or first) + 1)
    if options.misses and seeds[-1] >= FIGURE_SEEDS:
        parser.error("figure seeds are not looked at one by one")
    total: Counter[str] = Counter()
    for seed in seeds:
        level = LEVELS[seed % 3] if options.level == "all" else options.level
        with tempfile.TemporaryDirectory() as place:
            os.environ["PACKET_CACHE"] = f"{place}/cache"
            truth = lay_heap(Path(place) / "p", seed, level)
            begin = time.perf_counter()
            result = sort_packet(Path(place) / "p", jobs=1, read=not options.no_read)
            spent = time.perf_counter() - begin
        hits = tally(result.plan, truth, options.misses)
        print(f"  {seed} {level}: {dict(hits)} in {spent:.0f} s", flush=True)
        total += hits
    for name, hit, of in (
        ("in its document", total["right"], total["items"]),
        ("in a wrong one", total["wrong"], total["items"]),
        ("not sure", total["unsure"], total["items"]),
        ("order of openings", total["in order"], total["openings"]),
        ("out of order", total["out of order"], total["openings"]),
    ):
        low, high = wilson(hit, of)
        target = f"  target {TARGETS[name]:.2f}" if name in TARGETS else ""
        print(f"{name:20} {hit}/{of} = {hit / of:.3f} [{low:.3f}, {high:.3f}]{target}")


if __name__ == "__main__":
    main()
