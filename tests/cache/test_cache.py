"""The folder of kept scans: private, bounded, never wrong, never in the way."""

from __future__ import annotations

import os
import shutil
import stat
import subprocess
import sys
from dataclasses import replace
from hashlib import sha256

import pytest
import small_packet

import packet.cache
from packet import pipeline
from packet.cache import Cache, cache_folder, entry_name, forget
from packet.files import file_digest
from packet.model import ItemOverride, Kind, PageResult, ScanTask
from packet.reading import Reader, list_packet
from packet.spool import Kept, bytes_of


@pytest.fixture
def kept(tmp_path, monkeypatch):
    """A cache of its own for one test."""
    monkeypatch.setenv("PACKET_CACHE", str(tmp_path / "kept"))
    return Cache(cache_folder())


@pytest.fixture
def root(tmp_path):
    return small_packet.make(tmp_path / "p", openings=1, papers=2)


def outputs(root):
    return {path.name: file_digest(path) for path in sorted((root / "out").iterdir())}


def entries(kept):
    return sorted(path.name for path in kept.folder.iterdir())


def a_task(path, **more):
    return ScanTask(path=path, name="means/a.png", kinds=(Kind.A4_PAGE,), **more)


def a_page(size=10):
    return PageResult(
        scan="means/a.png", page=1, width_px=1, height_px=1, items=(), preview=bytes(size)
    )


# --- the same result -----------------------------------------------------------------------


def test_cold_warm_and_uncached_builds_give_the_same_bytes(root, kept):
    pipeline.build(root, jobs=1, use_cache=False)
    uncached = outputs(root)
    assert not kept.folder.exists()
    shutil.rmtree(root / "out")
    pipeline.build(root, jobs=2)
    assert outputs(root) == uncached
    assert len(entries(kept)) == 3
    shutil.rmtree(root / "out")
    pipeline.build(root)
    assert outputs(root) == uncached


def test_pictures_wait_on_the_disk_read_or_kept(root, kept):
    """What memory holds of a page does not depend on its pictures."""
    listed = list_packet(root, encode=True, preview=True)
    with Reader(jobs=1, cache=kept, spool=root) as reader:
        read, _ = reader.see(listed.wanted)
        known = [page for wanted in listed.wanted for page in reader.known(wanted)]
    names = {path.name for path in root.iterdir()}
    assert names == {"packet.toml", "rules.toml", "passport", "means", "form"}
    for page in (*read, *known):
        (item,) = page.items
        assert all(isinstance(b, Kept) for b in (item.image.data, item.preview, page.preview))
        assert sha256(bytes_of(item.image.data)).hexdigest() == item.image.digest
    assert [bytes_of(page.preview) for page in read] == [bytes_of(page.preview) for page in known]


def test_only_the_changed_scan_is_read(root, kept):
    pipeline.build(root)
    before = entries(kept)
    small_packet.page(7, dpi=150).save(root / "means" / "p1.png", dpi=(150, 150))
    pipeline.build(root)
    assert len(set(entries(kept)) - set(before)) == 1
    changed = outputs(root)
    pipeline.build(root, use_cache=False)
    assert outputs(root) == changed


def test_a_build_over_the_last_one_gives_the_bytes_of_one_from_nothing(tmp_path, kept):
    """A page that was told apart from the others is exchanged for one of them, scanned again."""
    root = small_packet.make(tmp_path / "p", openings=3, papers=1)
    before = pipeline.build(root, jobs=1)
    again = small_packet.opening_on_glass(0).rotate(180)
    again.save(root / "passport" / "open_3.jpg", quality=80, dpi=(150, 150))
    after = pipeline.build(root, jobs=1)
    over = outputs(root)
    shutil.rmtree(root / "out")
    pipeline.build(root, jobs=1, use_cache=False)

    assert len(before.record["looks_apart"]) > len(after.record["looks_apart"])
    assert outputs(root) == over


def test_renamed_scan_is_not_read_again(root, kept):
    pipeline.build(root)
    before = entries(kept)
    (root / "means" / "p2.png").rename(root / "means" / "p0.png")
    pipeline.build(root)
    assert entries(kept) == before
    renamed = outputs(root)
    pipeline.build(root, use_cache=False)
    assert outputs(root) == renamed


def test_accepting_a_finding_reads_no_scan_again(root, kept):
    pipeline.build(root)
    before = entries(kept)
    with (root / "packet.toml").open("a", encoding="utf-8") as file:
        file.write('[[item]]\nscan = "means/p1.png"\naccept = ["near-edge"]\n')
    pipeline.build(root)
    assert entries(kept) == before


def test_count_and_check_use_what_build_has_read(root, kept):
    counted = pipeline.gather(root, encode=False, use_cache=False)
    pipeline.build(root)
    before = entries(kept)
    again = pipeline.gather(root, encode=False)
    assert entries(kept) == before
    assert again == counted


def test_build_of_an_unchanged_packet_writes_nothing(root, kept):
    pipeline.build(root)
    before = {path: path.stat().st_mtime_ns for path in (root / "out").iterdir()}
    again = pipeline.build(root)
    assert {path: path.stat().st_mtime_ns for path in (root / "out").iterdir()} == before
    assert again == pipeline.build(root, use_cache=False)
    assert {path: path.stat().st_mtime_ns for path in (root / "out").iterdir()} != before


# --- what an entry depends on --------------------------------------------------------------


def test_every_option_has_an_entry_of_its_own(tmp_path, monkeypatch):
    task = a_task(tmp_path / "a.png")
    others = [
        replace(task, kinds=(Kind.OTHER,)),
        replace(task, kinds=(Kind.A4_PAGE, Kind.OTHER)),
        replace(task, tone="colour"),
        replace(task, encode=False),
        replace(task, lossless=True),
        replace(task, preview=True),
        replace(task, overrides=(ItemOverride(scan=task.name, turn=90),)),
        replace(task, overrides=(ItemOverride(scan=task.name, size_mm=(1.0, 2.0)),)),
    ]
    names = {entry_name(one, "00" * 32) for one in (task, *others)}
    names.add(entry_name(task, "11" * 32))
    monkeypatch.setattr(packet.cache, "reading_versions", lambda: "another version")
    names.add(entry_name(task, "00" * 32))
    assert len(names) == len(others) + 3


def test_where_the_scan_lies_and_its_name_do_not_matter(tmp_path):
    task = a_task(tmp_path / "a.png")
    moved = replace(task, path=tmp_path / "b.png", name="means/b.png")
    assert entry_name(task, "00" * 32) == entry_name(moved, "00" * 32)


# --- damage and trouble --------------------------------------------------------------------


def test_damaged_entries_are_read_anew(root, kept):
    pipeline.build(root)
    good = outputs(root)
    for number, name in enumerate(entries(kept)):
        path = kept.folder / name
        data = bytearray(path.read_bytes())
        if number == 0:
            del data[len(data) // 2 :]
        elif number == 1:
            data[-5] ^= 0x10
        else:
            data[:] = b""
        path.write_bytes(data)
    shutil.rmtree(root / "out")
    pipeline.build(root)
    assert outputs(root) == good
    listed = list_packet(root, encode=True, preview=True)
    assert all(kept.find(wanted.task, wanted.digest) for wanted in listed.wanted)


def test_scan_exchanged_while_it_was_read_is_not_kept(root, kept):
    listed = list_packet(root, encode=True, preview=True)
    (root / "means" / "p1.png").write_bytes((root / "means" / "p2.png").read_bytes())
    with Reader(jobs=1, cache=kept) as reader:
        reader.see(listed.wanted)
    assert len(entries(kept)) == 2


def test_cache_that_cannot_be_written_stops_nothing(root, tmp_path, monkeypatch, caplog):
    (tmp_path / "file").write_bytes(b"")
    monkeypatch.setenv("PACKET_CACHE", str(tmp_path / "file" / "kept"))
    built = pipeline.build(root)
    assert built.record["complete"]
    assert len(caplog.messages) == 1
    assert "The result is the same" in caplog.messages[0]


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="needs a full device")
def test_full_disk_leaves_no_part(kept, tmp_path, monkeypatch, caplog):
    """/dev/full (Linux, full(4)): every write fails as on a full disk."""
    path = tmp_path / "a.png"
    path.write_bytes(b"x")
    kept.keep(a_task(path), "00" * 32, [a_page()])
    with monkeypatch.context() as patch:
        full = os.open
        patch.setattr(os, "open", lambda p, flags, mode=0o777, **k: full("/dev/full", os.O_WRONLY))
        kept.keep(a_task(path), "11" * 32, [a_page()])
    assert kept.trouble
    assert "no space left" in caplog.messages[0]
    assert len(entries(kept)) == 1


def test_locked_pdf_is_never_kept(kept, tmp_path):
    pdf = tmp_path / "a.pdf"
    pdf.write_bytes(b"%PDF-1.7\n")
    kept.keep(a_task(pdf, password="secret"), "00" * 32, [a_page()])
    assert not kept.folder.exists()
    kept.keep(a_task(pdf), "00" * 32, [a_page()])
    assert kept.find(a_task(pdf), "00" * 32)
    assert kept.find(a_task(pdf, password="secret"), "00" * 32) is None
    png = tmp_path / "a.png"
    png.write_bytes(b"\x89PNG\r\n\x1a\n")
    assert kept.find(a_task(png, password="secret"), "00" * 32)


# --- private and bounded -------------------------------------------------------------------


@pytest.mark.skipif(sys.platform == "win32", reason="POSIX rights")
def test_folder_and_entries_are_the_owners_alone(kept, tmp_path):
    kept.folder.mkdir(mode=0o755)
    path = tmp_path / "a.png"
    path.write_bytes(b"x")
    kept.keep(a_task(path), "00" * 32, [a_page()])
    assert stat.S_IMODE(kept.folder.stat().st_mode) == 0o700
    (entry,) = kept.folder.iterdir()
    assert stat.S_IMODE(entry.stat().st_mode) == 0o600


def test_what_was_used_longest_ago_goes_first(tmp_path):
    path = tmp_path / "a.png"
    path.write_bytes(b"x")
    kept = Cache(tmp_path / "kept", limit_bytes=40_000)
    digests = [sha256(bytes([number])).hexdigest() for number in range(6)]
    for age, digest in enumerate(digests):
        kept.keep(a_task(path), digest, [a_page(9_000)])
        for entry in kept.folder.glob(f"{digest[:40]}*"):
            os.utime(entry, (age, age))
    assert kept.find(a_task(path), digests[2])  # used again: now the youngest
    kept.trim()
    assert kept.size()[1] <= 40_000
    left = [number for number in range(6) if kept.find(a_task(path), digests[number])]
    assert 2 in left
    assert 0 not in left
    kept.keep(a_task(path), "ff" * 32, [a_page(50_000)])  # larger than all may be together
    assert kept.find(a_task(path), "ff" * 32) is None


@pytest.mark.parametrize("when", [0, 4_000_000_000])
def test_a_clock_that_jumps_costs_at_most_an_entry(kept, tmp_path, when):
    path = tmp_path / "a.png"
    path.write_bytes(b"x")
    kept.keep(a_task(path), "00" * 32, [a_page()])
    (entry,) = kept.folder.iterdir()
    (kept.folder / ".part-left").write_bytes(b"x")
    for one in kept.folder.iterdir():
        os.utime(one, (when, when))
    kept.trim()
    assert entries(kept) == [entry.name]
    assert kept.find(a_task(path), "00" * 32) == (a_page(),)


def test_clear_and_forget(root, kept):
    pipeline.build(root)
    (kept.folder / "something-else.txt").write_bytes(b"not ours")
    digest = file_digest(root / "means" / "p1.png")
    assert forget([digest]) == 1
    assert kept.size()[0] == 2
    assert forget(["00" * 32]) == 0
    assert kept.clear() == 2
    assert entries(kept) == ["something-else.txt"]


def test_two_processes_at_once(tmp_path, kept):
    """Both write the same entries; each gives the bytes of a build alone."""
    roots = [small_packet.make(tmp_path / name, openings=1, papers=2) for name in ("one", "two")]
    command = [sys.executable, "-m", "packet", "build", "--jobs", "1"]
    runs = [
        subprocess.Popen([*command, str(root)], stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
        for root in roots
    ]
    for run in runs:
        _, said = run.communicate(timeout=300)
        assert run.returncode in (0, 1), said
    assert outputs(roots[0]) == outputs(roots[1])
    assert kept.size()[0] == 3
    assert not list(kept.folder.glob(".part-*"))
