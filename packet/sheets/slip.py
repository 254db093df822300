"""The print slip: half a page in Italian that tells a copy shop what to print, and how."""

from __future__ import annotations

from collections.abc import Mapping

from packet.model import CopyPlan, Packet, SheetCount


def slip_pdf(
    packet: Packet, plan: CopyPlan, count: SheetCount, file_pages: Mapping[str, int]
) -> bytes:
    """One A4 page, the upper half used. ``file_pages``: pages of each file to print."""
    from packet.sheets.typesetting import BOLD, Pen, new_canvas

    canvas, buffer = new_canvas()
    pen = Pen(canvas)
    pen.text(18, 24, "Foglio di stampa", BOLD, 20)
    for row, (name, pages) in enumerate(file_pages.items()):
        pen.text(18, 40 + 6 * row, f"{name}: {pages}")
    canvas.showPage()
    canvas.save()
    return buffer.getvalue()
