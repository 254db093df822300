"""Findings that say the same about several things, brought together for a reader."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from packet.checks.severity import worst_first
from packet.model import Finding, Severity

_NUMBER = re.compile(r"(\d+(?:\.\d+)?)")


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Findings with one code, severity, remedy and source, in the order they were found.

    ``message``: what all of them say, the measured number left open ("…") where it differs;
    "" when each says it in words of its own.
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
    messages = tuple(dict.fromkeys(said(finding) for finding in findings))
    if len(messages) > 1 and all(finding.measured is not None for finding in findings):
        return Group(findings=findings, message=_template(messages))
    return Group(findings=findings, message=messages[0] if len(messages) == 1 else "")


def _template(messages: tuple[str, ...]) -> str:
    """What messages share that differ in one number only; "" when they differ in more."""
    parts = [_NUMBER.split(message) for message in messages]
    if len({len(part) for part in parts}) > 1:
        return ""
    columns = [tuple(dict.fromkeys(column)) for column in zip(*parts, strict=True)]
    open_ = [place for place, column in enumerate(columns) if len(column) > 1]
    if len(open_) != 1 or open_[0] % 2 == 0:  # even places hold the words between numbers
        return ""
    return "".join(column[0] if len(column) == 1 else "…" for column in columns)


def said(finding: Finding) -> str:
    """The message without the subject it may begin with: the subject stands beside it."""
    text = finding.message
    if finding.subject and text.startswith(f"{finding.subject} "):
        text = text[len(finding.subject) + 1 :]
        text = text[:1].upper() + text[1:]
    return text
