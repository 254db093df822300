"""The readers on pictures: machine-readable lines, turn, page numbers, bad input.

Lines: specimens of ICAO Doc 9303, printed in OCR-B at its pitch; skipped where no such face is.
"""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image, ImageDraw, ImageFont
from rules.test_mrz_format import SPECIMENS

from packet.model import Kind
from packet.readings import MrzLines, ReadRequest, ReadState

pytest.importorskip("onnxruntime")
pytest.importorskip("rapidocr")
pytest.importorskip("zxingcpp")

from packet.recognition import mrz
from packet.recognition.boxes import find_boxes
from packet.recognition.engine import load_engine
from packet.recognition.lines import turned_boxes, turned_pixels
from packet.recognition.mrz_zone import evenness, is_whole, levelled, zones_of
from packet.recognition.page_numbers import _Number, agreed
from packet.recognition.read import read_item
from recognition.pages.bad import covered_zone, cut_zone
from recognition.pages.faces import face, faces

ACCEPTED = (ReadState.READ, ReadState.REPAIRED)
DPI = 250
PX = DPI / 25.4
NOTO = Path(__file__).parents[2] / "fonts" / "NotoSans-Regular.ttf"


@pytest.fixture(autouse=True)
def _one_thread():
    before = cv2.getNumThreads()
    cv2.setNumThreads(1)
    yield
    cv2.setNumThreads(before)


def zone(page: Image.Image, lines, *, top_mm: float) -> None:
    if not faces("mrz"):
        pytest.skip("no OCR-B face is installed")
    draw = ImageDraw.Draw(page)
    font = face(faces("mrz")[0], round(3.52 * PX))
    for number, line in enumerate(lines):
        for place, sign in enumerate(line):
            at = ((6.5 + 2.54 * (place + 0.5)) * PX, (top_mm + 5.6 * number) * PX)
            draw.text(at, sign, fill=(25, 25, 25), font=font, anchor="ms")


def data_page(lines) -> Image.Image:
    page = Image.new("RGB", (round(125 * PX), round(88 * PX)), (236, 232, 224))
    draw = ImageDraw.Draw(page)
    small = ImageFont.truetype(str(NOTO), round(3.0 * PX))
    for number, text in enumerate(
        ("PASSPORT / PASSAPORTO", "Surname / Cognome", "Given names / Nome", "Date of issue")
    ):
        draw.text((45 * PX, (6 + 9 * number) * PX), text, fill=(40, 40, 60), font=small)
    zone(page, lines, top_mm=70.0)
    return page


def asked(pixels: np.ndarray, **how) -> ReadRequest:
    high, wide = pixels.shape[:2]
    given_kind = how.pop("kind", Kind.OTHER)
    return ReadRequest(
        pixels=pixels, dpi=DPI, size_mm=(wide / PX, high / PX), kind=given_kind,
        kinds=tuple(Kind), **how,
    )  # fmt: skip


@pytest.mark.parametrize("name", SPECIMENS)
@pytest.mark.parametrize("turn", [0, 90, 180, 270])
def test_specimen_is_read_in_every_turn(name, turn):
    if turn in (90, 180) and name != "TD3":
        pytest.skip("one format stands for the others in these turns")
    page = np.asarray(data_page(SPECIMENS[name]))
    reading = read_item(asked(np.ascontiguousarray(np.rot90(page, turn // 90))))

    assert reading.turn_deg == turn
    (told,) = reading.mrz
    assert (told.mrz_format, told.lines) == (name, SPECIMENS[name])
    assert told.state in ACCEPTED
    assert SPECIMENS[name][1][:9] not in repr(reading)


def test_two_zones_in_one_scan_are_both_told():
    page = data_page(SPECIMENS["TD3"])
    zone(page, SPECIMENS["MRV-A"], top_mm=50.0)
    reading = read_item(asked(np.asarray(page)))

    found = {one.lines for one in reading.mrz if one.state in ACCEPTED}
    assert found == {SPECIMENS["TD3"], SPECIMENS["MRV-A"]}


def test_a_cut_zone_is_never_accepted():
    page = np.asarray(data_page(SPECIMENS["TD3"]))
    for part in (page[:, : round(0.7 * page.shape[1])], page[: round(71.5 * PX)]):
        reading = read_item(asked(np.ascontiguousarray(part)))
        assert not [one for one in reading.mrz if one.state in ACCEPTED]


def test_a_mirrored_zone_is_never_accepted():
    page = np.ascontiguousarray(np.asarray(data_page(SPECIMENS["TD3"]))[:, ::-1])
    reading = read_item(asked(page))

    assert not [one for one in reading.mrz if one.state in ACCEPTED]


@pytest.mark.parametrize("size", [(1000, 1400), (20, 20), (33, 2000), (540, 850)])
def test_empty_and_odd_pictures_say_nothing(size):
    for value in (0, 128, 255):
        reading = read_item(asked(np.full((*size, 3), value, np.uint8)))
        assert (reading.turn_deg, reading.mrz, reading.page_numbers) == (None, (), ())


def test_noise_and_grey_pictures_are_no_trouble():
    noise = np.random.default_rng(3).integers(0, 256, (700, 1000), np.uint8)
    reading = read_item(asked(noise))

    assert not reading.mrz
    assert not reading.tax_codes


@given(
    st.sampled_from([90, 180, 270]), st.floats(20, 180), st.floats(20, 80), st.floats(4, 15),
    st.booleans(),
)  # fmt: skip
def test_boxes_follow_the_picture(turn, x, y, half, upright):
    """What a turned box holds on the turned picture is what it held; four turns are none."""
    w, h = (half, 3 * half) if upright else (3 * half, half)
    around = [(-w, -h), (w, -h), (w, h), (-w, h)]
    box = np.array([(x + dx, y + dy) for dx, dy in around], np.float32)
    box = np.roll(box, 1, axis=0) if upright else box
    shape = (100, 200)
    moved = turned_boxes(box[None], turn, shape)
    back = turned_boxes(moved, 360 - turn, shape if turn == 180 else shape[::-1])

    assert sorted(map(tuple, back[0].round(2))) == sorted(map(tuple, box.round(2)))
    along = moved[0, 1] - moved[0, 0]
    assert along[0] > 0 if abs(along[0]) > abs(along[1]) else along[1] < 0


def test_a_turned_picture_shows_the_same_boxes():
    engine = load_engine()
    page = np.asarray(data_page(SPECIMENS["TD3"]))
    boxes = find_boxes(engine, page)
    moved = turned_boxes(boxes, 90, page.shape)
    high, wide = turned_pixels(page, 90).shape[:2]

    assert len(boxes) > 4
    assert (moved[..., 0] < wide + 20).all()
    assert (moved[..., 1] < high + 20).all()


def test_text_that_runs_upwards_is_found_as_if_the_picture_were_turned():
    engine = load_engine()
    page = np.asarray(data_page(SPECIMENS["TD3"]))
    beside = turned_pixels(page, 270)
    found = turned_boxes(find_boxes(engine, beside, quarter=True), 90, beside.shape)

    level = find_boxes(engine, page)

    assert len(found) == len(level) > 4
    assert np.allclose(np.sort(found.mean(1), 0), np.sort(level.mean(1), 0), atol=3)


@pytest.mark.parametrize(
    ("second", "state"),
    [
        (("AB", "CD"), ReadState.REPAIRED),
        (("AB", "CE"), ReadState.UNSURE),
        (None, ReadState.UNSURE),
    ],
)
def test_a_doubted_zone_counts_where_a_second_reading_proves_the_same_lines(
    monkeypatch, second, state
):
    doubt = MrzLines(mrz_format="TD3", lines=("AB", "CD"), state=ReadState.UNSURE)
    proof = second and MrzLines(mrz_format="TD3", lines=second, state=ReadState.REPAIRED)
    answers = iter([doubt, proof])
    monkeypatch.setattr(mrz, "_read_lines", lambda *_: next(answers))
    page = np.asarray(data_page(SPECIMENS["TD3"]))
    (found,) = zones_of(find_boxes(load_engine(), page), page.shape[1])
    read = mrz.read_zone(load_engine(), page, found)

    assert read.lines == ("AB", "CD")
    assert read.state is state


@pytest.mark.parametrize("edge", ["left", "right", "low"])
def test_a_line_at_the_edge_of_the_picture_is_not_whole(edge):
    line = np.array([(40, 70), (940, 70), (940, 100), (40, 100)], np.float32)
    high, wide = {"left": (200, 1000), "right": (200, 942), "low": (96, 1000)}[edge]
    moved = line - np.float32([38 if edge == "left" else 0, 0])

    assert is_whole(line, (200, 1000, 3))
    assert not is_whole(moved, (high, wide, 3))


@pytest.mark.parametrize("seed", [205, 225, 238])
def test_a_zone_cut_to_the_width_of_another_format_is_doubted(seed):
    """Digits of a cut passport line may fit as those of a visa; P where V must stand tells."""
    if not faces("mrz"):
        pytest.skip("no OCR-B face is installed")
    page = (covered_zone if seed == 205 else cut_zone)(seed)
    reading = read_item(
        ReadRequest(
            pixels=page.pixels, dpi=page.dpi, size_mm=page.size_mm, kind=Kind.OTHER,
            kinds=tuple(Kind),
        )
    )  # fmt: skip

    assert all(one.state is ReadState.UNSURE for one in reading.mrz)


def number(value: int, right: bool, score: float = 0.99) -> _Number:
    return _Number(value=value, score=score, right=right, plain=value > 9)


@pytest.mark.parametrize(
    ("found", "told", "state"),
    [
        ([number(12, False), number(13, True)], (12, 13), ReadState.READ),
        ([number(13, False), number(14, True)], (), ReadState.UNSURE),  # the left one is even
        ([number(12, False), number(15, True)], (), ReadState.UNSURE),
        ([number(12, False)], (12, 13), ReadState.READ),
        ([number(13, True)], (12, 13), ReadState.READ),
        ([number(12, False, 0.8)], (), ReadState.UNSURE),
        ([number(4, False)], (), ReadState.UNSURE),  # one sign alone is too little
        ([number(12, True)], (), ReadState.UNSURE),
        ([], (), ReadState.UNREAD),
    ],
)
def test_numbers_of_an_opening_follow_each_other(found, told, state):
    answer = agreed(found)

    assert (answer.numbers, answer.state) == (told, state)


@pytest.mark.parametrize("name", SPECIMENS)
def test_machine_readable_lines_stand_evenly(name):
    page = Image.new("RGB", (round(125 * PX), round(88 * PX)), (236, 232, 224))
    zone(page, SPECIMENS[name], top_mm=60.0)
    pixels = np.asarray(page)
    (found,) = zones_of(find_boxes(load_engine(), pixels), pixels.shape[1])

    assert max(evenness(pixels, levelled(pixels, line)) for line in found.lines) > 0.55


def test_printed_words_do_not():
    page = Image.new("RGB", (round(125 * PX), round(88 * PX)), (236, 232, 224))
    font = ImageFont.truetype(str(NOTO), round(3.0 * PX))
    for number, text in enumerate(
        (
            "The holder should report the loss of this book at once",
            "to the police and to the office that gave it to the holder",
        )
    ):
        ImageDraw.Draw(page).text(
            (8 * PX, (60 + 6 * number) * PX), text, fill=(40, 40, 60), font=font
        )
    pixels = np.asarray(page)
    zones = zones_of(find_boxes(load_engine(), pixels), pixels.shape[1])

    assert zones
    for line in zones[0].lines:
        assert evenness(pixels, levelled(pixels, line)) < 0.4


def test_two_lines_of_prose_are_no_machine_readable_lines():
    """Every zone holds the filler twice in a row (Doc 9303 part 3); a sentence never does."""
    from packet.imaging.scan import process_scan
    from packet.model import ScanTask

    path = Path(__file__).parents[2] / "samples" / "demo" / "passport" / "IMG_02.jpg"
    task = ScanTask(path=path, name="a.jpg", kinds=tuple(Kind), encode=False, read=True)
    (page,) = process_scan(task, read_item)
    (item,) = page.items

    assert item.reading.mrz == ()
    assert item.kind is Kind.PASSPORT_SPREAD
