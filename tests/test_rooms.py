"""The import rule of the house: a room imports only from rooms above it."""

from __future__ import annotations

import ast
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

import packet

PACKAGE = Path(packet.__file__).parent
GROUND = [
    "model",
    "readings",
    "units",
    "errors",
    "ending",
    "files",
    "typeface",
    "confine",
    "allowance",
    "lock",
    "spool",
    "spawn",
    "versions",
]
ROOMS = [
    *GROUND,
    "workers",
    "rules",
    "intake",
    "imaging",
    "recognition",
    "checks",
    "sheets",
    "guides",
    "report",
    "cache_entry",
    "cache",
    "reading",
    "sorting",
    "pipeline",
    "standing",
    "guidance",
    "inspection",
    "identity",
    "archive",
    "forget",
    "batch",
    "batch_out",
    "cli",
]
WHERE = {
    "click": {"cli"},
    "cv2": {"imaging", "intake/plain", "recognition"},
    "rapidocr": {"recognition"},
    "onnxruntime": {"recognition"},
    "zxingcpp": {"recognition"},
    "reportlab": {"sheets", "guides", "typeface"},
    "img2pdf": {"sheets"},
    "pypdf": {"intake", "sheets"},
    "pypdfium2": {"intake", "sheets/second_reader"},
    "holidays": {"checks"},
    "stdnum": {"checks", "recognition"},
    "icalendar": {"guides"},
}
RECOUNT_MAY_IMPORT = {
    "sheets.second_reader",
    "model",
    "units",
    "errors",
    "files",
    "workers",
    "intake.packet_file",
    "rules",
}
MODULES = sorted(PACKAGE.rglob("*.py"))


def room_of(path: Path) -> str:
    part = path.relative_to(PACKAGE).parts[0]
    return part.removesuffix(".py")


def imports_of(path: Path) -> list[str]:
    names: list[str] = []
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            names += [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative import"
            names.append(node.module or "")
            names += [f"{node.module}.{alias.name}" for alias in node.names]
    return names


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_room_imports_only_from_above(path):
    room = room_of(path)
    if room in {"__init__", "__main__"}:
        return
    allowed = ROOMS[: ROOMS.index(room)] + ([room] if room not in GROUND else [])
    for name in imports_of(path):
        if name.startswith("packet.") and name.split(".")[1] != "__version__":
            assert name.split(".")[1] in {*allowed, *GROUND}, f"{path.name} imports {name}"


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_library_only_in_its_room(path):
    place = str(path.relative_to(PACKAGE).with_suffix("")).replace("\\", "/")
    for name in imports_of(path):
        rooms = WHERE.get(name.split(".")[0])
        if rooms is not None:
            assert any(place == room or place.startswith(f"{room}/") for room in rooms), (
                f"{place} imports {name}"
            )


@pytest.mark.parametrize("module", ["recount.py", "second_reader.py"])
def test_recount_shares_nothing_with_what_it_checks(module):
    path = PACKAGE / "sheets" / module
    for name in imports_of(path):
        if name.startswith("packet."):
            rest = name.removeprefix("packet.")
            assert any(rest == ok or rest.startswith(f"{ok}.") for ok in RECOUNT_MAY_IMPORT), name


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_module_fits_in_the_head(path):
    limit = 560 if path.name == "model.py" else 420  # model is a list of plain records
    assert len(path.read_text("utf-8").splitlines()) <= limit


def test_every_package_is_in_the_wheel():
    listed = tomllib.loads((PACKAGE.parent / "pyproject.toml").read_text("utf-8"))
    packages = set(listed["tool"]["setuptools"]["packages"]) - {"packet.fonts"}

    assert packages == {
        ".".join(path.parent.relative_to(PACKAGE.parent).parts)
        for path in PACKAGE.rglob("__init__.py")
    }


def test_help_imports_no_heavy_library():
    """`packet --help` pays for click alone (design, section 3)."""
    code = (
        "import sys\n"
        "from click.testing import CliRunner\n"
        "from packet.cli import command\n"
        "assert CliRunner().invoke(command, ['--help']).exit_code == 0\n"
        "heavy = {'numpy', 'cv2', 'PIL', 'pypdf', 'img2pdf', 'reportlab', 'pypdfium2',\n"
        "         'holidays', 'icalendar', 'stdnum', 'onnxruntime', 'rapidocr',\n"
        "         'zxingcpp'}\n"
        "print(sorted(heavy & set(sys.modules)))\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
