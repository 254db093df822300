"""Order of findings, and what they mean for the packet as a whole."""

from __future__ import annotations

from collections.abc import Iterable

from packet.model import Finding, Severity

_RANK = {Severity.ERROR: 0, Severity.WARNING: 1, Severity.NOTE: 2}
_RANK_ACCEPTED = 3


def _rank(finding: Finding) -> int:
    return _RANK_ACCEPTED if finding.accepted else _RANK[finding.severity]


def worst_first(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Errors, warnings, notes, then what the user has accepted; else in the order given.

    A finding that is there twice, equal in every field, is kept once.
    """
    return tuple(sorted(dict.fromkeys(findings), key=_rank))


def ready(findings: Iterable[Finding], *, form_folder: str = "form") -> bool:
    """True when no unaccepted error stands, those about the form's own scans set aside.

    The form is scanned last, after the number is written on it: its scans never make the rest
    of the packet unready.
    """
    return not any(
        finding.severity is Severity.ERROR
        and not finding.accepted
        and not finding.subject.startswith(f"{form_folder}/")
        for finding in findings
    )


def needs_user(findings: Iterable[Finding]) -> bool:
    """True when an error or warning stands that the user has not accepted."""
    return any(finding.needs_user for finding in findings)
