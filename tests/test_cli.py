"""The command line: exit codes, JSON shapes, one sentence for bad input, never a traceback."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time

import pytest
import small_packet
from PIL import Image

from packet.cli import main

COUNT_KEYS = {
    "box",
    "form_leaves",
    "envelope_pages",
    "blank_backs",
    "envelope_sheets",
    "index_leaves",
    "extra_leaves",
    "complete",
    "basis",
    "other_readings",
    "documents",
}
FINDING_KEYS = {
    "code",
    "severity",
    "subject",
    "message",
    "measured",
    "limit",
    "unit",
    "remedy",
    "source",
}


@pytest.fixture
def run(capsys):
    """run(*words) -> (exit code, standard output, standard error)."""

    def call(*words):
        with pytest.raises(SystemExit) as stop:
            main([str(word) for word in words])
        out, err = capsys.readouterr()
        assert "Traceback" not in out + err
        return stop.value.code, out, err

    return call


@pytest.fixture(scope="module")
def scans(tmp_path_factory):
    folder = tmp_path_factory.mktemp("scans")
    small_packet.opening_on_glass(1).save(folder / "opening.jpg", dpi=(150, 150))
    (folder / "words.jpg").write_text("no picture at all")
    (folder / "empty.pdf").write_bytes(b"")
    return folder


def test_new_check_build_count_recount(run, tmp_path):
    folder = tmp_path / "my packet"
    code, out, _ = run("new", folder, "--json")
    assert (code, set(json.loads(out))) == (0, {"made"})

    code, out, _ = run("check", folder, "--json")
    checked = json.loads(out)
    assert (code, checked["ready"]) == (1, False)
    assert {f["code"] for f in checked["findings"]} >= {
        "missing-document",
        "form-leaves-unconfirmed",
    }
    assert all(set(f) >= FINDING_KEYS for f in checked["findings"])

    code, out, err = run("build", folder, "--json")
    assert code == 2
    assert "no scan could be used" in err
    assert {f["code"] for f in json.loads(out)["findings"]} >= {"missing-document"}

    small_packet.page(5, dpi=150).save(folder / "home" / "a.png", dpi=(150, 150))
    code, out, err = run("build", folder, "--json")
    assert code == 1
    assert json.loads(out)["complete"] is False

    code, out, _ = run("count", folder, "--json")
    counted = json.loads(out)
    assert code == 1
    assert set(counted) == COUNT_KEYS
    assert (counted["box"], counted["basis"]) == (5, "files")
    assert sum(d["sheets"] for d in counted["documents"]) == counted["envelope_sheets"]

    code, out, _ = run("recount", folder, "--written", 5, "--json")
    answer = json.loads(out)
    assert (code, answer["agrees"], answer["complete"]) == (1, True, False)
    assert answer["notes"][0] == "You wrote 5: it agrees."
    assert answer["missing"]  # each says what is missing, and what to do
    assert all(one["what"] and one["remedy"] for one in answer["missing"])
    code, out, _ = run("recount", folder, "--written", 6, "--json")
    assert (code, json.loads(out)["agrees"]) == (4, False)

    code, out, _ = run("status", folder, "--json")
    assert (code, set(json.loads(out))) == (0, {"done", "next", "dates"})


def test_check_ends_with_one_line_that_sums_up(run, tmp_path):
    root = small_packet.make(tmp_path / "p", openings=1, papers=1)
    out = run("check", root)[1].rstrip()

    assert "\n\n" in out
    assert out.splitlines()[-1].endswith(".")
    assert "note" in out.splitlines()[-1]


def test_today_never_changes_a_byte(run, tmp_path):
    root = small_packet.make(tmp_path / "p", openings=0, papers=1)
    run("build", root, "--today", "2026-01-01", "--out", tmp_path / "one")
    run("build", root, "--today", "2031-12-31", "--out", tmp_path / "two")

    for name in ("envelope.pdf", "copy-set-1.pdf", "copy-set-2.pdf"):
        assert (tmp_path / "one" / name).read_bytes() == (tmp_path / "two" / name).read_bytes()


def test_inspect_answers_each_scan(run, scans):
    code, out, _ = run(
        "inspect", "--json", scans / "words.jpg", scans / "opening.jpg", scans / "empty.pdf"
    )
    first, second, third = (json.loads(line) for line in out.splitlines())

    assert code == 2
    assert "error" in first
    assert "error" in third
    assert second["pages"] == [{"width_px": 1417, "height_px": 1063}]
    (item,) = second["items"]
    assert item["page"] == 1
    assert len(item["corners"]) == 4
    assert set(item) == {
        "page",
        "corners",
        "kind",
        "size_mm",
        "measured_mm",
        "turn_deg",
        "skew_deg",
        "dpi",
        "findings",
    }


def test_inspect_from_standard_input_answers_line_by_line(scans):
    """`packet inspect -` answers one line before the next is written, flushed."""
    with subprocess.Popen(
        [sys.executable, "-m", "packet", "inspect", "--as", "passport-spread", "-"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as process:
        for name in ("opening.jpg", "words.jpg"):
            process.stdin.write(f"{scans / name}\n")
            process.stdin.flush()
            answer = json.loads(process.stdout.readline())
            assert answer["scan"] == str(scans / name)
        process.stdin.close()
        assert process.wait(60) == 2


def test_normalise_writes_upright_pngs_and_overwrites_nothing(run, scans, tmp_path):
    words = ["normalise", "--as", "passport-spread", scans / "opening.jpg", "-o", tmp_path]
    code, out, _ = run(*words, "--json")
    answer = json.loads(out)
    before = (tmp_path / "opening-p01-i1.png").read_bytes()
    again = json.loads(run(*words, "--json")[1])

    assert code == 0
    assert answer["file"] == str(tmp_path / "opening-p01-i1.png")
    assert again["file"] != answer["file"]
    assert (tmp_path / "opening-p01-i1.png").read_bytes() == before
    with Image.open(answer["file"]) as picture:
        width_mm, height_mm = (
            side / dpi * 25.4 for side, dpi in zip(picture.size, picture.info["dpi"], strict=True)
        )
    assert {round(width_mm), round(height_mm)} == {176, 125}


def test_normalise_renders_a_born_digital_page(run, tmp_path):
    from reportlab.pdfgen.canvas import Canvas

    canvas = Canvas(str(tmp_path / "born.pdf"), pagesize=(595.276, 841.890), invariant=1)
    canvas.rect(100, 100, 200, 200, fill=1)
    canvas.save()
    code, out, _ = run("normalise", tmp_path / "born.pdf", "-o", tmp_path / "o", "--json")

    assert code == 0
    with Image.open(json.loads(out)["file"]) as picture:
        assert abs(picture.size[0] - 2480) <= 1
        assert abs(picture.size[1] - 3508) <= 1


BAD_CALLS = [
    (["check", "nowhere"], 2),
    (["build", "nowhere"], 2),
    (["count", "nowhere"], 2),
    (["recount", "nowhere"], 2),
    (["status", "nowhere"], 2),
    (["new"], 2),
    (["no-such-command"], 2),
    (["inspect"], 2),
    (["inspect", "nowhere.jpg"], 2),
    (["inspect", "--as", "submarine", "x.jpg"], 2),
    (["normalise", "x.jpg"], 2),
    (["recount", ".", "--paper", "many"], 2),
    (["count", ".", "--today", "2026-02-30"], 2),
]


@pytest.mark.parametrize(("words", "expected"), BAD_CALLS, ids=str)
def test_a_wrong_call_is_one_sentence(run, tmp_path, monkeypatch, words, expected):
    monkeypatch.chdir(tmp_path)
    code, _, err = run(*words)

    assert code == expected
    assert err.strip() or "inspect" in words


def test_json_still_prints_one_object_when_it_cannot_be_done(run, tmp_path):
    (tmp_path / "packet.toml").write_text("rule_set = 3\nsurprise = true\n")
    code, out, _ = run("build", tmp_path, "--json")
    answer = json.loads(out)

    assert code == 2
    assert set(answer) == {"error", "findings"}
    assert len(answer["findings"]) >= 2


def test_a_rule_set_by_a_wrong_name_names_the_nearest(run, tmp_path):
    code, _, err = run("new", tmp_path / "p", "--rule-set", "elective-residence-renewel")

    assert code == 2
    assert "elective-residence-renewal" in err
    assert not (tmp_path / "p").exists()


def test_a_password_is_taken_from_file_or_environment(run, tmp_path, monkeypatch):
    import pikepdf

    sheet = small_packet.page(3, dpi=100)
    sheet.save(tmp_path / "plain.pdf", resolution=100)
    with pikepdf.open(tmp_path / "plain.pdf") as pdf:
        pdf.save(
            tmp_path / "locked.pdf", encryption=pikepdf.Encryption(user="open", owner="own", R=6)
        )
    (tmp_path / "word.txt").write_text("open\n")

    assert run("inspect", "--json", tmp_path / "locked.pdf")[0] == 2
    assert (
        run(
            "inspect",
            "--json",
            "--password-file",
            tmp_path / "word.txt",
            tmp_path / "locked.pdf",
        )[0]
        == 0
    )
    monkeypatch.setenv("PACKET_PASSWORD", "open")
    assert run("inspect", "--json", tmp_path / "locked.pdf")[0] == 0


ODD_NAMES = ["with space.png", "-dash.png", "né 🦊.png", "a" * 251 + ".png", "line\nbreak.png"]


@pytest.mark.skipif(sys.platform == "win32", reason="these names are POSIX ones")
def test_odd_names_are_scans_like_others(run, tmp_path):
    root = small_packet.make(tmp_path / "p", openings=0, papers=0)
    for number, name in enumerate(ODD_NAMES):
        small_packet.page(number, dpi=60).save(root / "means" / name, dpi=(200, 200))
    _, out, err = run("count", root, "--json")

    assert json.loads(out)["envelope_pages"] == len(ODD_NAMES)
    assert "line\nbreak" not in err


@pytest.mark.skipif(sys.platform == "win32", reason="POSIX signals")
def test_ctrl_c_leaves_nothing_half_written(tmp_path):
    root = small_packet.make(tmp_path / "p", openings=2, papers=4)
    process = subprocess.Popen(
        [sys.executable, "-m", "packet", "build", str(root)],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        text=True,
    )
    give_up = time.monotonic() + 60
    while not (root / "out").exists() and time.monotonic() < give_up:
        time.sleep(0.05)  # the output folder is made when the build begins
    process.send_signal(signal.SIGINT)
    _, err = process.communicate(timeout=30)

    assert process.returncode == 130
    assert "Traceback" not in err
    assert not (root / "out").exists() or not list((root / "out").iterdir())


INTERRUPTED = """
import signal
import packet.__main__, packet.cli
press = lambda *_: signal.raise_signal(signal.SIGINT)
packet.cli.command.main = lambda *_, **__: {body}
packet.__main__.run()
"""
# where an interrupt strikes while modules load: in a text that exec runs (dataclasses are made
# so), and where Python 3.11 makes another error of it
STRIKES = {
    "exec": "exec('press()')",
    "set_name": "type('T', (), {'o': type('O', (), {'__set_name__': press})()})",
}


@pytest.mark.skipif(sys.platform == "win32", reason="signals of POSIX")
@pytest.mark.parametrize("place", STRIKES)
def test_ctrl_c_while_modules_load_is_exit_130(tmp_path, place):
    """CPython kills itself by SIGINT (return code -2) after a plain one left an exec'd text."""
    (tmp_path / "pressed.py").write_text(INTERRUPTED.replace("{body}", STRIKES[place]))
    done = subprocess.run(
        [sys.executable, "-m", "pressed"],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=False,
    )

    assert done.returncode == 130, done.stderr
    assert done.stderr == "packet: interrupted; nothing half-written was left.\n"


@pytest.mark.skipif(
    sys.platform == "win32" or not hasattr(os, "geteuid") or os.geteuid() == 0,
    reason="needs POSIX permissions and not the superuser",
)
def test_an_unwritable_out_is_one_sentence(run, tmp_path):
    root = small_packet.make(tmp_path / "p", openings=0, papers=1)
    root.chmod(0o500)
    code, _, err = run("build", root)
    root.chmod(0o700)

    assert code == 2
    assert "--out" in err


def test_files_of_others_are_not_replaced(run, tmp_path):
    root = small_packet.make(tmp_path / "p", openings=0, papers=1)
    other = tmp_path / "other"
    other.mkdir()
    (other / "envelope.pdf").write_text("somebody's own")
    code, _, err = run("build", root, "--out", other)

    assert code == 2
    assert "may be yours" in err
    assert (other / "envelope.pdf").read_text() == "somebody's own"


def test_out_among_the_scans_is_refused(run, tmp_path):
    root = small_packet.make(tmp_path / "p", openings=0, papers=1)
    code, _, err = run("build", root, "--out", root / "means")

    assert code == 2
    assert "among the scans" in err


def test_a_file_whose_name_begins_with_a_dash(run, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "-dash.jpg").write_bytes(b"x")

    code, _, err = run("inspect", "-dash.jpg")

    assert code == 2
    assert "write ./-dash.jpg" in err
    assert "./" not in run("inspect", "-other.jpg")[2]


def test_new_says_what_it_made(run, tmp_path):
    folder = tmp_path / "mine"
    _, out, _ = run("new", folder)

    sub_folders = sum(path.is_dir() for path in folder.iterdir())
    assert f"packet.toml, {sub_folders} sub-folders and {sub_folders} other files." in out
