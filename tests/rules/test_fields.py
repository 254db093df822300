"""Typed getters over TOML tables."""

from __future__ import annotations

import os
import sys
import tomllib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from packet.errors import PacketFileError
from packet.rules.fields import MAX_FILE_BYTES, Table, folder_fault, nearest, read_toml


def table(text: str) -> Table:
    return Table(tomllib.loads(text), problems=[])


SCALARS = st.one_of(
    st.booleans(),
    st.integers(),
    st.floats(),
    st.text(),
    st.dates(),
    st.datetimes(),
    st.times(),
)
VALUES = st.recursive(
    SCALARS, lambda inner: st.lists(inner) | st.dictionaries(st.text(), inner), max_leaves=8
)
GETTERS = [
    lambda t: t.text("key"),
    lambda t: t.text("key", required=True, personal=True),
    lambda t: t.choice("key", ("one", "two"), "one"),
    lambda t: t.number_of("key", (1, 2), 1),
    lambda t: t.integer("key", 3, low=1, high=9),
    lambda t: t.flag("key", True),
    lambda t: t.day("key", personal=True),
    lambda t: t.words("key"),
    lambda t: t.name("key", "a file"),
    lambda t: t.numbers("key", 2, low=0.0, high=9.0),
    lambda t: t.numbers_of("key", (1, 2), (1,)),
    lambda t: t.points("key", 4, limit=99.0),
    lambda t: t.table("key").close(),
    lambda t: [one.close() for one in t.tables("key")],
]


@settings(deadline=None, derandomize=True)
@given(value=VALUES)
def test_no_value_makes_a_getter_raise(value):
    """Any TOML value gives a value or a problem of one line, never an exception."""
    one = Table({"key": value}, problems=[])

    for getter in GETTERS:
        getter(one)

    assert all(problem.startswith("key") for problem in one.problems)
    assert not any("\n" in problem for problem in one.problems)


@settings(deadline=None, derandomize=True)
@given(value=VALUES)
def test_a_personal_value_is_never_quoted(value):
    secret = "Xq7ZsecretZ7qX"
    one = Table({"key": [secret, value], "other": secret * 20}, problems=[])

    one.text("key", personal=True)
    one.text("other", personal=True)
    one.day("other", personal=True)
    one.choice("other", ("F", "M"), "", personal=True)

    assert one.problems
    assert not any(secret in problem for problem in one.problems)


def test_true_is_not_a_number():
    one = table("pages = true")

    assert one.integer("pages", None, low=1, high=9) is None
    assert one.problems == ["pages: found true, expected a whole number from 1 to 9."]


def test_unknown_key_names_the_nearest():
    one = table("surnme = 1")
    one.text("surname")
    one.text("tax_code")
    one.close()

    assert one.problems == ["surnme: found an unknown key (perhaps surname)."]


def test_empty_text_is_not_given():
    one = table('a = ""\nb = ""\nc = ""\nd = ""')

    assert one.integer("a", None, low=1, high=2) is None
    assert one.day("b") is None
    assert one.flag("c", True) is True
    assert one.choice("d", ("x",), "y") == "y"
    assert one.problems == []
    assert "a" not in one


def test_a_time_of_day_is_not_a_date():
    one = table("a = 2026-01-01T00:00:00\nb = 2026-01-01")

    assert one.day("a") is None
    assert one.day("b") is not None
    assert len(one.problems) == 1


@pytest.mark.parametrize(
    "name", ["", ".", "..", ".git", "-x", " x", "x ", "x.", "a/b", "a\\b", "out", "OUT", "a\nb",
             "a\x7fb", "a:b", "a#b", "é" * 51]
)  # fmt: skip
def test_bad_folder_names(name):
    assert folder_fault(name) is not None


@pytest.mark.parametrize("name", ["extra", "Atto di nascita", "証明書", "a.b", "x-y_z", "outer"])
def test_good_folder_names(name):
    assert folder_fault(name) is None


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"\xff\xfe" + "a = 1".encode("utf-16-le"), "line 1 is not UTF-8"),
        (b"a = 1\nb = \xe9", "line 2 is not UTF-8"),
        (b"a = 1\nb = = 2\n", "line 2, column 5 cannot be read as TOML"),
        (b"a = 2026-02-30\n", "line 1"),
        (b"a = 1\na = 2\n", "line 2"),
        (b'a = "never closed', "the end of the file cannot be read|line 1"),
        (b"a = " + b"[" * 5000 + b"]" * 5000, "nested too deeply|cannot be read"),
        (b"a = " + b"9" * 5000, "cannot be read"),
        (b"\x00", "line 1"),
    ],
)
def test_unreadable_toml_is_one_sentence(tmp_path, data, words):
    path = tmp_path / "packet.toml"
    path.write_bytes(data)

    with pytest.raises(PacketFileError, match=words) as caught:
        read_toml(path, "packet.toml")

    assert len(caught.value.problems) == 1
    assert len(str(caught.value)) < 400


def test_byte_order_mark_and_windows_lines(tmp_path):
    path = tmp_path / "a.toml"
    path.write_bytes(b"\xef\xbb\xbfa = 1\r\nb = 2\r\n")

    assert read_toml(path, "a.toml") == {"a": 1, "b": 2}


def test_size_limit(tmp_path):
    path = tmp_path / "a.toml"
    path.write_bytes(b"#" * (MAX_FILE_BYTES + 1))

    with pytest.raises(PacketFileError, match="larger than 1 MB"):
        read_toml(path, "a.toml")


@pytest.mark.skipif(sys.platform == "win32", reason="POSIX pipes")
def test_a_pipe_or_folder_is_not_opened(tmp_path):
    (tmp_path / "folder").mkdir()
    os.mkfifo(tmp_path / "pipe")
    for name in ("folder", "pipe"):
        with pytest.raises(PacketFileError, match="is not a file"):
            read_toml(tmp_path / name, name)


def test_nearest():
    assert nearest("idcard", ["id-card", "tax-card"]) == "id-card"
    assert nearest("ID-Card", ["id-card", "tax-card"]) == "id-card"
    assert nearest("xyz", ["id-card"]) is None
