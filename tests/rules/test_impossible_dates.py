"""Days that no calendar has: each named with its key, all at once."""

from __future__ import annotations

import pytest

from packet.errors import PacketFileError
from packet.rules.fields import read_toml


def problems(tmp_path, text):
    path = tmp_path / "a.toml"
    path.write_text(text, "utf-8")
    with pytest.raises(PacketFileError) as caught:
        read_toml(path, "a.toml")
    return caught.value.problems


def test_every_one_is_named_and_none_is_quoted(tmp_path):
    found = problems(tmp_path, "[a]\nborn = 1958-02-30\nok = 2026-02-28\nends = 2026-13-01 # x\n")

    assert [one.partition(":")[0] for one in found] == ["born", "ends"]
    assert "line 2" in found[0]
    assert "1958" not in "".join(found)


def test_another_fault_of_the_file_comes_last(tmp_path):
    found = problems(tmp_path, "born = 1958-02-30\nx = [\n")

    assert len(found) == 2
    assert "cannot be read as TOML" in found[1]
