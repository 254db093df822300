"""The archive: locked as ISO 32000-2, 7.6 says (V 5, R 6, AES-256), and whole inside."""

from __future__ import annotations

import io
import json
import shutil
import stat
import subprocess
import sys

import pikepdf
import pypdfium2
import pytest
import small_packet

from packet import pipeline
from packet.archive import archive
from packet.cli import main
from packet.errors import PacketError, UsageError

PASSWORD = "zwölf Äpfel + 3"


@pytest.fixture(scope="module")
def built(tmp_path_factory):
    root = small_packet.make(tmp_path_factory.mktemp("archive") / "packet", openings=1, papers=1)
    pipeline.build(root, jobs=1)
    return root


@pytest.fixture(scope="module")
def locked(built, tmp_path_factory):
    return archive(built, tmp_path_factory.mktemp("target") / "kept.pdf", password=PASSWORD)


def test_it_is_aes_256_revision_6(locked):
    """Read by qpdf (pikepdf), not by what wrote it."""
    with pikepdf.open(locked, password=PASSWORD) as pdf:
        facts = pdf.encryption
        assert (facts.V, facts.R, facts.bits) == (5, 6, 256)
        methods = {facts.stream_method, facts.string_method, facts.file_method}
        assert methods == {pikepdf.models.EncryptionMethod.aesv3}
        assert pdf.trailer.Encrypt.get("/EncryptMetadata", True)
        assert str(pdf.pdf_version) >= "2.0"


@pytest.mark.parametrize("wrong", ["", "zwolf Apfel + 3", PASSWORD + " "])
def test_it_does_not_open_without_the_password(locked, wrong):
    with pytest.raises(pikepdf.PasswordError):
        pikepdf.open(locked, password=wrong)
    with pytest.raises(pypdfium2.PdfiumError):
        pypdfium2.PdfDocument(locked, password=wrong or None)


def test_the_password_opens_it_in_another_viewer(locked, built):
    """SASLprep and UTF-8 (ISO 32000-2, 7.6.4.3.3): the same signs in every reader."""
    with (
        pypdfium2.PdfDocument(locked, password=PASSWORD) as pdf,
        pypdfium2.PdfDocument(built / "out" / "copy-set-1.pdf") as copy_set,
    ):
        assert len(pdf) == len(copy_set)
        ours, theirs = (document[0].render(scale=1).to_pil() for document in (pdf, copy_set))
        assert ours.tobytes() == theirs.tobytes()


def test_packet_toml_and_record_are_attached_and_whole(locked, built):
    with pikepdf.open(locked, password=PASSWORD) as pdf:
        held = {name: spec.get_file().read_bytes() for name, spec in pdf.attachments.items()}
    assert held == {
        "packet.toml": (built / "packet.toml").read_bytes(),
        "record.json": (built / "out" / "record.json").read_bytes(),
    }


def test_nothing_of_it_can_be_read_from_outside(locked):
    data = locked.read_bytes()
    for words in ("Zoë", "rule_set", "values_digest", "Copia completa", "/Title (", "JFIF"):
        assert words.encode() not in data
    if sys.platform != "win32":
        assert stat.S_IMODE(locked.stat().st_mode) == 0o600


@pytest.mark.skipif(shutil.which("qpdf") is None, reason="qpdf is not installed")
def test_qpdf_finds_nothing_wrong(locked):
    done = subprocess.run(
        ["qpdf", "--check", "--password-file=-", str(locked)],
        input=PASSWORD, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert "R = 6" in done.stdout


def test_nothing_is_overwritten(built, tmp_path):
    target = tmp_path / "kept.pdf"
    target.write_text("mine")
    with pytest.raises(PacketError, match="not overwritten"):
        archive(built, target, password=PASSWORD)
    assert target.read_text() == "mine"


@pytest.mark.parametrize("password", ["", "short", "x" * 128, "é" * 64])
def test_passwords_that_do_not_protect_are_refused(built, tmp_path, password):
    with pytest.raises(UsageError, match="password"):
        archive(built, tmp_path / "kept.pdf", password=password)
    assert list(tmp_path.iterdir()) == []


def test_a_stale_build_is_not_archived(built, tmp_path):
    root = tmp_path / "packet"
    shutil.copytree(built, root)
    with (root / "out" / "copy-set-1.pdf").open("ab") as file:
        file.write(b"\n")
    with pytest.raises(PacketError, match="Build first"):
        archive(root, tmp_path / "kept.pdf", password=PASSWORD)
    shutil.rmtree(root / "out")
    with pytest.raises(PacketError, match="Build first"):
        archive(root, tmp_path / "kept.pdf", password=PASSWORD)


def test_the_command(built, tmp_path, capsys):
    (tmp_path / "word").write_text("ten or more signs\nsecond line")
    words = ["archive", str(built), "-o", str(tmp_path / "a.pdf"), "--json"]
    with pytest.raises(SystemExit) as stop:
        main([*words, "--password-file", str(tmp_path / "word")])
    assert stop.value.code == 0
    assert json.loads(capsys.readouterr().out) == {"file": str(tmp_path / "a.pdf")}
    with pikepdf.open(tmp_path / "a.pdf", password="ten or more signs") as pdf:
        assert len(pdf.pages) > 0


def test_without_terminal_and_file_it_says_what_to_give(built, capsys, monkeypatch):
    monkeypatch.setattr("sys.stdin", io.StringIO("ten or more signs\n"))
    with pytest.raises(SystemExit) as stop:
        main(["archive", str(built)])
    assert stop.value.code == 2
    assert "--password-file" in capsys.readouterr().err


def test_the_password_is_no_argument():
    """No option takes the password itself: it would stand in the list of processes."""
    from packet.cli.trust import archive_command

    names = {name for option in archive_command.params for name in option.opts}
    assert {name for name in names if "pass" in name} == {"--password-file"}
