"""The list of finding codes against the code that makes findings."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import packet
from packet.rules.finding_codes import FINDING_CODES

CODE = re.compile("[a-z0-9]+(-[a-z0-9]+)*")


def written_codes(tree: ast.Module) -> Iterator[str]:
    """``code="…"``, the first word of a call to ``…finding``, the third of a ScanError."""
    for call in (node for node in ast.walk(tree) if isinstance(node, ast.Call)):
        name = getattr(call.func, "id", getattr(call.func, "attr", ""))
        words = [word.value for word in call.keywords if word.arg == "code"]
        words += call.args[:1] if name.endswith("finding") else []
        words += call.args[2:3] if name == "ScanError" else []
        for word in words:
            if isinstance(word, ast.Constant) and CODE.fullmatch(str(word.value)):
                yield word.value


def test_every_code_is_in_the_list():
    files = Path(packet.__file__).parent.rglob("*.py")
    found = {code for file in files for code in written_codes(ast.parse(file.read_text("utf-8")))}

    assert found - FINDING_CODES == set()
    assert FINDING_CODES - found == set()
