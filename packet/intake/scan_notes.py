"""The words of SCAN-ME.txt: what to scan into a folder, how many scans, and how."""

from __future__ import annotations

import textwrap

from packet.model import DocumentSpec, Kind, Packet
from packet.rules.booklet import opening_scans

SCAN_ME = "SCAN-ME.txt"
_WIDTH = 76
_HOW = (
    "300 dpi (dots per inch), grey or colour. A phone photo from straight above will do.",
    "Leave about 1 cm free all round; nothing may be cut off or covered by a finger.",
    "Lay a dark sheet under white paper, so that its edges show.",
    "The right way up where you can; print that lies otherwise is turned, and where that was not "
    "sure you are told. Several items may lie on one glass with 1 cm between them.",
    "JPEG, PNG, TIFF, HEIC and PDF files are fine. The order is that of the file names.",
    "Write no names or numbers of persons into file names.",
)


def scan_note(packet: Packet, spec: DocumentSpec) -> str:
    """The text for one document's folder."""
    parts = [
        f"{spec.title_en.upper()}\n{spec.title_it}",
        *(
            [_wrap("You said that you do not have this document: leave this folder empty.")]
            if spec.folder in packet.not_held
            else []
        ),
        f"What to scan\n{_wrap(spec.scan_note or 'Every written side, in order.')}",
        f"How many scans\n{_wrap(_how_many(packet, spec))}",
        "How to scan\n" + "\n".join(_wrap(line, "- ") for line in _HOW),
        _wrap(
            f"Who asks for it: {spec.source}. Offices differ: the list of the office that "
            "receives the application comes first."
        ),
        _wrap("This file is not copied. Delete it if you like."),
    ]
    return "\n\n".join(parts) + "\n"


def _how_many(packet: Packet, spec: DocumentSpec) -> str:
    if Kind.PASSPORT_SPREAD in spec.kinds:
        return _book(packet)
    if spec.kinds == (Kind.FORM_PAGE,):
        modules = packet.form.modules
        pages = sum(packet.rule_set.form_pages[module] for module in modules)
        named = " and ".join(str(module) for module in modules)
        return f"{pages}: the printed pages of module {named}, one scan each or one PDF of all."
    if spec.two_sides:
        return (
            "2 sides: two scans, or one scan with both sides side by side. Front first: the order "
            "is that of the file names, where back.jpg stands before front.jpg; call them "
            "1-front.jpg and 2-back.jpg."
        )
    return "One for each written side, or one PDF of all pages."


def _book(packet: Packet) -> str:
    if packet.passport.pages == "written":
        return "One for each opening that holds data, a visa, a stamp or writing."
    pages = packet.passport.booklet_pages
    if pages is None:
        return (
            "Half the number of the last page, plus 2: each opening, and the outer covers. "
            f"A book of 28 pages: {opening_scans(28)} opening scans."
        )
    return (
        f"A book of {pages} pages: {opening_scans(pages)} opening scans, that is "
        f"{opening_scans(pages) - 1} openings (from the inside of the front cover with page 1 to "
        "the last page with the inside of the back cover) and 1 of the outer covers."
    )


def _wrap(text: str, lead: str = "") -> str:
    return textwrap.fill(
        text,
        _WIDTH,
        initial_indent=lead,
        subsequent_indent=" " * len(lead),
        break_long_words=False,
        break_on_hyphens=False,
    )
