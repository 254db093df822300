"""What the application costs."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from packet.errors import PacketFileError
from packet.rules.fees import CARD, fee_table, read_fees

GOOD = """
as_of = 2026-11-25
[contribution]
free_under_age = 18
source = "a decree"
[[item]]
name = "stamp"
title_it = "marca"
title_en = "stamp"
amount = "16.00"
pay = "before"
source = "an office"
[[item]]
name = "service"
title_it = "servizio"
title_en = "service"
amount = "30.00"
source = "a decree"
[[item]]
name = "card"
title_it = "carta"
title_en = "card"
amount = "30.46"
source = "a decree"
[item.parts]
net = "24.56"
vat_percent = "22"
commission = "0.50"
[[band]]
name = "to-1-year"
title_it = "1 anno"
title_en = "1 year"
amount = "40.00"
source = "a decree"
"""


@pytest.fixture
def problems_of(tmp_path):
    def read(text):
        path = tmp_path / "fees.toml"
        path.write_text(text, "utf-8")
        with pytest.raises(PacketFileError) as caught:
            read_fees(path, "fees.toml")
        return caught.value.problems

    return read


def test_the_card_from_its_parts():
    """MEF decree of 10 March 2016, art. 1: 24.56 and VAT of 22 % (29.96), commission 0.50."""
    parts = fee_table().item(CARD).parts

    assert parts.gross == Decimal("29.96")
    assert parts.total == fee_table().item(CARD).amount == Decimal("30.46")


@pytest.mark.parametrize(
    ("band", "slip", "cash", "all_in"),
    [
        ("to-1-year", "70.46", "100.46", "116.46"),
        ("to-2-years", "80.46", "110.46", "126.46"),
        ("long-term", "130.46", "160.46", "176.46"),
    ],
)
def test_sums(band, slip, cash, all_in):
    """Slip = card + contribution (MEF decrees of 10 March 2016 and 5 May 2017); at the counter
    30.00 more (Interior Ministry decree of 12 October 2005); in all 16.00 more for the stamp.
    The all-in sums are those of public guides of 2018.
    """
    table = fee_table()
    fee = next(one for one in table.bands if one.name == band)

    assert table.slip(fee) == Decimal(slip)
    assert table.cash(fee) == Decimal(cash)
    assert table.all_in(fee) == Decimal(all_in)


def test_without_contribution_the_card_stays():
    """Under 18 the contribution falls away (MEF decree of 5 May 2017), the 30.46 does not."""
    assert fee_table().slip(None) == Decimal("30.46")


def test_every_amount_has_a_source_and_a_day():
    for fee in (*fee_table().items, *fee_table().bands):
        assert fee.source
        assert fee.as_of == date(2026, 11, 25)
    valid = {fee.name: fee.valid_from for fee in (*fee_table().items, *fee_table().bands)}
    assert valid["card"] == date(2016, 4, 28)
    assert valid["to-1-year"] == date(2017, 6, 9)


@pytest.mark.parametrize(
    ("old", "new", "where"),
    [
        ('amount = "40.00"', 'amount = "40,00"', "band[0].amount: found"),
        ('amount = "30.46"', 'amount = "31.46"', "item[2].amount: found"),
        ('source = "an office"\n', "", "item[0].source: found nothing"),
        ('source = "an office"', 'source = ""', "item[0].source: found nothing"),
        ("as_of = 2026-11-25\n", "", "as_of: found nothing"),
        ('name = "service"', 'name = "post"', 'item: expected exactly one [[item]] with name = "s'),
        ('net = "24.56"', 'net = "much"', "item[2].parts.net: found"),
    ],
)
def test_each_fault_of_a_table_is_one_sentence(problems_of, old, new, where):
    assert old in GOOD
    assert any(problem.startswith(where) for problem in problems_of(GOOD.replace(old, new)))


def test_all_faults_at_once(problems_of):
    text = GOOD.replace('source = "an office"\n', "").replace('"40.00"', '"x"')

    assert len(problems_of(text)) == 2


def test_a_table_of_the_user(tmp_path):
    path = tmp_path / "fees.toml"
    path.write_text(GOOD, "utf-8")
    table = read_fees(path, "fees.toml")

    assert table.all_in(table.bands[0]) == Decimal("116.46")
