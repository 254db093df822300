"""The drawn pages: their truth is right, and a seed always gives the same page."""

from __future__ import annotations

import numpy as np
import pytest
from stdnum.it import codicefiscale

from recognition.pages import CARDS, KINDS, draw, have_mrz_face
from recognition.pages.people import person, td1, td2, td3, visa


def _people(count: int):
    return [person(np.random.default_rng([seed, 6])) for seed in range(count)]


def _accepts(kind: str, lines: tuple[str, ...]) -> bool:
    """What the package mrz (0.6.2) says of the lines."""
    from mrz.checker import mrva, mrvb
    from mrz.checker import td1 as one
    from mrz.checker import td2 as two
    from mrz.checker import td3 as three

    checker = {
        "TD1": one.TD1CodeChecker,
        "TD2": two.TD2CodeChecker,
        "TD3": three.TD3CodeChecker,
        "MRV-A": mrva.MRVACodeChecker,
        "MRV-B": mrvb.MRVBCodeChecker,
    }[kind]
    result = checker("\n".join(lines))
    report = result.report
    return not [name for name, good in report.falses if "hash" in str(name) and not good] and bool(
        result
    )


@pytest.mark.parametrize("kind", ["TD1", "TD2", "TD3", "MRV-A", "MRV-B"])
def test_lines_have_the_standards_shape_and_digits(kind):
    """ICAO Doc 9303 parts 4 to 7; judged by the package mrz, which has its own tables."""
    make = {
        "TD1": td1,
        "TD2": td2,
        "TD3": td3,
        "MRV-A": lambda p: visa(p, 44),
        "MRV-B": lambda p: visa(p, 36),
    }[kind]
    shape = {"TD1": (3, 30), "TD2": (2, 36), "TD3": (2, 44), "MRV-A": (2, 44), "MRV-B": (2, 36)}[
        kind
    ]
    judged = 0
    for who in _people(60):
        lines = make(who)
        assert (len(lines), {len(line) for line in lines}) == (shape[0], {shape[1]})
        if who.state in {"RKS", "XXA", "XXB", "GBD", "UTO"}:
            continue
        judged += 1
        assert _accepts(kind, lines), lines
    assert judged > 30


def test_tax_codes_are_valid():
    """python-stdnum judges the shape and the check letter; the codes are python-codicefiscale's."""
    codes = [who.tax_code for who in _people(120)]

    assert all(codicefiscale.is_valid(code) for code in codes)
    assert sum(not code[6:8].isdigit() or not code[12:15].isdigit() for code in codes) > 2


@pytest.mark.parametrize("kind", ["tax-back", "blank-opening"])
def test_a_seed_gives_the_same_page(kind):
    first, again, other = draw(7, kind, "middle"), draw(7, kind, "middle"), draw(8, kind, "middle")

    assert np.array_equal(first.pixels, again.pixels)
    assert first.truth == again.truth
    assert other.truth != first.truth


@pytest.mark.parametrize("turn", [0, 90, 180, 270])
def test_the_true_turn_makes_it_upright(turn):
    page, plain = (
        draw(3, "tax-front", "light", turn_deg=turn),
        draw(3, "tax-front", "light", turn_deg=0),
    )

    assert np.array_equal(page.upright, plain.pixels)


def test_kinds_are_kinds_of_the_model():
    from packet.model import Kind

    if not have_mrz_face():
        pytest.skip("no OCR-B face is installed")
    assert set(CARDS) < set(KINDS)
    for kind in CARDS:
        page = draw(1, kind, "light")
        assert Kind(page.truth.kind)
        assert page.upright.shape[1] == round(page.size_mm[0] * page.dpi / 25.4)


@pytest.mark.slow
def test_bad_pages_differ_from_the_sound_ones():
    if not have_mrz_face():
        pytest.skip("no OCR-B face is installed")
    from recognition.pages.bad import bad_pages

    drawn = list(bad_pages(range(3, 4)))

    assert len({sort for sort, _, _ in drawn}) == len(drawn) == 8
    assert [len(right) for _, _, right in drawn].count(2) == 1
    assert all(page.pixels.dtype == np.uint8 and page.pixels.ndim == 3 for _, page, _ in drawn)
