"""The search builds phrases of the grammar only, and finds the likeliest of them."""

from __future__ import annotations

from collections.abc import Sequence
from math import log

import numpy as np
import pytest

from handsfree.speech.continuations import Continuations
from handsfree.speech.expressions import Repeated, Words
from handsfree.speech.grammar import Grammar
from handsfree.speech.phrase_search import (
    LONGEST,
    UNASKED_SHARE,
    Found,
    PhraseSearch,
    words_in,
)
from handsfree.speech.silence import Silence
from handsfree.speech.token_model import LogProbabilities
from handsfree.speech.typed import encode
from handsfree.testing.shipped_words import shipped_vocabulary
from handsfree.testing.spelled_ear import SpelledEar

LISTENING = shipped_vocabulary().listening()


def likeliest(
    ear: SpelledEar, said: str, grammar: Grammar = LISTENING, count: int = 3, width: int = 8
) -> list[Found]:
    search = PhraseSearch(Continuations(grammar), Silence(ear.listen(encode(""))))
    return search.likeliest(ear.listen(encode(said)), count, width)


def scores(ear: SpelledEar, said: str, texts: list[str], grammar: Grammar = LISTENING) -> list[Found]:
    search = PhraseSearch(Continuations(grammar), Silence(ear.listen(encode(""))))
    return search.scores(ear.listen(encode(said)), texts)


@pytest.mark.parametrize("pairs", [False, True])
@pytest.mark.parametrize("said", ["left haunch", "two left shanks for stock", "ledger close carcass", "rump"])
def test_what_the_ear_reads_comes_first(said: str, pairs: bool) -> None:
    found = likeliest(SpelledEar(pairs=pairs), said)
    assert found[0].text == said
    assert len({phrase.text for phrase in found}) == len(found) == 3
    worths = [phrase.worth for phrase in found]
    assert worths == sorted(worths, reverse=True)


def test_only_phrases_of_the_grammar_are_built() -> None:
    for said in ("haunch left left", "the weather is fine", "two", ""):
        for phrase in likeliest(SpelledEar(), said, count=5):
            assert LISTENING.contains(phrase.text)


def test_the_likelihood_is_that_of_the_tokens_and_the_end() -> None:
    # The ear gives 0.9 to each of two words and to the end; ln 0.9 is -0.105361.
    (found,) = scores(SpelledEar(), "left haunch", ["left haunch"])
    assert found.log_likelihood == pytest.approx(3 * log(0.9), abs=1e-5)
    assert found.tokens == 2
    # In silence it reads the end at once and gives each other of its 4,096 tokens a 4,095th of 0.1; after
    # what it does not read all of them are alike.
    assert found.unasked == pytest.approx(log(0.1 / 4095) + 2 * log(1 / 4096), abs=1e-3)
    assert found.worth == found.log_likelihood - UNASKED_SHARE * found.unasked


def test_searching_and_scoring_agree() -> None:
    for pairs in (False, True):
        ear, said = SpelledEar(pairs=pairs), "left shoulder for mince"
        found = likeliest(ear, said, count=4)
        for one, other in zip(scores(ear, said, [f.text for f in found]), found, strict=True):
            assert one.text == other.text
            assert one.tokens == other.tokens
            assert one.log_likelihood == pytest.approx(other.log_likelihood, abs=1e-4)
            assert one.unasked == pytest.approx(other.unasked, abs=1e-4)


def test_a_wide_search_finds_the_best_of_all_phrases() -> None:
    texts = [f"{side} {cut}" for side in ("left", "right") for cut in ("haunch", "shank", "shoulder", "loin")]
    ear, grammar = SpelledEar({"shank": "haunch"}, pairs=True), Grammar.from_phrases("cuts", texts)
    by_hand = sorted(scores(ear, "right shank", texts, grammar), key=lambda phrase: -phrase.worth)
    found = likeliest(ear, "right shank", grammar, width=50)
    assert [f.text for f in found[:1]] == [by_hand[0].text] == ["right haunch"]
    assert [f.worth for f in found] == pytest.approx([f.worth for f in by_hand[:3]], abs=1e-4)


class Leaning:
    """A sound in which a model reads `said`, by a model that writes some words far too readily."""

    endings = (0,)

    def __init__(self, said: str, words: dict[str, float]) -> None:
        self._tokens = {word: token for token, word in enumerate(words, 1)}
        self._lean, self._said = list(words.values()), self._tokens.get(said, 0)

    def spelling(self, word: str, *, first: bool) -> tuple[int, ...]:
        return (self._tokens[word],)

    def next_tokens(self, beginnings: Sequence[tuple[int, ...]]) -> list[LogProbabilities]:
        row = np.array([0.0, *self._lean])
        row[self._said] += 3.0
        row -= np.logaddexp.reduce(row)
        return [np.tile(row.astype(np.float32), (len(beginning) + 1, 1)) for beginning in beginnings]

    def freely(self) -> float:
        return 0.0


def test_a_word_the_model_seldom_writes_is_found_for_all_that() -> None:
    # Of itself the model writes "lunch" e^4 times as often as "haunch"; what it hears lifts a word by e^3.
    lean = {"haunch": 0.0, "lunch": 4.0}
    grammar = Continuations(Grammar.from_phrases("two", list(lean)))
    heard = PhraseSearch(grammar, Silence(Leaning("", lean))).likeliest(Leaning("haunch", lean), 2)
    assert [phrase.text for phrase in heard] == ["haunch", "lunch"]
    assert heard[0].log_likelihood < heard[1].log_likelihood


def test_a_word_that_may_be_repeated_and_is_heard_everywhere_is_repeated_to_the_longest_phrase_only() -> None:
    lean = {"haunch": 0.0, "seven": -8.0}
    grammar = Continuations(Grammar("digits", Repeated(Words(("seven",)))))
    heard = PhraseSearch(grammar, Silence(Leaning("", lean))).likeliest(Leaning("seven", lean), 3)
    assert heard[0].text == " ".join(["seven"] * LONGEST)


def test_no_more_words_are_looked_for_than_there_was_time_to_say() -> None:
    lean = {"haunch": 0.0, "seven": -8.0}
    grammar = Continuations(Grammar("digits", Repeated(Words(("seven",)))))
    search = PhraseSearch(grammar, Silence(Leaning("", lean)))
    found = search.likeliest(Leaning("seven", lean), 3, most_words=4)
    assert max(len(phrase.text.split()) for phrase in found) == 4
    # The fastest of the development phrases, "ledger tag nine two six one" in 2.055 s, has its room.
    assert (words_in(0.0), words_in(0.4), words_in(2.055)) == (1, 1, 8)
    assert all(words_in(n / 10) <= words_in((n + 1) / 10) for n in range(60))


def test_the_ear_is_asked_about_few_beginnings_not_about_every_phrase() -> None:
    # The listening grammar has thousands of phrases; five words at eight beginnings each is 41 questions,
    # one more ending the search, and as many again about silence.
    ear = SpelledEar()
    search = PhraseSearch(Continuations(LISTENING), Silence(ear.listen(encode(""))))
    sound = ear.listen(encode("two left shanks for stock"))
    search.likeliest(sound, 3)
    first, ear.asked = ear.asked, 0
    assert first <= 2 * (1 + 8 * 7)
    # What is known about silence is not asked again.
    search.likeliest(sound, 3)
    assert ear.asked == first // 2


def test_no_phrases_to_score_is_no_question_and_a_word_of_no_phrase_is_no_phrase() -> None:
    assert scores(SpelledEar(), "rump", []) == []
    assert scores(SpelledEar(), "rump", ["weather"]) == []
