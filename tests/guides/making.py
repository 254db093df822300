"""Packets for the tests of this room, and a pen that notes what it draws."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

from packet.guides.page import draw_page
from packet.model import (
    Address,
    Applicant,
    Entry,
    Packet,
    Passport,
    Permit,
    Visa,
)
from packet.rules.reader import load_rule_set
from packet.sheets.typesetting import Pen, new_canvas, width_pt
from packet.units import pt_to_mm

TODAY = date(2026, 11, 25)
STUDY = Path(__file__).parents[1] / "rules" / "study-first-issue.toml"
FIRST = load_rule_set("elective-residence-first-issue")
RENEWAL = load_rule_set("elective-residence-renewal")
COUNT = {
    "box": 31,
    "complete": True,
    "basis": "files",
    "form_leaves": 4,
    "envelope_sheets": 27,
    "index_leaves": 0,
    "extra_leaves": 0,
    "documents": [{"folder": "passport", "sheets": 16}],
}


def packet(rules=FIRST, **changed):
    """An invented person of the specimen state, with everything that a first issue asks for."""
    base = Packet(
        root=Path("demo"),
        rule_set=rules,
        documents=rules.documents,
        applicant=Applicant(
            surname="Veldaro",
            given_names="Mirela Ana",
            sex="F",
            civil_status="married",
            date_of_birth=date(1958, 7, 14),
            place_of_birth="Lumenport",
            country_of_birth="UTO",
            citizenship="UTO",
            tax_code="VLDMLN58L54Z999Q",
        ),
        passport=Passport(number="UX4071936", expires=date(2031, 5, 2), issued_by="own-state"),
        visa=Visa(
            number="UV0041820",
            type="D",
            purpose="RESIDENZA ELETTIVA",
            valid_from=date(2026, 11, 10),
            valid_to=date(2027, 11, 9),
            duration_days=365,
            entries="MULT",
        ),
        entry=Entry(date=date(2026, 11, 20), border="Fiumicino"),
        address=Address(
            province="VT",
            province_seat="Viterbo",
            town="Viterbo",
            street="Via degli Esempi 12",
            postcode="01100",
            email="mirela.veldaro@example.org",
        ),
    )
    return replace(base, **changed)


def renewal(**changed):
    """The same person a year on."""
    permit = Permit(number="I12345678", type_code="21", expires=date(2027, 2, 28))
    return packet(RENEWAL, visa=Visa(), entry=Entry(), permit=permit, **changed)


@dataclass(frozen=True, slots=True)
class Mark:
    """One text on paper, in mm: its ink lies between the two corners."""

    text: str
    left: float
    top: float
    right: float
    bottom: float


class NotingPen(Pen):
    """Draws as the pen does, and notes each text with the widths of its own font."""

    def __init__(self, canvas):
        super().__init__(canvas)
        self.marks = []
        self.boxes = []

    def _note(self, left, y, text, font, size):
        if text:
            width = pt_to_mm(width_pt(text, font, size))
            rise, drop = pt_to_mm(size) * 0.72, pt_to_mm(size) * 0.22
            self.marks.append(Mark(text, left, y - rise, left + width, y + drop))

    def text(self, x_mm, y_mm, text, font="packet-Regular", size=9.0):
        self._note(x_mm, y_mm, text, font, size)
        super().text(x_mm, y_mm, text, font, size)

    def text_right(self, x_mm, y_mm, text, font="packet-Regular", size=9.0):
        self._note(x_mm - pt_to_mm(width_pt(text, font, size)), y_mm, text, font, size)
        super().text_right(x_mm, y_mm, text, font, size)

    def text_centred(self, x_mm, y_mm, text, font="packet-Regular", size=9.0):
        self._note(x_mm - pt_to_mm(width_pt(text, font, size)) / 2, y_mm, text, font, size)
        super().text_centred(x_mm, y_mm, text, font, size)

    def box(self, x_mm, y_mm, width_mm, height_mm, width=0.8):
        self.boxes.append((x_mm, y_mm, x_mm + width_mm, y_mm + height_mm))
        super().box(x_mm, y_mm, width_mm, height_mm, width)


def drawn(pages):
    """A noting pen for each page, after it has drawn the page and its footer."""
    canvas, _ = new_canvas()
    pens = []
    for number, page in enumerate(pages, start=1):
        pen = NotingPen(canvas)
        draw_page(pen, page, "x", number, len(pages))
        canvas.showPage()
        pens.append(pen)
    return pens


def overlaps(marks):
    """Pairs of texts whose ink shares a place."""
    ordered = sorted(marks, key=lambda mark: mark.top)
    for at, one in enumerate(ordered):
        for other in ordered[at + 1 :]:
            if other.top >= one.bottom:
                break
            if one.left < other.right - 0.05 and other.left < one.right - 0.05:
                yield one.text, other.text


def outside(marks, left=18.0, right=192.0, bottom=293.0):
    """Texts that leave the margins of the page."""
    return [
        mark.text
        for mark in marks
        if mark.left < left - 0.05 or mark.right > right + 0.05 or mark.bottom > bottom
    ]


def out_of_cell(pen):
    """Texts that begin inside a small box and leave it."""
    lost = []
    for left, top, right, bottom in pen.boxes:
        if right - left > 6:
            continue
        for mark in pen.marks:
            middle = (mark.left + mark.right) / 2
            inside = left < middle < right and top < (mark.top + mark.bottom) / 2 < bottom
            fits = mark.left >= left and mark.right <= right and mark.bottom <= bottom
            if inside and not (fits and mark.top >= top):
                lost.append(mark.text)
    return lost
