"""Spoken numbers both ways: tags digit by digit, weights and temperatures as decimals.

Understood: "four one seven", "oh", "double four", "treble one"; "forty one point three five", "a
hundred and five", "four one point two", "forty one point double five", "a half", "forty one and a
half", "minus two". All values are exact.
"""

from __future__ import annotations

from contextlib import suppress
from decimal import Decimal
from math import exp

from handsfree.speech.expressions import (
    Alternatives,
    Expression,
    Optional,
    Read,
    Repeated,
    Rule,
    Sequence,
    Words,
    any_of,
    normalise,
    words,
)

_ONES = ("one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
_TEENS = (
    "ten",
    "eleven",
    "twelve",
    "thirteen",
    "fourteen",
    "fifteen",
    "sixteen",
    "seventeen",
    "eighteen",
    "nineteen",
)
_TENS = ("twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")
_ZEROS = ("nought", "zero", "oh")
_DIGITS = {word: n for n, word in enumerate(_ONES, 1)} | dict.fromkeys(_ZEROS, 0)
_UNDER_TWENTY = {word: n for n, word in enumerate(_ONES + _TEENS, 1)}
_TENS_VALUES = {word: n * 10 for n, word in enumerate(_TENS, 2)}
_MULTIPLES = {"double": 2, "treble": 3, "triple": 3}
_FRACTIONS = {
    ("a", "half"): Decimal("0.5"),
    ("half",): Decimal("0.5"),
    ("a", "quarter"): Decimal("0.25"),
    ("three", "quarters"): Decimal("0.75"),
}
_UNITS = ("kilos", "kilo", "kilograms", "degrees")
_DIGIT_WORDS = 3
"""Digits taken after the point (a gram), and for a whole part said digit by digit."""

LOWEST = Decimal(-199)
HIGHEST = Decimal("199.999")


def number_from_words(said: tuple[str, ...] | list[str] | str) -> Decimal:
    """The number these words say.

    Raises:
        ValueError: They say no number that is understood here.
    """
    given = normalise(said) if isinstance(said, str) else tuple(said)
    rest = tuple(word for word in given if word not in _UNITS)
    negative = rest[:1] == ("minus",)
    try:
        value = _unsigned(rest[1:] if negative else rest)
    except (KeyError, ValueError):
        raise ValueError(f"{' '.join(given)!r} says no number that is understood here") from None
    return -value if negative else value


def digits_from_words(said: tuple[str, ...] | list[str] | str) -> str:
    """The digits these words spell: "double four oh" is "440".

    Raises:
        ValueError: A word spells no digit, or nothing follows "double".
    """
    given = normalise(said) if isinstance(said, str) else tuple(said)
    digits, times = "", 1
    for word in given:
        if word in _MULTIPLES and times == 1:
            times = _MULTIPLES[word]
        elif word in _DIGITS:
            digits += str(_DIGITS[word]) * times
            times = 1
        else:
            raise ValueError(f"{' '.join(given)!r} spells no digits: {word!r}")
    if times != 1 or not digits:
        raise ValueError(f"{' '.join(given)!r} spells no digits")
    return digits


def words_for(value: Decimal) -> str:
    """The words a person would say for this number; `number_from_words` gives it back.

    Raises:
        ValueError: The number is not between -199 and 199.999, or has more than three decimals.
    """
    exact = value.normalize()
    places = -int(exact.as_tuple().exponent) if exact.is_finite() else _DIGIT_WORDS + 1
    if places > _DIGIT_WORDS or not LOWEST <= exact <= HIGHEST:
        raise ValueError(f"{value} cannot be said here: -199 to 199.999 with at most three decimals")
    whole, _, fraction = format(abs(exact), "f").partition(".")
    said = ["minus"] if exact < 0 else []
    said.append(_words_for_whole(int(whole)))
    if fraction:
        said += ["point", *(_digit_word(digit) for digit in fraction)]
    return " ".join(said)


def words_for_digits(digits: str) -> str:
    """The digits one by one: "417" is "four one seven".

    Raises:
        ValueError: There are other characters than digits, or none.
    """
    if not (digits.isascii() and digits.isdigit()):
        raise ValueError(f"{digits!r} is not a row of digits")
    return " ".join(_digit_word(digit) for digit in digits)


def spoken_ways(figures: str) -> tuple[str, ...]:
    """The ways typed figures are said: as a number, and digit by digit; () when they are no figures."""
    ways: list[str] = []
    with suppress(ValueError, ArithmeticError):  # a word, or out of the range said as a number
        ways.append(words_for(Decimal(figures)))
    if figures.isascii() and figures.isdigit():
        ways.append(words_for_digits(figures))
    return tuple(dict.fromkeys(ways))


def _digit_word(digit: str) -> str:
    return "oh" if digit == "0" else _ONES[int(digit) - 1]


def _words_for_whole(whole: int) -> str:
    if whole >= 100:
        rest = f" and {_words_for_whole(whole % 100)}" if whole % 100 else ""
        return f"{_ONES[whole // 100 - 1]} hundred{rest}"
    if whole >= 20:
        ones = f" {_ONES[whole % 10 - 1]}" if whole % 10 else ""
        return _TENS[whole // 10 - 2] + ones
    return (_ONES + _TEENS)[whole - 1] if whole else "nought"


def _unsigned(said: tuple[str, ...]) -> Decimal:
    if said in _FRACTIONS:
        return _FRACTIONS[said]
    for fraction, part in _FRACTIONS.items():
        if said[-len(fraction) - 1 :] == ("and", *fraction):
            return _whole(said[: -len(fraction) - 1]) + part
    if "point" in said:
        point = said.index("point")
        whole = _whole(said[:point]) if point else Decimal(0)
        return Decimal(f"{whole}.{_decimals(said[point + 1 :])}")
    return _whole(said)


def _decimals(said: tuple[str, ...]) -> str:
    if said and (said[0] in _DIGITS or said[0] in _MULTIPLES):
        digits = digits_from_words(said)
        if len(digits) > _DIGIT_WORDS:
            raise ValueError(said)
        return digits
    return str(_below_hundred(said))


def _whole(said: tuple[str, ...]) -> Decimal:
    if len(said) > 1 and all(word in _DIGITS for word in said):
        digits = "".join(str(_DIGITS[word]) for word in said)
        if len(digits) > _DIGIT_WORDS or int(digits) > HIGHEST:
            raise ValueError(said)
        return Decimal(int(digits))
    if said[1:2] == ("hundred",) and said[0] in ("a", "one"):
        rest = said[2:]
        if rest[:1] == ("and",):
            rest = rest[1:]
            return Decimal(100 + _below_hundred(rest))
        return Decimal(100 + (_below_hundred(rest) if rest else 0))
    if said in {(zero,) for zero in _ZEROS}:
        return Decimal(0)
    return Decimal(_below_hundred(said))


def _below_hundred(said: tuple[str, ...]) -> int:
    if len(said) == 1:
        return _UNDER_TWENTY[said[0]] if said[0] in _UNDER_TWENTY else _TENS_VALUES[said[0]]
    tens, ones = said
    return _TENS_VALUES[tens] + _ONES.index(ones) + 1


def _any_word(*choices: str) -> Expression:
    return Alternatives(tuple(Words((word,)) for word in choices))


_digit = Rule("digit", _any_word(*_ONES, *_ZEROS))
_ones = Rule("ones", _any_word(*_ONES))
_tens = Rule("tens", Sequence((_any_word(*_TENS), Optional(_ones))))
_below = Rule("below_hundred", Alternatives((_ones, _any_word(*_TEENS), _tens)))
_hundred = Rule(
    "hundred",
    Sequence((any_of("a hundred", "one hundred"), Optional(Sequence((Optional(words("and")), _below))))),
)
# Digit by digit only up to 199: three digits begin with a one or a nought.
_by_digit = Rule(
    "by_digit",
    Alternatives((Sequence((_digit, _digit)), Sequence((_any_word("one", *_ZEROS), _digit, _digit)))),
)
_whole_part = Rule("whole", Alternatives((_below, _any_word(*_ZEROS), _hundred, _by_digit)))
_after_point = Rule(
    "decimals",
    Alternatives(
        (
            Sequence((_digit, Optional(Sequence((_digit, Optional(_digit)))))),
            Sequence((words("double"), _digit)),
            _any_word(*_TEENS),
            _tens,
        )
    ),
)
_fraction = Rule("fraction", any_of("a half", "half", "a quarter", "three quarters"))
_amount = Rule(
    "amount",
    Alternatives(
        (
            Sequence(
                (
                    _whole_part,
                    Optional(
                        Alternatives(
                            (Sequence((words("point"), _after_point)), Sequence((words("and"), _fraction)))
                        )
                    ),
                )
            ),
            Sequence((words("point"), _after_point)),
            _fraction,
        )
    ),
)


_ANOTHER_DIGIT = exp(-16.0)
"""How likely another digit of a row is, as the engine is told. The likelihoods of a word's frames hang
together, so one digit too many wins more than it should: "four" became "four oh". Of 90 tags by the five
development voices, each read in, the embedded engine had 74 right without this, 77 with e to the -10 and to
the -14, 79 with e to the -16."""


def digits(slot: str = "digits") -> Expression:
    """A row of digits as an expression, read into the slot as text such as "417"."""
    one = Sequence((Optional(_any_word(*_MULTIPLES)), _digit))
    return Rule("digits", Read(Repeated(one, _ANOTHER_DIGIT), slot, digits_from_words))


def kilograms(slot: str = "number") -> Expression:
    """A weight from 0 to 199.999 kg as an expression, read into the slot as an exact Decimal."""
    unit = Optional(any_of("kilos", "kilo", "kilograms"))
    return Rule("kilograms", Read(Sequence((_amount, unit)), slot, number_from_words))


def degrees(slot: str = "number") -> Expression:
    """A temperature from -199 to 199.999 as an expression, read into the slot as an exact Decimal."""
    parts = (Optional(words("minus")), _amount, Optional(words("degrees")))
    return Rule("degrees", Read(Sequence(parts), slot, number_from_words))


def counts(slot: str = "count", lowest: int = 1, highest: int = 20) -> Expression:
    """A count from `lowest` to `highest` (at most twenty) as an expression, read into the slot as an int."""
    spoken = (*_ONES, *_TEENS, "twenty")[lowest - 1 : highest]
    return Rule(f"count_to_{highest}", Read(_any_word(*spoken), slot, _count))


def _count(said: tuple[str, ...]) -> int:
    return int(number_from_words(said))
