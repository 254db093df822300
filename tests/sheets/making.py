"""Small packets, items and pictures for the tests of this room. All values are invented."""

from __future__ import annotations

import hashlib
import io
import tempfile
from dataclasses import replace
from datetime import date
from pathlib import Path

from PIL import Image, ImageDraw

from packet.files import Parts
from packet.model import (
    Applicant,
    CountChoice,
    DocumentSpec,
    EncodedImage,
    FormChoice,
    Item,
    Kind,
    Packet,
    Passport,
    RuleSet,
    VectorPage,
)
from packet.sheets.sets import make_sets

SIZES = {
    Kind.PASSPORT_SPREAD: (176.0, 125.0),
    Kind.PASSPORT_COVER: (176.0, 125.0),
    Kind.PASSPORT_PAGE: (88.0, 125.0),
    Kind.VISA_PAGE: (88.0, 125.0),
    Kind.LETTER_PAGE: (215.9, 279.4),
    Kind.A4_PAGE: (210.0, 297.0),
    Kind.FORM_PAGE: (210.0, 297.0),
}
ID_1 = (85.60, 53.98)


def spec(folder: str, kind: Kind, **more) -> DocumentSpec:
    """A document; its titles are its folder unless given."""
    values = {
        "title_it": folder.capitalize(),
        "title_en": f"{folder} (en)",
        "kinds": (kind,),
        "need": "required",
    }
    return DocumentSpec(folder=folder, **(values | more))


PASSPORT = spec("passport", Kind.PASSPORT_SPREAD, title_it="Passaporto", title_en="Passport")
ID_CARD = spec("id-card", Kind.ID_CARD_FRONT, title_it="Carta d’identità", title_en="Identity card")
TAX_CARD = spec("tax-card", Kind.TAX_CARD_FRONT, title_it="Codice fiscale", title_en="Tax code")
HOUSING = spec("housing", Kind.A4_PAGE, title_it="Disponibilità dell’alloggio", title_en="Home")
INCOME = spec("income", Kind.A4_PAGE, title_it="Risorse economiche", title_en="Means")
INSURANCE = spec("insurance", Kind.A4_PAGE, title_it="Assicurazione sanitaria", title_en="Cover")
FORM = spec("form", Kind.FORM_PAGE, title_it="Copia del modulo", title_en="Copy of the form")
DOCUMENTS = (PASSPORT, ID_CARD, TAX_CARD, HOUSING, INCOME, INSURANCE)


def packet(documents=DOCUMENTS, **more) -> Packet:
    """A packet in memory; ``count``, ``passport``, ``form``… replace the defaults."""
    rules = RuleSet(
        name="test",
        title_it="Residenza elettiva, primo rilascio",
        title_en="Elective residence, first issue",
        documents=documents,
        form=FORM,
        form_pages={1: 8, 2: 3},
        source="test",
        as_of=date(2026, 1, 1),
    )
    values = {
        "root": Path("nowhere"),
        "rule_set": rules,
        "documents": documents,
        "applicant": Applicant(surname="ERIKSSON", given_names="ANNA MARIA", citizenship="UTO"),
        "passport": Passport(booklet_pages=28),
        "count": CountChoice(),
        "form": FormChoice(),
    }
    return Packet(**(values | more))


def jpeg(size_mm, dpi=30, seed=0) -> EncodedImage:
    """A small grey JPEG with something on it that differs from seed to seed."""
    width, height = (max(2, round(side * dpi / 25.4)) for side in size_mm)
    picture = Image.new("L", (width, height), 235)
    draw = ImageDraw.Draw(picture)
    draw.text((4, 4), f"{seed}", fill=0)
    draw.rectangle((2, 2, width - 3, height - 3), outline=90)
    buffer = io.BytesIO()
    picture.save(buffer, "JPEG", quality=70, dpi=(dpi, dpi))
    data = buffer.getvalue()
    return EncodedImage(
        data=data,
        format="jpeg",
        width_px=width,
        height_px=height,
        digest=hashlib.sha256(data).hexdigest(),
    )


def vector(size_mm=(210.0, 297.0), rotate=0) -> VectorPage:
    """A born-digital page, ``size_mm`` as shown: a line of text and a filled square."""
    from reportlab.pdfgen.canvas import Canvas

    width, height = (side * 72 / 25.4 for side in size_mm)
    buffer = io.BytesIO()
    canvas = Canvas(buffer, pagesize=(width, height), invariant=1)
    canvas.drawString(60, height - 60, "Polizza")
    canvas.rect(60, 100, 40, 40, fill=1)
    if rotate:
        canvas.setPageRotation(rotate)
    canvas.showPage()
    canvas.save()
    data = buffer.getvalue()
    return VectorPage(pdf_bytes=data, size_mm=size_mm, digest=hashlib.sha256(data).hexdigest())


def item(kind, number=1, folder=None, size_mm=None, image=True, **more) -> Item:
    """One item; with ``image`` its own small JPEG (or the picture given)."""
    size = size_mm or SIZES.get(kind, ID_1)
    w, h = size
    picture = jpeg(size, seed=number) if image is True else (image or None)
    values = {
        "scan": f"{folder or kind.value}/scan-{number:02d}.jpg",
        "page": 1,
        "item": 1,
        "kind": kind,
        "corners_px": ((0.0, 0.0), (w, 0.0), (w, h), (0.0, h)),
        "turn_deg": 0,
        "skew_deg": 0.0,
        "size_mm": size,
        "measured_mm": None,
        "dpi": 300.0,
        "image": picture,
        "margins_clear_mm": (12.0, 12.0, 12.0, 12.0),
    }
    return Item(**(values | more))


def worked_items(image=True):
    """The items of the worked sum: 16 openings, two cards, 3, 4 and 2 pages."""

    def a4(folder, pages, start):
        return tuple(
            item(Kind.A4_PAGE, start + n, folder=folder, image=image) for n in range(pages)
        )

    return {
        "passport": tuple(
            item(Kind.PASSPORT_SPREAD, n, folder="passport", image=image) for n in range(16)
        ),
        "id-card": (
            item(Kind.ID_CARD_FRONT, 21, folder="id-card", image=image),
            item(Kind.ID_CARD_BACK, 22, folder="id-card", image=image),
        ),
        "tax-card": (
            item(Kind.TAX_CARD_FRONT, 23, folder="tax-card", image=image),
            item(Kind.TAX_CARD_BACK, 24, folder="tax-card", image=image),
        ),
        "housing": a4("housing", 3, 30),
        "income": a4("income", 4, 40),
        "insurance": a4("insurance", 2, 50),
    }


def form_items(image=True):
    """Eight pages of the filled form."""
    return {
        "form": tuple(item(Kind.FORM_PAGE, 60 + n, folder="form", image=image) for n in range(8))
    }


def sets_of(made: Packet, plan, count, complete: bool, **more):
    """What make_sets answers, ``files`` as bytes; they were written into a folder that is gone."""
    with tempfile.TemporaryDirectory() as place:
        written = make_sets(made, plan, count, complete, Parts(Path(place)), **more)
        files = {name: path.read_bytes() for name, path in written.files.items()}
    return replace(written, files=files)
