"""Two packets that hold one person's papers: a mix-up, unless one packet renews the other.

Only what belongs to one person alone is compared: the passport number, and the scans of the
documents that the rule set marks ``identity``. A family may share a lease.
"""

from __future__ import annotations

import posixpath
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from packet.intake.names import shown
from packet.model import Finding, Severity


@dataclass(frozen=True, slots=True, kw_only=True)
class Holder:
    """What is compared of one packet. ``name``: its path below the common folder.

    ``identity_scans``: SHA-256 (hex) -> scan, of the documents of one person alone.
    ``made_from``: as in packet.toml, seen from the folder that holds the packet.
    """

    name: str
    passport_number: str = field(default="", repr=False)
    identity_scans: Mapping[str, str] = field(default_factory=dict, repr=False)
    made_from: str = ""


def mixed_papers(holders: Iterable[Holder]) -> dict[str, tuple[Finding, ...]]:
    """Packet -> an error for each paper that another packet holds too.

    A packet and those that it was made from, directly or through others, may hold the same.
    """
    holders = tuple(holders)
    by_name = {holder.name: holder for holder in holders}
    findings: dict[str, list[Finding]] = defaultdict(list)
    for group in _shared((_number(one.passport_number), one.name) for one in holders):
        for name, others in _strangers(group, by_name):
            findings[name].append(_same_number(others))
    scans = ((digest, one.name) for one in holders for digest in one.identity_scans)
    for digest, group in _keyed(scans).items():
        for name, others in _strangers(group, by_name):
            findings[name].append(_same_scan(by_name[name].identity_scans[digest], others))
    return {name: tuple(found) for name, found in findings.items()}


def _number(text: str) -> str:
    return "".join(sign for sign in text.upper() if sign.isalnum())


def _keyed(pairs: Iterable[tuple[str, str]]) -> dict[str, list[str]]:
    groups: dict[str, list[str]] = defaultdict(list)
    for key, name in pairs:
        if key:
            groups[key].append(name)
    return {key: names for key, names in groups.items() if len(names) > 1}


def _shared(pairs: Iterable[tuple[str, str]]) -> list[list[str]]:
    return list(_keyed(pairs).values())


def _strangers(
    group: Sequence[str], by_name: Mapping[str, Holder]
) -> Iterable[tuple[str, list[str]]]:
    """Each of the group with those of it that are neither its forebears nor its descendants."""
    for name in group:
        others = [
            other
            for other in group
            if other != name
            and other not in _forebears(name, by_name)
            and name not in _forebears(other, by_name)
        ]
        if others:
            yield name, others


def _forebears(name: str, by_name: Mapping[str, Holder]) -> set[str]:
    found: set[str] = set()
    while name in by_name and by_name[name].made_from:
        name = posixpath.normpath(posixpath.join(posixpath.dirname(name), by_name[name].made_from))
        if name in found:
            break
        found.add(name)
    return found


def _named(others: Sequence[str]) -> str:
    return " and ".join(map(shown, others)) + (" hold" if len(others) > 1 else " holds")


def _same_number(others: Sequence[str]) -> Finding:
    return Finding(
        code="same-passport",
        severity=Severity.ERROR,
        subject="passport.number",
        message=f"{_named(others)} the same passport number.",
        remedy="Compare both packet.toml files with the passports. If one packet renews the "
        "other, name the older one in the newer one's packet.toml: made_from.",
    )


def _same_scan(scan: str, others: Sequence[str]) -> Finding:
    return Finding(
        code="same-scan",
        severity=Severity.ERROR,
        subject=shown(scan),
        message=f"{_named(others)} the very same scan of an identity paper.",
        remedy="Look whose paper it is and take it out of the other packet. If one packet renews "
        "the other, name the older one in the newer one's packet.toml: made_from.",
    )
