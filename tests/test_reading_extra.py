"""With and without the reading extra: said once, nothing else changes, nothing is read unasked."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner
from small_packet import make

from packet import pipeline
from packet.cli import command
from packet.cli.options import texts
from packet.errors import UsageError
from packet.identity import read_identity
from packet.model import Severity
from packet.recognition import extra


def run(*words, **environment):
    done = CliRunner().invoke(command, [str(word) for word in words], env=environment)
    return done.exit_code, done.stdout, done.stderr


@pytest.fixture
def without(monkeypatch):
    """A function that hides packages of the extra by their import names, as if not installed."""

    def hide(*names):
        real = extra.find_spec
        monkeypatch.setattr(extra, "find_spec", lambda name: None if name in names else real(name))
        extra.why_not.cache_clear()

    yield hide
    extra.why_not.cache_clear()


def test_a_missing_extra_is_a_note(without):
    without(*extra.PACKAGES)
    reads, (note,) = texts(False)

    assert not reads
    assert (note.code, note.severity) == ("texts-not-read", Severity.NOTE)
    assert extra.INSTALL in note.message


def test_half_an_extra_is_a_warning(without):
    without("zxingcpp")
    reads, (note,) = texts(False)

    assert not reads
    assert note.severity is Severity.WARNING
    assert "zxing-cpp" in note.message


def test_unasked_nothing_is_said(without):
    without(*extra.PACKAGES)

    assert texts(True) == (False, ())


def test_check_says_it_once(tmp_path, without):
    root = make(tmp_path / "packet", openings=1, papers=1)
    without(*extra.PACKAGES)
    _, out, _ = run("check", root, "--json", PACKET_NO_READ="0")
    codes = [one["code"] for one in json.loads(out)["findings"]]

    assert codes.count("texts-not-read") == 1
    _, out, _ = run("check", root, "--json", "--no-read")
    assert "texts-not-read" not in out


def test_new_read_without_the_extra_makes_nothing(tmp_path, without):
    without(*extra.PACKAGES)
    with pytest.raises(UsageError, match="--read cannot be done"):
        read_identity(["x.jpg"], password=None, today=None)
    code, _, _ = run("new", tmp_path / "new", "--read", "x.jpg")

    assert code != 0
    assert not (tmp_path / "new").exists()


def test_a_build_without_texts_is_not_the_build_with_them(tmp_path):
    """The record says whether texts were read: the next build with them is a new one."""
    from packet.reading import list_packet

    root = make(tmp_path / "packet", openings=1, papers=1)
    built = pipeline.build(root)
    assert built.record["texts_read"] is False
    plain = list_packet(root, encode=True, preview=True)
    reading = list_packet(root, encode=True, preview=True, read=True)

    assert pipeline.current_build(plain, root / "out") is not None
    assert pipeline.current_build(reading, root / "out") is None
