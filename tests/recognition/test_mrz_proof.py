"""From scores to proved lines, without the models: the grammar, the digits, the margins.

Lines: specimens of ICAO Doc 9303 parts 4, 5 and 7 (tests/rules/test_mrz_format.py).
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rules.test_mrz_format import FORMATS, SPECIMENS

from packet.readings import ReadState
from packet.recognition.mrz_names import likeliest_names, without_inner_fillers
from packet.recognition.mrz_proof import prove
from packet.recognition.sign_heights import _weighed
from packet.recognition.sign_scores import PAUSE, place_signs
from packet.rules.mrz_format import SIGNS


def scores_of(lines, *, others=()):
    """Log probabilities: each sign beyond doubt but ``others`` (line, place, {sign: chance})."""
    out = []
    for text in lines:
        one = np.full((len(text), len(SIGNS)), -12.0)
        one[np.arange(len(text)), [SIGNS.index(sign) for sign in text]] = -1e-4
        out.append(one)
    for line, place, chances in others:
        out[line][place] = -12.0
        for sign, chance in chances.items():
            out[line][place, SIGNS.index(sign)] = np.log(chance)
    return out


@pytest.mark.parametrize("name", SPECIMENS)
def test_clear_lines_are_read(name):
    told = prove(FORMATS[name], scores_of(SPECIMENS[name]))

    assert (told.lines, told.state) == (SPECIMENS[name], ReadState.READ)
    assert not any(line in repr(told) for line in told.lines)


def test_a_wrong_digit_is_repaired_where_one_way_alone_fits():
    others = [(1, 13, {"1": 0.7, "7": 0.3})]  # of the year of birth
    told = prove(FORMATS["TD3"], scores_of(SPECIMENS["TD3"], others=others))

    assert (told.lines, told.state) == (SPECIMENS["TD3"], ReadState.REPAIRED)


def test_a_repair_that_the_scores_do_not_speak_for_is_not_made():
    others = [(1, 13, {"1": 1.0})]
    told = prove(FORMATS["TD3"], scores_of(SPECIMENS["TD3"], others=others))

    assert told.state is ReadState.UNSURE


def test_a_blind_pair_needs_the_margin_of_the_scores():
    """8 and S give one check digit; the digit fits both, so neither is claimed."""
    for chances, state in (
        ({"8": 0.6, "S": 0.4}, ReadState.UNSURE),
        ({"S": 0.6, "8": 0.4}, ReadState.UNSURE),
        ({"8": 0.97, "S": 0.03}, ReadState.READ),
    ):
        told = prove(FORMATS["TD3"], scores_of(SPECIMENS["TD3"], others=[(1, 1, chances)]))
        assert told.state is state


def test_names_have_no_digit_so_a_near_letter_is_a_doubt():
    others = [(0, 5, {"E": 0.6, "F": 0.4})]
    told = prove(FORMATS["TD3"], scores_of(SPECIMENS["TD3"], others=others))

    assert (told.lines, told.state) == (SPECIMENS["TD3"], ReadState.UNSURE)


def test_a_state_that_no_passport_names_is_a_doubt():
    others = [(1, 10, {"Q": 1.0}), (1, 11, {"Q": 1.0}), (1, 12, {"Q": 1.0})]
    told = prove(FORMATS["TD3"], scores_of(SPECIMENS["TD3"], others=others))

    assert told.state is ReadState.UNSURE


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_what_is_accepted_always_fits_its_digits(seed):
    rng = np.random.default_rng(seed)
    name = str(rng.choice(list(SPECIMENS)))
    scores = scores_of(SPECIMENS[name])
    for _ in range(int(rng.integers(1, 5))):
        line = int(rng.integers(0, len(scores)))
        place = int(rng.integers(0, scores[line].shape[0]))
        allowed = FORMATS[name].may_stand(line, place)
        scores[line][place] = -12.0
        for sign in rng.choice(list(allowed), 2):
            scores[line][place, SIGNS.index(str(sign))] = float(-rng.exponential(1.0))
    told = prove(FORMATS[name], scores)

    if told.state in (ReadState.READ, ReadState.REPAIRED):
        assert FORMATS[name].faults(told.lines) == ()


names = st.lists(st.text("ABCDEFGH", min_size=1, max_size=5), min_size=1, max_size=3)


@given(surname=names, given_names=st.one_of(st.just([]), names))
def test_names_by_the_grammar_are_kept(surname, given_names):
    text = ("<".join(surname) + "<<" + "<".join(given_names)).ljust(44, "<")
    (scores,) = scores_of([text])

    assert likeliest_names(scores) == text


def test_no_letter_stands_behind_the_last_fillers():
    text = "ERIKSSON<<ANNA<<<<<<<"
    (scores,) = scores_of([text], others=[(0, 18, {"K": 0.7, "<": 0.3})])

    assert likeliest_names(scores) == text


def test_fillers_of_a_number_stand_at_its_end():
    (scores,) = scores_of(["L898902C<"], others=[(0, 4, {"<": 0.6, "9": 0.4})])

    assert without_inner_fillers(scores) == "L898902C<"


@settings(max_examples=15, deadline=None)
@given(st.text(SIGNS, min_size=30, max_size=30), st.floats(2.6, 3.6), st.floats(0, 4))
def test_signs_spread_over_steps_come_back(text, pitch, first):
    """A made line of scores: a sign for one step, pauses between; runs of one sign too."""
    steps = int(first + 29 * pitch + 6)
    seen = np.full((steps, PAUSE + 1), 1e-5)
    seen[:, PAUSE] = 1.0
    for place, sign in enumerate(text):
        step = round(first + pitch * place)
        seen[step, PAUSE] = 0.02
        seen[step, SIGNS.index(sign)] = 0.98
    allowed = np.ones((30, len(SIGNS)), bool)
    placed = place_signs(seen, allowed, first=first, last=first + 29 * pitch)

    assert "".join(SIGNS[one] for one in placed.scores.argmax(1)) == text


def test_a_line_that_no_steps_can_hold_leaves_every_place_in_doubt():
    seen = np.full((20, PAUSE + 1), 1e-3)
    placed = place_signs(seen, np.ones((30, len(SIGNS)), bool), first=0, last=19)

    assert placed.likelihood < -10
    assert np.ptp(placed.scores) == 0


def test_like_signs_share_what_they_have_among_them():
    """Seen as 0, as high as a capital: O gains most, for it is likest; no chance is made."""
    (scores,) = scores_of(["0"], others=[(0, 0, {"0": 0.94, "O": 0.05, "Q": 0.005, "D": 0.004})])
    fit = np.zeros((1, len(SIGNS)))
    fit[0, [SIGNS.index(sign) for sign in "ODQ"]] = 9.0
    chance = np.exp(_weighed(scores, fit)[0])

    assert chance.sum() == pytest.approx(0.999, abs=0.001)
    assert SIGNS[int(chance.argmax())] == "O"
    assert chance[SIGNS.index("O")] / chance[SIGNS.index("Q")] == pytest.approx(10)
