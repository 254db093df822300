"""Forgetting: what packet knows goes, everything else stays, and no link is followed."""

from __future__ import annotations

import json
import os
import subprocess
import sys

import pytest
import small_packet

from packet import pipeline, standing
from packet.cli import main
from packet.errors import BusyError
from packet.files import writing
from packet.forget import inventory, remove


@pytest.fixture
def root(tmp_path):
    folder = small_packet.make(tmp_path / "packet", openings=1, papers=1)
    out = folder / "out"
    out.mkdir()
    for name in ("envelope.pdf", "copy-set-1.pdf", "review.html", "record.json", "worksheet.pdf"):
        (out / name).write_bytes(b"x")
    (out / ".packet-part-old").mkdir()
    (out / ".packet-part-old" / "envelope.pdf").write_bytes(b"half")
    (folder / "passport" / "SCAN-ME.txt").write_text("how to scan")
    return folder


def names(folder):
    return sorted(
        path.relative_to(folder).as_posix() for path in folder.rglob("*") if not path.is_dir()
    )


def test_all_that_packet_knows_goes(root):
    listed = inventory(root)
    removed, failed = remove(root, None, listed)

    assert failed == []
    assert {"passport/open_1.jpg", "means/p1.png", "envelope.pdf", "worksheet.pdf"} <= {*removed}
    assert names(root) == ["packet.toml", "passport/SCAN-ME.txt", "rules.toml"]
    assert not (root / "out").exists()
    assert (root / "means").is_dir()


def test_the_cache_of_these_scans_goes_and_of_others_stays(root, tmp_path, monkeypatch):
    monkeypatch.setenv("PACKET_CACHE", str(tmp_path / "cache"))
    other = small_packet.make(tmp_path / "other", openings=0, papers=1)
    (other / "means" / "p1.png").write_bytes((root / "means" / "p1.png").read_bytes() + b"\0")
    pipeline.build(root, jobs=1)
    ours = set((tmp_path / "cache").glob("*.scan"))
    pipeline.build(other, jobs=1)
    assert ours
    remove(root, None, inventory(root))

    left = set((tmp_path / "cache").glob("*.scan"))
    assert left
    assert not ours & left


def test_packet_toml_goes_when_all_is_asked_for(root):
    assert ("packet.toml", "it holds your values; --all removes it too") in inventory(root).stays
    remove(root, None, inventory(root, everything=True))
    assert names(root) == ["passport/SCAN-ME.txt", "rules.toml"]


def test_what_is_not_known_is_said_and_stays(root):
    (root / "holiday.jpg").write_bytes(b"mine")
    (root / "passport" / "inner").mkdir()
    (root / "passport" / "inner" / "more.jpg").write_bytes(b"mine")
    listed = inventory(root)
    stays = dict(listed.stays)
    remove(root, None, listed)

    assert {"holiday.jpg", "passport/inner"} <= stays.keys()
    assert (root / "holiday.jpg").exists()
    assert (root / "passport" / "inner" / "more.jpg").exists()


def test_it_says_what_deletion_is_not(root):
    assert "flash" in inventory(root).caution


@pytest.mark.skipif(sys.platform == "win32", reason="symbolic links need rights there")
def test_links_are_taken_away_and_never_followed(root, tmp_path):
    away = tmp_path / "away"
    away.mkdir()
    (away / "kept.jpg").write_bytes(b"mine")
    (root / "means" / "linked.jpg").symlink_to(away / "kept.jpg")
    (root / "out" / "linked").symlink_to(away, target_is_directory=True)
    (root / "form").rmdir()
    (root / "form").symlink_to(away, target_is_directory=True)
    (root / "out" / ".packet-part-old" / "inner").symlink_to(away, target_is_directory=True)
    listed = inventory(root)
    remove(root, None, listed)

    assert (away / "kept.jpg").read_bytes() == b"mine"
    assert not os.path.lexists(root / "means" / "linked.jpg")
    assert "form" in dict(listed.stays)


@pytest.mark.skipif(sys.platform == "win32", reason="symbolic links need rights there")
def test_a_folder_swapped_for_a_link_after_listing_is_not_followed(root, tmp_path):
    away = tmp_path / "away"
    away.mkdir()
    (away / "p1.png").write_bytes(b"mine")
    listed = inventory(root)
    (root / "means").rename(root / "moved")
    (root / "means").symlink_to(away, target_is_directory=True)
    _, failed = remove(root, None, listed)

    assert (away / "p1.png").read_bytes() == b"mine"
    assert any("means/p1.png" in sentence for sentence in failed)


@pytest.mark.skipif(sys.platform == "win32", reason="symbolic links need rights there")
def test_an_out_folder_that_is_a_link_is_left_alone(root, tmp_path):
    away = tmp_path / "away"
    (root / "out").rename(away)
    (root / "out").symlink_to(away, target_is_directory=True)
    remove(root, None, inventory(root))
    assert (away / "envelope.pdf").exists()


def test_elsewhere_only_known_names_go(root, tmp_path):
    out = tmp_path / "prints"
    out.mkdir()
    (out / "envelope.pdf").write_bytes(b"x")
    (out / "my-thesis.pdf").write_bytes(b"mine")
    remove(root, out, inventory(root, out))
    assert names(out) == ["my-thesis.pdf"]


def test_not_while_a_build_is_at_work(root):
    listed = inventory(root)
    code = (
        "import sys, time, pathlib\n"
        "from packet.files import writing\n"
        "with writing(pathlib.Path(sys.argv[1])):\n"
        "    print(1, flush=True)\n"
        "    time.sleep(60)\n"
    )
    call = [sys.executable, "-c", code, str(root / "out")]
    with subprocess.Popen(call, stdout=subprocess.PIPE) as process:
        process.stdout.readline()
        with pytest.raises(BusyError):
            remove(root, None, listed)
        process.kill()
    assert (root / "means" / "p1.png").exists()
    with writing(root / "out"):
        pass


def call(capsys, *words):
    with pytest.raises(SystemExit) as stop:
        main([str(word) for word in words])
    out, err = capsys.readouterr()
    return stop.value.code, out, err


def test_the_command_asks_first(root, capsys):
    code, _, err = call(capsys, "forget", root)
    assert (code, "--yes" in err) == (2, True)
    assert (root / "means" / "p1.png").exists()

    code, out, _ = call(capsys, "forget", root, "--yes", "--json")
    answer = json.loads(out)
    assert code == 0
    assert "means/p1.png" in answer["removed"]
    assert {"name", "why"} == set(answer["stays"][0])


def test_forgetting_twice_is_no_fault(root, capsys):
    assert call(capsys, "forget", root, "--yes")[0] == 0
    code, out, _ = call(capsys, "forget", root, "--yes")
    assert (code, "0 files removed." in out) == (0, True)


def test_status_after_forgetting(root):
    remove(root, None, inventory(root))
    _, following = standing.status(root)
    assert following


def test_scans_of_the_heap_go_too(root):
    (root / "scans").mkdir()
    (root / "scans" / "IMG_1.jpg").write_bytes(b"x")
    removed, _ = remove(root, None, inventory(root))

    assert "scans/IMG_1.jpg" in removed
