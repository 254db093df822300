"""Letters outside A to Z, against ICAO Doc 9303 part 3 and a reference library."""

from __future__ import annotations

import string

import pytest
from hypothesis import given
from hypothesis import strategies as st
from mrz.base.functions import transliterate
from mrz.generator.dictionaries.latin_based import transliteration as reference

from packet.checks.transliteration import MAX_FORMS, block_letters, forms_of
from packet.rules.codes import letter_tables

# The table of Doc 9303 part 3 as a public office prints it (transliteration table of the United
# States immigration office).
READ = {
    "Ä": ("AE", "A"),
    "Ö": ("OE",),
    "Ü": ("UE", "UXX"),
    "Å": ("AA",),
    "Ñ": ("N", "NXX"),
    "ß": ("SS",),
    "Ł": ("L",),
    "Ç": ("C",),
    "Ð": ("D",),
    "İ": ("I",),
    "ı": ("I",),
}


@pytest.mark.parametrize(("letter", "forms"), READ.items())
def test_the_table_that_was_read(letter, forms):
    table, _ = letter_tables()

    assert tuple(table.letters[letter]) == forms
    assert block_letters(letter).text == forms[0]
    assert block_letters(letter).source == "ICAO Doc 9303 part 3"


def test_what_is_from_memory_is_never_cited():
    assert letter_tables()[1].source == ""
    assert block_letters("É").source == ""
    assert block_letters("ÜÉ").source == ""


@pytest.mark.parametrize(
    "letter",
    [sign for table in letter_tables() for sign in table.letters if sign in reference],
)
def test_against_the_reference_library(letter):
    """The library mrz 0.6.2 writes one of the forms of the table, for every letter that it has."""
    forms = next(t.letters[letter] for t in letter_tables() if letter in t.letters)

    assert transliterate(letter, reference).upper() in forms


def test_small_letters_become_capitals():
    written = block_letters("Zoë d’Açores-Müller 12/a")

    assert written.text == "ZOE D'ACORES-MUELLER 12/A"
    assert dict(written.changed) == {"Ë": "E", "Ç": "C", "Ü": "UE"}


def test_a_letter_composed_of_two_signs():
    assert block_letters("U\u0308").text == "UE"


def test_another_script_has_no_form():
    assert block_letters("山a").unknown == ("山",)
    assert block_letters("山a").text == "A"


def test_every_allowed_form_is_accepted():
    assert set(forms_of("Müller")) == {"MUELLER", "MUXXLLER", "MULLER"}
    assert forms_of("D’Amico de la Cruz") == ("DAMICODELACRUZ",)
    assert len(forms_of("Ü" * 20)) == MAX_FORMS


@given(st.text(max_size=30))
def test_only_cells_signs_come_out(text):
    written = block_letters(text)
    assert written.text.isascii()
    assert written.text == written.text.upper()
    for form in forms_of(text):
        assert set(form) <= set(string.ascii_uppercase)
