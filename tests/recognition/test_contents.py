"""What an upright item is, and whose: read by the models on drawn pages of development seeds."""

from __future__ import annotations

import pytest

from packet.model import Kind
from packet.readings import ReadRequest, ReadState
from packet.recognition.contents import Upright, read_contents
from packet.recognition.engine import load_engine
from packet.recognition.read import read_item
from packet.recognition.words import read_words
from recognition.pages import draw, have_mrz_face

ENGINE = load_engine()
pytestmark = pytest.mark.skipif(ENGINE is None, reason="the extra packet[read] is not installed")


def contents(kind: str, seed: int, guess: Kind, kinds: tuple[Kind, ...] = ()):
    from packet.recognition.boxes import find_boxes

    page = draw(seed, kind, "middle", turn_deg=0)
    item = Upright(
        pixels=page.pixels,
        boxes=find_boxes(ENGINE, page.pixels),
        size_mm=page.size_mm,
        guess=guess,
        kinds=kinds,
    )
    return page, read_contents(ENGINE, item)


@pytest.mark.parametrize(
    ("kind", "guess"),
    [
        ("tax-front", Kind.ID_CARD_FRONT),
        ("tax-back", Kind.ID_CARD_FRONT),
        ("id-front", Kind.TAX_CARD_FRONT),
        ("permit-front", Kind.ID_CARD_FRONT),
        ("form", Kind.A4_PAGE),
        ("cover", Kind.PASSPORT_SPREAD),
    ],
)
def test_kinds_without_machine_readable_lines(kind, guess):
    page, read = contents(kind, 1, guess)

    assert read.told.kind is not None
    assert read.told.kind.value == page.truth.kind


@pytest.mark.parametrize("kind", ["tax-front", "tax-back", "permit-front"])
def test_a_paper_of_another_document_is_told(kind):
    """A folder says what may lie in it; what plainly is another paper is not pressed into that."""
    cards = (Kind.ID_CARD_FRONT, Kind.ID_CARD_BACK)
    page, read = contents(kind, 1, Kind.ID_CARD_FRONT, cards)
    _, anything = contents(kind, 1, Kind.ID_CARD_FRONT, (*cards, Kind.OTHER))

    assert read.told.kind is not None
    assert read.told.kind.value == page.truth.kind
    assert anything.told.kind in (None, *cards, Kind.OTHER)


def test_light_signs_on_darker_stock():
    from packet.recognition.boxes import find_boxes, light_signs

    for kind, light in (("cover", True), ("notes-opening", False), ("tax-front", False)):
        pixels = draw(2, kind, "hard", turn_deg=0).pixels
        assert light_signs(pixels, find_boxes(ENGINE, pixels)) is light


def test_the_code_of_a_card_is_read_from_text_and_bars():
    front, of_front = contents("tax-front", 4, Kind.TAX_CARD_FRONT)
    back, of_back = contents("tax-back", 4, Kind.TAX_CARD_BACK)

    assert {one.value for one in of_front.tax_codes} == {front.truth.tax_code}
    assert ("barcode", ReadState.READ) in {(one.source, one.state) for one in of_back.tax_codes}
    assert {one.value for one in of_back.tax_codes} == {back.truth.tax_code}


def test_the_words_of_a_first_page_tell_its_document():
    pages = [
        (page.truth.folder, read.terms)
        for page, read in (contents("paper", seed, Kind.A4_PAGE) for seed in (9, 15))
        if page.truth.first and page.truth.folder
    ]

    assert pages
    assert all(terms == (folder,) for folder, terms in pages)


def test_an_opening_taken_for_a_sheet_is_known_by_its_lines():
    """Both have one shape (ISO 216, ID-3 of ISO/IEC 7810); a photo tells no scale."""
    if not have_mrz_face():
        pytest.skip("no OCR-B face is installed")
    page = draw(4, "data-opening", "light", turn_deg=0)
    dpi = page.pixels.shape[1] / 210 * 25.4

    read = read_item(
        ReadRequest(
            pixels=page.pixels,
            dpi=dpi,
            size_mm=(210.0, 297.0),
            kind=Kind.A4_PAGE,
            kinds=tuple(Kind),
        )
    )

    assert read.kind is Kind.PASSPORT_SPREAD
    assert [zone.lines for zone in read.mrz] == [page.truth.mrz]


def test_reading_ends_when_enough_is_known():
    from packet.recognition.boxes import find_boxes

    page = draw(2, "paper", "light", turn_deg=0)
    boxes = find_boxes(ENGINE, page.pixels)

    assert len(read_words(ENGINE, page.pixels, boxes, enough=lambda lines: len(lines) == 2)) == 2
    assert read_words(ENGINE, page.pixels, boxes[:0], enough=lambda lines: False) == ()


def test_a_title_is_read_to_its_end():
    """A title whose telling word is the last one, in letters as tall as the text's."""
    from packet.recognition.boxes import find_boxes

    page = draw(898, "paper", turn_deg=0)
    boxes = find_boxes(ENGINE, page.pixels)
    read = read_words(ENGINE, page.pixels, boxes, enough=lambda lines: False)

    assert "COMUNICAZIONE DI CESSIONE DI FABBRICATO" in [line.text for line in read]


def test_handwriting_tells_no_turn_that_is_not_so():
    """Seeds at which the slices lean to the wrong side."""
    for seed in (44, 60, 329):
        page = draw(seed, "hand")
        wide, high = page.size_mm if page.turn_deg % 180 == 0 else page.size_mm[::-1]
        reading = read_item(
            ReadRequest(
                pixels=page.pixels, dpi=page.dpi, size_mm=(wide, high), kind=Kind.A4_PAGE,
                kinds=(Kind.A4_PAGE,),
            )
        )  # fmt: skip
        assert reading.turn_deg in (None, page.turn_deg)
        assert not reading.mrz
        assert not reading.tax_codes
