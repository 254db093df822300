"""Codes of states and provinces against other lists of the same standards."""

from __future__ import annotations

import pycountry

from packet.rules.codes import province_codes, state_codes

FURTHER_STATES = {
    *("D", "EUE", "GBD", "GBN", "GBO", "GBP", "GBS", "RKS", "UNA", "UNK", "UNO", "UTO", "XOM"),
    *("XXA", "XXB", "XXC", "XXX"),
}


def test_states_are_those_of_iso_3166_1_and_of_passports():
    iso = {country.alpha_3 for country in pycountry.countries}

    assert len(iso) == 249
    assert state_codes() == iso | FURTHER_STATES  # the latter: Doc 9303-3, from memory
    assert not iso & FURTHER_STATES


def test_provinces_are_those_of_iso_3166_2_and_aosta():
    iso = {
        one.code.removeprefix("IT-")
        for one in pycountry.subdivisions.get(country_code="IT")
        if one.code.removeprefix("IT-").isalpha() and len(one.code) == len("IT-XX")
    }

    assert len(iso) == 106
    assert "AO" not in iso
    assert province_codes() == iso | {"AO"}
