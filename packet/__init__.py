"""Scans in; checked, straightened, ordered, counted copies for a postal-kit application out."""

__version__ = "0.1.0"
