"""Bad files are refused with a sentence, odd valid ones are read; nothing crashes or hangs.

The whole corpus and its figures: tests/benchmarks/hostile.py. Here a part of it, every time.
"""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from packet.errors import ScanError, ScanLimitError
from packet.intake.pictures import open_scan
from packet.workers import Failed, Part, Workers
from trust import jobs, seeds, spoilt

SAMPLES = Path(__file__).resolve().parents[2] / "samples"
TIME_LIMIT_S = 60
SUFFIXES = {".jpg", ".jpeg", ".png", ".pdf", ".tif", ".tiff", ".heic", ".webp", ".gif"}


def ends(files, room):
    """name -> (pages or None, failure or None), each file read in a worker."""
    paths = []
    for number, (_, data) in enumerate(files):
        paths.append(room / str(number))
        paths[-1].write_bytes(data)
    answers = [(None, None)] * len(files)
    with Workers(jobs.decode, jobs=2, time_limit_s=TIME_LIMIT_S) as pool:
        for answer in pool.run(map(str, paths)):
            if isinstance(answer, Part):
                answers[answer.job] = (answer.value, None)
            elif isinstance(answer, Failed):
                answers[answer.job] = (None, answer)
    return {name: answer for (name, _), answer in zip(files, answers, strict=True)}


def check_refusals(answers):
    for name, (_, failure) in answers.items():
        if failure is not None:
            assert failure.reason == "refused", f"{name}: {failure.reason}"
            assert "reader failed" not in failure.error.what, f"{name}: {failure.error}"
            assert failure.error.what.endswith(".")
            assert failure.error.remedy.endswith(".")


@pytest.fixture(scope="module")
def bad():
    return list(spoilt.bad_files())


def test_there_are_300_bad_files_with_names_of_their_own(bad):
    assert len(bad) >= 300
    assert len({name for name, _ in bad}) == len(bad)


def test_a_part_of_the_bad_files(bad, tmp_path):
    check_refusals(ends(bad[::7], tmp_path))


@pytest.mark.slow
def test_all_bad_files(bad, tmp_path):
    check_refusals(ends(bad, tmp_path))


def test_every_odd_valid_file_is_read(tmp_path):
    answers = ends(list(spoilt.odd_files()), tmp_path)
    refused = {name: str(failure.error) for name, (_, failure) in answers.items() if failure}
    assert refused == {}
    assert all(pages >= 1 for pages, _ in answers.values())


@pytest.mark.slow
def test_every_heavy_valid_page_is_read(tmp_path):
    answers = ends(list(spoilt.heavy_files()), tmp_path)
    assert {name: str(failure.error) for name, (_, failure) in answers.items() if failure} == {}


def test_what_was_not_seen_to_be_too_much_is_ended_while_it_is_drawn(bad, tmp_path):
    names = ("bomb-one-image-often.pdf", "bomb-paths-just-below.pdf")
    answers = ends([(name, dict(bad)[name]) for name in names], tmp_path)
    check_refusals(answers)
    for name in names:
        assert "takes far more to read and to draw" in answers[name][1].error.what


@pytest.mark.parametrize(
    "name",
    ["bomb-many-paths.pdf", "bomb-nested-forms.pdf", "bomb-pattern.pdf", "bomb-page-size.pdf",
     "bomb-content.pdf", "bomb-image.pdf", "bomb-pages.pdf"],
)  # fmt: skip
def test_a_bomb_is_refused_before_anything_is_drawn(bad, tmp_path, name):
    path = tmp_path / name
    path.write_bytes(dict(bad)[name])
    with pytest.raises(ScanError) as caught:
        list(open_scan(path))
    assert isinstance(caught.value, ScanLimitError) or "damaged" in caught.value.what


def test_an_annotation_is_measured_like_the_page(tmp_path):
    import pikepdf
    from pikepdf import Array, Dictionary, Name

    with pikepdf.new() as pdf:
        page = seeds.drawn_page(pdf)
        look = pdf.make_stream(b"0 0 m 9 9 l S\n" * 1_300_000, Subtype=Name.Form)
        look.BBox = Array([0, 0, 9, 9])
        note = Dictionary(Type=Name.Annot, Subtype=Name.Stamp, Rect=Array([0, 0, 9, 9]))
        note.AP = Dictionary(N=look)
        page.Annots = Array([pdf.make_indirect(note)])
        (tmp_path / "a.pdf").write_bytes(seeds.saved(pdf))
    with pytest.raises(ScanLimitError, match="far more than paper holds"):
        list(open_scan(tmp_path / "a.pdf"))


def test_a_jpeg_too_short_for_its_pixels_is_refused_before_decoding(tmp_path):
    """ITU-T T.81: a block of 8 by 8 pixels takes one bit at least."""
    data = bytearray(seeds.encoded("JPEG"))
    frame = data.index(b"\xff\xc0") + 5
    data[frame : frame + 4] = (9000).to_bytes(2, "big") * 2
    (tmp_path / "a.jpg").write_bytes(bytes(data))
    with pytest.raises(ScanError, match="cut short"):
        list(open_scan(tmp_path / "a.jpg"))


def test_the_emptiest_whole_jpeg_is_long_enough(tmp_path):
    """One even colour at the lowest quality: no true picture is refused by its length."""
    from PIL import Image

    for size in ((4000, 4000), (8, 8), (1, 1)):
        for options in ({}, {"progressive": True}, {"optimize": True, "subsampling": 2}):
            image = Image.new("L", size, 255)
            (tmp_path / "a.jpg").write_bytes(seeds.encoded("JPEG", image, quality=1, **options))
            assert next(open_scan(tmp_path / "a.jpg")).width_px == size[0]


# --- random mutations --------------------------------------------------------------------------


def mutated(data: bytes, drawn: random.Random) -> bytes:
    """A bounded random change: flipped bits, a cut, a hole, a part twice, a part moved."""
    spoilt_data = bytearray(data)
    at, end = sorted(drawn.randrange(len(data) + 1) for _ in range(2))
    end = min(end, at + 50_000)
    match drawn.randrange(6):
        case 0 | 1:
            for _ in range(drawn.randint(1, 40)):
                spoilt_data[drawn.randrange(len(data))] ^= 1 << drawn.randrange(8)
        case 2:
            del spoilt_data[at:]
        case 3:
            spoilt_data[at:end] = bytes(end - at)
        case 4:
            spoilt_data[at:at] = spoilt_data[at:end]
        case 5:
            part = bytes(spoilt_data[at:end])
            del spoilt_data[at:end]
            place = drawn.randrange(len(spoilt_data) + 1)
            spoilt_data[place:place] = part
    return bytes(spoilt_data)


def run_mutations(sources, times, room, seed):
    drawn = random.Random(seed)
    for start in range(0, times, 200):
        batch = [
            (f"{seed}-{start + number}", mutated(drawn.choice(sources), drawn))
            for number in range(min(200, times - start))
        ]
        check_refusals(ends(batch, room))


def test_random_mutations_of_small_files(tmp_path):
    sources = [data for group in seeds.formats().values() for data in group]
    run_mutations(sources, 200, tmp_path, seed=41)


@pytest.mark.nightly
def test_ten_thousand_mutations_of_the_samples(tmp_path):
    paths = sorted(path for path in SAMPLES.rglob("*") if path.suffix.lower() in SUFFIXES)
    sources = [path.read_bytes() for path in paths if path.stat().st_size < 3_000_000]
    assert sources
    run_mutations(sources, 10_000, tmp_path, seed=42)
