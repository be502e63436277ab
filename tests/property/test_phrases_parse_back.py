"""Whatever may be said parses back, numbers survive being said, and a branch can be taken out."""

from decimal import Decimal
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from handsfree.speech.grammar import Grammar
from handsfree.speech.meaning import Answer, Call, Command, Side, Verb
from handsfree.speech.numbers import (
    digits_from_words,
    number_from_words,
    words_for,
    words_for_digits,
)
from handsfree.testing.shipped_words import shipped_vocabulary

LISTS = st.sampled_from(["venison", "lamb"])


@pytest.mark.slow
@given(LISTS, st.integers())
@settings(deadline=None)
def test_every_phrase_that_may_be_said_has_exactly_one_meaning_and_a_key(name: str, seed: int) -> None:
    grammar = shipped_vocabulary(name).everything()
    phrase = grammar.random_phrase(Random(seed))
    meanings = grammar.parse(phrase)
    assert len(meanings) == 1
    key = grammar.key_of(phrase)
    assert key is not None
    kind = {Call: "call", Command: "command", Answer: "answer"}[type(meanings[0])]
    assert key.split(":")[0] == kind
    assert grammar.parse(phrase.upper().replace(" ", "  ") + ".") == meanings


@pytest.mark.slow
@given(LISTS, st.integers())
@settings(deadline=None, max_examples=50)
def test_a_branch_taken_out_takes_its_phrases_and_no_others(name: str, seed: int) -> None:
    grammar = shipped_vocabulary(name).everything()
    gone, other = (grammar.random_phrase(Random(seed + n)) for n in range(2))
    key = grammar.key_of(gone)
    assert key is not None
    left = grammar.without({key})
    assert left is not None
    assert not left.contains(gone)
    assert left.contains(other) is (grammar.key_of(other) != key)
    assert left.without(set(left.keys()) - {key}) is None


@given(st.integers(-199_000, 199_999))
def test_a_number_said_in_words_comes_back_exactly(thousandths: int) -> None:
    value = Decimal(thousandths).scaleb(-3)
    assert number_from_words(words_for(value)) == value


@given(st.decimals("0", "199.99", places=2))
@settings(deadline=None)
def test_every_weight_to_ten_grams_is_a_phrase(value: Decimal) -> None:
    grammar = shipped_vocabulary().listening()
    phrase = f"ledger dressed weight {words_for(value)}"
    assert grammar.parse(phrase) == (Command(Verb.DRESSED_WEIGHT, number=value),)


@given(st.decimals("-30", "120", places=1))
@settings(deadline=None)
def test_every_temperature_to_a_tenth_of_a_degree_is_a_phrase(value: Decimal) -> None:
    grammar = shipped_vocabulary().listening()
    phrase = f"ledger core temperature {words_for(value)} degrees"
    assert grammar.parse(phrase) == (Command(Verb.CORE_TEMPERATURE, number=value),)


@given(st.text("0123456789", min_size=1, max_size=12))
@settings(deadline=None)
def test_every_tag_said_digit_by_digit_comes_back(tag: str) -> None:
    assert digits_from_words(words_for_digits(tag)) == tag
    phrase = f"ledger tag {words_for_digits(tag)}"
    assert shipped_vocabulary().listening().parse(phrase) == (Command(Verb.TAG, digits=tag),)


@given(LISTS, st.data())
@settings(deadline=None)
def test_a_call_in_its_own_words_means_itself(name: str, data: st.DataObject) -> None:
    vocabulary = shipped_vocabulary(name)
    cut = data.draw(st.sampled_from(vocabulary.cutlist.cuts))
    side = data.draw(st.sampled_from([None, *Side])) if cut.sided else None
    place = data.draw(st.sampled_from([None, *vocabulary.destination_names()]))
    call = Call(cut.name, side, 1, place)
    assert vocabulary.listening().parse(call.words()) == (call,)


@given(st.lists(st.text("abcdefg '-", min_size=1, max_size=12), min_size=1, max_size=8))
def test_a_phrase_list_holds_its_phrases_and_gives_them_no_meaning(phrases: list[str]) -> None:
    if not any(phrase.replace("-", " ").split() for phrase in phrases):
        return
    grammar = Grammar.from_phrases("list", phrases)
    for phrase in grammar.phrases(100):
        assert grammar.contains(phrase)
        assert grammar.key_of(phrase) == phrase
        assert grammar.parse(phrase) == ()
