"""Findings that say the same about several things, brought together for a reader."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from packet.checks.severity import worst_first
from packet.model import Finding, Severity


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Findings with one code, severity, remedy and source, in the order they were found.

    ``message``: what all of them say, "" when each says it in words of its own.
    """

    findings: tuple[Finding, ...]
    message: str

    @property
    def first(self) -> Finding:
        """The finding that stands for what all of them share."""
        return self.findings[0]


def group_findings(findings: Iterable[Finding]) -> tuple[Group, ...]:
    """Groups worst first; every finding is in exactly one of them."""
    together: dict[tuple[str, Severity, bool, str, str], list[Finding]] = {}
    for finding in worst_first(findings):
        key = (
            finding.code,
            finding.severity,
            finding.accepted,
            finding.remedy,
            finding.source,
        )
        together.setdefault(key, []).append(finding)
    return tuple(_group(tuple(group)) for group in together.values())


def _group(findings: tuple[Finding, ...]) -> Group:
    messages = {said(finding) for finding in findings}
    return Group(findings=findings, message=messages.pop() if len(messages) == 1 else "")


def said(finding: Finding) -> str:
    """The message without the subject it may begin with: the subject stands beside it."""
    text = finding.message
    if finding.subject and text.startswith(f"{finding.subject} "):
        text = text[len(finding.subject) + 1 :]
        text = text[:1].upper() + text[1:]
    return text
