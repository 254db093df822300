"""Values read from a passport, written into a new packet.toml as comments for the user to confirm.

Nothing read is used unconfirmed: a comment is no value. A key that has a value already stays.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Any

from packet.intake.packet_text import toml_value

_SECTION = re.compile(r"\[(?P<name>[a-z_]+)\]")
_EMPTY = re.compile(r'(?P<key>[a-z_]+) = ""(?:\s*#.*)?')
_COLUMN = 40
CONFIRM = "read: compare with the passport, then take the first # away"


def with_proposals(text: str, values: Mapping[str, Any]) -> str:
    """packet.toml with the proposals.

    ``values``: key path, such as "passport.number", -> value. The line of a key that is empty
    becomes a comment with the value.
    """
    return "\n".join(_lines(text, values))


def _lines(text: str, values: Mapping[str, Any]) -> Iterator[str]:
    section = ""
    for line in text.split("\n"):
        head = _SECTION.match(line)
        if head is not None:
            section = head["name"]
        empty = _EMPTY.fullmatch(line)
        key = f"{section}.{empty['key']}" if empty is not None else ""
        if empty is None or key not in values:
            yield line
            continue
        given = f"# {empty['key']} = {toml_value(values[key])}"
        yield f"{given.ljust(_COLUMN)} # {CONFIRM}"
