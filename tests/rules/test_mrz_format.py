"""Shapes and check digits of machine-readable zones against ICAO Doc 9303's specimens.

Lines of parts 4 to 6 as in shared facts (their digits worked out by hand there); those of part 7
(visas) from memory. Second opinion: the checkers of the package ``mrz``.
"""

from __future__ import annotations

import pytest

from packet.rules.mrz_format import SIGNS, check_digit, mrz_formats

SPECIMENS = {
    "TD3": (
        "P<UTOERIKSSON<<ANNA<MARIA<<<<<<<<<<<<<<<<<<<",
        "L898902C36UTO7408122F1204159ZE184226B<<<<<10",
    ),
    "TD2": ("I<UTOERIKSSON<<ANNA<MARIA<<<<<<<<<<<", "D231458907UTO7408122F1204159<<<<<<<6"),
    "TD1": (
        "I<UTOD231458907<<<<<<<<<<<<<<<",
        "7408122F1204159UTO<<<<<<<<<<<6",
        "ERIKSSON<<ANNA<MARIA<<<<<<<<<<",
    ),
    "MRV-A": (
        "V<UTOERIKSSON<<ANNA<MARIA<<<<<<<<<<<<<<<<<<<",
        "L8988901C4XXX4009078F96121096ZE184226B<<<<<<",
    ),
    "MRV-B": ("V<UTOERIKSSON<<ANNA<MARIA<<<<<<<<<<<", "L8988901C4XXX4009078F9612109<<<<<<<<"),
}
FORMATS = {shape.name: shape for shape in mrz_formats()}
WIDTHS = {"TD3": (2, 44), "TD2": (2, 36), "TD1": (3, 30), "MRV-A": (2, 44), "MRV-B": (2, 36)}


@pytest.mark.parametrize("name", SPECIMENS)
def test_specimen_has_the_shape_and_its_digits_fit(name):
    shape, lines = FORMATS[name], SPECIMENS[name]

    assert (len(shape.lines), shape.width) == WIDTHS[name]
    assert all(len(pattern) == shape.width for pattern in shape.lines)
    assert shape.faults(lines) == ()
    for line, text in enumerate(lines):
        for place, sign in enumerate(text):
            assert sign in shape.may_stand(line, place)


def test_visas_have_no_digit_over_the_whole():
    whole = {name: any(one.of == "whole" for one in FORMATS[name].digits) for name in FORMATS}
    assert whole == {"TD3": True, "TD2": True, "TD1": True, "MRV-A": False, "MRV-B": False}


def checker_of(name, lines):
    from mrz.checker.mrva import MRVACodeChecker
    from mrz.checker.mrvb import MRVBCodeChecker
    from mrz.checker.td1 import TD1CodeChecker
    from mrz.checker.td2 import TD2CodeChecker
    from mrz.checker.td3 import TD3CodeChecker

    kinds = {
        "TD1": TD1CodeChecker, "TD2": TD2CodeChecker, "TD3": TD3CodeChecker,
        "MRV-A": MRVACodeChecker, "MRV-B": MRVBCodeChecker,
    }  # fmt: skip
    return kinds[name]("\n".join(lines))


@pytest.mark.parametrize("name", SPECIMENS)
def test_changed_signs_are_judged_as_the_package_mrz_judges_them(name):
    """Each sign of the number and each digit of a date exchanged for the next one."""
    shape, lines = FORMATS[name], SPECIMENS[name]
    for digit in shape.digits:
        line, start, end = digit.parts[0]
        for place in range(start, min(end, start + 6)):
            text = lines[line]
            other = SIGNS[(SIGNS.index(text[place]) + 1) % 10]
            changed = list(lines)
            changed[line] = text[:place] + other + text[place + 1 :]
            told = checker_of(name, changed)
            fits = {
                "number": told.document_number_hash,
                "date of birth": told.birth_date_hash,
                "date of expiry": told.expiry_date_hash,
            }
            faults = shape.faults(changed)
            assert {of: of not in faults for of in fits} == fits


def test_small_values_of_part_three():
    assert (check_digit("520727"), check_digit("AB2134<<<")) == (3, 5)


@pytest.mark.parametrize("pair", ["6G", "8I", "4O", "0<", "8S", "1B", "5Z"])
def test_blind_pairs_give_one_digit(pair):
    """Values that differ by ten: a digit that fits proves nothing there."""
    assert check_digit(pair[0]) == check_digit(pair[1])
