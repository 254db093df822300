"""Is the text reader's extra whole? Its packages are there and its models are undamaged.

Nothing is imported and nothing is fetched to find out. The extra is three packages: one carries
the trained models, one runs them, one reads bar codes.
"""

from __future__ import annotations

import hashlib
import tomllib
from dataclasses import dataclass
from functools import cache
from importlib import resources
from importlib.util import find_spec
from pathlib import Path

PACKAGES = {"rapidocr": "rapidocr", "onnxruntime": "onnxruntime", "zxingcpp": "zxing-cpp"}
"""Import name -> name of the distribution."""
INSTALL = "pip install '.[read]' in the folder that packet came in"
"""From the checkout: by its bare name a registry might give a stranger's package."""
ADDS = (
    "it turns every page upright by its text, tells the documents apart, and compares what the "
    "passport, visa and cards say with packet.toml"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class ModelFile:
    """One trained model: where it lies, and the SHA-256 (hex) of its bytes."""

    path: Path
    sha256: str

    def read(self) -> bytes | None:
        """Its bytes; None where the file is missing, unreadable or not the one that is meant."""
        try:
            data = self.path.read_bytes()
        except OSError:
            return None
        return data if hashlib.sha256(data).hexdigest() == self.sha256 else None


def missing_packages() -> tuple[str, ...]:
    """Names of the distributions of the extra that are not installed."""
    return tuple(
        name for module, name in PACKAGES.items() if find_spec(module) is None
    )  # finds a top-level package without running it


def model_files() -> dict[str, ModelFile]:
    """The models by their task: ``find``, ``sign``, ``turn``; empty without their package."""
    listed = tomllib.loads((resources.files(__package__) / "models.toml").read_text("utf-8"))
    spec = find_spec(listed["package"])
    if spec is None or not spec.submodule_search_locations:
        return {}
    folder = Path(next(iter(spec.submodule_search_locations))) / listed["folder"]
    return {
        task: ModelFile(path=folder / entry["file"], sha256=entry["sha256"])
        for task, entry in listed.items()
        if isinstance(entry, dict)
    }


@cache
def why_not() -> str | None:
    """One sentence that says why texts cannot be read; None when they can.

    Looks at every byte of the models (31 MB, some 0.03 s), once in a process.
    """
    missing = missing_packages()
    if len(missing) == len(PACKAGES):
        return f"The text reader is not installed; with it ({INSTALL}) {ADDS}."
    if missing:
        return (
            f"The text reader is only half installed: {' and '.join(missing)} missing, so no text "
            f"is read; {INSTALL} completes it."
        )
    for model in model_files().values():
        if model.read() is None:
            return (
                f"A model of the text reader is missing or damaged ({model.path.name}), so no "
                "text is read; install the package rapidocr again, in a version from 3.10 to "
                "below 4."
            )
    return None
