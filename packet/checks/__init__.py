"""Findings from values alone: no images, no clock."""
