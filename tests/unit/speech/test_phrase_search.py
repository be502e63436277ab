"""The search builds phrases of the grammar only, and finds the likeliest of them."""

from __future__ import annotations

from math import log

import pytest

from handsfree.speech.continuations import Continuations
from handsfree.speech.grammar import Grammar
from handsfree.speech.phrase_search import likeliest, scores
from handsfree.speech.typed import encode
from handsfree.testing.shipped_words import shipped_vocabulary
from handsfree.testing.spelled_ear import SpelledEar

LISTENING = shipped_vocabulary().listening()


@pytest.mark.parametrize("pairs", [False, True])
@pytest.mark.parametrize("said", ["left haunch", "two left shanks for stock", "ledger close carcass", "rump"])
def test_what_the_ear_reads_comes_first(said: str, pairs: bool) -> None:
    found = likeliest(SpelledEar(pairs=pairs).listen(encode(said)), Continuations(LISTENING), 3)
    assert found[0].text == said
    assert len({phrase.text for phrase in found}) == len(found) == 3
    likelihoods = [phrase.log_likelihood for phrase in found]
    assert likelihoods == sorted(likelihoods, reverse=True)


def test_only_phrases_of_the_grammar_are_built() -> None:
    for said in ("haunch left left", "the weather is fine", "two", ""):
        for phrase in likeliest(SpelledEar().listen(encode(said)), Continuations(LISTENING), 5):
            assert LISTENING.contains(phrase.text)


def test_the_likelihood_is_that_of_the_tokens_and_the_end() -> None:
    # The ear gives 0.9 to each of two words and to the end; ln 0.9 is -0.105361.
    (found,) = scores(SpelledEar().listen(encode("left haunch")), ["left haunch"])
    assert found.log_likelihood == pytest.approx(3 * log(0.9), abs=1e-5)
    assert found.tokens == 2


def test_searching_and_scoring_agree() -> None:
    for pairs in (False, True):
        sound = SpelledEar(pairs=pairs).listen(encode("left shoulder for mince"))
        found = likeliest(sound, Continuations(LISTENING), 4)
        for one, other in zip(scores(sound, [f.text for f in found]), found, strict=True):
            assert one.text == other.text
            assert one.tokens == other.tokens
            assert one.log_likelihood == pytest.approx(other.log_likelihood, abs=1e-4)


def test_a_wide_search_finds_the_best_of_all_phrases() -> None:
    texts = [f"{side} {cut}" for side in ("left", "right") for cut in ("haunch", "shank", "shoulder", "loin")]
    sound = SpelledEar({"shank": "haunch"}, pairs=True).listen(encode("right shank"))
    by_hand = sorted(scores(sound, texts), key=lambda phrase: -phrase.log_likelihood)
    found = likeliest(sound, Continuations(Grammar.from_phrases("cuts", texts)), 3, width=50)
    assert [f.text for f in found[:1]] == [by_hand[0].text] == ["right haunch"]
    assert [f.log_likelihood for f in found] == pytest.approx(
        [f.log_likelihood for f in by_hand[:3]], abs=1e-4
    )


def test_the_ear_is_asked_about_few_beginnings_not_about_every_phrase() -> None:
    # The listening grammar has thousands of phrases; five words at eight beginnings each is 41 questions.
    ear = SpelledEar()
    likeliest(ear.listen(encode("two left shanks for stock")), Continuations(LISTENING), 3)
    assert ear.asked <= 1 + 8 * 6


def test_no_phrases_to_score_is_no_question() -> None:
    assert scores(SpelledEar().listen(encode("rump")), []) == []
