"""Entries of the cache: what goes in comes out, and a single wrong bit is seen."""

from __future__ import annotations

import hashlib
import io
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from packet import cache_entry
from packet.cache_entry import pack
from packet.model import EncodedImage, Finding, Item, Kind, PageResult, Severity, VectorPage


def unpack(entry: bytes, name: str):
    return cache_entry.unpack(io.BytesIO(entry), name)


NAME = "means/p1.png"
numbers = st.floats(allow_nan=False, width=64)
points = st.tuples(numbers, numbers)
pictures = st.builds(
    lambda data: EncodedImage(
        data=data, format="jpeg", width_px=3, height_px=4, digest=hashlib.sha256(data).hexdigest()
    ),
    st.binary(max_size=50),
) | st.builds(
    lambda data, size: VectorPage(
        pdf_bytes=data, size_mm=size, digest=hashlib.sha256(data).hexdigest()
    ),
    st.binary(max_size=50),
    points,
)
found = st.builds(
    Finding,
    code=st.sampled_from(["blurred", "glare"]),
    severity=st.sampled_from(Severity),
    subject=st.sampled_from([NAME, f"{NAME}#1", f"{NAME}#1.2"]),
    message=st.text(st.characters(exclude_characters="\0", exclude_categories=["Cs"])),
    measured=st.none() | numbers,
)
items = st.builds(
    Item,
    scan=st.just(NAME),
    page=st.just(1),
    item=st.integers(1, 9),
    kind=st.sampled_from(Kind),
    corners_px=st.tuples(points, points, points, points),
    turn_deg=st.sampled_from([None, 0, 90, 180, 270]),
    skew_deg=numbers,
    size_mm=points,
    measured_mm=st.none() | points,
    dpi=numbers,
    image=st.none() | pictures,
    findings=st.lists(found, max_size=2).map(tuple),
    preview=st.binary(max_size=20),
)
pages = st.builds(
    PageResult,
    scan=st.just(NAME),
    page=st.just(1),
    width_px=st.integers(1),
    height_px=st.integers(1),
    items=st.lists(items, max_size=2).map(tuple),
    findings=st.lists(found, max_size=1).map(tuple),
    preview=st.binary(max_size=20),
)
many = st.lists(pages, max_size=2)


@given(many)
def test_what_goes_in_comes_out(given_pages):
    assert unpack(b"".join(pack(given_pages, NAME)), NAME) == tuple(given_pages)


@given(many)
def test_the_scan_may_be_renamed(given_pages):
    (once,) = {NAME.replace("p1", "p2")}
    again = unpack(b"".join(pack(given_pages, NAME)), once)
    assert all(page.scan == once for page in again)
    assert all(item.scan == once for page in again for item in page.items)
    assert NAME not in repr(again)


@given(many, st.data())
def test_one_wrong_bit_is_seen(given_pages, data):
    """SHA-256 (FIPS 180-4) over the header and over each picture."""
    entry = bytearray(b"".join(pack(given_pages, NAME)))
    at = data.draw(st.integers(0, len(entry) - 1))
    entry[at] ^= 1 << data.draw(st.integers(0, 7))
    try:
        again = unpack(bytes(entry), NAME)
    except (ValueError, LookupError, TypeError, AttributeError):
        return
    assert again == tuple(given_pages)  # a letter's case in a hex digit, no more


@given(many, st.integers(0, 10_000))
def test_a_short_or_long_entry_is_refused(given_pages, at):
    entry = b"".join(pack(given_pages, NAME))
    for wrong in (entry[: at % len(entry)], entry + b"x"):
        with pytest.raises((ValueError, LookupError, TypeError, AttributeError)):
            unpack(wrong, NAME)


def test_a_sentence_with_the_scans_name_is_not_kept():
    page = PageResult(
        scan=NAME,
        page=1,
        width_px=1,
        height_px=1,
        items=(),
        findings=(
            Finding(
                code="x", severity=Severity.NOTE, subject=NAME, message=f"As {NAME} is the other."
            ),
        ),
    )
    with pytest.raises(ValueError, match="name"):
        pack([page], NAME)
    kept = replace(page, findings=())
    assert unpack(b"".join(pack([kept], NAME)), NAME) == (kept,)
