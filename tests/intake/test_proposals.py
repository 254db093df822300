"""What was read from a passport, as comments in a new packet.toml."""

from __future__ import annotations

import re
import tomllib
from datetime import date
from pathlib import Path

import pytest

from packet.checks.first_values import first_values, passports_of, same_passport
from packet.checks.mrz import read_mrz
from packet.checks.papers import Paper
from packet.intake.packet_file import read_packet
from packet.intake.proposals import CONFIRM
from packet.intake.scaffold import Answers, new_packet
from packet.readings import ReadState

TODAY = date(2026, 11, 25)
TD3 = (  # the specimen of ICAO Doc 9303 part 4
    "P<UTOERIKSSON<<ANNA<MARIA<<<<<<<<<<<<<<<<<<<",
    "L898902C36UTO7408122F1204159ZE184226B<<<<<10",
)
VALUES = {
    "applicant.surname": "ERIKSSON",
    "applicant.given_names": "ANNA MARIA",
    "applicant.sex": "F",
    "applicant.date_of_birth": date(1974, 8, 12),
    "applicant.citizenship": "UTO",
    "passport.number": "L898902C3",
    "passport.expires": date(2012, 4, 15),
}


def paper(lines=TD3, state=ReadState.READ):
    mrz = read_mrz(lines)
    assert mrz is not None
    return Paper(subject="a.jpg#1.1", what="passport", state=state, mrz=mrz)


def test_values_of_the_specimen():
    assert first_values(paper(), TODAY) == VALUES


def test_what_is_unknown_is_not_proposed():
    """Unknown day of birth and sex (fillers); a name field that is full may be cut."""
    full = "P<UTO" + "WASSERWINKELHOFER<<MAXIMILIANAWILHELMINA"[:39]
    lines = (full, TD3[1][:13] + "74<<<<0" + "<" + TD3[1][21:])

    assert set(first_values(paper(lines), TODAY)) == {
        "applicant.surname", "applicant.citizenship", "passport.number", "passport.expires",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("state", "good"),
    [
        (ReadState.READ, True),
        (ReadState.REPAIRED, True),
        (ReadState.UNSURE, False),
        (ReadState.UNREAD, False),
    ],
)
def test_only_lines_that_hold_are_used(state, good):
    assert bool(passports_of([paper(state=state)])) is good


def test_a_wrong_check_digit_is_never_proposed():
    wrong = (TD3[0], TD3[1].replace("L898902C3", "L898902C5"))

    assert passports_of([paper(wrong)]) == ()


def test_two_books_are_seen():
    other = (TD3[0], "L898902C<3UTO6908061F9406236ZE184226B<<<<<14")  # the edition of 2006

    assert same_passport([paper(), paper()])
    assert not same_passport([paper(), paper(other)])


def test_nothing_read_is_used_unconfirmed(tmp_path):
    empty = read_packet(new_packet(tmp_path / "empty").paths[0])
    made = read_packet(new_packet(tmp_path / "read", read=VALUES).paths[0])

    assert made.applicant == empty.applicant
    assert made.passport == empty.passport
    assert made.values_digest == empty.values_digest


def test_a_confirmed_value_is_the_one_that_was_read(tmp_path):
    new_packet(tmp_path / "p", read=VALUES)
    path = tmp_path / "p" / "packet.toml"
    text = path.read_text("utf-8")
    assert text.count(CONFIRM) == len(VALUES)
    path.write_text(re.sub(rf"^# (.*# {re.escape(CONFIRM)})$", r"\1", text, flags=re.M), "utf-8")
    made = read_packet(tmp_path / "p")

    for key, value in VALUES.items():
        section, _, name = key.partition(".")
        assert getattr(getattr(made, section), name) == value


def test_what_was_answered_stays(tmp_path):
    new_packet(tmp_path / "p", read=VALUES, answers=Answers(surname="Eriksson"))
    text = Path(tmp_path / "p" / "packet.toml").read_text("utf-8")

    assert tomllib.loads(text)["applicant"]["surname"] == "Eriksson"
    assert "# surname" not in text
