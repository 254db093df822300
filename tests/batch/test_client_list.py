"""packet new --list: many folders from one CSV file."""

from __future__ import annotations

import json
import tomllib

import pytest
from click.testing import CliRunner

from packet.cli import command
from packet.errors import PacketFileError
from packet.intake.client_list import read_clients


def written(tmp_path, text, encoding="utf-8"):
    path = tmp_path / "clients.csv"
    path.write_bytes(text.encode(encoding))
    return path


@pytest.mark.parametrize("mark", [",", ";"])
def test_one_packet_a_line(tmp_path, mark):
    text = (
        "folder,surname,given_names,booklet_pages,form_leaves,not_held\r\n"
        "anna,Ōe,Anna,28,4,id-card tax-card\r\n"
        "\r\n"
        "bruno,Ñandú,Bruno,,,\r\n"
    ).replace(",", mark)
    path = written(tmp_path, text, "utf-8-sig")
    done = CliRunner().invoke(command, ["new", str(tmp_path / "o"), "--list", str(path), "--json"])
    assert str(tmp_path / "o" / "anna" / "packet.toml") in json.loads(done.stdout)["made"]
    anna = tomllib.loads((tmp_path / "o" / "anna" / "packet.toml").read_text("utf-8"))
    assert anna["applicant"]["surname"] == "Ōe"
    assert anna["passport"]["booklet_pages"] == 28
    assert anna["not_held"] == ["id-card", "tax-card"]
    bruno = tomllib.loads((tmp_path / "o" / "bruno" / "packet.toml").read_text("utf-8"))
    assert bruno["applicant"]["given_names"] == "Bruno"


def test_a_longer_list_may_be_run_again(tmp_path):
    path = written(tmp_path, "folder\nanna\n")
    words = ["new", str(tmp_path / "o"), "--list", str(path), "--json"]
    CliRunner().invoke(command, words)
    (tmp_path / "o" / "anna" / "packet.toml").touch()
    written(tmp_path, "folder\nanna\nbruno\n")
    done = CliRunner().invoke(command, words)
    assert "left as it is" in done.stderr
    assert all("bruno" in made for made in json.loads(done.stdout)["made"])


def test_a_renewal_remembers_what_it_was_made_from(tmp_path):
    path = written(tmp_path, "folder,rule_set,from\nanna,,\nanna-2027,,anna\n")
    CliRunner().invoke(command, ["new", str(tmp_path), "--list", str(path)])
    new = tomllib.loads((tmp_path / "anna-2027" / "packet.toml").read_text("utf-8"))
    assert new["made_from"] == "anna"


def test_every_fault_is_told_at_once_without_values(tmp_path):
    path = written(
        tmp_path, "folder,booklet_pages,surname\n../x,28,Qxa\na,7,Qxb\nA,28,Qxc\n,,Qxd\n"
    )
    with pytest.raises(PacketFileError) as stopped:
        read_clients(path)
    text = str(stopped.value)
    for part in ("line 2, folder", "line 3, booklet_pages", "line 4, folder", "line 5, folder"):
        assert part in text
    assert "Qx" not in text


@pytest.mark.parametrize(
    ("text", "part"),
    [
        ("", "folder: this column must be there"),
        ("folder\n", "names no client"),
        ("folder,surnam\na,b\n", "perhaps surname"),
        ("folder,folder\na,b\n", "stands twice"),
        ('folder\n"a\n', "not CSV"),
        ("folder\na,b\n", "more cells"),
    ],
)
def test_lists_that_cannot_be_used(tmp_path, text, part):
    with pytest.raises(PacketFileError, match=part):
        read_clients(written(tmp_path, text))


def test_a_list_that_is_no_text(tmp_path):
    (tmp_path / "clients.csv").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(PacketFileError, match="UTF-8"):
        read_clients(tmp_path / "clients.csv")
