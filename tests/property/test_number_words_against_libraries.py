"""Number words both ways against general-purpose libraries: num2words writes, text2num reads."""

from contextlib import suppress
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handsfree.speech.grammar import Grammar
from handsfree.speech.numbers import (
    degrees,
    digits_from_words,
    kilograms,
    number_from_words,
    spoken_ways,
    words_for,
    words_for_digits,
)

num2words = pytest.importorskip("num2words", reason="num2words is not installed").num2words
text_to_num = pytest.importorskip("text_to_num", reason="text2num is not installed")

thousandths = st.integers(0, 199_999).map(lambda n: Decimal(n) / 1000)


def for_the_library(said: str) -> str:
    """The British noughts as the general-purpose readers know them."""
    return " ".join("zero" if word in {"oh", "nought"} else word for word in said.split())


def test_every_whole_number_the_library_writes_is_read_back() -> None:
    for whole in range(200):
        assert number_from_words(num2words(whole, lang="en_GB")) == whole


def test_every_whole_number_said_here_is_read_by_the_library() -> None:
    for whole in range(200):
        assert text_to_num.text2num(for_the_library(words_for(Decimal(whole))), "en") == whole


@given(thousandths)
def test_a_weight_the_library_writes_is_read_back_exactly(weight: Decimal) -> None:
    assert number_from_words(num2words(weight.normalize(), lang="en_GB")) == weight


@given(thousandths)
def test_a_weight_said_here_is_read_by_the_library(weight: Decimal) -> None:
    read = text_to_num.alpha2digit(for_the_library(words_for(weight)), "en", threshold=0)
    assert Decimal(read.replace(" ", "")) == weight


@given(thousandths)
def test_a_weight_the_library_writes_is_a_phrase_of_the_grammars(weight: Decimal) -> None:
    said = num2words(weight.normalize(), lang="en_GB").replace("-", " ")
    for expression in (kilograms(), degrees()):
        assert Grammar("amount", expression).contains(said)


@given(st.from_regex(r"[0-9]{1,8}", fullmatch=True))
def test_tags_are_read_as_the_library_reads_them_digit_by_digit(tag: str) -> None:
    said = [num2words(int(digit)) for digit in tag]
    assert digits_from_words(said) == tag
    assert digits_from_words(words_for_digits(tag)) == tag


@given(st.text(max_size=30))
def test_any_text_is_either_read_or_refused_with_a_value_error(text: str) -> None:
    for read in (number_from_words, digits_from_words):
        with suppress(ValueError):  # any other exception fails
            assert read(text) is not None
    assert isinstance(spoken_ways(text), tuple)
