"""What fuzzing and the hostile corpus found stays found (tests/fuzz/found), and random bytes."""

from __future__ import annotations

from pathlib import Path

import pytest
from fuzz import targets
from hypothesis import given, settings
from hypothesis import strategies as st

from trust import seeds

FOUND = Path(__file__).resolve().parents[1] / "fuzz" / "found"
FILES = sorted(path for path in FOUND.glob("*/*") if path.is_file())


@pytest.mark.parametrize("path", FILES, ids=lambda path: f"{path.parent.name}/{path.name}")
def test_found_before(path):
    targets.FUNCTIONS.get(path.parent.name, targets.intake)(path.read_bytes())


@pytest.mark.slow
@pytest.mark.parametrize("path", sorted((FOUND / "pdf").glob("*")), ids=lambda path: path.name)
def test_what_draws_too_much_is_ended_by_the_allowance_alone(path):
    targets.pdf_unmeasured(path.read_bytes())


TOML = seeds.TOML
STARTS = [data for group in seeds.formats().values() for data in group if len(data) < 6000]


@settings(max_examples=150)
@given(
    st.lists(st.tuples(st.integers(0, len(TOML)), st.integers(0, 40), st.binary(max_size=12)),
             max_size=4)
)  # fmt: skip
def test_packet_toml_of_changed_bytes(changes):
    data = TOML
    for at, length, new in changes:
        data = data[:at] + new + data[at + length :]
    targets.packet_toml(data)


@settings(max_examples=100)
@given(st.binary(max_size=300))
def test_packet_toml_of_any_bytes(data):
    targets.packet_toml(data)


@settings(max_examples=150)
@given(
    st.sampled_from(STARTS),
    st.lists(st.tuples(st.floats(0, 1), st.integers(0, 40), st.binary(max_size=12)), max_size=4),
)
def test_scans_of_changed_bytes(data, changes):
    for share, length, new in changes:
        at = int(share * len(data))
        data = data[:at] + new + data[at + length :]
    targets.intake(data)
