"""The limits of the findings, read from ``rules/quality.toml``."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from packet.rules.data import table


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """One limit with its unit and where it comes from."""

    limit: float
    unit: str
    source: str


@cache
def limit_for(code: str) -> Limit:
    """The limit of a finding code; KeyError for a code without one."""
    entry = table("quality.toml")[code]
    return Limit(limit=float(entry["limit"]), unit=entry["unit"], source=entry["source"])
