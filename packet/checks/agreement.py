"""Do the scans of a packet speak of one person, and of the person of packet.toml?

The passport wins: everything is compared with it, or with the surest other paper where no passport
was read. A contradiction in number, date of birth, nationality or person is an error, all else a
doubt; so is everything that was not read without a doubt. What was not read contradicts nothing.
Only documents that are one person's own are compared (``places.is_personal``): a landlord's card
may lie among the papers of a home. No message holds a value.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date

from packet.checks.code_agreement import code_findings, holder_of, typed_code
from packet.checks.papers import (
    Paper,
    codes_of,
    papers_of,
    reference_of,
    severity_of,
)
from packet.checks.places import is_personal
from packet.checks.read_dates import read_date_findings
from packet.checks.same_name import Likeness, both_forms_of, likeness
from packet.intake.names import shown
from packet.model import Applicant, Finding, Item, Packet, Severity, Visa
from packet.rules.codes import same_state

SOURCE = "ICAO Doc 9303"
Items = Mapping[str, Sequence[Item]]
_TYPING_SLIP = 2  # signs: a number that differs in no more was meant to be the same
_LOOK = (
    "Look at both scans. If one belongs to another person, take it out; if a sign was misread, "
    'list "{code}" under accept for this item.'
)
_CORRECT = (
    "Compare both with the paper. The passport's data go on the form: correct packet.toml; if the "
    'scan was misread, list "{code}" under accept for this item.'
)


def check_scans(packet: Packet, items: Items) -> tuple[Finding, ...]:
    """What the scans say against each other, and against the names of packet.toml.

    ``items``: folder -> items that are printed. Codes: ``other-person``, ``papers-disagree``,
    ``read-disagrees``, ``tax-code-disagrees``. Of packet.toml only the names are compared: the
    index prints them.
    """
    kept = _personal(packet, items)
    papers = papers_of(kept)
    codes = codes_of(kept)
    reference = reference_of(papers)
    findings: list[Finding] = []
    if reference is not None:
        findings += _typed_names(packet.applicant, reference)
        for paper in papers:
            if paper is not reference:
                findings += _against(packet.applicant, reference, paper)
    findings += code_findings(holder_of(packet.applicant, reference), codes)
    return tuple(dict.fromkeys(findings))


def check_read_values(packet: Packet, items: Items, today: date) -> tuple[Finding, ...]:
    """What the scans say against the other values of packet.toml: numbers, dates, codes.

    Codes: ``read-disagrees``, ``date-order``, ``date-doubt``.
    """
    kept = _personal(packet, items)
    papers = papers_of(kept)
    reference = reference_of(papers)
    findings: list[Finding] = []
    if reference is not None and not _stranger(packet.applicant, reference):
        findings += _typed_values(packet, reference)
        findings += _typed_visa(packet, papers)
        findings += read_date_findings(packet, reference, visa_of(packet.visa, papers), today)
    findings += typed_code(packet.applicant, codes_of(kept), alone=reference is None)
    return tuple(dict.fromkeys(findings))


def _personal(packet: Packet, items: Items) -> list[Item]:
    """Items of the documents that are one person's own."""
    return [
        item
        for spec in packet.documents
        if is_personal(spec)
        for item in items.get(spec.folder, ())
    ]


# --- scans among themselves ---------------------------------------------------------------------


def _against(person: Applicant, reference: Paper, paper: Paper) -> Iterator[Finding]:
    """What a paper says otherwise than the reference; one finding where it is another person's."""
    sure = reference.sure and paper.sure
    names = {
        field: _names(getattr(person, field), reference, paper, field)
        for field in ("surname", "given_names")
    }
    born = _differ(reference, paper, "birth")
    if is_other_person([*names.values()], born, _both(reference, paper, "birth")):
        yield other_person(paper.subject, paper.what, reference.subject, sure=sure)
        return
    if born:
        yield _papers(paper, reference, "the date of birth", severity_of(sure))
    if paper.what == reference.what == "passport" and _differ(reference, paper, "number"):
        yield _papers(paper, reference, "the passport number", severity_of(sure))
    if not same_state(reference.says("nationality"), paper.says("nationality")):
        worst = Severity.WARNING if paper.what == "card" else Severity.ERROR  # two nationalities
        yield _papers(paper, reference, "the nationality", severity_of(sure, worst=worst))
    if _differ(reference, paper, "sex"):
        yield _papers(paper, reference, "the sex", Severity.WARNING)
    for field, like in names.items():
        if like is not Likeness.SAME:
            yield _papers(paper, reference, f"the {_spoken(field)}", Severity.WARNING)


def _names(typed: str, one: Paper, other: Paper, field: str) -> Likeness:
    """Two written names: the same as well where both are allowed forms of the typed one."""
    first, second = one.says(field), other.says(field)
    if first and second and typed and both_forms_of(typed, first, second):
        return Likeness.SAME
    here = likeness(first, second, cut=other.mrz.names_full)
    there = likeness(second, first, cut=one.mrz.names_full)
    return there if there is Likeness.SAME else here


def _both(one: Paper, other: Paper, field: str) -> bool:
    return bool(one.says(field) and other.says(field))


def _differ(one: Paper, other: Paper, field: str) -> bool:
    return _both(one, other, field) and one.says(field) != other.says(field)


def is_other_person(names: Sequence[Likeness], born: bool, birth_known: bool) -> bool:
    """Another date of birth and another name; or, without dates, no name in common.

    ``born``: the dates of birth differ; ``birth_known``: there are two to compare. The same day
    with two other names may be another way of writing them (another script): a doubt, no more.
    """
    if birth_known:
        return born and Likeness.OTHER in names
    return bool(names) and all(like is Likeness.OTHER for like in names)


def other_person(subject: str, what: str, than: str, *, sure: bool) -> Finding:
    """``subject`` belongs to somebody else than ``than`` (a scan or packet.toml)."""
    return Finding(
        code="other-person",
        severity=severity_of(sure),
        subject=subject,
        message=f"This {what} belongs to another person than "
        + ("the one beside it." if than == subject else f"{shown(than)}."),
        remedy="Look whose paper it is, and take it out of this packet. If it is the right one "
        'and was misread, list "other-person" under accept for this item.',
        source=SOURCE,
    )


def _papers(paper: Paper, reference: Paper, what: str, severity: Severity) -> Finding:
    return Finding(
        code="papers-disagree",
        severity=severity,
        subject=paper.subject,
        message=f"This {paper.what} and the {reference.what} on "
        f"{shown(reference.subject)} disagree about {what}{_doubt(paper, reference)}.",
        remedy=_LOOK.format(code="papers-disagree"),
        source=SOURCE,
    )


def _spoken(field: str) -> str:
    return field.replace("_", " ")


def _doubt(*papers: Paper) -> str:
    return "" if all(one.sure for one in papers) else " (one of them was hard to read)"


# --- scans against packet.toml ------------------------------------------------------------------


def _typed_names(person: Applicant, paper: Paper) -> Iterator[Finding]:
    if _stranger(person, paper):
        yield other_person(
            paper.subject, paper.what, "the applicant in packet.toml", sure=paper.sure
        )
        return
    for field, like in _typed_likeness(person, paper).items():
        if like is not Likeness.SAME:
            yield _typed(paper, f"applicant.{field}", Severity.WARNING)


def _typed_likeness(person: Applicant, paper: Paper) -> dict[str, Likeness]:
    return {
        field: likeness(getattr(person, field), paper.says(field), cut=paper.mrz.names_full)
        for field in ("surname", "given_names")
    }


def _stranger(person: Applicant, paper: Paper) -> bool:
    """No name of packet.toml is on the paper (both are given, and both are read)."""
    if not (paper.says("surname") and paper.says("given_names")):
        return False
    return is_other_person([*_typed_likeness(person, paper).values()], False, False)


def _typed_values(packet: Packet, paper: Paper) -> Iterator[Finding]:
    """Birth, sex and nationality; of a passport its number and last day too."""
    person, passport = packet.applicant, packet.passport
    worst = Severity.ERROR if paper.what == "passport" else Severity.WARNING
    if _other_day(person.date_of_birth, paper.says("birth")):
        yield _typed(paper, "applicant.date_of_birth", severity_of(paper.sure))
    if not same_state(person.citizenship, paper.says("nationality")):
        yield _typed(paper, "applicant.citizenship", severity_of(paper.sure, worst=worst))
    if person.sex and paper.says("sex") in {"F", "M"} - {person.sex}:
        yield _typed(paper, "applicant.sex", severity_of(paper.sure, worst=worst))
    if paper.what != "passport":
        return
    if passport.number and paper.says("number") not in ("", compact(passport.number)):
        yield _typed(paper, "passport.number", severity_of(paper.sure))
    if _other_day(passport.expires, paper.says("expires")):
        yield _typed(paper, "passport.expires", severity_of(paper.sure))


def _typed_visa(packet: Packet, papers: Iterable[Paper]) -> Iterator[Finding]:
    """A state may write the number of the visa or that of the passport (Doc 9303 part 7): one that
    differs in a sign or two was mistyped; quite another one is only a doubt.
    """
    paper = visa_of(packet.visa, papers)
    if paper is None:
        return
    typed, number = compact(packet.visa.number), paper.says("number")
    if _other_day(packet.visa.valid_to, paper.says("expires")):
        yield _typed(paper, "visa.valid_to", severity_of(paper.sure))
    if typed and number and number not in (typed, compact(packet.passport.number)):
        worst = Severity.ERROR if _slip(typed, number) else Severity.WARNING
        yield _typed(paper, "visa.number", severity_of(paper.sure, worst=worst))


def visa_of(visa: Visa, papers: Iterable[Paper]) -> Paper | None:
    """The visa that packet.toml speaks of, by its number, else the Italian one.

    None where that is not clear: old visas of other states stay in the book.
    """
    visas = [paper for paper in papers if paper.what == "visa"]
    typed = compact(visa.number)
    for fits in (str.__eq__, _slip):
        for paper in visas:
            if typed and fits(typed, paper.says("number")):
                return paper
    italian = [paper for paper in visas if paper.mrz.state == "ITA"]
    return italian[0] if len({paper.says("number") for paper in italian}) == 1 else None


def compact(number: str) -> str:
    """A number as machine-readable lines write it: capitals and digits alone."""
    return "".join(sign for sign in number.upper() if sign.isascii() and sign.isalnum())


def _slip(one: str, other: str) -> bool:
    """Of one length, and so alike that the same number was meant."""
    if len(one) != len(other):
        return False
    return sum(a != b for a, b in zip(one, other, strict=True)) <= _TYPING_SLIP


def _other_day(day: date | None, digits: str) -> bool:
    """Two-digit years are compared as such."""
    return day is not None and bool(digits) and f"{day:%y%m%d}" != digits


def _typed(paper: Paper, key: str, severity: Severity) -> Finding:
    return Finding(
        code="read-disagrees",
        severity=severity,
        subject=paper.subject,
        message=f"{key} in packet.toml is not what this {paper.what} says{_doubt(paper)}.",
        remedy=_CORRECT.format(code="read-disagrees"),
        source=SOURCE,
    )
