"""Numbers as they are said in English, worked out by hand."""

from decimal import Decimal

import pytest

from handsfree.speech.numbers import (
    digits_from_words,
    number_from_words,
    spoken_ways,
    words_for,
    words_for_digits,
)

SAID = {
    "nought": "0",
    "oh": "0",
    "seven": "7",
    "thirteen": "13",
    "forty": "40",
    "forty-one": "41",
    "forty one point three five": "41.35",
    "four one point three five": "41.35",
    "forty one point thirty five": "41.35",
    "forty one point oh five": "41.05",
    "point five": "0.5",
    "a half": "0.5",
    "forty one and a half": "41.5",
    "forty one and three quarters": "41.75",
    "a quarter": "0.25",
    "a hundred": "100",
    "a hundred and five": "105",
    "one hundred five": "105",
    "one oh five point two": "105.2",
    "one hundred and ninety nine point nine nine": "199.99",
    "minus twelve point five": "-12.5",
    "twenty five kilos": "25",
    "eighty two degrees": "82",
    "one point two three five": "1.235",
    "forty one point double five": "41.55",
    "two and a quarter kilos": "2.25",
    "half": "0.5",
    "seven point nought five": "7.05",
}


@pytest.mark.parametrize(("words", "value"), SAID.items())
def test_a_number_means_what_a_listener_would_write(words: str, value: str) -> None:
    assert number_from_words(words) == Decimal(value)


@pytest.mark.parametrize(
    "words",
    [
        "",
        "haunch",
        "point",
        "forty point",
        "one two three four",
        "five hundred",
        "four one seven",  # 417 kg is beyond any carcass here; as a tag it is digits
        "twenty eleven",
        "and a half",
        "minus",
        "forty point one two three four",
        "two five five",
        "twenty twenty",
        "forty one point double",
        "forty one point double five double five",
    ],
)
def test_what_is_no_number_is_refused(words: str) -> None:
    with pytest.raises(ValueError, match="no number"):
        number_from_words(words)


@pytest.mark.parametrize(
    ("words", "digits"),
    [
        ("four one seven", "417"),
        ("oh four", "04"),
        ("double four", "44"),
        ("triple oh seven", "0007"),
        ("treble one four", "1114"),
        ("nought zero oh", "000"),
        ("one double two three", "1223"),
    ],
)
def test_digits_are_taken_one_by_one(words: str, digits: str) -> None:
    assert digits_from_words(words) == digits


@pytest.mark.parametrize("words", ["", "double", "forty one", "four double", "double double four"])
def test_what_spells_no_digits_is_refused(words: str) -> None:
    with pytest.raises(ValueError, match="spells no digits"):
        digits_from_words(words)


def test_numbers_are_said_the_british_way() -> None:
    assert words_for(Decimal("105.05")) == "one hundred and five point oh five"
    assert words_for(Decimal("41.350")) == "forty one point three five"
    assert words_for(Decimal(-2)) == "minus two"
    assert words_for(Decimal(0)) == "nought"
    assert words_for_digits("0417") == "oh four one seven"


@pytest.mark.parametrize("value", ["200", "-200", "1.2345", "NaN", "Infinity"])
def test_a_number_out_of_range_is_not_said(value: str) -> None:
    with pytest.raises(ValueError, match="cannot be said here"):
        words_for(Decimal(value))


def test_typed_figures_can_be_said_as_a_number_or_digit_by_digit() -> None:
    assert spoken_ways("41") == ("forty one", "four one")
    assert spoken_ways("41.35") == ("forty one point three five",)
    assert spoken_ways("0417") == ("oh four one seven",)
    assert spoken_ways("haunch") == ()
