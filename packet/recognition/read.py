"""One item read: which of the readers apply to it, and what they say together."""

from __future__ import annotations

from packet.readings import Reading, ReadRequest


def read_item(request: ReadRequest) -> Reading:
    """What the text of the item says; an empty reading where nothing could be read."""
    return Reading()
