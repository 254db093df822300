"""Sheets to copy from and to carry: worksheet, counter sheet, calendar."""
