"""The tax code from recognised text and from bars: never a wrong one, spaces and look-alikes met.

Codes come from python-codicefiscale (second opinion for whole codes); its own package data hold
the places. Shape and check letter: Finance Ministry decree of 23 December 1976.
"""

from __future__ import annotations

import itertools
import json

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from packet.readings import CodeRead, ReadState
from packet.recognition.barcode import read_bars
from packet.recognition.tax_code_text import agreed, codes_in, is_code
from recognition.pages import draw

codicefiscale = pytest.importorskip("codicefiscale.codicefiscale")

PLACES = "LLLLLLDDMDDLDDDL"
STAND = {
    "L": "ABCDEFGHIJKLMNOPQRSTUVWXYZ",
    "D": "0123456789LMNPQRSTUV",
    "M": "ABCDEHLMPRST",
}


def code_of(surname: str, name: str, born: str, sex: str, place: str) -> str:
    return codicefiscale.encode(
        lastname=surname, firstname=name, gender=sex, birthdate=born, birthplace=place
    )


SPECIMEN = code_of("Veldaro", "Mirela", "14/07/1958", "F", "Z404")


def test_a_code_is_found_among_other_words():
    read = codes_in([("TESSERA DEL CODICE FISCALE", 1.0), (f"Codice: {SPECIMEN}", 0.98)])

    assert read == (CodeRead(value=SPECIMEN, source="text", state=ReadState.READ),)


@pytest.mark.parametrize("cut", [(3, 6, 11, 15), (6, 11), (1,)])
def test_a_code_printed_in_groups(cut):
    edges = [0, *cut, 16]
    groups = " ".join(SPECIMEN[a:b] for a, b in itertools.pairwise(edges))

    assert [one.value for one in codes_in([(groups, 0.97)])] == [SPECIMEN]


def test_o_and_zero_are_told_by_their_place():
    code = code_of("Oloro", "Ottone", "01/10/2000", "M", "H501")
    swapped = code.translate(str.maketrans("0O", "O0"))

    assert codes_in([(swapped, 0.97)])[0] == CodeRead(
        value=code, source="text", state=ReadState.READ
    )


def test_a_look_alike_that_cannot_stand_there_is_a_repair():
    wrong = SPECIMEN[:11] + "2" + SPECIMEN[12:]  # Z read as 2

    (read,) = codes_in([(wrong, 0.97)])

    assert (read.value, read.state) == (SPECIMEN, ReadState.REPAIRED)


def test_clash_codes_are_read():
    """Clash codes as python-codicefiscale lists them for one person."""
    code = code_of("Rossari", "Anna", "03/05/1971", "F", "H501")
    clashes = codicefiscale.decode(code)["omocodes"]

    assert len(clashes) == 128
    for clash in clashes:
        (read,) = codes_in([(clash, 0.97)])
        few = sum(sign.isdigit() for sign in clash) >= 4
        assert (read.value, read.state) == (clash, ReadState.READ if few else ReadState.UNSURE)


def test_an_unclear_line_gives_nothing_sure():
    (read,) = codes_in([(SPECIMEN, 0.5)])

    assert read.state is ReadState.UNSURE


@given(st.data())
def test_one_sign_misread_is_never_accepted_as_another_code(data):
    """The check letter tells any single sign that could stand in its place."""
    place = data.draw(st.integers(0, 15))
    sign = data.draw(st.sampled_from(STAND[PLACES[place]]))
    seen = SPECIMEN[:place] + sign + SPECIMEN[place + 1 :]

    accepted = [one.value for one in codes_in([(seen, 0.99)]) if one.state is not ReadState.UNSURE]

    assert accepted in ([], [SPECIMEN])


def test_words_are_never_used_as_a_code():
    """Letters in all digit places could be a clash code; they are more likely words."""
    letters = SPECIMEN[:6] + "RUMRP" + SPECIMEN[11] + "QLQ"
    code = next(letters + sign for sign in STAND["L"] if is_code(letters + sign))

    assert [one.state for one in codes_in([(code, 1.0)])] == [ReadState.UNSURE]


def test_vectors_of_the_corpus(corpus_path):
    """Codes collected from public test suites (their list names each source)."""
    table = json.loads(corpus_path("vectors/codice-fiscale.json").read_text("utf-8"))
    codes = [one for one in json.dumps(table).replace('"', " ").split() if is_code(one)]

    assert len(codes) > 3
    assert all(codes_in([(code, 0.99)])[0].value == code for code in codes)


def test_text_and_bars_that_differ_are_both_unsure():
    other = code_of("Tolveri", "Dorian", "09/02/1955", "M", "Z404")
    text = CodeRead(value=SPECIMEN, source="text", state=ReadState.READ)
    bars = CodeRead(value=other, source="barcode", state=ReadState.READ)

    assert {one.state for one in agreed([text, bars])} == {ReadState.UNSURE}
    assert agreed([text]) == (text,)


def test_a_code_stands_in_no_repr():
    (read,) = codes_in([(SPECIMEN, 0.99)])

    assert SPECIMEN not in repr(read)


@pytest.mark.parametrize("turn", [0, 90, 180, 270])
def test_bars_are_read_in_every_turn(turn):
    pytest.importorskip("zxingcpp")
    page = draw(1, "tax-back", "middle", turn_deg=turn)

    (read,) = read_bars(page.pixels)

    assert (read.value, read.source, read.state) == (page.truth.tax_code, "barcode", "read")


def test_a_poor_scan_is_read_at_the_second_look():
    pytest.importorskip("zxingcpp")
    from packet.recognition import barcode

    pages = [draw(seed, "tax-back", "hard") for seed in (2, 7, 9)]
    poor = [page for page in pages if not barcode._decoded(page.pixels[..., 1].copy())]

    assert poor
    assert [read_bars(page.pixels)[0].value for page in poor] == [p.truth.tax_code for p in poor]


@pytest.mark.parametrize(
    "pixels",
    [
        np.zeros((638, 1011, 3), np.uint8),
        np.full((638, 1011), 255, np.uint8),
        np.random.default_rng(0).integers(0, 256, (638, 1011, 3), np.uint8),
        np.zeros((1, 1, 3), np.uint8),
    ],
)
def test_nothing_is_read_where_there_are_no_bars(pixels):
    pytest.importorskip("zxingcpp")

    assert read_bars(pixels) == ()
