"""Packet -> the text of packet.toml, with a short comment on every section and key.

What nobody gave stays empty: an example stands in comments only. Read back by
``packet_file.read_packet`` it gives the same values.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import Any

from packet.intake.packet_file import BOX_22, CIVIL_STATUS, ISSUED_BY
from packet.model import DocumentSpec, ItemOverride, OrderEntry, Packet

# Between what build and count need and all else. TOML lets a table be written only once, so what
# the worksheet needs of [applicant] and [passport] stands there, under a line of its own.
LATER = "# For the worksheet and the dates, later"
_LATER_HERE = "# the rest of this section: for the worksheet and the dates, later"
Line = tuple[str, Any, str]  # key, value (None = not given), comment
_COMMENT_COLUMN = 40
_DAY = "without quotes, as 2027-03-31"


def packet_text(packet: Packet, *, rule_set: str) -> str:
    """The whole file. ``rule_set``: the name, or the path of a user's own set, to write."""
    lines = [
        "# What packet needs to know. Read and corrected by you; packet changes no line of yours:",
        "# packet sort alone adds lines, between marks of its own.",
        '# An empty text ("") is a value not given. build and count need only the names, the',
        "# pages of the passport book and the leaves of the form; the rest is for the worksheet.",
        "",
        *_keys([("rule_set", rule_set, "what the application asks for")]),
        *_not_held(packet),
        *_keys([("fee_table", packet.fee_table, "a .toml file of your own, else packet's table")]),
        *_made_from(packet),
        *_person(packet),
        *_form_and_count(packet),
        *_order(packet),
        *_documents(packet),
        *_items(packet),
        "",
        LATER,
        *_travel(packet),
        *_later(packet),
    ]
    return "\n".join(lines) + "\n"


def toml_value(value: Any) -> str:
    """A text, number, truth value, date or list as TOML writes it; None as an empty text."""
    if value is None:
        return '""'
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):  # JSON escapes what TOML does, except DEL
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, Sequence):
        return "[" + ", ".join(toml_value(one) for one in value) + "]"
    return repr(int(value) if float(value).is_integer() else float(value))


def _keys(lines: Iterable[Line]) -> list[str]:
    return [
        f"{key} = {toml_value(value)}".ljust(_COMMENT_COLUMN if comment else 0)
        + (f" # {comment}" if comment else "")
        for key, value, comment in lines
    ]


def _section(name: str, comment: str, lines: Iterable[Line]) -> list[str]:
    return ["", f"[{name}]".ljust(_COMMENT_COLUMN) + f" # {comment}", *_keys(lines)]


def _fields(record: object, **comments: str) -> list[str]:
    """Fields of a record, named by their comments: each is a key of the same name."""
    return _keys([(name, getattr(record, name), comment) for name, comment in comments.items()])


def _record(section: str, comment: str, record: object, **comments: str) -> list[str]:
    return [*_section(section, comment, []), *_fields(record, **comments)]


def _made_from(packet: Packet) -> list[str]:
    if not packet.made_from:
        return []
    return _keys([("made_from", packet.made_from, "the packet that this one renews")])


def _not_held(packet: Packet) -> list[str]:
    may_lack = [spec.folder for spec in packet.rule_set.documents if spec.need == "if-held"]
    return _keys(
        [("not_held", packet.not_held, f"of {toml_value(may_lack)}: those that you do not have")]
    )


def _person(packet: Packet) -> list[str]:
    person, passport = packet.applicant, packet.passport
    return [
        *_record(
            "applicant",
            "exactly as in the passport",
            person,
            surname="",
            given_names="all of them",
        ),
        _LATER_HERE,
        *_fields(
            person,
            sex="F or M",
            civil_status=", ".join(CIVIL_STATUS),
            date_of_birth=_DAY,
            place_of_birth="",
            country_of_birth="three letters",
            citizenship="three letters",
            tax_code="codice fiscale, if you have one",
        ),
        *_record(
            "passport",
            "the book, and how it is copied",
            passport,
            booklet_pages="the last numbered page: 28, 32, 48 ...",
            pages="all, or written (blank ones left out by you)",
            openings_per_sheet="1, or 2 to save paper",
        ),
        _LATER_HERE,
        *_fields(
            passport,
            number="",
            expires=_DAY,
            issued_by=", ".join(ISSUED_BY),
            mrz="both machine-readable lines, if you like: compared",
        ),
    ]


def _travel(packet: Packet) -> list[str]:
    return [
        *_record(
            "visa",
            "as printed on the sticker; for a first issue",
            packet.visa,
            number="",
            type="",
            purpose="",
            valid_from=_DAY,
            valid_to=_DAY,
            duration_days="without quotes",
            entries="as printed",
        ),
        *_record(
            "entry",
            "the entry stamp; for a first issue",
            packet.entry,
            date=_DAY,
            border="place of the stamp",
            local_holidays="a patron saint's day: [2027-09-04]",
        ),
        *_record(
            "address",
            "where you live in Italy",
            packet.address,
            province="two letters",
            province_seat="town of your police office (questura)",
            town="",
            street="",
            house_number="",
            postcode="in quotes",
            email="",
        ),
    ]


def _form_and_count(packet: Packet) -> list[str]:
    form, count = packet.form, packet.count
    leaves = ("form_leaves", count.form_leaves, "leaves of the form(s), counted in your hand")
    hint = [
        "# Count the leaves of the form in your hand, then take the",
        "# first # off the next line and write that number.",
    ]
    known = _keys([leaves])
    if not count.form_leaves_confirmed:
        known = [*hint, f"# {known[0]}"]
    return [
        *_section("count", "the number for the box that asks for the sheets", []),
        *known,
        *_keys(
            [
                ("copies_printed", count.copies_printed, "one-sided or two-sided"),
                ("index_in_envelope", count.index_in_envelope, "true if the index goes in too"),
                ("extra_leaves", count.extra_leaves, "other leaves that go into the envelope"),
            ]
        ),
        *_section(
            "form",
            "the application form",
            [
                ("modules", form.modules, "those filled in: [1] or [1, 2]"),
                ("copied_by_hand", form.copied_by_hand, "true if you copy the form elsewhere"),
                ("box_22", form.box_22, f"{' or '.join(BOX_22)}: practices differ, ask"),
            ],
        ),
        *_cells(form.cells),
    ]


def _cells(cells: Mapping[str, int]) -> list[str]:
    lines = ["# [form.cells]   # box = cells that you counted on your form, for long names"]
    if not cells:
        return [*lines, "# 3 = 28"]
    return ["", lines[0][2:], *(f"{box} = {count}" for box, count in cells.items())]


def _later(packet: Packet) -> list[str]:
    """What is known later: permits, receipt, appointment, ends of papers, amounts."""
    return [
        *_record(
            "permit",
            "the card that you hold now; for a renewal",
            packet.permit,
            number="",
            type_code="of the kind of permit, as on the card",
            expires=_DAY,
            first_issued="day of issue of your first permit",
        ),
        *_record(
            "receipt",
            "after the counter",
            packet.receipt,
            date="day on which you handed the envelope over",
            user_id="only if you want; never printed",
            password="only if you want; never printed",
        ),
        *_record(
            "appointment",
            "from the letter",
            packet.appointment,
            date=_DAY,
            time='as "09:40"',
            place="",
        ),
        *_record(
            "new_permit",
            "the card that you collect in the end",
            packet.new_permit,
            number="",
            type_code="",
            issued=_DAY,
            expires=_DAY,
        ),
        "",
        "[valid_until]".ljust(_COMMENT_COLUMN) + " # folder = last day on which the paper is valid",
        "# insurance = 2027-03-31",
        *(f"{toml_key(folder)} = {day.isoformat()}" for folder, day in packet.valid_until.items()),
    ]


def _order(packet: Packet) -> list[str]:
    lines = [
        "",
        "[order]".ljust(_COMMENT_COLUMN) + " # only where the order of the file names is wrong",
        '# passport = ["IMG_0007.jpg", "both.pdf#2", "cards.jpg#1.2"]   # file#page.item',
    ]
    for folder, entries in packet.order.items():
        lines.append(f"{toml_key(folder)} = {toml_value([_entry(one) for one in entries])}")
    return lines


def toml_key(key: str) -> str:
    """A key, bare where TOML allows it."""
    bare = key.isascii() and key.replace("-", "").replace("_", "").isalnum()
    return key if bare else toml_value(key)


def _entry(entry: OrderEntry) -> str:
    page = "" if entry.page is None else f"#{entry.page}"
    return entry.file + page + ("" if entry.item is None else f".{entry.item}")


def _documents(packet: Packet) -> list[str]:
    lines = [
        "",
        "# A paper that the rule set does not know: take the # off, and make the folder.",
        "# [[document]]",
        '# folder = "extra"',
        '# title = "Title for the index"',
        '# kind = "a4-page"',
        "# in_envelope = true",
    ]
    for spec in own_documents(packet):
        lines += ["", "[[document]]"]
        lines += _keys(
            [
                ("folder", spec.folder, ""),
                ("title", spec.title_it, ""),
                ("kind", spec.kinds[0].value, ""),
                ("in_envelope", spec.in_envelope, ""),
            ]
        )
    return lines


def own_documents(packet: Packet) -> tuple[DocumentSpec, ...]:
    """The documents of packet.toml's own ``[[document]]`` tables."""
    return packet.documents[len(packet.rule_set.documents) :]


def _items(packet: Packet) -> list[str]:
    lines = [
        "",
        "# Where the automatic result is wrong: what is right, for one item of one scan.",
        "# [[item]]",
        '# scan = "passport/IMG_0012.jpg"',
        "# page = 1",
        "# item = 1                              # top to bottom, then left to right",
        "# turn = 180                            # clockwise: 0, 90, 180 or 270",
        "# leave_out = true                      # not copied, not counted",
        '# accept = ["blurred"]                  # findings that you have looked at',
    ]
    for override in packet.overrides:
        lines += ["", "[[item]]", *_keys(_override_keys(override))]
    return lines


def _override_keys(one: ItemOverride) -> list[Line]:
    optional: list[tuple[str, Any]] = [
        ("turn", one.turn),
        ("corners", one.corners),
        ("kind", one.kind.value if one.kind else None),
        ("size_mm", one.size_mm),
        ("document", one.document),
        ("leave_out", one.leave_out or None),
        ("tone", one.tone),
        ("accept", one.accept or None),
    ]
    given = [(key, value, "") for key, value in optional if value is not None]
    return [("scan", one.scan, ""), ("page", one.page, ""), ("item", one.item, ""), *given]
