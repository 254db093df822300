"""The wording of the drawn papers, read from ``wording.toml``."""

from __future__ import annotations

import tomllib
from pathlib import Path

_READ = tomllib.loads((Path(__file__).parent / "wording.toml").read_text("utf-8"))
TOPICS: dict[str, dict] = _READ["topic"]
GENERAL: list[str] = _READ["general"]
FORM_HEADS: list[str] = _READ["form_heads"]
FORM_LABELS: list[str] = _READ["form_labels"]
