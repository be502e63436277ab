"""Numbers as said aloud; expected words are British English, written by hand."""

import pytest

from handsfree.answering.spoken import (
    decimal_words,
    digit_words,
    listed,
    mass_words,
    number_words,
    piece_words,
    speakable,
)


@pytest.mark.parametrize(
    ("number", "words"),
    [
        (0, "zero"),
        (7, "seven"),
        (13, "thirteen"),
        (20, "twenty"),
        (42, "forty two"),
        (100, "one hundred"),
        (105, "one hundred and five"),
        (312, "three hundred and twelve"),
        (2000, "two thousand"),
        (2005, "two thousand and five"),
        (31250, "thirty one thousand two hundred and fifty"),
        (-3, "minus three"),
        (1_000_000, "one zero zero zero zero zero zero"),
    ],
)
def test_whole_numbers_are_said_the_british_way(number: int, words: str) -> None:
    assert number_words(number) == words


@pytest.mark.parametrize(
    ("mass_mg", "words"),
    [
        (4_135_000, "four point one three five"),
        (1_250_000, "one point two five"),
        (12_050_000, "twelve point zero five"),
        (4_000_000, "four kilos"),
        (1_000_000, "one kilo"),
        (835_000, "eight three five grams"),
        (15_000, "one five grams"),
        (50_000, "five zero grams"),
        (500_000, "five hundred grams"),
        (1_000, "one gram"),
        (0, "zero grams"),
        (-85_000, "minus eight five grams"),
        (999_600, "one kilo"),
        (453_592, "four five four grams"),
    ],
)
def test_a_mass_is_said_as_at_the_block(mass_mg: int, words: str) -> None:
    assert mass_words(mass_mg) == words


def test_fifteen_and_fifty_grams_differ_in_every_word_but_the_unit() -> None:
    fifteen, fifty = mass_words(15_000).split(), mass_words(50_000).split()
    assert fifteen[:-1] != fifty[:-1]
    assert not set(fifteen[:-1]) - {"one", "five"}
    assert not set(fifty[:-1]) - {"five", "zero"}


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("4.135", "four point one three five"),
        ("-0.5", "minus zero point five"),
        ("6", "six"),
        (".5", "zero point five"),
    ],
)
def test_decimals_are_said_digit_by_digit(text: str, words: str) -> None:
    assert decimal_words(text) == words


def test_a_tag_is_said_digit_by_digit() -> None:
    assert digit_words("417") == "four one seven"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (
            "0.54 kg of 31.25 kg is not accounted for, ± 0.26; more than scales and cutting explain.",
            (
                "zero point five four kilos of thirty one point two five kilos is not accounted for, "
                "plus or minus zero point two six; more than scales and cutting explain."
            ),
        ),
        ("12 % lost", "twelve per cent lost"),
        ("−0.3 kg", "minus zero point three kilos"),
        ("tag A4 stays", "tag A4 stays"),
        ("a pack and a bag", "a pack and a bag"),
    ],
)
def test_a_written_sentence_is_made_fit_for_a_voice(text: str, words: str) -> None:
    assert speakable(text) == words


def test_a_long_list_is_cut_short_and_says_so() -> None:
    assert listed(["neck"]) == "neck"
    assert listed(["neck", "fat"]) == "neck and fat"
    assert listed(list("abcdefg")) == "a, b, c, d, e and two more"
    assert listed([]) == ""


def test_a_counted_piece_is_said_with_its_number() -> None:
    assert piece_words("double chops", "", 4) == "four double chops"
    assert piece_words("haunch", "left", 1) == "left haunch"
