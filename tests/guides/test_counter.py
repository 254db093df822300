"""What to carry and to pay."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pypdfium2
import pytest

from packet.guides.counter import counter, counter_json, is_old
from packet.guides.counter_page import appointment_pdf, counter_pdf
from packet.model import CountChoice, Receipt
from packet.rules.fees import fee_table
from packet.rules.reader import load_rule_set

from .making import COUNT, STUDY, TODAY, packet, renewal


def values(made, today=TODAY, count=COUNT):
    return counter_json(counter(made, fee_table(), today, count))


def text_of(data):
    with pypdfium2.PdfDocument(data) as pdf:
        return " ".join(" ".join(p.get_textpage().get_text_range() for p in pdf).split())


def test_both_sums_where_the_office_sets_the_length():
    """Sums from the MEF decrees of 2016 and 2017, the postal service and the stamp."""
    found = values(packet())

    assert [one["slip"] for one in found["sums"]] == ["70.46", "80.46"]
    assert [one["cash_at_counter"] for one in found["sums"]] == ["100.46", "110.46"]
    assert [one["with_stamp"] for one in found["sums"]] == ["116.46", "126.46"]
    assert found["cash_to_carry"] == "120"
    text = text_of(counter_pdf(counter(packet(), fee_table(), TODAY, COUNT)))
    for words in ("30.46", "100.46", "110.46", "116.46", "126.46", "carry the higher sum"):
        assert words in text
    assert "MEF decree of 10 March 2016, art. 1, G.U. of 27 Apr 2016, valid from 28 Apr" in text
    assert "24.56 + VAT 22 % = 29.96, + 0.50" in text


def test_every_band_where_a_rule_set_names_none():
    found = values(packet(load_rule_set(str(STUDY))))

    assert [one["with_stamp"] for one in found["sums"]] == ["116.46", "126.46", "176.46"]


def test_under_eighteen_no_contribution():
    """MEF decree of 5 May 2017: not due under 18; the card's 30.46 stays."""
    made = packet()
    young = replace(made, applicant=replace(made.applicant, date_of_birth=date(2008, 11, 26)))

    assert [one["slip"] for one in values(young)["sums"]] == ["30.46"]
    assert len(values(young, today=date(2026, 11, 26))["sums"]) == 2


def test_fees_name_source_and_day():
    for fee in values(packet())["fees"]:
        assert fee["source"]
        assert fee["as_of"] == "2026-11-25"


@pytest.mark.parametrize(
    ("today", "old"), [(date(2027, 11, 25), False), (date(2027, 11, 26), True)]
)
def test_amounts_read_long_ago_are_said_loudly(today, old):
    assert is_old(date(2026, 11, 25), today) is old
    made = renewal(receipt=Receipt(date=date(2026, 12, 1)))
    text = text_of(counter_pdf(counter(made, fee_table(), today, COUNT)))
    assert ("AMOUNTS READ MORE THAN A YEAR AGO" in text) is old


def test_a_missed_term_is_said_plainly():
    made = packet()
    text = text_of(counter_pdf(counter(made, fee_table(), date(2026, 12, 3), COUNT)))

    assert "THE TERM IS OVER" in text
    assert "licensed legal help" in text
    perhaps = text_of(counter_pdf(counter(made, fee_table(), date(2026, 11, 30), COUNT)))
    assert "THE TERM MAY BE OVER" in perhaps


def test_what_goes_in_and_what_stays():
    found = values(packet(not_held=("tax-card",)))

    inside = [one["what"] for one in found["in_envelope"]]
    assert inside[0] == "original form 1, signed"
    assert "copy: passport: 16 sheets" in inside
    assert not any("tax code" in one for one in inside)
    assert inside[-1] == "31 sheets in all"
    assert "the photos" in [one["what"] for one in found["stays_with_you"]]
    carried = [one["what"] for one in found["carry"]]
    assert {"original passport", "the envelope, open", "cash", "black pen"} <= set(carried)
    assert "proof of how you entered" in carried
    back = [one["what"] for one in found["comes_back"]]
    assert {"receipt with its two codes", "appointment letter"} <= set(back)


@pytest.mark.parametrize("count", [None, COUNT | {"complete": False}, COUNT | {"box": 100}])
def test_a_number_that_is_not_final_is_left_open(count):
    assert values(packet(), count=count)["in_envelope"][-1]["what"] == "____ sheets in all"


def test_index_in_the_envelope():
    made = packet(count=CountChoice(index_in_envelope=True))

    assert "index of the copies" in [one["what"] for one in values(made)["in_envelope"]]


def test_appointment():
    """Four photos: D.P.R. 394/1999, art. 9 c. 1."""
    found = values(renewal())
    what = [one["what"] for one in found["appointment_carry"]]

    assert "4 photos" in what
    assert "original: passport" in what
    assert found["photos"] == 4
    text = text_of(appointment_pdf(counter(renewal(), fee_table(), TODAY)))
    assert text.count("permit that expires") == 1
    bare = renewal(documents=renewal().documents[:1])
    assert "the permit that ends" in text_of(appointment_pdf(counter(bare, fee_table(), TODAY)))


def test_receipt_codes_are_never_printed():
    made = packet(receipt=Receipt(date=date(2026, 11, 24), user_id="U777", password="P888"))
    sheet = counter(made, fee_table(), TODAY, COUNT)

    for text in (text_of(counter_pdf(sheet)), text_of(appointment_pdf(sheet)), str(values(made))):
        assert "U777" not in text
        assert "P888" not in text
