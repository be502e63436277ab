"""Lines as a scale would send them, written apart from the code that reads them.

The generated scale speaks through these, so that reading is tested by a second route. The shapes
are those of public interface manuals; the names are those of `handsfree/weighing/shapes`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal

_GRAMS = {"g": Decimal(1), "kg": Decimal(1000), "lb": Decimal("453.59237"), "oz": Decimal("28.349523125")}


@dataclass(frozen=True, slots=True)
class Shown:
    """What the display shows at one moment."""

    steps: int | None
    """Indicated value in scale intervals; None when the field is blank or over the range."""
    d_g: Decimal
    """Scale interval in grams (in units of the display it is rounded to the digits that carry it)."""
    unit: str = "kg"
    stable: bool = True
    net: bool = False
    over: bool = False
    under: bool = False

    @property
    def number(self) -> str:
        """The digits as displayed, without sign: "1.235"."""
        assert self.steps is not None
        interval = self.interval
        return format(abs(self.steps) * interval, f".{decimals(interval)}f")

    @property
    def interval(self) -> Decimal:
        """The scale interval in the unit displayed, as a 1, 2 or 5 of a decimal place."""
        return interval_in(self.unit, self.d_g)

    @property
    def negative(self) -> bool:
        """Whether a minus sign is shown (never for zero)."""
        return self.steps is not None and self.steps < 0


def interval_in(unit: str, d_g: Decimal) -> Decimal:
    """The interval a scale of `d_g` grams has in `unit`: the next 1, 2 or 5 of a decimal place."""
    exact = d_g / _GRAMS[unit]
    for exponent in range(-6, 4):
        for digit in (1, 2, 5):
            interval = Decimal(digit).scaleb(exponent)
            if interval >= exact:
                return interval
    raise ValueError(f"no scale interval for {d_g} g in {unit}")


def interval_g(unit: str, d_g: Decimal) -> Decimal:
    """The same in grams."""
    return interval_in(unit, d_g) * _GRAMS[unit]


def decimals(interval: Decimal) -> int:
    """Decimal places needed to show multiples of the interval."""
    exponent = interval.normalize().as_tuple().exponent
    assert isinstance(exponent, int)
    return max(0, -exponent)


def _field(shown: Shown, width: int) -> str:
    """The weight right-justified with a floating sign, or the filler for over, under and blank."""
    if shown.over:
        return ("^" * min(9, width)).rjust(width)
    if shown.under:
        return ("-" * min(9, width)).rjust(width)
    if shown.steps is None:
        return " " * width
    return f"{'-' if shown.negative else ''}{shown.number}".rjust(width)


def status_comma(shown: Shown) -> str:
    """ST/US, GS/NT, sign, seven characters, unit: 18 bytes with CR LF."""
    status = "OL" if shown.over or shown.under else "ST" if shown.stable else "US"
    sign = "-" if shown.negative or shown.under else " "
    digits = shown.number.rjust(7) if shown.steps is not None else " " * 7
    return f"{status},{'NT' if shown.net else 'GS'}{sign}{digits},{shown.unit:>2}\r\n"


def status_space(shown: Shown) -> str:
    """ST/US, GS/NT, the number and its unit run together."""
    status = "ST" if shown.stable else "US"
    return f"{status},{'NT' if shown.net else 'GS'} {_field(shown, 8)}{shown.unit.upper()}\r\n"


def question_mark(shown: Shown) -> str:
    """Weight in eleven columns, unit, a question mark while moving, NET legend."""
    mark = " " if shown.stable else "?"
    return f"{_field(shown, 11)} {shown.unit:<5} {mark}{'NET' if shown.net else ''}\r\n"


def question_mark_legend(shown: Shown) -> str:
    """Sign in front, seven columns, unit, a question mark while moving, G or N."""
    mark = " " if shown.stable else "?"
    sign = "-" if shown.negative else " "
    digits = shown.number.rjust(7) if shown.steps is not None else " " * 7
    return f"{sign}{digits} {shown.unit:<2}   {mark}{'N' if shown.net else 'G'}\n"


def sign_unit_letter(shown: Shown) -> str:
    """Sign, seven columns, one letter each for unit, basis and status."""
    letter = {"kg": "K", "g": "G", "lb": "L", "oz": "O"}[shown.unit]
    status = "O" if shown.over else "U" if shown.under else " " if shown.stable else "M"
    sign = "-" if shown.negative else " "
    digits = shown.number.rjust(7) if shown.steps is not None else " " * 7
    return f"\x02{sign}{digits}{letter}{'N' if shown.net else 'G'}{status}\r\n"


def number_unit(shown: Shown) -> str:
    """A number and its unit, no flag of any kind."""
    return f"{_field(shown, 9)} {shown.unit}\r\n"


def number_comma_unit(shown: Shown) -> str:
    """A number with a decimal comma and its unit."""
    return number_unit(shown).replace(".", ",")


SHAPES: dict[str, Callable[[Shown], str]] = {
    writer.__name__: writer
    for writer in (
        status_comma,
        status_space,
        question_mark,
        question_mark_legend,
        sign_unit_letter,
        number_unit,
        number_comma_unit,
    )
}
