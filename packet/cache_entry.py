"""What was read from one scan, as bytes that can be kept: a JSON header, then the pictures.

    packet-cache 1 <SHA-256 of the header, hex> <length of the header>\\n
    header: {"pages": …, "blobs": [[length, SHA-256 hex], …]}
    the blobs, one after another

Only the records named here are ever made from an entry, and no code: it is safe to read, and a
damaged one raises ValueError. The name of the scan is not in it, so a renamed scan is found.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Sequence
from dataclasses import fields
from typing import Any, BinaryIO

from packet.model import (
    EncodedImage,
    Finding,
    Item,
    Kind,
    PageResult,
    Severity,
    VectorPage,
)
from packet.readings import CodeRead, MrzLines, Reading, ReadState
from packet.spool import Blob, Kept, bytes_of

_START = b"packet-cache 1 "
_HEAD_BYTES = 128  # of the first line, at most
_HEADER_BYTES = 64 << 20  # at most
_RECORDS: dict[str, Any] = {
    one.__name__: one
    for one in (
        PageResult,
        Item,
        Finding,
        EncodedImage,
        VectorPage,
        Reading,
        MrzLines,
        CodeRead,
    )
}
_WORDS: dict[str, Any] = {one.__name__: one for one in (Kind, Severity, ReadState)}
_SCAN = "\0"  # stands for the scan's name at the start of a text


def pack(pages: Sequence[PageResult], name: str) -> list[Blob]:
    """The entry, in pieces to write one after another; ``name``: the scan's, which is left out.

    Pictures that wait on the disk are read one at a time and stay there.

    TypeError where a page holds what an entry cannot carry, ValueError where the name stands
    inside a sentence.
    """
    blobs: list[Blob] = []
    header = json.dumps(
        {
            "pages": [_plain(page, name, blobs) for page in pages],
            "blobs": [[len(blob), hashlib.sha256(bytes_of(blob)).hexdigest()] for blob in blobs],
        },
        separators=(",", ":"),
    ).encode()
    proof = hashlib.sha256(header).hexdigest().encode()
    return [_START + proof + b" %d\n" % len(header), header, *blobs]


def unpack(
    entry: BinaryIO, name: str, keep: Callable[[bytes], Blob] = bytes
) -> tuple[PageResult, ...]:
    """The pages of an entry, for the scan ``name``; ValueError where a single bit is wrong.

    ``keep``: where each picture goes when it has been read and compared with its digest.
    """
    head = entry.readline(_HEAD_BYTES)
    start, proof, length = head[: len(_START)], *_two(head[len(_START) :].split(b" "))
    header = entry.read(min(int(length), _HEADER_BYTES))
    if start != _START or hashlib.sha256(header).hexdigest().encode() != proof:
        raise ValueError("the header is damaged")
    told = json.loads(header)
    blobs = []
    for size, digest in told["blobs"]:
        blob = entry.read(size)
        if hashlib.sha256(blob).hexdigest() != digest:
            raise ValueError("a picture is damaged")
        blobs.append(keep(blob))
    if entry.read(1):
        raise ValueError("the entry is too long")
    return tuple(_made(page, name, blobs) for page in told["pages"])


def _two(parts: Sequence[bytes]) -> tuple[bytes, bytes]:
    if len(parts) != 2:
        raise ValueError("the header is damaged")
    return parts[0], parts[1]


def _plain(value: Any, name: str, blobs: list[Blob]) -> Any:
    """A value as JSON knows it; each record and word carries its type's name."""
    kind = type(value).__name__
    told: Any = value
    if isinstance(value, Blob):
        blobs.append(value)
        told = {"@": "bytes", "value": len(blobs) - 1}
    elif kind in _WORDS:
        told = {"@": kind, "value": str(value)}
    elif isinstance(value, str):
        told = _nameless(value, name)
    elif isinstance(value, tuple):
        told = [_plain(one, name, blobs) for one in value]
    elif kind in _RECORDS:
        told = {f.name: _plain(getattr(value, f.name), name, blobs) for f in fields(value)}
        told["@"] = kind
    elif not (value is None or isinstance(value, bool | int | float)):
        raise TypeError(f"an entry holds no {kind}")
    return told


def _nameless(text: str, name: str) -> str:
    if text == name or text.startswith(f"{name}#"):
        return _SCAN + text[len(name) :]
    if name in text or text.startswith(_SCAN):
        raise ValueError("a sentence holds the scan's name")
    return text


def _made(value: Any, name: str, blobs: Sequence[Blob]) -> Any:
    """A value again; only the types of ``_WORDS`` and ``_RECORDS`` are ever made."""
    if isinstance(value, str):
        return name + value[1:] if value.startswith(_SCAN) else value
    if isinstance(value, list):
        return tuple(_made(one, name, blobs) for one in value)
    if not isinstance(value, dict):
        return value
    kind = value.pop("@")
    if kind == "bytes":
        return blobs[value["value"]]
    if kind in _WORDS:
        return _WORDS[kind](value["value"])
    made = {key: _made(one, name, blobs) for key, one in value.items()}
    if isinstance(ink := made.get("fingerprint"), Kept):  # it is compared, not handed on
        made["fingerprint"] = ink.read()
    return _RECORDS[kind](**made)
