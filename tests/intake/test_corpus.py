"""Real files of public test suites, against what independent readers say of each.

``expected.json`` of the corpus holds the sizes and page counts found by qpdf, poppler, pdfium,
ImageMagick, OpenCV, tiffinfo and heif-info, and a verdict. Every file is opened in a worker, as
in real use: a crash or a hang fails that file only.
"""

from __future__ import annotations

import json

import pytest
from conftest import CORPUS
from corpus_look import look

from packet.errors import ScanError
from packet.intake.pictures import open_scan
from packet.workers import Failed, Part, Workers

PT_MM = 25.4 / 72  # ISO 32000-2, 8.3.2.3
TIME_LIMIT_S = 20  # of the verdict "refuse-or-bounded"
EXPECTED = CORPUS / "expected.json"
FILES = json.loads(EXPECTED.read_text("utf-8"))["files"] if EXPECTED.is_file() else {}

# Where we refuse although independent readers take the file, each with its reason.
REFUSED = {
    "1-images/heif/heif_other__invalid_id.heic": "its primary item has an unknown type; "
    "libheif 1.18 and later hand out the preview in its place, which would be a wrong picture",
}

pytestmark = pytest.mark.skipif(
    not FILES, reason="corpus/expected.json is not beside this checkout"
)


def must_stay_locked(facts):
    return facts["verdict"] == "refuse" and facts.get("password_needed")


def read(names):
    """File name -> (pages, None or the failure); two workers read them all."""
    jobs = [
        {
            "path": str(CORPUS / name),
            "password": None if must_stay_locked(FILES[name]) else FILES[name].get("password"),
        }
        for name in names
    ]
    pages = {name: [] for name in names}
    ends = dict.fromkeys(names)
    with Workers(look, jobs=2, time_limit_s=TIME_LIMIT_S) as pool:
        for answer in pool.run(jobs):
            if isinstance(answer, Part):
                pages[names[answer.job]].append(answer.value)
            elif isinstance(answer, Failed):
                ends[names[answer.job]] = answer
    return {name: (pages[name], ends[name]) for name in names}


PRESENT = [name for name in sorted(FILES) if (CORPUS / name).is_file()]
LONG = [name for name in PRESENT if (FILES[name].get("pages") or 1) > 10]
SHORT = [name for name in PRESENT if name not in LONG]


@pytest.fixture(scope="module")
def short_answers():
    return read(SHORT)


@pytest.fixture(scope="module")
def long_answers():
    return read(LONG)


@pytest.mark.parametrize("name", SHORT)
def test_corpus_file(short_answers, name):
    check(FILES[name], name, *short_answers[name])


@pytest.mark.slow
@pytest.mark.parametrize("name", LONG)
def test_long_corpus_file(long_answers, name):
    check(FILES[name], name, *long_answers[name])


def check(facts, name, pages, failed):
    if failed is not None:
        check_refusal(name, facts, failed)
        return
    assert facts["verdict"] != "refuse", "taken, but every independent reader refuses it"
    assert len(pages) in page_counts(facts)
    check_pixels(facts, pages)
    check_sizes(facts, pages)


def check_refusal(name, facts, failed):
    assert failed.reason == "refused", str(failed.error)  # never a crash, never a hang
    assert failed.error.what
    assert failed.error.remedy
    if name not in REFUSED:
        assert facts["verdict"] not in {"accept", "by-type"}, str(failed.error)
    if facts["verdict"] == "refuse" and facts.get("password_needed"):
        assert "password" in failed.error.what
        assert "--password-file" in failed.error.remedy
        assert "PACKET_PASSWORD" in failed.error.remedy


def page_counts(facts):
    if "allowed_pages" in facts:
        return facts["allowed_pages"]
    if facts["verdict"] == "refuse-or-bounded":
        return range(1, 4)
    return [facts.get("pages") or facts.get("frames_as_pages") or 1]


def check_pixels(facts, pages):
    if "oriented_px" in facts and facts["verdict"] != "refuse-or-bounded":
        assert pages[0]["px"] in facts.get("allowed_px", [facts["oriented_px"]])


def check_sizes(facts, pages):
    units = facts.get("user_unit") or [1]
    for number, (width, height, turned) in enumerate(facts.get("page_pt_rotation", [])):
        unit = units[number] if len(units) > 1 else units[0]
        due = (height, width) if turned % 180 else (width, height)
        due_mm = [length * unit * PT_MM for length in due]
        assert pages[number]["mm"] == pytest.approx(due_mm, abs=0.05)


@pytest.mark.parametrize("name", [name for name in PRESENT if FILES[name].get("without_password")])
def test_corpus_file_without_its_password(name):
    with pytest.raises(ScanError) as caught:
        next(open_scan(CORPUS / name))
    assert "password" in caught.value.what
    assert "--password-file" in caught.value.remedy
