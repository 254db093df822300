"""Duplicates: a small packet in which some openings were taken twice."""

from __future__ import annotations

import tempfile
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from packet.model import Item, Kind, ScanTask

from .levels import photo_of
from .papers import Paper, data_opening, opening


@dataclass(frozen=True, slots=True, kw_only=True)
class PairsRow:
    """Of one packet: pairs taken twice and seen as such, and pictures wrongly called twins."""

    seed: int
    pairs: int
    seen: int
    false_pairs: int
    pictures: int


def evaluate_pairs(seed: int) -> PairsRow:
    """Eight papers, three of which (never a blank opening) are photographed a second time."""
    from packet.checks.duplicates import find_duplicates
    from packet.imaging.scan import process_scan

    rng = np.random.default_rng([77, seed])
    papers = [data_opening(rng), *(opening(rng) for _ in range(7))]
    written = [number for number, paper in enumerate(papers) if not paper.blank]
    again = rng.choice(written, min(3, len(written)), replace=False)
    shots = [*range(len(papers)), *(int(number) for number in again)]
    items: list[Item] = []
    with tempfile.TemporaryDirectory(prefix="evaluation-") as folder:
        for place, number in enumerate(shots):
            path = Path(folder) / f"{place:02}.jpg"
            path.write_bytes(_taken(rng, seed, papers[number]))
            task = ScanTask(path=path, name=path.name, kinds=(Kind.PASSPORT_SPREAD,))
            items += [item for page in process_scan(task) for item in page.items[:1]]
    told = {finding.subject.split(".", 1)[0] for finding in find_duplicates(items)}
    second = {f"{place:02}" for place in range(len(papers), len(shots))}
    return PairsRow(
        seed=seed, pairs=len(second), seen=len(told & second), false_pairs=len(told - second),
        pictures=len(shots),
    )  # fmt: skip


def _taken(rng: np.random.Generator, seed: int, paper: Paper) -> bytes:
    return photo_of(rng, "easy" if rng.random() < 0.5 else "normal", seed, paper).data
