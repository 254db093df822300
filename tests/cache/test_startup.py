"""What a command imports, seen in a fresh interpreter: no heavy library without need."""

from __future__ import annotations

import subprocess
import sys

import small_packet

from packet import pipeline
from packet.typeface import KNOWN, _characters

HEAVY = {"cv2", "img2pdf", "numpy", "PIL", "pypdf", "pypdfium2", "reportlab"}
CODE = """
import sys
from packet.cli import main
try:
    main(sys.argv[1:])
except SystemExit as end:
    print(end.code)
print(sorted({heavy} & set(sys.modules)))
"""


def imported_by(*words):
    code = CODE.format(heavy=HEAVY)
    done = subprocess.run(
        [sys.executable, "-c", code, *words], capture_output=True, text=True, check=True
    )
    return done.stdout.strip().splitlines()[-1]


def test_current_packet_is_counted_without_heavy_libraries(tmp_path):
    root = small_packet.make(tmp_path / "p", openings=1, papers=1)
    pipeline.build(root, jobs=1)
    assert imported_by("count", str(root)) == "[]"
    assert imported_by("build", str(root)) == "[]"
    assert imported_by("status", str(root)) == "[]"
    assert imported_by("batch", str(tmp_path)) == "[]"
    (root / "packet.toml").write_text((root / "packet.toml").read_text("utf-8") + "\n# Ж\n")
    assert imported_by("count", str(root)) == "[]"


def test_help_and_cache_import_no_heavy_library():
    assert imported_by("--help") == "[]"
    assert imported_by("build", "--help") == "[]"
    assert imported_by("cache") == "[]"


def test_typeface_has_every_character_of_the_known_blocks():
    """Against the font's own character table."""
    for low, high in KNOWN:
        assert set(range(low, high + 1)) <= _characters()
