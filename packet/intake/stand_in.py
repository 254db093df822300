"""A rule set in place of one that cannot be read, so that the rest of packet.toml is checked.

What it allows is at least what any rule set allows: a fault that is found with it is one in any.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import date
from typing import Any

from packet.model import DocumentSpec, Kind, RuleSet
from packet.rules.reader import FORM_FOLDER, load_rule_set, rule_set_names

_ANY_MODULE = range(1, 10)


def stand_in(values: Mapping[str, Any], *, own: bool) -> RuleSet:
    """The documents and modules of all known rule sets together.

    ``own``: the rule set is a file of the user's own, which may know any folder: then every
    folder that ``values`` (packet.toml) names is taken as one of its documents.
    """
    known = [load_rule_set(name) for name in rule_set_names()]
    specs: dict[str, DocumentSpec] = {}
    for spec in (spec for one in known for spec in one.documents):
        if spec.folder not in specs or spec.need == "if-held":
            specs[spec.folder] = spec
    if own:
        mine = {table.get("folder") for table in _tables(values.get("document"))}
        specs = {folder: replace(spec, need="if-held") for folder, spec in specs.items()}
        specs |= {folder: _any(folder) for folder in _named(values)}
        specs = {folder: spec for folder, spec in specs.items() if folder not in mine}
    pages = {module: 1 for one in known for module in one.form_pages}
    return RuleSet(
        name="",
        title_it="",
        title_en="",
        documents=tuple(specs.values()),
        form=replace(_any(FORM_FOLDER), kinds=(Kind.FORM_PAGE,)),
        form_pages=dict.fromkeys(_ANY_MODULE, 1) if own else pages,
        source="",
        as_of=date.min,
    )


def _any(folder: str) -> DocumentSpec:
    return DocumentSpec(
        folder=folder, title_it="", title_en="", kinds=(Kind.OTHER,), need="if-held"
    )


def _named(values: Mapping[str, Any]) -> Iterator[str]:
    """Every text that stands where packet.toml names a document's folder; never the form's."""
    names: list[Any] = [*_list(values.get("not_held"))]
    for key in ("order", "valid_until"):
        table = values.get(key)
        names += table if isinstance(table, dict) else ()
    for table in _tables(values.get("item")):
        scan = table.get("scan")
        names += [table.get("document"), scan.partition("/")[0] if isinstance(scan, str) else None]
    for name in names:
        if isinstance(name, str) and name and name != FORM_FOLDER:
            yield name


def _list(value: Any) -> list[Any]:
    return value if isinstance(value, list) else []


def _tables(value: Any) -> Iterator[dict[str, Any]]:
    return (one for one in _list(value) if isinstance(one, dict))
