"""What printers do to a page, read from ``printing.toml``."""

from __future__ import annotations

import tomllib
from functools import cache
from importlib.resources import files
from typing import Any


@cache
def _printer() -> dict[str, Any]:
    return dict(
        tomllib.loads((files("packet.rules") / "printing.toml").read_text("utf-8"))["printer"]
    )


def printer_margin_mm() -> float:
    """How far from each edge of the paper a home printer prints nothing."""
    return float(_printer()["margin_mm"])


def printer_margin_source() -> str:
    """Where that width comes from."""
    return str(_printer()["source"])
