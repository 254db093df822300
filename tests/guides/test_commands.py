"""``packet worksheet``, ``counter``, ``dates``: files, JSON, exit codes, bad input."""

from __future__ import annotations

import json
from datetime import date, datetime

import pypdfium2
import pytest
import small_packet

from packet.cli import main
from packet.cli.options import day_of

VALUES = """
[passport]
number = "UX4071936"
expires = 2031-05-02
pages = "written"
[entry]
date = 2026-11-20
[receipt]
user_id = "U777"
password = "P888"
"""


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


@pytest.fixture
def folder(tmp_path):
    root = small_packet.make(tmp_path / "p", openings=0, papers=1)
    values = small_packet.TOML.replace('[passport]\npages = "written"\n', VALUES)
    (root / "packet.toml").write_text(values, "utf-8")
    return root


def test_none_of_the_files_makes_a_build_stale(run, folder):
    """The sheets of this room are not part of a build: count and recount do not see them."""
    run("build", folder)
    today = ("--today", "2026-11-25")
    before = sorted(path.name for path in (folder / "out").iterdir())
    recounted = run("recount", folder, "--json")
    for command in ("worksheet", "counter", "dates"):
        run(command, folder, *today)

    after = {path.name for path in (folder / "out").iterdir()}
    assert after - set(before) == {"worksheet.pdf", "counter.pdf", "appointment.pdf", "dates.ics"}
    _, out, _ = run("count", folder, "--json")
    assert json.loads(out)["basis"] == "files"
    assert run("recount", folder, "--json") == recounted
    run("build", folder)
    assert (folder / "out" / "worksheet.pdf").is_file()  # a new build leaves them alone


def test_worksheet_takes_the_number_from_the_count(run, folder):
    run("build", folder)
    _, counted, _ = run("count", folder, "--json")
    code, out, _ = run("worksheet", folder, "--json", "--today", "2026-11-25")
    found = json.loads(out)

    (row,) = [one for one in found["boxes"] if one["box"] == "25"]
    number = json.loads(counted)["box"]
    complete = json.loads(counted)["complete"]
    assert row["value"] == (f"{number:02d}" if complete else "")
    if not complete:
        assert code == 1
        assert f"{number} for now" in row["note"]
    assert {"box", "label", "value", "source", "note"} <= set(row)
    with pypdfium2.PdfDocument(folder / "out" / "worksheet.pdf") as pdf:
        assert len(pdf) >= 2


def test_counter_and_dates_in_json(run, folder):
    code, out, _ = run("counter", folder, "--json", "--today", "2026-11-25")
    assert code == 0
    assert len(json.loads(out)["sums"]) == 3  # the trial rule set names no band
    assert "U777" not in out

    code, out, _ = run("dates", folder, "--json", "--today", "2026-11-25")
    found = json.loads(out)
    assert code == 0
    assert found["today"] == "2026-11-25"
    assert [one["kind"] for one in found["dates"]] == ["entry-term", "passport-end"]
    assert {"date", "weekday", "days_left", "source", "note", "readings"} <= set(found["dates"][0])


def test_a_missed_term_ends_with_1_and_says_so(run, folder):
    for command in ("dates", "counter"):
        code, out, _ = run(command, folder, "--today", "2026-12-10")
        assert code == 1
        assert "licensed legal help" in " ".join(out.split())

    _, out, _ = run("status", folder, "--today", "2026-12-10")
    assert "licensed legal help" in " ".join(out.split())


def test_status_names_the_dates(run, folder):
    _, out, _ = run("status", folder, "--today", "2026-11-25")

    assert "by Saturday 28 November 2026" in " ".join(out.split())
    assert "2031-05-02 Fri  The passport ends" in out
    _, out, _ = run("status", folder, "--json", "--today", "2026-11-25")
    assert [one["kind"] for one in json.loads(out)["dates"]] == ["entry-term", "passport-end"]


def test_check_looks_at_the_values(run, folder):
    text = (folder / "packet.toml").read_text("utf-8")
    wrong = text.replace("[passport]", '[address]\npostcode = "x"\n[passport]')
    wrong = wrong.replace("expires = 2031-05-02", "expires = 2026-11-19")
    (folder / "packet.toml").write_text(wrong, "utf-8")
    code, out, _ = run("check", folder, "--json", "--today", "2026-11-25")

    found = {(one["code"], one["subject"]) for one in json.loads(out)["findings"]}
    assert code == 1
    assert ("date-order", "passport.expires") in found
    assert ("postcode", "address.postcode") in found
    assert json.loads(out)["ready"] is False


def test_a_table_of_amounts_of_the_user(run, folder):
    text = (folder / "packet.toml").read_text("utf-8")
    (folder / "packet.toml").write_text('fee_table = "fees.toml"\n' + text, "utf-8")
    code, _, err = run("counter", folder)
    assert code == 2
    assert "fees.toml: is not a file" in err

    (folder / "fees.toml").write_text(
        'as_of = 2026-01-01\n[[item]]\nname = "stamp"\ntitle_it = "a"\ntitle_en = "b"\n'
        'amount = "16.00"\n',
        "utf-8",
    )
    code, out, err = run("counter", folder, "--json")
    assert code == 2
    found = [one["message"] for one in json.loads(out)["findings"]]
    assert any("item[0].source: found nothing" in one for one in found)
    assert not (folder / "out").exists()


def test_impossible_dates_name_their_keys(run, folder):
    text = (folder / "packet.toml").read_text("utf-8")
    wrong = text.replace("2031-05-02", "2031-02-30").replace("2026-11-20", "2026-11-31")
    (folder / "packet.toml").write_text(wrong, "utf-8")
    code, out, _ = run("dates", folder, "--json")

    assert code == 2
    found = [one["message"].partition(":")[0] for one in json.loads(out)["findings"]]
    assert found == ["expires", "date"]


def test_today_is_a_day_and_may_be_given():
    assert day_of(datetime(2026, 11, 25)) == date(2026, 11, 25)
    assert type(day_of(None)) is date


def test_out_folder(run, folder, tmp_path):
    run("dates", folder, "--out", tmp_path / "elsewhere")
    assert (tmp_path / "elsewhere" / "dates.ics").is_file()
    assert not (folder / "out").exists()
    code, _, _ = run("dates", folder, "--out", folder)
    assert code == 2
