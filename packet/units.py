"""Lengths and their units: millimetres, PDF points, pixels.

Every length in the project carries its unit in its name: ``_mm``, ``_pt``, ``_px``, ``_dpi``.
1 inch = 25.4 mm by definition; 1 PDF user-space unit = 1/72 inch (ISO 32000-1, 8.3.2.3).
"""

from __future__ import annotations

MM_PER_INCH = 25.4
PT_PER_INCH = 72.0


def mm_to_pt(length_mm: float) -> float:
    """Millimetres to PDF points; 210 mm -> 595.2756 pt."""
    return length_mm * PT_PER_INCH / MM_PER_INCH


def pt_to_mm(length_pt: float) -> float:
    """PDF points to millimetres."""
    return length_pt * MM_PER_INCH / PT_PER_INCH


def mm_to_px(length_mm: float, dpi: float) -> float:
    """Millimetres to (fractional) pixels at ``dpi`` pixels per inch; 85.60 mm at 300 -> 1011.0."""
    return length_mm * dpi / MM_PER_INCH


def px_to_mm(length_px: float, dpi: float) -> float:
    """Pixels to millimetres at ``dpi`` pixels per inch."""
    return length_px * MM_PER_INCH / dpi
