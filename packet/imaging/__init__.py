"""Scan to items: find, rectify, upright, true scale, tone, quality. Knows no PDF."""
