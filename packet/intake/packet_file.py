"""packet.toml -> Packet, with every fault of the file reported at once."""

from __future__ import annotations

import os
import re
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any, Literal, cast

from packet.errors import FontError, PacketError, PacketFileError
from packet.intake.digest import values_digest
from packet.intake.overrides import read_overrides
from packet.intake.packet_later import (
    read_appointment,
    read_cells,
    read_new_permit,
    read_permit,
    read_receipt,
    read_valid_until,
)
from packet.intake.stand_in import stand_in
from packet.model import (
    Address,
    Applicant,
    CopiesPrinted,
    CountChoice,
    DocumentSpec,
    Entry,
    FormChoice,
    Kind,
    OrderEntry,
    Packet,
    Passport,
    RuleSet,
    Visa,
)
from packet.rules.fields import (
    Table,
    fold,
    folder_fault,
    listed,
    nearest,
    perhaps,
    read_toml,
    unprintable,
)
from packet.rules.reader import load_rule_set, rule_set_names
from packet.typeface import require_characters

PACKET_FILE = "packet.toml"
CIVIL_STATUS = ("single", "married", "widowed", "divorced", "separated", "other")
ISSUED_BY = ("own-state", "consulate-abroad", "consulate-italy")
BOX_22 = ("number", "crosses")
BOOKLET_PAGES = (8, 200)  # smallest and largest book accepted; a typing mistake lies outside
MAX_LEAVES = 99  # the box has two cells; more leaves of one kind is a typing mistake
_ORDER_TAIL = re.compile(r"(?P<file>.+)#(?P<page>[1-9][0-9]{0,4})(?:\.(?P<item>[1-9][0-9]{0,4}))?")
_KIND_FAMILIES = (
    (Kind.A4_PAGE, Kind.LETTER_PAGE, Kind.OTHER),
    (Kind.PASSPORT_SPREAD, Kind.PASSPORT_COVER, Kind.PASSPORT_PAGE, Kind.VISA_PAGE),
    (Kind.ID_CARD_FRONT, Kind.ID_CARD_BACK),
    (Kind.PERMIT_FRONT, Kind.PERMIT_BACK),
    (Kind.TAX_CARD_FRONT, Kind.TAX_CARD_BACK),
)


def read_packet(root: Path) -> Packet:
    """The packet in the folder ``root``.

    PacketError when there is no packet.toml; PacketFileError with one sentence per fault.
    Messages never quote a personal value.
    """
    path = root / PACKET_FILE
    if not os.path.lexists(path):
        raise PacketError(_no_packet_file(root))
    return packet_of(read_toml(path, PACKET_FILE), root)


def packet_of(values: dict[str, Any], root: Path) -> Packet:
    """The packet that the tables of a packet.toml in ``root`` say; as ``read_packet``."""
    problems: list[str] = []
    top = Table(values, problems=problems)
    packet = _without_rule_set(top, root)
    rule_set = _rule_set(top, root)
    if rule_set is None:  # the other faults are named all the same
        rule_set = stand_in(values, own=str(values.get("rule_set", "")).endswith(".toml"))
    packet = _with_rule_set(packet, top, rule_set)
    top.close()
    if problems:
        raise PacketFileError(PACKET_FILE, problems)
    return replace(packet, values_digest=values_digest(packet))


def _without_rule_set(top: Table, root: Path) -> Packet:
    """The sections that can be read whatever the rule set is."""
    return Packet(
        root=root,
        rule_set=_NO_RULE_SET,
        documents=(),
        applicant=_applicant(top.table("applicant")),
        passport=_passport(top.table("passport")),
        visa=_visa(top.table("visa")),
        entry=_entry(top.table("entry")),
        address=_address(top.table("address")),
        permit=read_permit(top.table("permit")),
        new_permit=read_new_permit(top.table("new_permit")),
        appointment=read_appointment(top.table("appointment")),
        receipt=read_receipt(top.table("receipt")),
        fee_table=_fee_table(top),
        made_from=top.text("made_from"),
        count=_count(top.table("count")),
    )


def _fee_table(top: Table) -> str:
    name = top.text("fee_table")
    if name and not name.endswith(".toml"):
        top.problem("fee_table", name, "the name of a file that ends in .toml")
        return ""
    return name


def _with_rule_set(packet: Packet, top: Table, rule_set: RuleSet) -> Packet:
    """The sections that name folders, documents or modules of the rule set."""
    documents = rule_set.documents + _own_documents(top, rule_set)
    folders = (*(spec.folder for spec in documents), rule_set.form.folder)
    packet = replace(packet, rule_set=rule_set, documents=documents)
    return replace(
        packet,
        not_held=_not_held(top, rule_set),
        form=_form(top.table("form"), rule_set),
        valid_until=read_valid_until(top.table("valid_until"), folders),
        order=_order(top.table("order"), folders),
        overrides=read_overrides(top.tables("item"), folders, packet.heap),
    )


def _no_packet_file(root: Path) -> str:
    if not os.path.lexists(root):
        return f"{root}: there is no such folder. Make one with: packet new FOLDER"
    if not os.path.isdir(root):
        return f"{root}: is not a folder. Name the folder that holds packet.toml."
    return f"{root}: holds no packet.toml. Name a packet folder, or make one: packet new FOLDER"


_NO_RULE_SET = RuleSet(
    name="",
    title_it="",
    title_en="",
    documents=(),
    form=DocumentSpec(folder="form", title_it="", title_en="", kinds=(), need="required"),
    form_pages={},
    source="",
    as_of=date.min,
)


# --- the rule set and the documents ---------------------------------------------------------


def _rule_set(top: Table, root: Path) -> RuleSet | None:
    expected = f"one of {listed(rule_set_names())} or a path ending in .toml"
    name = top.name("rule_set", expected)
    if not name:
        return None
    if unprintable(name):
        top.problem("rule_set", name, "a name without control characters")
        return None
    if name.endswith(".toml"):
        try:
            return load_rule_set(str(root / name))
        except PacketFileError as error:
            top.problems += [f"rule_set: {error.file}: {problem}" for problem in error.problems]
            return None
    if name not in rule_set_names():
        near = perhaps(name, rule_set_names())
        hint = f" (perhaps {near})" if near else ""
        top.problem("rule_set", name, expected + hint)
        return None
    return load_rule_set(name)


def _own_documents(top: Table, rule_set: RuleSet) -> tuple[DocumentSpec, ...]:
    taken = {fold(spec.folder) for spec in (*rule_set.documents, rule_set.form)}
    specs = []
    for table in top.tables("document"):
        folder = _own_folder(table, taken)
        taken.add(fold(folder))
        title = _printed(table, "title", personal=False)
        if not title:
            table.problems.append(f"{table.path('title')}: found nothing, expected a title.")
        kind = table.member("kind", Kind, Kind.A4_PAGE)
        if kind is Kind.FORM_PAGE:
            table.problem("kind", kind.value, "another kind: the form has its own folder")
        specs.append(
            DocumentSpec(
                folder=folder,
                title_it=title,
                title_en=title,
                kinds=_kinds(kind),
                need="required",
                in_envelope=table.flag("in_envelope", True),
                source="packet.toml",
                renewal_note="check that it is still valid and still asked for",
            )
        )
        table.close()
    return tuple(specs)


def _own_folder(table: Table, taken: set[str]) -> str:
    folder = table.text("folder", required=True)
    if not folder:
        return ""
    if fault := folder_fault(folder):
        table.problem("folder", folder, fault)
    elif fold(folder) in taken:
        table.problem("folder", folder, "a name that no other document and not the form has")
    return folder


def _kinds(first: Kind) -> tuple[Kind, ...]:
    """The kind that the user named, then those of its family."""
    family = next((one for one in _KIND_FAMILIES if first in one), (first,))
    if first is Kind.OTHER:
        return (first, Kind.A4_PAGE, Kind.LETTER_PAGE)
    return (first, *(kind for kind in family if kind is not first))


def _not_held(top: Table, rule_set: RuleSet) -> tuple[str, ...]:
    need = {spec.folder: spec.need for spec in rule_set.documents}
    may_lack = [folder for folder, one in need.items() if one == "if-held"]
    kept = []
    for at, word in enumerate(top.words("not_held")):
        key = f"not_held[{at}]"
        if word in may_lack:
            kept.append(word)
        elif word in need:
            expected = f"one of {listed(may_lack)}: this one is required"
            top.problem(key, word, f"{expected}; scan it, or ask the office that receives it")
        else:
            near = nearest(word, may_lack)
            hint = f" (perhaps {near})" if near else ""
            top.problem(key, word, f"one of {listed(may_lack)}{hint}")
    return tuple(dict.fromkeys(kept))


# --- the sections ---------------------------------------------------------------------------


def _printed(table: Table, key: str, *, personal: bool) -> str:
    """A text that will stand on a printed page: every character must be in the typeface."""
    text = table.text(key, personal=personal)
    if text.isascii():  # the face has every printable ASCII character
        return text
    try:
        require_characters(text, table.path(key))
    except FontError as error:
        table.problems.append(str(error))
    return text


def _matching(table: Table, key: str, pattern: str, expected: str) -> str:
    """A personal text of a fixed shape, or empty."""
    text = table.text(key, personal=True)
    if text and not re.fullmatch(pattern, text, re.ASCII):
        table.problem(key, text, expected, personal=True)
        return ""
    return text


def _applicant(table: Table) -> Applicant:
    three = "three capital letters, such as UTO"
    applicant = Applicant(
        surname=_printed(table, "surname", personal=True),
        given_names=_printed(table, "given_names", personal=True),
        sex=table.choice("sex", ("F", "M"), "", personal=True),
        civil_status=table.choice("civil_status", CIVIL_STATUS, "", personal=True),
        date_of_birth=table.day("date_of_birth", personal=True),
        place_of_birth=table.text("place_of_birth", personal=True),
        country_of_birth=_matching(table, "country_of_birth", "[A-Z]{3}", three),
        citizenship=_matching(table, "citizenship", "[A-Z]{3}", three),
        tax_code=table.text("tax_code", personal=True),
    )
    table.close()
    return applicant


def _passport(table: Table) -> Passport:
    low, high = BOOKLET_PAGES
    pages = table.integer("booklet_pages", None, low=low, high=high)
    if pages is not None and pages % 2:
        table.problem("booklet_pages", pages, "an even number: a book has two pages a leaf")
    passport = Passport(
        number=table.text("number", personal=True),
        expires=table.day("expires", personal=True),
        booklet_pages=pages,
        pages=cast(Literal["all", "written"], table.choice("pages", ("all", "written"), "all")),
        openings_per_sheet=cast(Literal[1, 2], table.number_of("openings_per_sheet", (1, 2), 1)),
        mrz=table.words("mrz"),
        issued_by=cast(Any, table.choice("issued_by", ISSUED_BY, "", personal=True)),
    )
    table.close()
    return passport


def _visa(table: Table) -> Visa:
    visa = Visa(
        number=table.text("number", personal=True),
        type=table.text("type", personal=True),
        purpose=table.text("purpose", personal=True),
        valid_from=table.day("valid_from", personal=True),
        valid_to=table.day("valid_to", personal=True),
        duration_days=table.integer("duration_days", None, low=1, high=3660, personal=True),
        entries=table.text("entries", personal=True),
    )
    table.close()
    return visa


def _entry(table: Table) -> Entry:
    entry = Entry(
        date=table.day("date", personal=True),
        border=table.text("border", personal=True),
        local_holidays=table.days("local_holidays", personal=True),
    )
    table.close()
    return entry


def _address(table: Table) -> Address:
    address = Address(
        province=_matching(table, "province", "[A-Z]{2}", "two capital letters, such as RM"),
        province_seat=table.text("province_seat", personal=True),
        town=table.text("town", personal=True),
        street=table.text("street", personal=True),
        house_number=table.text("house_number", personal=True),
        postcode=table.text("postcode", personal=True),
        email=table.text("email", personal=True),
    )
    table.close()
    return address


def _form(table: Table, rule_set: RuleSet) -> FormChoice:
    form = FormChoice(
        modules=table.numbers_of("modules", sorted(rule_set.form_pages), (1,)),
        copied_by_hand=table.flag("copied_by_hand", False),
        box_22=cast(Any, table.choice("box_22", BOX_22, "")),
        cells=read_cells(table.table("cells")),
    )
    table.close()
    return form


def _count(table: Table) -> CountChoice:
    given = "form_leaves" in table
    leaves = table.integer("form_leaves", 4, low=1, high=MAX_LEAVES)
    extra = table.integer("extra_leaves", 0, low=0, high=MAX_LEAVES)
    printed = table.choice("copies_printed", ("one-sided", "two-sided"), "one-sided")
    count = CountChoice(
        form_leaves=4 if leaves is None else leaves,
        form_leaves_confirmed=given,
        copies_printed=cast(CopiesPrinted, printed),
        index_in_envelope=table.flag("index_in_envelope", False),
        extra_leaves=extra or 0,
    )
    table.close()
    return count


def _order(table: Table, folders: tuple[str, ...]) -> dict[str, tuple[OrderEntry, ...]]:
    order: dict[str, tuple[OrderEntry, ...]] = {}
    for folder in folders:
        entries = tuple(parse_order_entry(word) for word in table.words(folder))
        if entries:
            order[folder] = entries
    table.close()
    return order


def parse_order_entry(text: str) -> OrderEntry:
    """``file``, ``file#page`` or ``file#page.item``; any other "#" belongs to the file's name."""
    match = _ORDER_TAIL.fullmatch(text)
    if match is None:
        return OrderEntry(file=text)
    item: Any = match["item"]
    return OrderEntry(file=match["file"], page=int(match["page"]), item=int(item) if item else None)
