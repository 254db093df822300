"""Packets of drawn scans through the command line with the real reader: the wrong person, a wrong
digit, a swapped card, one opening twice, values for a new packet. No message says what was read.

Everything on the scans is invented; skipped where the reading extra or OCR-B is not installed.
"""

from __future__ import annotations

import json
import tomllib
from dataclasses import asdict
from datetime import date

import numpy as np
import pytest
from click.testing import CliRunner
from PIL import Image

from packet.cli import command
from packet.errors import PacketError

pytest.importorskip("onnxruntime")
pytest.importorskip("rapidocr")
pytest.importorskip("zxingcpp")

from recognition.pages import draw, have_mrz_face, passport
from recognition.pages.bad import covered_zone, cut_zone
from recognition.pages.people import person
from recognition.pages.wear import LEVELS, scanned

pytestmark = pytest.mark.skipif(not have_mrz_face(), reason="no OCR-B face is installed")

SEED, STRANGER = 11, 12  # one person each
CODES = {
    "other-person", "papers-disagree", "read-disagrees", "wrong-document", "tax-code-disagrees",
    "duplicate", "opening-order",
}  # fmt: skip


def lay(path, pixels, dpi=300.0):
    """The page as a photo: on dark ground, a finger wide."""
    path.parent.mkdir(parents=True, exist_ok=True)
    edge = round(12 * dpi / 25.4)
    table = np.full((pixels.shape[0] + 2 * edge, pixels.shape[1] + 2 * edge, 3), 56, np.uint8)
    table[edge:-edge, edge:-edge] = pixels
    Image.fromarray(table).save(path, quality=92, dpi=(dpi, dpi))


def scan(path, kind, seed=SEED):
    page = draw(seed, kind, "light")
    lay(path, page.pixels, page.dpi)
    return page.truth


def opening(path, left, look):
    """A blank opening; ``look``: two of one look differ in nothing but their numbers."""
    sheet, _ = passport.opening(np.random.default_rng(look), "blank", left=left)
    rng = np.random.default_rng([look, left])
    lay(path, scanned(np.asarray(sheet.image), sheet.size_mm, 300.0, LEVELS["light"], rng=rng))


def run(*words):
    done = CliRunner().invoke(command, [str(word) for word in words], env={"PACKET_NO_READ": "0"})
    assert isinstance(done.exception, (SystemExit, PacketError, type(None)))
    return done


def values_of(truth):
    """All that a paper says of its person, as it might show in a message."""
    held = [value for value in asdict(truth.person).values() if isinstance(value, str)]
    held += [
        f"{value:%y%m%d}" for value in asdict(truth.person).values() if isinstance(value, date)
    ]
    held += [line for line in truth.mrz if line]
    return {value.casefold() for value in held if len(value) > 4}


def seen(root, number=None, more=frozenset()):
    """What ``check`` finds on these scans of ``CODES`` and ``more``: (code, scan, severity)."""
    who = draw(SEED, "data-page", "light").truth.person
    (root / "packet.toml").write_text(
        'rule_set = "elective-residence-first-issue"\n[passport]\n'
        f'number = "{number or who.number}"\npages = "written"\n',
        "utf-8",
    )
    told, plain = run("check", root, "--json"), run("check", root)
    for seed in (SEED, STRANGER):
        values = values_of(draw(seed, "data-page", "light").truth)
        values |= values_of(draw(seed, "id-back", "light").truth)
        said = (told.output + plain.output).casefold()
        assert not [value for value in values if value in said]
    found = json.loads(told.stdout)["findings"]
    return {
        (one["code"], one["subject"].partition("#")[0], one["severity"])
        for one in found
        if one["code"] in CODES | more
    }


@pytest.fixture
def papers(tmp_path):
    """One person's passport, identity card and tax card, each in its folder."""
    root = tmp_path / "packet"
    scan(root / "passport/1.jpg", "data-opening")
    scan(root / "id-card/1.jpg", "id-front")
    scan(root / "id-card/2.jpg", "id-back")
    scan(root / "tax-card/1.jpg", "tax-front")
    scan(root / "tax-card/2.jpg", "tax-back")
    return root


def test_the_papers_of_one_person(papers):
    assert seen(papers) == set()


def test_a_wrong_digit(papers):
    number = person(np.random.default_rng([SEED, 6])).number
    at = max(place for place, sign in enumerate(number) if sign.isdigit())
    wrong = f"{number[:at]}{(int(number[at]) + 5) % 10}{number[at + 1 :]}"

    assert seen(papers, wrong) == {("read-disagrees", "passport/1.jpg", "error")}


def test_another_persons_card(papers):
    scan(papers / "id-card/2.jpg", "id-back", STRANGER)

    assert ("other-person", "id-card/2.jpg", "error") in seen(papers)


def test_another_persons_tax_card(papers):
    scan(papers / "tax-card/2.jpg", "tax-back", STRANGER)
    found = seen(papers)

    assert {one[1] for one in found} == {"tax-card/2.jpg"}
    assert "error" in {one[2] for one in found}


def test_a_swapped_card(papers):
    """Tax card and identity card lie in each other's folder."""
    (papers / "id-card/2.jpg").rename(papers / "tax-card/3.jpg")
    (papers / "tax-card/1.jpg").rename(papers / "id-card/3.jpg")
    found = seen(papers)

    assert {
        ("wrong-document", "id-card/3.jpg", "warning"),
        ("wrong-document", "tax-card/3.jpg", "warning"),
    } <= found


def test_blank_openings_are_told_apart_by_their_numbers(tmp_path):
    root = tmp_path / "packet"
    for at, left in enumerate((4, 6, 8, 6)):
        opening(root / f"passport/{at}.jpg", left, look=3)

    assert seen(root) == {
        ("duplicate", "passport/3.jpg", "warning"),
        ("opening-order", "passport/3.jpg", "warning"),
    }


def test_what_cannot_be_read_says_no_value(tmp_path):
    """A mirrored page, lines cut off and lines under a finger, handwriting: a finding that says so
    or nothing, never that something is wrong with the papers."""
    root = tmp_path / "packet"
    mirrored = draw(SEED, "data-opening", "light", mirrored=True)
    lay(root / "passport/1.jpg", mirrored.pixels, mirrored.dpi)
    for at, page in enumerate((cut_zone(7), covered_zone(SEED)), start=2):
        lay(root / f"passport/{at}.jpg", page.pixels, page.dpi)
    scan(root / "home/1.jpg", "hand", 44)
    found = seen(root, more={"mirrored", "cut-off", "turn-unsure"})

    assert {
        ("mirrored", "passport/1.jpg", "warning"),
        ("cut-off", "passport/2.jpg", "warning"),
        ("turn-unsure", "home/1.jpg", "note"),
    } == found


def test_two_passports_on_one_glass(tmp_path):
    root = tmp_path / "packet"
    pages = [draw(seed, "data-page", "light", turn_deg=0) for seed in (SEED, STRANGER)]
    wide = max(page.pixels.shape[1] for page in pages)
    gap = np.full((60, wide, 3), 56, np.uint8)
    parts = [
        np.pad(page.pixels, ((0, 0), (0, wide - page.pixels.shape[1]), (0, 0)), "edge")
        for page in pages
    ]
    lay(root / "passport/1.jpg", np.concatenate([parts[0], gap, parts[1]]), pages[0].dpi)

    assert ("other-person", "passport/1.jpg", "error") in seen(root)


def test_a_new_packet_takes_proposals_from_the_passport(tmp_path):
    truth = scan(tmp_path / "IMG_1.jpg", "data-opening")
    done = run("new", tmp_path / "new", "--read", tmp_path / "IMG_1.jpg")

    assert done.exit_code == 0
    text = (tmp_path / "new/packet.toml").read_text("utf-8")
    assert truth.person.number in text
    assert truth.person.number not in json.dumps(tomllib.loads(text), default=str)
    assert not [value for value in values_of(truth) if value in done.output.casefold()]


def test_a_new_packet_takes_nothing_from_other_papers(tmp_path):
    for name, kind, seed in (("card", "id-back", SEED), ("cover", "cover", SEED)):
        scan(tmp_path / f"{name}.jpg", kind, seed)
        done = run("new", tmp_path / "new", "--read", tmp_path / f"{name}.jpg")

        assert "no machine-readable lines of a passport" in str(done.exception)
        assert not (tmp_path / "new").exists()


def test_a_new_packet_takes_nothing_from_two_passports(tmp_path):
    scans = [tmp_path / "1.jpg", tmp_path / "2.jpg"]
    for path, seed in zip(scans, (SEED, STRANGER), strict=True):
        scan(path, "data-page", seed)
    done = run("new", tmp_path / "new", "--read", scans[0], "--read", scans[1])

    assert "more than one passport" in str(done.exception)
    assert not (tmp_path / "new").exists()
