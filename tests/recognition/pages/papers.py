# ruff: noqa: PLR0917  (drawing calls read best with their numbers in order)
"""Invented A4 papers: contracts, statements, policies, certificates, letters, forms, blank ones."""

from __future__ import annotations

import numpy as np

from .cards import bars
from .passport import day, stamp_on
from .people import Person
from .sheet import Sheet
from .truth import Truth
from .wording import FORM_HEADS, FORM_LABELS, GENERAL, TOPICS

A4 = (210.0, 297.0)
DPI = 220.0
Rng = np.random.Generator


def _sheet(rng: Rng) -> Sheet:
    level = int(rng.integers(240, 254))
    return Sheet(
        rng, A4, DPI, (level, level - int(rng.integers(0, 3)), level - int(rng.integers(0, 7)))
    )


def _amount(rng: Rng) -> str:
    return f"{rng.integers(1, 9)}.{rng.integers(100, 999)},{rng.integers(10, 99)}"


def _letterhead(sheet: Sheet) -> float:
    rng = sheet.rng
    roll = rng.random()
    if roll < 0.3:
        return float(rng.uniform(24, 36))
    colour = tuple(int(v) for v in rng.integers(20, 170, 3))
    if roll < 0.7:
        sheet.rect((18, 12, 16, 14), fill=colour)
        sheet.put_text(
            38,
            19,
            str(rng.choice(["SPECIMEN & CO.", "ENTE DI PROVA", "Studio Esempio", "EXAMPLE TRUST"])),
            15,
            role="bold",
            ink=colour,
        )
        sheet.put_text(
            38, 25, "Via del Campione 3 - 00100 Modello - www.example.org", 8, ink=(90, 90, 96)
        )
    else:
        sheet.put_text(
            105, 18, "REPUBLIC OF SPECIMENS", 13, role="serif-bold", ink=colour, anchor="ms"
        )
        sheet.put_text(105, 24, "OFFICE OF EXAMPLES", 10, role="serif", ink=colour, anchor="ms")
    return float(rng.uniform(40, 54))


def topic_page(rng: Rng, who: Person, topic: str, *, first: bool) -> tuple[Sheet, Truth]:
    """A page of a document on a topic of ``wording``; a later page has no title."""
    sheet, told = _sheet(rng), TOPICS[topic]
    role = str(rng.choice(["serif", "sans", "serif", "sans", "mono"]))
    points = float(rng.uniform(9, 11.5))
    y = _letterhead(sheet) if first else float(rng.uniform(22, 34))
    if first:
        title = str(rng.choice(told["titles"]))
        big = float(rng.uniform(12, 17))
        middle = rng.random() < 0.6
        x, anchor = (105, "ms") if middle else (22, "ls")
        sheet.fit(
            x, y, 166, title, big, role="serif-bold" if role == "serif" else "bold", anchor=anchor
        )
        y += 12
    body = [*told["body"]] if first else [*told["body"], *GENERAL, *GENERAL]
    if first and rng.random() < 0.6:
        text = f"{who.surname.title()} {who.given_names.title()}, nato/a il {day(rng)(who.born)}"
        y = sheet.column(22, y, 166, text, points, role=role) + 4
    if topic == "tax-certificate":
        y = _certificate_code(sheet, who, y)
    y = _fill(sheet, y, body, told["rows"], points, role)
    if rng.random() < 0.5:
        sheet.scribble(float(rng.uniform(110, 150)), min(y + 2, 262), 42, 13)
    if rng.random() < 0.25:
        stamp_on(sheet, float(rng.uniform(50, 150)), min(y + 8, 255), (34.0, 34.0))
    sheet.put_text(
        105, 287, f"{1 if first else rng.integers(2, 12)}", 9, anchor="ms", ink=(80, 80, 84)
    )
    code = topic == "tax-certificate"
    return sheet, Truth(
        kind="a4-page",
        content="paper",
        folder=str(told["folder"]),
        text=True,
        first=first,
        topic=topic,
        person=who,
        tax_code=who.tax_code if code else "",
        code_text=code,
    )


def _certificate_code(sheet: Sheet, who: Person, y: float) -> float:
    sheet.put_text(22, y + 4, "Codice fiscale:", 11)
    sheet.put_text(60, y + 4, who.tax_code, 15, role=str(sheet.rng.choice(["bold", "mono-bold"])))
    if sheet.rng.random() < 0.5:
        bars(sheet, 60, y + 8, 90, 10, who.tax_code, 2.6)
        y += 13
    return y + 14


def _fill(
    sheet: Sheet, y: float, body: list[str], rows: tuple[str, ...], points: float, role: str
) -> float:
    """Paragraphs of sentences and now and then a table, down to a chosen height."""
    rng = sheet.rng
    end = float(rng.uniform(130, 258))
    order = list(rng.permutation(len(body)))
    number = 1
    while y < end:
        if rng.random() < 0.3 and y + 6 * len(rows) < end:
            y = _table(sheet, y, rows, points, role) + 6
            continue
        count = int(rng.integers(1, 4))
        picked = [body[order[(number * 3 + k) % len(order)]] for k in range(count)]
        head = f"Art. {number} " if rng.random() < 0.4 else ""
        y = sheet.column(22, y, 166, head + " ".join(picked), points, role=role, bottom=262) + 3.2
        number += 1
    return y


def _table(sheet: Sheet, y: float, rows: tuple[str, ...], points: float, role: str) -> float:
    rng = sheet.rng
    ruled = rng.random() < 0.6
    for row in rows:
        sheet.put_text(24, y, row, points * 0.95, role=role)
        sheet.put_text(184, y, _amount(rng), points * 0.95, role=role, anchor="rs")
        if ruled:
            sheet.rule(22, y + 1.6, 188, y + 1.6, (150, 150, 154), 0.2)
        y += points * 0.62
    return y


def form_page(rng: Rng, who: Person) -> tuple[Sheet, Truth]:
    """A page of an application form: headings, rows of cells, many filled in by hand or print."""
    sheet = _sheet(rng)
    colour = ((40, 70, 130), (120, 40, 44), (60, 60, 64), (30, 100, 80))[int(rng.integers(0, 4))]
    sheet.rect((12, 12, 186, 10), fill=tuple(int(v) for v in rng.integers(205, 235, 3)))
    sheet.put_text(16, 19, str(rng.choice(FORM_HEADS)), 13, role="bold", ink=colour)
    sheet.put_text(194, 19, "Mod. 209 - prova", 8, ink=colour, anchor="rs")
    y, cell = 32.0, float(rng.uniform(4.6, 5.4))
    by_hand = rng.random() < 0.7
    labels = list(rng.permutation(FORM_LABELS))
    values = (
        who.surname,
        who.given_names,
        who.number,
        f"{who.born:%d%m%Y}",
        who.state,
        who.birthplace,
        "X",
        "21",
    )
    number = int(rng.integers(1, 40))
    while y < 276 and labels:
        label = labels.pop()
        sheet.put_text(14, y, f"{number}", 6.5, role="bold", ink=colour)
        sheet.put_text(20, y, label, 7, ink=colour)
        cells = int(rng.integers(2, 33))
        for place in range(cells):
            sheet.rect((20 + place * cell, y + 1.4, cell, 6.2), outline=colour, line=0.18)
        value = str(rng.choice(values)) if rng.random() < 0.7 else ""
        for place, sign in enumerate(value[:cells]):
            at = 20 + (place + 0.5) * cell + (float(rng.normal(0, 0.3)) if by_hand else 0)
            sheet.put_text(
                at,
                y + 6.6,
                sign,
                float(rng.uniform(13, 15)),
                role="hand" if by_hand else "mono",
                ink=(24, 24, 40),
                anchor="ms",
            )
        y += float(rng.uniform(12, 15))
        number += 1
    return sheet, Truth(kind="form-page", content="paper", folder="form", text=True, person=who)


def hand_page(rng: Rng) -> tuple[Sheet, Truth]:
    """Strokes like handwriting on a sheet: nothing in it can be read."""
    sheet = _sheet(rng)
    y, step = float(rng.uniform(24, 40)), float(rng.uniform(9, 13))
    while y < float(rng.uniform(120, 260)):
        sheet.pen_strokes(22, y, float(rng.uniform(120, 185)), step)
        y += step
    return sheet, Truth(kind="a4-page", content="paper", folder="", text=False, topic="hand")


def blank_page(rng: Rng) -> tuple[Sheet, Truth]:
    """An empty sheet."""
    return _sheet(rng), Truth(kind="a4-page", content="blank", folder="", text=False, topic="blank")
