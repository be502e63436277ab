"""What every `Ear` must do; a test class for each ear inherits it."""

from __future__ import annotations

from abc import ABC, abstractmethod

import numpy as np
import pytest

from handsfree.speech.continuations import Continuations
from handsfree.speech.fusion import packaged_fusion
from handsfree.speech.grammar import Grammar
from handsfree.speech.messages import RATE_HZ, Samples
from handsfree.speech.phrase_search import PhraseSearch
from handsfree.speech.silence import Silence
from handsfree.speech.token_model import Ear, SoundTokens

_WORDS = ("left", "right", "seven", "shoulder", "stop")
_WHOLE = ("left shoulder", "right shoulder", "left", "stop", "shoulder left")


class EarContract(ABC):
    """Inherit with a name beginning with Test and give the ear and sound that it can read."""

    batched_within = 0.0
    """By how much a log-likelihood may differ with how many are worked out at once."""
    kinds_before = ("",)
    """The kinds of ear beside which it has weights; empty for the first engine alone."""

    @abstractmethod
    def ear(self) -> Ear:
        """The ear, the same one each time."""

    @abstractmethod
    def said(self, text: str) -> Samples:
        """These words as sound that it understands."""

    def heard(self, text: str) -> SoundTokens:
        """The words as the ear hears them, nothing worked out yet."""
        return self.ear().listen(self.said(text))

    def search(self, *phrases: str) -> PhraseSearch:
        """A search for these phrases."""
        quiet = self.ear().listen(np.zeros(RATE_HZ, np.int16))
        return PhraseSearch(Continuations(Grammar.from_phrases("some", phrases)), Silence(quiet))

    def beginning(self, sound: SoundTokens, text: str) -> tuple[int, ...]:
        """The tokens of a phrase."""
        spelled = [sound.spelling(word, first=not place) for place, word in enumerate(text.split())]
        return tuple(token for tokens in spelled for token in tokens)

    def test_it_has_a_name_and_its_kind_has_weights(self) -> None:
        """It has a name, and its kind has weights beside the ears before it."""
        assert self.ear().name
        for before in self.kinds_before:
            assert packaged_fusion(self.ear().kind, before)

    @pytest.mark.parametrize("word", _WORDS)
    def test_it_finds_a_spoken_word_in_a_list(self, word: str) -> None:
        """It finds a spoken word in a list."""
        assert self.search(*_WORDS).likeliest(self.heard(word), 3)[0].text == word

    def test_searching_and_scoring_agree_however_many_are_asked_at_once(self) -> None:
        """Searching and scoring agree, however many are asked at once."""
        some = self.search(*_WHOLE)
        found = some.likeliest(self.heard("left shoulder"), 4)
        again = some.scores(self.heard("left shoulder"), [phrase.text for phrase in found])
        for one, other in zip(again, found, strict=True):
            assert one.log_likelihood == pytest.approx(other.log_likelihood, abs=self.batched_within + 1e-6)

    def test_a_row_for_every_beginning_and_one_more_each_adding_up_to_one(self) -> None:
        """There is a row for every token and one more, and each adds up to one."""
        sound = self.heard("stop")
        asked = [(), self.beginning(sound, "stop"), self.beginning(sound, "left shoulder")]
        tables = sound.next_tokens(asked)
        assert [len(table) for table in tables] == [len(beginning) + 1 for beginning in asked]
        for table in tables:
            assert np.exp(table).sum(axis=-1) == pytest.approx(np.ones(len(table)), abs=1e-3)

    def test_what_comes_after_a_beginning_does_not_hang_on_what_follows_it(self) -> None:
        """What comes after a beginning does not hang on what follows it."""
        sound = self.heard("left shoulder")
        whole = self.beginning(sound, "left shoulder")
        (long,) = self.heard("left shoulder").next_tokens([whole])
        (short,) = sound.next_tokens([whole[:1]])
        likely = short > -8.0  # what is hardly possible differs more in eight-bit arithmetic
        assert long[:2][likely] == pytest.approx(short[likely], abs=self.batched_within + 1e-4)

    def test_no_text_explains_the_sound_better_than_the_likeliest_free_one_by_far(self) -> None:
        """No text explains the sound better than the likeliest free one by far."""
        (wrong,) = self.search("skin").scores(self.heard("right shoulder"), ["skin"])
        assert self.heard("right shoulder").freely() > wrong.log_likelihood

    def test_it_may_be_asked_again_and_says_the_same(self) -> None:
        """It may be asked again and says the same."""
        sound = self.heard("left shoulder")
        one, other = (sound.next_tokens([self.beginning(sound, "left")])[0] for _ in range(2))
        assert np.array_equal(one, other)
        assert sound.freely() == sound.freely()

    def test_a_text_may_end_and_no_word_is_spelled_with_an_end(self) -> None:
        """A text may end, and no word is spelled with an end."""
        sound = self.heard("stop")
        assert sound.endings
        for first in (True, False):
            for word in _WORDS:
                spelled = sound.spelling(word, first=first)
                assert spelled
                assert not set(spelled) & set(sound.endings)

    @pytest.mark.parametrize("count", [0, 1, 8_000, 160_000])
    def test_silence_and_no_samples_are_sounds_too(self, count: int) -> None:
        """Silence and no samples are sounds too."""
        (found,) = self.search("left").scores(self.ear().listen(np.zeros(count, np.int16)), ["left"])
        assert np.isfinite(found.log_likelihood)
