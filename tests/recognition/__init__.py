"""Tests of the text reader."""
