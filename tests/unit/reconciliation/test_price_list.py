"""Price lists: exact numbers, and every fault with its line."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from handsfree.errors import ConfigError
from handsfree.reconciliation.price_list import read_price_list

GOOD = """# invented
currency = "EUR"
date = 2026-04-01

[cut]
loin = 42.10
"double chops" = 24

[destination]
prime = 0.1
"""


def read(text: str):
    return read_price_list(
        text, "prices.toml", cuts={"loin", "double chops", "neck"}, destinations={"prime", "stock"}
    )


def test_prices_are_the_numbers_as_they_are_written() -> None:
    prices = read(GOOD)
    assert (prices.currency, prices.day) == ("EUR", date(2026, 4, 1))
    assert prices.by_cut == {"loin": Decimal("42.10"), "double chops": Decimal(24)}
    # A float of 0.1 is 0.1000000000000000055...; this is a tenth.
    assert prices.by_destination["prime"] * 10 == 1
    assert prices.of("loin", "prime") == Decimal("42.10")
    assert prices.of("neck", "prime") == Decimal("0.1")
    assert prices.of("neck", "stock") is None


@pytest.mark.parametrize(
    ("old", "new", "fault"),
    [
        ('currency = "EUR"\n', "", r"prices\.toml: it needs its currency in quotes"),
        ('"EUR"', "7", r"prices\.toml:2: it needs its currency"),
        ("date = 2026-04-01\n", "", "needs the day it holds from"),
        ("2026-04-01", '"2026-04-01"', r"prices\.toml:3: it needs the day it holds from, .* without quotes"),
        ("2026-04-01", "2026-04-01T10:00:00", "needs the day"),
        (
            "loin = 42.10",
            "lion = 42.10",
            r'prices\.toml:6: \'lion\' is no cut known here; did you mean "loin"',
        ),
        ("42.10", '"42.10"', r"prices\.toml:6: the price of loin must be a number, not 42\.10"),
        ("42.10", "-1", "must be from 0 to 100000, not -1"),
        ("42.10", "nan", "must be from 0 to 100000"),
        ("42.10", "inf", "must be from 0 to 100000"),
        ("42.10", "true", "must be a number"),
        ("42.10", "0.00001", "4 decimals at most"),
        ("[destination]", "[destinations]", r"prices\.toml:9: 'destinations' is not known in a price list"),
        ("[cut]", "cut = 3\n[other]", r"\[cut\] must be a section of prices"),
        ("loin = 42.10", "loin = 42,10", r"not valid TOML: .*line 6"),
    ],
)
def test_a_fault_is_told_with_its_line(old: str, new: str, fault: str) -> None:
    with pytest.raises(ConfigError, match=fault):
        read(GOOD.replace(old, new))


def test_all_faults_are_told_together() -> None:
    with pytest.raises(ConfigError) as caught:
        read(GOOD.replace("42.10", "-2").replace("0.1", '"x"'))
    assert "loin" in str(caught.value)
    assert "prime" in str(caught.value)


def test_a_list_without_prices_is_none() -> None:
    with pytest.raises(ConfigError, match="has no price"):
        read('currency = "EUR"\ndate = 2026-04-01\n')
