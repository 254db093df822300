"""The limits of the findings, read from ``rules/quality.toml``."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """One limit with its unit and where it comes from."""

    limit: float
    unit: str
    source: str


@cache
def limit_for(code: str) -> Limit:
    """The limit of a finding code; KeyError for a code without one."""
    table = tomllib.loads((files("packet.rules") / "quality.toml").read_text("utf-8"))[code]
    return Limit(limit=float(table["limit"]), unit=table["unit"], source=table["source"])
