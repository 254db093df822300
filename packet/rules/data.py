"""Where the rule data lie, and the tables of those that need no reader of their own."""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path
from typing import Any

FOLDER = Path(__file__).resolve().parent  # importlib.resources costs a hundredth of a command


@cache
def table(name: str) -> dict[str, Any]:
    """A TOML file of the rules, read once; not to be changed."""
    return tomllib.loads((FOLDER / name).read_text("utf-8"))
