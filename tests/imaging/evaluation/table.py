"""The table of figures: each with the number it rests on and its target."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

import numpy as np

from .measure import FOUND, ItemRow, PictureRow

Figure = tuple[str, int, float | None, float | None, str]
"""Name, N, value, target, direction (">=" or "<=" or "" for no target)."""
_COLUMN = {"easy": 0, "normal": 1, "hard": 2}
_TARGETS: dict[str, tuple[float, float, float]] = {
    "found": (0.995, 0.99, 0.96),
    "jaccard": (0.995, 0.985, 0.95),
    "jaccard-5": (0.98, 0.95, 0.80),
    "corner": (0.20, 0.30, 0.70),
    "skew": (0.99, 0.97, 0.93),
    "turn": (0.98, 0.98, 0.98),
    "speaks": (0.60, 0.60, 0.60),
    "number": (0.995, 0.98, 0.95),
    "size": (0.995, 0.99, 0.97),
    "kind": (0.92, 0.92, 0.92),
    "blur": (0.95, 0.90, 0.85),
    "glare": (0.95, 0.90, 0.85),
    "cut": (0.95, 0.90, 0.85),
    "blank": (0.95, 0.90, 0.90),
    "alarm": (0.03, 0.03, 0.03),
    "cpu": (0.5, 2.0, 6.0),
}


def figures(level: str, pictures: Sequence[PictureRow]) -> Iterator[Figure]:
    """Every figure of a level."""
    items = [item for one in pictures for item in one.items]
    found = [item for item in items if item.jaccard >= FOUND]
    yield from _outlines(level, items, found)
    yield from _turns(level, found)
    right = [one.found_items == one.true_items for one in pictures]
    yield _share("number of items right", right, level, "number")
    sized = [item.size_off_mm <= 1.0 for item in items if item.size_off_mm is not None]
    yield _share("size within 1 mm (kind given)", sized, level, "size")
    yield _share("kind right, no hint", [item.kind_right for item in items], level, "kind")
    yield _share("  card sides as one", [item.family_right for item in items], level)
    yield from _flags(level, found)
    yield from _costs(level, pictures)


def _share(name: str, hits: Sequence[bool], level: str, target: str = "") -> Figure:
    value = float(np.mean(hits)) if hits else None
    goal = _TARGETS[target][_COLUMN[level]] if target else None
    return name, len(hits), value, goal, ">=" if target else ""


def _outlines(level: str, items: Sequence[ItemRow], found: Sequence[ItemRow]) -> Iterator[Figure]:
    column = _COLUMN[level]
    yield _share("items found", [item.jaccard >= FOUND for item in items], level, "found")
    values = [item.jaccard for item in items]
    count = len(values)
    if not count:
        return
    mean, low = float(np.mean(values)), float(np.percentile(values, 5))
    yield "mean Jaccard (SmartDoc)", count, mean, _TARGETS["jaccard"][column], ">="
    yield "  5th percentile", count, low, _TARGETS["jaccard-5"][column], ">="
    yield "  in pixels", count, float(np.mean([item.jaccard_px for item in items])), None, ""
    told = [item.jaccard_as for item in items if item.jaccard_as is not None]
    if told:
        yield "  with the kind given", len(told), float(np.mean(told)), None, ""
        yield _share("items found, kind given", [one >= FOUND for one in told], level)
    far = [item.corner_mm for item in found if item.corner_mm is not None]
    if far:
        yield (
            "mean corner error, mm",
            len(far),
            float(np.mean(far)),
            _TARGETS["corner"][column],
            "<=",
        )
        yield "  median", len(far), float(np.median(far)), None, ""
    skew = [abs(item.skew_deg) for item in found if item.skew_deg is not None]
    yield _share("residual skew <= 0.1 degree", [one <= 0.1 for one in skew], level, "skew")
    if skew:
        yield "  mean, degrees", len(skew), float(np.mean(skew)), None, ""


def _turns(level: str, found: Sequence[ItemRow]) -> Iterator[Figure]:
    wanted = [item for item in found if item.truth.blank is False]
    spoken = [item for item in wanted if item.turn_deg is not None]
    right = [item.turn_right for item in spoken]
    yield _share("upright: right when it speaks", right, level, "turn")
    yield _share("  speaks", [item.turn_deg is not None for item in wanted], level, "speaks")


def _flags(level: str, found: Sequence[ItemRow]) -> Iterator[Figure]:
    flags: tuple[tuple[str, str, Callable[[ItemRow], bool | None]], ...] = (
        ("blur", "blurred", lambda item: item.truth.blur),
        ("glare", "glare", lambda item: item.truth.glare),
        ("cut", "cut-off", lambda item: item.truth.cut),
        ("blank", "blank", lambda item: item.truth.blank),
    )
    for name, code, flag in flags:
        hits = [code in item.codes for item in found if flag(item) is True]
        alarms = [code in item.codes for item in found if flag(item) is False]
        yield _share(f"{name} recall", hits, level, name)
        goal = _TARGETS["alarm"][_COLUMN[level]]
        rate = float(np.mean(alarms)) if alarms else None
        yield "  false alarm", len(alarms), rate, goal, "<="


def _costs(level: str, pictures: Sequence[PictureRow]) -> Iterator[Figure]:
    large = [one for one in pictures if one.floor_s]
    if large:
        ratios = [one.cpu_s / (one.floor_s or 1) for one in large]
        goal = _TARGETS["cpu"][_COLUMN[level]]
        yield "CPU / floor, 12 megapixels", len(large), float(np.mean(ratios)), goal, "<="
        whole = [(one.cpu_s + one.decode_s) / (one.floor_s or 1) for one in large]
        yield "  with decoding", len(large), float(np.mean(whole)), None, ""
        yield "  CPU s", len(large), float(np.mean([one.cpu_s for one in large])), None, ""
        yield "  floor s", len(large), float(np.mean([one.floor_s for one in large])), None, ""
    yield (
        "CPU s, all pictures",
        len(pictures),
        float(np.mean([p.cpu_s for p in pictures])),
        None,
        "",
    )
    failed = [one for one in pictures if one.error]
    yield "crashed", len(pictures), float(len(failed)), 0.0, "<="


def print_table(level: str, seeds: str, pictures: Sequence[PictureRow]) -> None:
    """Figures of a level to standard output."""
    items = sum(one.true_items for one in pictures)
    print(f"\n{level}: seeds {seeds}, {len(pictures)} pictures, {items} items")
    print(f"{'figure':34} {'N':>5} {'value':>9} {'target':>11}")
    for name, count, value, goal, way in figures(level, pictures):
        told = "-" if value is None else f"{value:.4f}"
        wish = "" if goal is None else f"{way} {goal:g}"
        mark = ""
        if goal is not None and value is not None:
            mark = " ok" if (value >= goal if way == ">=" else value <= goal) else " MISSED"
        print(f"{name:34} {count:5d} {told:>9} {wish:>11}{mark}")


def reasons(item: ItemRow) -> list[str]:
    """What went wrong with an item, the worst first."""
    if item.jaccard < FOUND:
        return [f"not found (Jaccard {item.jaccard:.2f})"]
    said = []
    if item.jaccard < 0.97:
        said.append(f"Jaccard {item.jaccard:.3f}")
    if item.corner_mm is not None and item.corner_mm > 0.7:
        said.append(f"corners {item.corner_mm:.2f} mm")
    if item.skew_deg is not None and abs(item.skew_deg) > 0.1:
        said.append(f"skew {item.skew_deg:+.2f}")
    if item.turn_deg is not None and not item.turn_right and item.truth.blank is False:
        said.append(f"turn {item.turn_deg}, true {item.truth.turn_deg}")
    if item.size_off_mm is not None and item.size_off_mm > 1:
        said.append(f"size off {item.size_off_mm:.1f} mm")
    if not item.kind_right:
        said.append(f"kind {item.kind}")
    return said + _wrong_flags(item)


def _wrong_flags(item: ItemRow) -> list[str]:
    truth, said = item.truth, []
    for code, flag in (
        ("blurred", truth.blur), ("glare", truth.glare), ("cut-off", truth.cut),
        ("blank", truth.blank),
    ):  # fmt: skip
        if flag is True and code not in item.codes:
            said.append(f"{code} unseen")
        if flag is False and code in item.codes:
            said.append(f"{code} false")
    return said


def print_worst(pictures: Sequence[PictureRow], count: int) -> None:
    """The items that went wrong, lowest Jaccard first, then the wrong numbers of items."""
    items = [item for one in pictures for item in one.items if reasons(item)]
    items.sort(key=lambda item: (item.jaccard, -(item.corner_mm or 0), -len(reasons(item))))
    print("\nworst items:")
    for item in items[:count]:
        tags = "/".join(item.tags)
        print(f"  {item.level} {item.seed} {item.truth.name} [{tags}]: {', '.join(reasons(item))}")
    for one in pictures:
        if one.error:
            print(f"  {one.level} {one.seed}: {one.error}")
        elif one.found_items != one.true_items:
            print(f"  {one.level} {one.seed} [{'/'.join(one.tags)}]: {one.found_items} items found,"
                  f" {one.true_items} true")  # fmt: skip
