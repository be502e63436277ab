"""Exact mass: whole milligrams, read from and written as decimal text.

A scale indicates a decimal number in a unit. It becomes an `int` of milligrams by exact
arithmetic, never through a float, so sums close to the milligram.
"""

from __future__ import annotations

from decimal import Decimal, InvalidOperation
from fractions import Fraction

MG_PER_G = 1_000
MG_PER_KG = 1_000_000

#: Milligrams in one unit, exact. The pound is 0.453 592 37 kg by definition (Weights and Measures
#: Act 1985 s. 1(1)(b)); the ounce is a sixteenth of it.
MG_PER_UNIT: dict[str, Fraction] = {
    "mg": Fraction(1),
    "g": Fraction(MG_PER_G),
    "kg": Fraction(MG_PER_KG),
    "t": Fraction(1000 * MG_PER_KG),
    "lb": Fraction(45_359_237, 100),
    "oz": Fraction(45_359_237, 1600),
}


def to_mg(number: str | int | Decimal, unit: str) -> int:
    """Mass in whole milligrams of a decimal number in a unit, rounded half to even.

    Args:
        number: Decimal text such as "1.235", an int or a Decimal.
        unit: One of `MG_PER_UNIT`, any case.

    Raises:
        ValueError: The text is no finite decimal number, or the unit is not known.
    """
    try:
        value = Decimal(str(number).strip())
    except InvalidOperation:
        raise ValueError(f"{number!r} is not a decimal number") from None
    if not value.is_finite():
        raise ValueError(f"{number!r} is not a finite number")
    try:
        factor = MG_PER_UNIT[unit.strip().lower()]
    except KeyError:
        raise ValueError(f"{unit!r} is not a unit of mass known here") from None
    return round(Fraction(value) * factor)


def format_kg(mass_mg: int, decimals: int = 3) -> str:
    """Kilograms as text with a fixed number of decimals, rounded half to even: "1.235"."""
    value = Decimal(mass_mg).scaleb(-6)
    text = str(round(value, decimals)) if decimals else str(round(value))
    return text[1:] if text.startswith("-") and not Decimal(text) else text


def format_g(mass_mg: int) -> str:
    """Grams as exact decimal text without trailing zeros: "1235" or "0.5"."""
    value = Decimal(mass_mg).scaleb(-3)
    return format(value.normalize(), "f") if value else "0"
