"""Exact mass."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handsfree.mass import format_g, format_kg, to_mg


@pytest.mark.parametrize(
    ("number", "unit", "mg"),
    [
        ("1.235", "kg", 1_235_000),
        ("0.5", "g", 500),
        ("-0.005", "kg", -5_000),
        # The pound by definition: 0.453 592 37 kg (Weights and Measures Act 1985 s. 1(1)(b)).
        ("1", "lb", 453_592),
        ("100", "lb", 45_359_237),
        # The ounce is a sixteenth of it: 28.349 523 125 g.
        ("1", "oz", 28_350),
        ("16", "oz", 453_592),
        (2, "KG", 2_000_000),
    ],
)
def test_masses_are_exact(number: str, unit: str, mg: int) -> None:
    assert to_mg(number, unit) == mg


@pytest.mark.parametrize(
    ("number", "unit"), [("one", "kg"), ("nan", "kg"), ("inf", "g"), ("1", "stone"), ("", "kg")]
)
def test_what_is_no_mass_is_refused(number: str, unit: str) -> None:
    with pytest.raises(ValueError, match="not"):
        to_mg(number, unit)


@given(st.integers(-(10**12), 10**12))
def test_milligrams_survive_being_written_in_kilograms_and_grams(mass_mg: int) -> None:
    assert to_mg(format_kg(mass_mg, 6), "kg") == mass_mg
    assert to_mg(format_g(mass_mg), "g") == mass_mg


@given(st.decimals("-999999", "999999", places=3))
def test_kilograms_as_indicated_come_back_as_indicated(number: Decimal) -> None:
    assert Decimal(format_kg(to_mg(number, "kg"))) == number


def test_minus_nothing_is_written_as_nothing() -> None:
    assert format_kg(-400, 3) == "0.000"
