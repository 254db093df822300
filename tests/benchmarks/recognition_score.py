"""What the text reader said of a drawn page, against the truth: counts and their intervals."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable

from packet.model import Kind
from packet.readings import Reading, ReadState

ACCEPTED = (ReadState.READ, ReadState.REPAIRED)
TARGETS = {
    "mrz exact": (">=", 0.97),
    "mrz accepted but wrong": ("<=", 0.005),
    "mrz names right, of accepted": (">=", 0.995),
    "mrz dates right, of accepted": (">=", 0.995),
    "turn right, pages with text": (">=", 0.99),
    "turn wrong, stamps and blank": ("<=", 0.02),
    "page numbers right": (">=", 0.93),
    "page numbers wrong": ("<=", 0.005),
    "tax code from text": (">=", 0.99),
    "tax code from bars": (">=", 0.97),
    "tax code wrong": ("<=", 0.0),
    "kind right": (">=", 0.97),
}
"""Figures without a line here are shown for what they tell."""


def wilson(hits: int, total: int, z: float = 1.96) -> tuple[float, float]:
    """95 % interval of a share (Wilson 1927)."""
    if not total:
        return 0.0, 1.0
    share = hits / total
    middle = share + z * z / (2 * total)
    reach = z * math.sqrt(share * (1 - share) / total + z * z / (4 * total * total))
    return (middle - reach) / (1 + z * z / total), (middle + reach) / (1 + z * z / total)


class Tally:
    """Hits and totals by figure and level; CPU seconds by task."""

    def __init__(self) -> None:
        self.counts: dict[str, list[int]] = defaultdict(lambda: [0, 0])
        self.cpu: dict[str, list[float]] = defaultdict(list)
        self.misses: list[str] = []

    def add(self, figure: str, page, hit: bool, *, good: bool = True) -> None:
        """Count one page; ``good``: a hit is what is wanted."""
        for name in (figure, f"{figure}|{page.level}"):
            self.counts[name][0] += int(hit)
            self.counts[name][1] += 1
        if hit != good:
            what = f"{page.truth.kind}/{page.truth.content}/{page.truth.topic}"
            self.misses.append(f"{figure}: seed {page.seed} {page.level} {what} {page.dpi:.0f} dpi")

    def as_json(self) -> dict:
        return {"counts": dict(self.counts), "cpu": dict(self.cpu), "misses": self.misses}

    def merge(self, other: dict) -> None:
        for name, (hits, total) in other["counts"].items():
            self.counts[name][0] += hits
            self.counts[name][1] += total
        for name, values in other["cpu"].items():
            self.cpu[name] += values
        self.misses += other["misses"]

    def lines(self) -> Iterable[str]:
        levels = ("light", "middle", "hard")
        for name in sorted(name for name in self.counts if "|" not in name):
            hits, total = self.counts[name]
            low, high = wilson(hits, total)
            parts = [f"{level} {self._share(f'{name}|{level}')}" for level in levels]
            sign, target = TARGETS.get(name, ("", 0.0))
            aim = f"{sign} {target:.1%}" if sign else ""
            share = hits / total if total else 0.0
            yield (
                f"{name:32} {share:7.2%} [{low:.2%}, {high:.2%}] {hits}/{total} "
                f"target {aim or '-':9} {', '.join(parts)}"
            )
        for name, values in sorted(self.cpu.items()):
            if not values:
                continue
            ranked = sorted(values)
            high95 = ranked[min(len(ranked) - 1, round(0.95 * len(ranked)))]
            yield (
                f"CPU s, {name:24} mean {sum(values) / len(values):.3f}, "
                f"95 % below {high95:.3f}, most {ranked[-1]:.3f} (N {len(values)})"
            )

    def _share(self, name: str) -> str:
        hits, total = self.counts.get(name, (0, 0))
        return f"{hits}/{total}"


def score(tally: Tally, page, reading: Reading, turned: bool = False) -> None:
    """All figures that apply to the page."""
    _turn(tally, page, reading, turned)
    _mrz(tally, page, reading)
    _numbers(tally, page, reading)
    _codes(tally, page, reading)
    _kind(tally, page, reading)


def _turn(tally: Tally, page, reading: Reading, turned: bool) -> None:
    if turned:
        return
    right = reading.turn_deg == page.turn_deg
    if page.truth.text:
        tally.add("turn right, pages with text", page, right)
        wrong = reading.turn_deg is not None and not right
        tally.add("turn wrong, pages with text", page, wrong, good=False)
    else:
        wrong = reading.turn_deg is not None and not right
        tally.add("turn wrong, stamps and blank", page, wrong, good=False)


def _mrz(tally: Tally, page, reading: Reading) -> None:
    accepted = [zone for zone in reading.mrz if zone.state in ACCEPTED]
    if not page.truth.mrz:
        tally.add("mrz where there is none", page, bool(accepted), good=False)
        return
    exact = any(zone.lines == page.truth.mrz for zone in accepted)
    tally.add("mrz exact", page, exact)
    tally.add("mrz accepted but wrong", page, bool(accepted) and not exact, good=False)
    for zone in accepted[:1]:
        names, dates = _parts(page.truth.mrz), _parts(zone.lines)
        tally.add("mrz names right, of accepted", page, names[0] == dates[0])
        tally.add("mrz dates right, of accepted", page, names[1] == dates[1])


def _parts(lines: tuple[str, ...]) -> tuple[str, str]:
    """(names, dates with the sex between them) of two or three lines."""
    if len(lines) == 3:
        return lines[2], lines[1][:15]
    return lines[0][5:], lines[1][13:28]


def _numbers(tally: Tally, page, reading: Reading) -> None:
    told = reading.page_numbers if reading.page_numbers_state in ACCEPTED else ()
    truth = page.truth.numbers
    if page.truth.kind != "passport-spread":
        tally.add("page numbers where there are none", page, bool(told), good=False)
        return
    printed = {number for number in truth if number is not None}
    wrong = bool(told) and bool(printed) and not printed <= set(told)
    if None in truth or page.truth.numbers_turn:
        tally.add("page numbers wrong, sticker or turned", page, wrong, good=False)
        return
    tally.add("page numbers right", page, tuple(told) == truth)
    tally.add("page numbers wrong", page, bool(told) and tuple(told) != truth, good=False)


def _codes(tally: Tally, page, reading: Reading) -> None:
    truth = page.truth
    if truth.folder != "tax-card" or not truth.tax_code:
        return
    accepted = [one for one in reading.tax_codes if one.state in ACCEPTED]
    if truth.kind == "tax-card-front":
        texts = [one.value for one in accepted if one.source == "text"]
        tally.add("tax code from text", page, texts == [truth.tax_code])
    elif truth.barcode:
        bars = [one.value for one in accepted if one.source == "barcode"]
        tally.add("tax code from bars", page, bars == [truth.tax_code])
    else:
        right = truth.tax_code in [one.value for one in accepted]
        tally.add("tax code on a certificate", page, right)
    wrong = any(one.value != truth.tax_code for one in accepted)
    tally.add("tax code wrong", page, wrong, good=False)


def _kind(tally: Tally, page, reading: Reading) -> None:
    told = reading.kind
    tally.add("kind right", page, told is not None and told.value == page.truth.kind)
    wrong = told is not None and told.value != page.truth.kind and reading.kind_confidence >= 0.7
    tally.add("kind wrong at confidence 0.7", page, wrong, good=False)
    if page.truth.kind != Kind.A4_PAGE or page.truth.content != "paper":
        return
    wanted = (page.truth.folder,) if page.truth.folder else ()
    sort = "first page" if page.truth.first else "later page"
    tally.add(f"document by words, {sort}", page, reading.terms == wanted)
    wrong = len(reading.terms) == 1 and reading.terms != wanted
    tally.add("document by words wrong", page, wrong, good=False)
