"""What printers do to a page, read from ``printing.toml``."""

from __future__ import annotations

from packet.rules.data import table


def printer_margin_mm() -> float:
    """How far from each edge of the paper a home printer prints nothing."""
    return float(table("printing.toml")["printer"]["margin_mm"])


def printer_margin_source() -> str:
    """Where that width comes from."""
    return str(table("printing.toml")["printer"]["source"])
