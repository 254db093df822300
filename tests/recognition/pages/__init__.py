"""Drawn pages with known truth, as the normaliser hands items to the text reader.

``draw(seed)`` gives the same page for the same seed wherever the same typefaces are installed.
Development may look at seeds 0 to 999; figures are measured on seeds from 1000. The kind of page
goes round with the seed, so that any run of consecutive seeds holds every kind. Everything is
invented: layouts, people, wording.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from . import cards, papers, passport
from .faces import faces
from .people import Person, person
from .sheet import Sheet
from .truth import Page, Truth
from .wear import LEVELS, scanned
from .wording import TOPICS

__all__ = [
    "CARDS",
    "KINDS",
    "LEVELS",
    "MRZ_KINDS",
    "Page",
    "Truth",
    "draw",
    "have_mrz_face",
    "pages",
]

Drawn = tuple[Sheet, Truth]
_DRAW: dict[str, Callable[[np.random.Generator, Person], Drawn]] = {
    "data-page": passport.data_page,
    "data-opening": passport.data_opening,
    "visa-page": passport.visa_page,
    "visa-opening": passport.visa_opening,
    "blank-opening": lambda rng, who: passport.opening(rng, "blank"),
    "stamp-opening": lambda rng, who: passport.opening(rng, "stamps"),
    "notes-opening": lambda rng, who: passport.opening(rng, "notes"),
    "cover": lambda rng, who: passport.cover(rng),
    "id-front": cards.id_front,
    "id-back": cards.id_back,
    "id-older": cards.id_older,
    "id-older-back": cards.id_older_back,
    "permit-front": cards.permit_front,
    "permit-back": cards.permit_back,
    "tax-front": cards.tax_front,
    "tax-back": cards.tax_back,
    "form": papers.form_page,
    "hand": lambda rng, who: papers.hand_page(rng),
    "blank-page": lambda rng, who: papers.blank_page(rng),
}
KINDS = tuple(_DRAW)
MRZ_KINDS = (
    "data-page",
    "data-opening",
    "visa-page",
    "visa-opening",
    "id-back",
    "id-older",
    "permit-back",
)
CARDS = (
    "id-front",
    "id-back",
    "id-older",
    "id-older-back",
    "permit-front",
    "permit-back",
    "tax-front",
    "tax-back",
)
_ROUND = (
    "data-page",
    "blank-opening",
    "tax-front",
    "paper",
    "id-back",
    "stamp-opening",
    "visa-opening",
    "tax-back",
    "data-opening",
    "paper",
    "id-older",
    "blank-opening",
    "form",
    "visa-page",
    "cover",
    "paper",
    "id-front",
    "tax-back",
    "notes-opening",
    "data-page",
    "permit-back",
    "paper",
    "stamp-opening",
    "tax-front",
    "data-opening",
    "blank-page",
    "id-older-back",
    "paper",
    "permit-front",
    "hand",
)
"""The round that the seeds go through; A4 papers are a fifth of it."""


def have_mrz_face() -> bool:
    """True where OCR-B (or an equally free face for machine lines) is installed."""
    return bool(faces("mrz"))


def draw(
    seed: int, kind: str | None = None, level: str | None = None, *, turn_deg: int | None = None,
    mirrored: bool = False,
) -> Page:  # fmt: skip
    """The page of a seed; ``kind`` (of ``KINDS``, or ``paper``), level and turn may be chosen."""
    rng = np.random.default_rng([seed, 6])
    who = person(rng)
    kind = kind or _ROUND[seed % len(_ROUND)]
    levels = tuple(LEVELS)
    level = level or levels[(seed // len(_ROUND) + seed) % 3]
    sheet, truth = _paper(rng, who) if kind == "paper" else _DRAW[kind](rng, who)
    wear = LEVELS[level]
    dpi = 200.0 if rng.random() < wear.low_dpi else 300.0
    pixels = scanned(np.asarray(sheet.image), sheet.size_mm, dpi, wear, rng=rng)
    turn = int(rng.choice([0, 90, 180, 270])) if turn_deg is None else turn_deg
    if mirrored:
        pixels = pixels[:, ::-1]
    pixels = np.ascontiguousarray(np.rot90(pixels, turn // 90))
    return Page(
        seed=seed,
        level=level,
        pixels=pixels,
        dpi=dpi,
        turn_deg=turn,
        size_mm=sheet.size_mm,
        truth=truth,
        mirrored=mirrored,
    )


def _paper(rng: np.random.Generator, who: Person) -> Drawn:
    topic = str(rng.choice(list(TOPICS)))
    return papers.topic_page(rng, who, topic, first=bool(rng.random() < 0.7))


def pages(seeds: range, kinds: tuple[str, ...] | None = None) -> Iterator[Page]:
    """The pages of some seeds; with ``kinds`` each seed draws one of these in turn."""
    for seed in seeds:
        yield draw(seed, kinds[seed % len(kinds)] if kinds else None)
