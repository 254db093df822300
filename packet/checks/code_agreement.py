"""Tax codes read from the scans, against the passport, each other and packet.toml.

The passport wins. A code that does not follow from the names is a doubt only; another date of
birth is an error, and with other names too it is another person's card.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from packet.checks.name_forms import follows, other_given, other_surname
from packet.checks.papers import CardCode, Paper, severity_of
from packet.checks.tax_code import (
    SOURCE,
    CodeParts,
    birth_place_differs,
    compact,
    given_letters,
    name_doubt,
    parts_of,
    surname_letters,
    without_clash,
)
from packet.intake.names import shown
from packet.model import Applicant, Finding, Severity

_LOOK = (
    "Look at both. The passport's data go on the form; if the card is wrong, ask the revenue "
    'agency (Agenzia delle Entrate); if all is right so, list "{code}" under accept for this item.'
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Holder:
    """Whom a code is compared with. ``names``: (surname, given names) in every form known, the
    passport's first; ``birth``: YYMMDD or ""; ``cut``: the given names may lack their end.
    """

    where: str
    sure: bool = True
    names: tuple[tuple[str, str], ...] = field(repr=False)
    birth: str = field(default="", repr=False)
    sex: str = field(default="", repr=False)
    cut: bool = False


def holder_of(typed: Applicant, reference: Paper | None) -> Holder:
    """The reference's person; without one the names of packet.toml."""
    names = (typed.surname, typed.given_names)
    if reference is None:
        return Holder(where="packet.toml", names=(names,))
    read = (reference.says("surname"), reference.says("given_names"))
    return Holder(
        where=shown(reference.subject),
        sure=reference.sure,
        names=(read, names) if any(read) else (names,),
        birth=reference.says("birth"),
        sex=reference.says("sex"),
        cut=reference.mrz.names_full,
    )


def code_findings(holder: Holder, codes: Sequence[CardCode]) -> Iterator[Finding]:
    """``other-person``, ``papers-disagree`` and ``tax-code-disagrees``."""
    strangers = set()
    for code in _distinct(codes):
        parts = parts_of(code.value)
        if parts is None:
            continue
        for finding in _against(holder, code, parts):
            if finding.code == "other-person":
                strangers.add(finding.subject)
            yield finding
    yield from _among_themselves([one for one in codes if one.subject not in strangers])


def typed_code(typed: Applicant, codes: Sequence[CardCode], *, alone: bool) -> Iterator[Finding]:
    """``read-disagrees``: another code, date, sex or place in packet.toml than on a card.

    ``alone``: no passport was read, so that date and sex of packet.toml are all there is.
    """
    for code in _distinct(codes):
        parts = parts_of(code.value)
        if typed.tax_code and compact(typed.tax_code) != code.value:
            yield _typed(code, "applicant.tax_code", Severity.ERROR)
        if parts is None:
            continue
        if alone and typed.date_of_birth and f"{typed.date_of_birth:%y%m%d}" != _birth(parts):
            yield _typed(code, "applicant.date_of_birth", Severity.ERROR)
        if alone and typed.sex and typed.sex != parts.sex:
            yield _typed(code, "applicant.sex", Severity.WARNING)
        if birth_place_differs(typed.country_of_birth, parts):
            yield _typed(code, "applicant.country_of_birth", Severity.WARNING)


def _typed(code: CardCode, key: str, worst: Severity) -> Finding:
    what = "is not the tax code" if key.endswith("tax_code") else "is not what the tax code says"
    on = "on" if key.endswith("tax_code") else "that stands on"
    return Finding(
        code="read-disagrees",
        severity=severity_of(code.sure, worst=worst),
        subject=code.subject,
        message=f"{key} in packet.toml {what} {on} this scan.",
        remedy="Compare both with the paper and correct packet.toml; if the scan was misread or "
        'the card itself is wrong, list "read-disagrees" under accept for this item.',
        source=SOURCE,
    )


def _distinct(codes: Sequence[CardCode]) -> list[CardCode]:
    """Each code of an item once, the surest reading of it."""
    best: dict[tuple[str, str], CardCode] = {}
    for code in sorted(codes, key=lambda one: not one.sure):
        best.setdefault((code.subject, code.value), code)
    return list(best.values())


# --- one code against the person ----------------------------------------------------------------


def _against(holder: Holder, code: CardCode, parts: CodeParts) -> Iterator[Finding]:
    doubts = _name_doubts(holder, parts)
    born = bool(holder.birth) and holder.birth != _birth(parts)
    strange = [key for key, form in doubts if not form]
    if strange and (born if holder.birth else len(strange) == 2):
        yield Finding(
            code="other-person",
            severity=severity_of(code.sure, holder.sure),
            subject=code.subject,
            message=f"This tax code belongs to another person than {holder.where}.",
            remedy="Look whose card it is, and take it out of this packet. If it is the right one "
            'and was misread, list "other-person" under accept for this item.',
            source=SOURCE,
        )
        return
    if born:
        yield _disagree(holder, code, "the date of birth", Severity.ERROR)
    if holder.sex in {"F", "M"} - {parts.sex}:
        yield _disagree(holder, code, "the sex", Severity.WARNING)
    for key, form in doubts:
        yield Finding(
            code="tax-code-disagrees",
            severity=Severity.WARNING,
            subject=code.subject,
            message=f"The tax code on this scan and {holder.where} disagree about "
            f"{name_doubt(key, form)}.",
            remedy=_LOOK.format(code="tax-code-disagrees"),
            source=SOURCE,
        )


def _name_doubts(holder: Holder, parts: CodeParts) -> list[tuple[str, str]]:
    """(surname or given_names, the form that would yield the letters, "" where none does)."""
    surnames = [names[0] for names in holder.names if names[0]]
    given = [names[1] for names in holder.names if names[1]]
    doubts = []
    if surnames and not any(follows(parts.surname, one, surname_letters) for one in surnames):
        forms = (other_surname(parts.surname, *names, surname_letters) for names in holder.names)
        doubts.append(("surname", next(filter(None, forms), "")))
    cut = holder.cut and len(given) < 2
    if (
        given
        and not cut
        and not any(follows(parts.given_names, one, given_letters) for one in given)
    ):
        forms = (
            other_given(parts.given_names, names[1], names[0], given_letters)
            for names in holder.names
        )
        doubts.append(("given_names", next(filter(None, forms), "")))
    return doubts


def _birth(parts: CodeParts) -> str:
    return f"{parts.year:02}{parts.month:02}{parts.day:02}"


def _disagree(holder: Holder, code: CardCode, what: str, worst: Severity) -> Finding:
    return Finding(
        code="papers-disagree",
        severity=severity_of(code.sure, holder.sure, worst=worst),
        subject=code.subject,
        message=f"The tax code on this scan and {holder.where} disagree about {what}.",
        remedy=_LOOK.format(code="papers-disagree"),
        source=SOURCE,
    )


# --- codes among themselves ---------------------------------------------------------------------


def _among_themselves(codes: Sequence[CardCode]) -> Iterator[Finding]:
    """One card read twice, two sides of it, or two cards: all must hold one code."""
    if not codes:
        return
    first = min(codes, key=lambda one: not one.sure)
    seen = set()
    for code in codes:
        if code.value == first.value or (code.subject, code.value) in seen:
            continue
        seen.add((code.subject, code.value))
        here = code.subject == first.subject
        clash = without_clash(code.value) == without_clash(first.value)
        than = "Text and bar code of this card" if here else f"This card and {shown(first.subject)}"
        worst = Severity.WARNING if here or clash else Severity.ERROR
        said = "of one person, one of them a clash code" if clash else "of their own"
        yield Finding(
            code="papers-disagree",
            severity=severity_of(code.sure, first.sure, worst=worst),
            subject=code.subject,
            message=f"{than} hold two tax codes {said}.",
            remedy=_LOOK.format(code="papers-disagree"),
            source=SOURCE,
        )
