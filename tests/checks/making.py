"""Packets, items and findings in memory for these tests. All values are invented."""

from __future__ import annotations

from datetime import date
from hashlib import sha256
from pathlib import Path

from packet.model import (
    Applicant,
    CountChoice,
    DocumentSpec,
    EncodedImage,
    Finding,
    Item,
    Kind,
    Packet,
    Passport,
    RuleSet,
    Severity,
)

SIZES = {
    Kind.PASSPORT_SPREAD: (176.0, 125.0),
    Kind.PASSPORT_COVER: (176.0, 125.0),
    Kind.PASSPORT_PAGE: (125.0, 88.0),
    Kind.VISA_PAGE: (88.0, 125.0),
    Kind.A4_PAGE: (210.0, 297.0),
    Kind.FORM_PAGE: (210.0, 297.0),
}
ID_1 = (85.60, 53.98)


def spec(folder, *kinds, **more):
    values = {
        "title_it": f"{folder} (it)",
        "title_en": folder.capitalize(),
        "kinds": kinds,
        "need": "required",
        "source": f"source of {folder}",
    }
    return DocumentSpec(folder=folder, **(values | more))


PASSPORT = spec(
    "passport",
    Kind.PASSPORT_SPREAD,
    Kind.PASSPORT_COVER,
    Kind.PASSPORT_PAGE,
    Kind.VISA_PAGE,
)
ID_CARD = spec("id-card", Kind.ID_CARD_FRONT, Kind.ID_CARD_BACK, need="if-held", two_sides=True)
TAX_CARD = spec(
    "tax-card",
    Kind.TAX_CARD_FRONT,
    Kind.TAX_CARD_BACK,
    Kind.A4_PAGE,
    need="if-held",
    two_sides=True,
)
HOME = spec("home", Kind.A4_PAGE)
FORM = spec("form", Kind.FORM_PAGE, source="MOD. 209")


def packet(documents=(PASSPORT, ID_CARD, TAX_CARD, HOME), **more):
    values = {
        "root": Path("nowhere"),
        "rule_set": RuleSet(
            name="trial",
            title_it="Prova",
            title_en="Trial",
            documents=documents,
            form=FORM,
            form_pages={1: 8, 2: 3},
            source="common practice, no source",
            as_of=date(2026, 11, 25),
        ),
        "documents": documents,
        "applicant": Applicant(surname="ERIKSSON", given_names="ANNA MARIA"),
        "passport": Passport(booklet_pages=28),
        "count": CountChoice(form_leaves_confirmed=True),
    }
    return Packet(**(values | more))


def image(seed):
    """An encoded image that is only a digest: equal seeds, equal pictures."""
    data = f"picture {seed}".encode()
    return EncodedImage(
        data=data, format="jpeg", width_px=1, height_px=1, digest=sha256(data).hexdigest()
    )


def item(kind, number=1, *, folder=None, seed=None, **more):
    """One item; ``seed`` gives it a picture."""
    size = SIZES.get(kind, ID_1)
    w, h = size
    values = {
        "scan": f"{folder or kind.value}/scan-{number:02}.jpg",
        "page": 1,
        "item": 1,
        "kind": kind,
        "corners_px": ((0.0, 0.0), (w, 0.0), (w, h), (0.0, h)),
        "turn_deg": 0,
        "skew_deg": 0.0,
        "size_mm": size,
        "measured_mm": None,
        "dpi": 300.0,
        "image": None if seed is None else image(seed),
    }
    return Item(**(values | more))


def openings(number):
    return tuple(item(Kind.PASSPORT_SPREAD, n, folder="passport") for n in range(number))


def whole(**more):
    """The items of a packet that lacks nothing but the form; ``more`` replaces folders."""
    items = {
        "passport": openings(16),
        "id-card": (item(Kind.ID_CARD_FRONT), item(Kind.ID_CARD_BACK)),
        "tax-card": (item(Kind.TAX_CARD_FRONT), item(Kind.TAX_CARD_BACK)),
        "home": (item(Kind.A4_PAGE),),
    }
    return {**items, **{folder.replace("_", "-"): group for folder, group in more.items()}}


def form(pages):
    return tuple(item(Kind.FORM_PAGE, n, folder="form") for n in range(pages))


def finding(code="blurred", severity=Severity.WARNING, subject="home/a.jpg#1.1", **more):
    values = {"message": f"It is {code}.", "remedy": f"Cure {code}."}
    return Finding(code=code, severity=severity, subject=subject, **(values | more))
