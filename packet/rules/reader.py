"""Rule sets: what one kind of application asks for, read from TOML and checked.

A rule set of the package is named by its file's stem; a user's own is a path ending in
``.toml``. Both are read by the same code, with every fault of the file reported at once.
"""

from __future__ import annotations

from datetime import date
from functools import cache
from pathlib import Path
from typing import cast

from packet.errors import PacketFileError
from packet.model import DocumentSpec, Kind, Need, RuleSet
from packet.rules.data import FOLDER
from packet.rules.fields import Table, fold, folder_fault, listed, perhaps, read_toml

FORM_FOLDER = "form"
MAX_PRINTED_PAGES = 50  # of one module of the form; a typing mistake lies above


@cache
def rule_set_names() -> tuple[str, ...]:
    """Names of the rule sets that come with the package, sorted."""
    return tuple(sorted(path.stem for path in (FOLDER / "sets").glob("*.toml")))


def load_rule_set(name_or_path: str) -> RuleSet:
    """The rule set of that name, or of the file when it ends in ``.toml``.

    PacketFileError names the nearest known set, or every fault of the file.
    """
    if name_or_path.endswith(".toml"):
        path = Path(name_or_path)
        return _read(path, path.name)
    if name_or_path in rule_set_names():
        return _known(name_or_path)
    near = perhaps(name_or_path, rule_set_names())
    hint = f"Perhaps {near}. " if near else ""
    raise PacketFileError(
        name_or_path,
        [
            f"is not a rule set. {hint}Known: {', '.join(rule_set_names())}; "
            "your own file must end in .toml."
        ],
    )


@cache
def _known(name: str) -> RuleSet:
    path = FOLDER / "sets" / f"{name}.toml"
    return _read(path, path.name)


def _read(path: Path, shown_as: str) -> RuleSet:
    problems: list[str] = []
    top = Table(read_toml(path, shown_as), problems=problems)
    as_of = top.day("as_of", required=True) or date.min
    form = top.table("form")
    form_spec = _form(form, as_of)
    reason = top.table("reason")
    rule_set = RuleSet(
        name=path.name.removesuffix(".toml"),
        title_it=top.text("title_it", required=True),
        title_en=top.text("title_en", required=True),
        documents=tuple(_document(entry, as_of) for entry in top.tables("document")),
        form=form_spec,
        form_pages=_form_pages(form),
        source=top.text("source", required=True),
        as_of=as_of,
        is_renewal=top.flag("is_renewal", False),
        reason_code=reason.text("code"),
        reason_source=reason.text("source", required="code" in reason),
        fee_bands=top.words("fee_bands"),
    )
    reason.close()
    form.close()
    top.close()
    problems += _clashes(rule_set)
    if problems:
        raise PacketFileError(shown_as, problems)
    return rule_set


def _document(table: Table, as_of: date) -> DocumentSpec:
    folder = table.text("folder", required=True)
    if folder and (fault := folder_fault(folder)):
        table.problem("folder", folder, fault)
    need = table.choice("need", ("required", "if-held"), "required")
    spec = DocumentSpec(
        folder=folder,
        title_it=table.text("title_it", required=True),
        title_en=table.text("title_en", required=True),
        kinds=_kinds(table),
        need=cast(Need, need),
        in_envelope=table.flag("in_envelope", True),
        two_sides=table.flag("two_sides", False),
        identity=table.flag("identity", False),
        scan_note=table.text("scan_note", limit=1000),
        source=table.text("source", required=True),
        as_of=table.day("as_of") or as_of,
        renewable=table.flag("renewable", True),
        renewal_note=table.text("renewal_note", limit=1000),
    )
    table.close()
    return spec


def _kinds(table: Table) -> tuple[Kind, ...]:
    known = [kind.value for kind in Kind if kind is not Kind.FORM_PAGE]
    kinds: list[Kind] = []
    for at, word in enumerate(table.words("kinds")):
        if word in known:
            kinds.append(Kind(word))
        else:
            table.problem(f"kinds[{at}]", word, f"one of {listed(known)}")
    if not kinds:
        table.problem("kinds", [], "at least one kind of item")
    return tuple(kinds)


def _form(table: Table, as_of: date) -> DocumentSpec:
    return DocumentSpec(
        folder=FORM_FOLDER,
        title_it=table.text("title_it", required=True),
        title_en=table.text("title_en", required=True),
        kinds=(Kind.FORM_PAGE,),
        need="required",
        in_envelope=False,  # the original goes in; its copies are for the two copy sets
        scan_note=table.text("scan_note", limit=1000),
        source=table.text("source", required=True),
        as_of=table.day("as_of") or as_of,
        renewable=False,
        renewal_note=table.text("renewal_note", limit=1000),
    )


def _form_pages(form: Table) -> dict[int, int]:
    """Module number -> printed pages, from the table [form.pages]."""
    pages = form.table("pages")
    found: dict[int, int] = {}
    for key in pages.keys():  # noqa: SIM118 - not a mapping
        count = pages.integer(key, None, low=1, high=MAX_PRINTED_PAGES)
        if not (key.isascii() and key.isdigit() and key != "0"):
            pages.problem(key, count or 0, "the number of a module as the key")
        elif count is not None:
            found[int(key)] = count
    if not found:
        form.problem("pages", {}, 'lines such as 1 = 8 ("module 1 has 8 printed pages")')
    return found


def _clashes(rule_set: RuleSet) -> list[str]:
    seen = {fold(FORM_FOLDER)}
    problems = []
    if not rule_set.documents:
        problems.append("document: found nothing, expected at least one [[document]] table.")
    for at, spec in enumerate(rule_set.documents):
        if spec.folder and fold(spec.folder) in seen:
            problems.append(
                f'document[{at}].folder: found "{spec.folder}", '
                "expected a name that no other document and not the form has."
            )
        seen.add(fold(spec.folder))
    return problems
