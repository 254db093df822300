"""packet sort on a real folder: drawn scans, without and with the plan carried out."""

from __future__ import annotations

import json
import shutil

import pytest
from click.testing import CliRunner
from small_packet import make

from packet import pipeline
from packet.cli import command
from packet.errors import PacketError, UsageError
from packet.files import file_digest
from packet.sorting.run import sort_packet


def run(*words):
    done = CliRunner().invoke(command, [str(word) for word in words])
    return done.exit_code, done.stdout, done.stderr


@pytest.fixture
def heaped(tmp_path):
    """The small packet with all its scans in scans/, the folders of its documents gone."""
    root = make(tmp_path / "packet")
    (root / "scans").mkdir()
    for folder in ("passport", "means"):
        for path in sorted((root / folder).iterdir()):
            path.rename(root / "scans" / path.name)
        (root / folder).rmdir()
    return root


def test_nothing_to_sort_is_one_sentence(tmp_path):
    root = make(tmp_path / "packet")
    with pytest.raises(UsageError, match="nothing to sort"):
        sort_packet(root)

    (root / "scans").mkdir()
    with pytest.raises(UsageError, match="folder named scans"):
        sort_packet(root)


def test_without_the_reader_papers_are_for_the_user(heaped):
    before = (heaped / "packet.toml").read_text("utf-8")
    digests = {path.name: file_digest(path) for path in (heaped / "scans").iterdir()}
    code, out, _ = run("sort", heaped, "--json")
    told = json.loads(out)

    assert code == 1
    assert {one["scan"] for one in told["items"]} == {f"scans/{name}" for name in digests}
    assert all(one["document"] is None or one["document"] == "passport" for one in told["items"])
    assert digests == {path.name: file_digest(path) for path in (heaped / "scans").iterdir()}
    assert (heaped / "packet.toml").read_text("utf-8").startswith(before.rstrip("\n"))


def test_a_dry_run_writes_nothing(heaped):
    before = (heaped / "packet.toml").read_bytes()
    code, out, _ = run("sort", heaped, "--dry-run")

    assert code == 1
    assert "NOT SURE" in out
    assert (heaped / "packet.toml").read_bytes() == before


def test_build_runs_on_the_plan(heaped, tmp_path):
    """Documents only from scans/: the same pages as from folders."""
    with (heaped / "packet.toml").open("a", encoding="utf-8") as file:
        for path in sorted((heaped / "scans").iterdir()):
            folder, kind = ("passport", "passport-spread") if path.suffix == ".jpg" else (
                "means", "a4-page"
            )  # fmt: skip
            file.write(
                f'\n[[item]]\nscan = "scans/{path.name}"\ndocument = "{folder}"\nkind = "{kind}"\n'
            )
    gathered = pipeline.gather(heaped, encode=False)
    pages = {part.spec.folder: len(part.pages) for part in gathered.plan.documents}

    assert pages == {"passport": 2, "means": 2}
    assert not any(one.code == "not-sorted" for one in gathered.findings)
    assert pipeline.build(heaped).record["count"]["envelope_pages"] == 4
    code, _, _ = run("recount", heaped)
    assert code in (0, 1)


def test_scans_that_are_not_sorted_are_said_by_check(heaped):
    code, out, _ = run("check", heaped, "--json")
    codes = [one["code"] for one in json.loads(out)["findings"]]

    assert code == 1
    assert codes.count("not-sorted") == 4
    assert "not-used" not in codes
    code, out, _ = run("status", heaped)
    assert "packet sort" in out


def test_a_linked_packet_file_is_not_followed(heaped, tmp_path):
    real = tmp_path / "elsewhere.toml"
    shutil.move(heaped / "packet.toml", real)
    (heaped / "packet.toml").symlink_to(real)
    before = real.read_bytes()
    with pytest.raises(PacketError, match="symbolic link"):
        sort_packet(heaped)

    assert real.read_bytes() == before
    assert (heaped / "packet.toml").is_symlink()
