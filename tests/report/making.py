"""A small drawn packet for the review and the record. All values are invented."""

from __future__ import annotations

import io
from dataclasses import replace

from checks.making import finding, image, item, packet
from PIL import Image, ImageDraw

from packet.model import Kind, OtherReading, PageResult, Severity
from packet.report.review import ReviewInput
from packet.sheets.count import count_sheets
from packet.sheets.layout import lay_out

HOSTILE = 'home/<script>alert("1")</script>\' "&#x.jpg'


def picture(width=80, height=60, shade=200):
    """A small JPEG."""
    drawn = Image.new("L", (width, height), shade)
    ImageDraw.Draw(drawn).rectangle((8, 8, width - 9, height - 9), outline=20)
    buffer = io.BytesIO()
    drawn.save(buffer, "JPEG", quality=70)
    return buffer.getvalue()


def pages_of(items):
    """The source page of every item, each 800 by 600 pixels."""
    grouped = {}
    for one in items:
        grouped.setdefault((one.scan, one.page), []).append(one)
    return tuple(
        PageResult(
            scan=scan,
            page=page,
            width_px=800,
            height_px=600,
            items=tuple(group),
            preview=picture(),
        )
        for (scan, page), group in grouped.items()
    )


def drawn(kind, number=1, **more):
    return replace(item(kind, number, seed=(kind, number, str(more)), **more), preview=picture())


def view(*, hostile=False, **more):
    """The input of the review: an opening, two cards on one glass, two papers, one left out."""
    home = HOSTILE if hostile else "home/scan-01.jpg"
    items = {
        "passport": (drawn(Kind.PASSPORT_SPREAD, folder="passport"),),
        "id-card": (
            drawn(Kind.ID_CARD_FRONT, folder="id-card"),
            drawn(Kind.ID_CARD_BACK, folder="id-card", item=2),
        ),
        "home": (
            drawn(Kind.A4_PAGE, scan=home),
            drawn(Kind.LETTER_PAGE, 2, folder="home", size_mm=(215.9, 279.4)),
        ),
        "form": tuple(drawn(Kind.FORM_PAGE, n, folder="form") for n in (1, 2)),
    }
    left_out = drawn(Kind.A4_PAGE, 9, folder="home")
    given = packet()
    plan = lay_out(given, items)
    every = [*(one for group in items.values() for one in group), left_out]
    empty = PageResult(
        scan="home/empty.jpg", page=2, width_px=40, height_px=30, items=(), preview=picture()
    )
    values = {
        "packet": given,
        "plan": plan,
        "pages": (*pages_of(every), empty),
        "count": count_sheets(given, plan),
        "findings": (
            finding(
                "blurred", subject=items["home"][0].subject, measured=1.5, limit=2.0, unit="mm"
            ),
            finding("unreadable", Severity.ERROR, "home/torn.jpg"),
            finding("missing-side", Severity.ERROR, "passport/"),
            finding("blank", Severity.NOTE, items["passport"][0].subject),
            finding("glare", subject=items["home"][0].subject, accepted=True),
            finding("not-found", subject="home/empty.jpg#2"),
        ),
        "complete": False,
    }
    return ReviewInput(**(values | more))


READING = OtherReading(reading="copies-only", box=27, why="Some guides count copies only.")

__all__ = ["HOSTILE", "READING", "drawn", "image", "picture", "view"]
