"""What shapes the outputs besides scans and packet.toml: packet's own code and its libraries."""

from __future__ import annotations

import contextlib
import hashlib
import os
import platform
import re
import sys
from functools import cache

SHAPING_LIBRARIES = (
    "img2pdf",
    "numpy",
    "onnxruntime",
    "opencv-python-headless",
    "pillow",
    "pillow-heif",
    "pypdf",
    "pypdfium2",
    "rapidocr",
    "reportlab",
    "zxing-cpp",
)
READING_ROOMS = (
    "intake",
    "imaging",
    "recognition",
    "rules",
    "model.py",
    "readings.py",
    "units.py",
    "errors.py",
)
_SOURCES = (".py", ".toml")


@cache
def library_versions() -> dict[str, str]:
    """Versions of the installed libraries that shape the bytes of the outputs."""
    installed = _installed()
    return {name: installed[name] for name in SHAPING_LIBRARIES if name in installed}


def _installed() -> dict[str, str]:
    """Name -> version by the names of the folders that installers leave beside the libraries.

    "Recording installed projects", PyPA specifications: NAME-VERSION.dist-info, the name without
    "-"; the first on ``sys.path`` counts. importlib.metadata says the same of them, and costs a
    fifth of a build with nothing to do; it is asked where a library lies in an archive.
    """
    found: dict[str, str] = {}
    for place in sys.path:
        if os.path.isfile(place):
            return _asked()
        try:
            names = sorted(os.listdir(place or "."))
        except OSError:
            continue
        for name in names:
            stem, _, kind = name.rpartition(".")
            if kind not in ("dist-info", "egg-info"):
                continue
            project, _, version = stem.partition("-")
            project = re.sub(r"[-_.]+", "-", project).lower()
            if kind == "egg-info" and project in SHAPING_LIBRARIES:  # of an older installer
                return _asked()
            found.setdefault(project, version)
    return found


def _asked() -> dict[str, str]:
    from importlib.metadata import PackageNotFoundError, version

    versions = {}
    for name in SHAPING_LIBRARIES:
        with contextlib.suppress(PackageNotFoundError):
            versions[name] = version(name)
    return versions


@cache
def code_digest(rooms: tuple[str, ...] = ()) -> str:
    """SHA-256 (hex) of the sources and rule data of the named rooms, of all when none is named.

    Sources stand for behaviour: a changed comment too gives another digest, which costs one
    rebuild and never a wrong answer.
    """
    total = hashlib.sha256()
    for name, digest in _digests():
        if not rooms or name in rooms or name.split("/", 1)[0] in rooms:
            total.update(name.encode() + b"\0" + digest)
    return total.hexdigest()


@cache
def _digests() -> tuple[tuple[str, bytes], ...]:
    """(path below this package, with "/"; SHA-256) of each source, rule data among them."""
    here = os.path.dirname(os.path.abspath(__file__))
    found = []
    for folder, _, names in os.walk(here):
        for name in names:
            if name.endswith(_SOURCES):
                path = os.path.join(folder, name)
                with open(path, "rb") as file:
                    digest = hashlib.sha256(file.read()).digest()
                found.append((os.path.relpath(path, here).replace(os.sep, "/"), digest))
    return tuple(sorted(found))


@cache
def reading_versions() -> str:
    """All that the result of reading one scan depends on besides the scan and its options."""
    libraries = sorted(library_versions().items())
    python = sys.version_info[:3]
    return f"{code_digest(READING_ROOMS)} {libraries} {python} {platform.machine()}"
