"""What the worksheet says: values, notes, what stays empty and why."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from packet.checks.values import check_values
from packet.guides.worksheet import CHECK_FIRST, LAST, ranges, worksheet, worksheet_json
from packet.model import CountChoice, FormChoice
from packet.rules.fees import fee_table
from packet.rules.reader import load_rule_set

from .making import COUNT, STUDY, TODAY, packet, renewal


def sheet(made, count=COUNT, stale=""):
    return worksheet(made, fee_table(), check_values(made, TODAY), count, stale)


def rows(made, **more):
    return worksheet_json(sheet(made, **more))["boxes"]


def by_box(made, **more):
    return {row["box"] or row["label"]: row for row in rows(made, **more)}


# --- values ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("box", "value"),
    [
        ("AL SIGNOR QUESTORE DI", "VITERBO"),
        ("SIGLA PROVINCIA", "VT"),
        ("3", "VELDARO"),
        ("4", "MIRELA ANA"),
        ("5", "VT"),
        ("6", "VITERBO"),
        ("8", "X"),
        ("14", "X"),
        ("16", "21"),
        ("23", "X"),
        ("25", "31"),
        ("31", "VLDMLN58L54Z999Q"),
        ("32", "B"),
        ("33", "F"),
        ("34", "14071958"),
        ("35", "UTO"),
        ("36", "UTO"),
        ("37", "X"),
        ("38", "LUMENPORT"),
        ("40", "X"),
        ("44", "UX4071936"),
        ("45", "02052031"),
        ("46", "01"),
        ("48", "20112026"),
        ("49", "FIUMICINO"),
        ("50", "UV0041820"),
        ("51", "D"),
        ("52", ""),
        ("53", "X"),
        ("54", "RESIDENZA ELETTIVA"),
        ("55", "365"),
        ("56", "10112026"),
        ("57", "09112027"),
        ("66", "VT"),
        ("67", "VITERBO"),
        ("68", "VIA DEGLI ESEMPI"),
        ("69", "12"),
        ("CAP", ""),
        ("73", "MIRELA.VELDARO@EXAMPLE.ORG"),
    ],
)
def test_first_issue(box, value):
    """MOD. 209 and its notes (facts: (a) names, (i) B married, (j) sex); 21, 37 NO: practice."""
    assert by_box(packet())[box]["value"] == value


def test_every_row_has_the_five_keys():
    for row in rows(packet()):
        assert {"box", "label", "value", "source", "note"} <= set(row)


def test_dates_are_eight_digits():
    """Day, month, year: 5 March 2026 is 05032026 (common practice, no source)."""
    made = packet(entry=replace(packet().entry, date=date(2026, 3, 5)))

    assert by_box(made)["48"]["value"] == "05032026"


def test_exactly_the_passports_values_are_marked():
    marked = [row["box"] for row in rows(packet()) if row["as_in_passport"]]

    assert marked == ["3", "4", "33", "34", "38", "44", "45"]


def test_renewal():
    found = by_box(renewal())

    assert (found["9"]["value"], found["18"]["value"]) == ("X", "I12345678")
    assert (found["19"]["value"], found["20"]["value"]) == ("21", "28022027")
    assert "8" in found  # among those left empty
    assert found["8"]["value"] == ""
    assert found["48 to 57"]["note"].startswith("Leave empty: visa and entry")  # note (n)


def test_left_empty_is_said_once_by_range():
    found = by_box(packet())

    assert found["10 to 12"]["reference"] == "MOD. 209, note (c)"
    assert "18 to 20" in found
    assert "common practice" in found["76 on"]["note"]
    assert found["1, 2, 21, 27, 30, 39, 47, 58 to 65, 70 to 72, 74, 75"]["note"] == (
        "Look at your form."
    )


def test_form_2():
    with_it = packet(form=FormChoice(modules=(1, 2)))

    assert by_box(with_it)["24"]["value"] == "X"
    assert "offices differ" in by_box(packet())["24"]["note"]


@pytest.mark.parametrize(
    ("choice", "value", "words"),
    [
        ("", "", "Practices differ"),
        ("number", "01", "others put X"),
        ("crosses", "XX", "others write the number"),
    ],
)
def test_box_22_by_choice_of_practice(choice, value, words):
    row = by_box(packet(form=FormChoice(box_22=choice)))["22"]

    assert row["value"] == value
    assert words in row["note"]


@pytest.mark.parametrize(("box", "table"), [("5", 1), ("16", 2), ("35", 3), ("36", 3), ("46", 5)])
def test_codes_defer_to_the_tables_of_the_kit(box, table):
    assert f"table {table} of your kit" in by_box(packet())[box]["note"]


# --- box 25 ---------------------------------------------------------------------------------


def test_box_25_is_written_last_and_says_from_which_state():
    note = by_box(packet())["25"]["note"]

    assert note.startswith(LAST)
    assert "4 leaves of the form + 27 of copies" in note
    assert "From the files of the last build" in note
    assert "Nobody has counted the leaves" in note
    counted = packet(count=CountChoice(form_leaves_confirmed=True))
    assert "Nobody" not in by_box(counted)["25"]["note"]


def test_box_25_from_the_scans():
    row = by_box(packet(), count=COUNT | {"basis": "plan"}, stale="One scan is new.")["25"]

    assert row["value"] == "31"
    assert "Worked out from the scans: One scan is new." in row["note"]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"complete": False}, "31 for now, and not to be written yet"),
        ({"box": 100}, "100 sheets: more than the 2 cells hold"),
    ],
)
def test_box_25_stays_empty(change, words):
    row = by_box(packet(), count=COUNT | change)["25"]

    assert row["value"] == ""
    assert words in row["note"]


def test_box_25_of_one_digit_has_two_cells():
    assert by_box(packet(), count=COUNT | {"box": 9})["25"]["value"] == "09"
    assert by_box(packet(), count=COUNT | {"box": 99})["25"]["value"] == "99"
    assert by_box(packet(), count=None)["25"]["value"] == ""


# --- what does not fit, is missing or doubted -------------------------------------------------


def test_letters_of_other_alphabets_are_transliterated_with_a_note():
    made = packet(applicant=replace(packet().applicant, surname="Müller", place_of_birth="Évian"))
    found = by_box(made)

    assert found["3"]["value"] == "MUELLER"
    assert "Written Ü as UE (ICAO Doc 9303 part 3)" in found["3"]["note"]
    assert "machine-readable lines" in found["3"]["note"]
    assert found["38"]["value"] == "EVIAN"
    assert "Doc 9303" not in found["38"]["note"]  # from memory: not cited


def test_a_name_is_cut_and_the_cut_is_explained():
    made = packet(form=FormChoice(cells={"4": 8}))
    row = by_box(made)["4"]

    assert row["value"] == "MIRELA A"
    assert "Cut after 8 cells, as counted on your form: 2 more do not fit" in row["note"]


@pytest.mark.parametrize("box", ["34", "44", "31", "55", "35", "50"])
def test_a_number_date_or_code_is_never_cut(box):
    row = by_box(packet(form=FormChoice(cells={box: 2})))[box]

    assert row["value"] == ""
    assert "the cells stay empty" in row["note"]


def test_without_a_count_no_limit_is_claimed():
    long = "A" * 90

    assert by_box(packet(applicant=replace(packet().applicant, surname=long)))["3"]["value"] == long


def test_nothing_given_is_nothing_invented():
    bare = replace(packet(), applicant=type(packet().applicant)(), visa=type(packet().visa)())
    bare = replace(bare, passport=type(bare.passport)(), address=type(bare.address)())
    bare = replace(bare, entry=type(bare.entry)())
    found = by_box(bare)

    values = {box: row["value"] for box, row in found.items() if row["value"]}
    assert values == {"8": "X", "14": "X", "16": "21", "23": "X", "25": "31", "37": "X", "40": "X"}
    assert "write surname under [applicant]" in found["3"]["note"]
    assert "write issued_by under [passport]" in found["46"]["note"]


def test_a_wrong_tax_code_leaves_the_cells_empty():
    made = packet(applicant=replace(packet().applicant, tax_code="VLDMLN58L54Z999A"))
    row = by_box(made)["31"]

    assert row["value"] == ""
    assert row["note"].startswith(CHECK_FIRST)
    assert sheet(made).findings[0].code == "tax-code"


def test_a_passport_number_with_a_strange_sign_stays_empty():
    row = by_box(packet(passport=replace(packet().passport, number="AB#12")))["44"]

    assert row["value"] == ""
    assert "number holds a sign" in row["note"]


@pytest.mark.parametrize(
    ("street", "number", "expected"),
    [
        ("Via degli Esempi 12", "", ("VIA DEGLI ESEMPI", "12")),
        ("Via degli Esempi, 12/A", "", ("VIA DEGLI ESEMPI", "12/A")),
        ("Via 4 Novembre", "", ("VIA 4 NOVEMBRE", "")),
        ("Piazza 25 Aprile 3", "", ("PIAZZA 25 APRILE", "3")),
        ("Via degli Esempi", "7 B", ("VIA DEGLI ESEMPI", "7 B")),
        ("Via degli Esempi snc", "", ("VIA DEGLI ESEMPI", "SNC")),
    ],
)
def test_house_number(street, number, expected):
    address = replace(packet().address, street=street, house_number=number)
    found = by_box(packet(address=address))

    assert (found["68"]["value"], found["69"]["value"]) == expected


@pytest.mark.parametrize(
    ("entries", "single", "many"),
    [
        ("MULT", "", "X"),
        ("1", "X", ""),
        ("01", "X", ""),
        ("2", "", ""),
        ("", "", ""),
        ("odd", "", ""),
    ],
)
def test_entries(entries, single, many):
    found = by_box(packet(visa=replace(packet().visa, entries=entries)))

    assert (found["52"]["value"], found["53"]["value"]) == (single, many)


def test_civil_status_without_a_known_letter():
    made = packet(applicant=replace(packet().applicant, civil_status="widowed"))

    assert by_box(made)["32"]["value"] == ""
    assert "note (i)" in by_box(made)["32"]["note"]


# --- another reason of stay is data ---------------------------------------------------------


def test_another_rule_set_needs_no_code():
    """A made-up rule set without a known permit code, and the same with one (24, study)."""
    rules = load_rule_set(str(STUDY))
    made = packet(rules)

    assert by_box(made)["16"]["value"] == ""
    assert "table 2 of your kit" in by_box(made)["16"]["note"]
    coded = packet(replace(rules, reason_code="24", reason_source="a university's guide"))
    assert by_box(coded)["16"]["value"] == "24"


def test_a_reason_in_a_rule_set_file(tmp_path):
    path = tmp_path / "study.toml"
    reason = 'fee_bands = ["to-1-year"]\n[reason]\ncode = "24"\nsource = "a guide"\n\n[[document]]'
    path.write_text(STUDY.read_text("utf-8").replace("[[document]]", reason, 1), "utf-8")
    rules = load_rule_set(str(path))

    assert by_box(packet(rules))["16"]["value"] == "24"
    assert rules.fee_bands == ("to-1-year",)


def test_ranges():
    assert ranges(["10", "11", "12", "15", "17", "18", "76 on"]) == "10 to 12, 15, 17, 18, 76 on"
