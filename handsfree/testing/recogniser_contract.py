"""What every recogniser must do, whatever the engine. Subclass in a test file and supply the five parts."""

from __future__ import annotations

from abc import ABC, abstractmethod

import numpy as np
import pytest

from handsfree.errors import GrammarError, UnknownWordError
from handsfree.speech.grammar import Grammar
from handsfree.speech.messages import Samples
from handsfree.speech.ports import Recogniser, Recognition


class RecogniserContract(ABC):
    """The suite; an engine may be handed to several tests, as it hears many utterances in its life."""

    @abstractmethod
    def make(self) -> Recogniser:
        """The engine, new or used."""

    @abstractmethod
    def make_unused(self) -> Recogniser:
        """An engine that was never given a grammar."""

    @abstractmethod
    def say(self, text: str) -> Samples:
        """The text as this engine can hear it."""

    @property
    @abstractmethod
    def phrases(self) -> list[str]:
        """At least four phrases that the engine hears right when `say` says them."""

    @property
    @abstractmethod
    def unknown_words(self) -> list[str]:
        """Two words the engine cannot pronounce; empty when it can take any word."""

    @property
    def score_tolerance(self) -> float:
        """How far apart the scores of the same sound may be; 0 for an engine without chance in it."""
        return 0.0

    def grammar(self) -> Grammar:
        """All but the last of the phrases."""
        return Grammar.from_phrases("first", self.phrases[:-1])

    def other_grammar(self) -> Grammar:
        """The last phrase alone."""
        return Grammar.from_phrases("second", self.phrases[-1:])

    def heard(
        self, engine: Recogniser, sound: Samples, chunk: int = 1_600, alternatives: int = 3
    ) -> Recognition:
        """One utterance through the engine, in chunks of that many samples."""
        engine.begin()
        for start in range(0, len(sound), chunk):
            engine.feed(sound[start : start + chunk])
        return engine.finish(alternatives)

    def test_it_has_a_name(self) -> None:
        """Tables and messages need one."""
        assert self.make().name

    def test_it_hears_the_phrases_of_its_grammar(self) -> None:
        """The best reading is what was said."""
        engine = self.make()
        engine.use(self.grammar())
        for phrase in self.phrases[:-1]:
            recognition = self.heard(engine, self.say(phrase))
            assert recognition.hypotheses[0].text == phrase

    def test_sound_as_captured_may_come_with_it(self) -> None:
        """An engine may use it or leave it; what is clear in both is heard."""
        engine = self.make()
        engine.use(self.grammar())
        sound = self.say(self.phrases[0])
        engine.begin()
        engine.feed(sound, sound)
        assert engine.finish().hypotheses[0].text == self.phrases[0]

    def test_whoever_is_at_the_bench_it_goes_on_hearing(self) -> None:
        """Names nobody read a voice in under; told between utterances."""
        engine = self.make()
        engine.use(self.grammar())
        sound = self.say(self.phrases[0])
        before = self.heard(engine, sound)
        for butcher in ("Morag", ""):
            engine.listen_to(butcher)
            again = self.heard(engine, sound)
            assert [each.text for each in again.hypotheses] == [each.text for each in before.hypotheses]

    def test_how_the_sound_is_cut_changes_nothing(self) -> None:
        """Blocks come as the sound system likes."""
        results = []
        for chunk in (160, 1_000, 100_000):
            engine = self.make_unused()
            engine.use(self.grammar())
            results.append(self.heard(engine, self.say(self.phrases[1]), chunk))
        for other in results[1:]:
            assert other.confidence == results[0].confidence
            texts = [reading.text for reading in other.hypotheses]
            assert texts == [reading.text for reading in results[0].hypotheses]
            for reading, first in zip(other.hypotheses, results[0].hypotheses, strict=True):
                assert abs(reading.score - first.score) <= self.score_tolerance

    def test_a_grammar_given_between_utterances_is_used_from_the_next(self) -> None:
        """And the first one is back when it is given again."""
        engine = self.make()
        for grammar, phrase in (
            (self.grammar(), self.phrases[0]),
            (self.other_grammar(), self.phrases[-1]),
            (self.grammar(), self.phrases[0]),
        ):
            engine.use(grammar)
            assert self.heard(engine, self.say(phrase)).hypotheses[0].text == phrase

    def test_nothing_outside_the_grammar_comes_out(self) -> None:
        """Whatever is said."""
        engine = self.make()
        engine.use(self.other_grammar())
        for reading in self.heard(engine, self.say(self.phrases[0])).hypotheses:
            assert self.other_grammar().contains(reading.text)

    def test_readings_are_distinct_phrases_best_first_and_no_more_than_asked(self) -> None:
        """Rivals are what the pairing weighs."""
        engine = self.make()
        engine.use(self.grammar())
        for alternatives in (1, 2, 3):
            found = self.heard(engine, self.say(self.phrases[2]), alternatives=alternatives).hypotheses
            assert 1 <= len(found) <= alternatives
            assert len({reading.text for reading in found}) == len(found)
            assert all(self.grammar().contains(reading.text) for reading in found)
            assert [reading.score for reading in found] == sorted((r.score for r in found), reverse=True)

    def test_confidence_is_a_probability(self) -> None:
        """Between 0 and 1, and above 0 for a phrase that was heard."""
        engine = self.make()
        engine.use(self.grammar())
        assert 0.0 < self.heard(engine, self.say(self.phrases[0])).confidence <= 1.0

    def test_an_utterance_without_sound_has_no_reading(self) -> None:
        """No samples, no words."""
        engine = self.make()
        engine.use(self.grammar())
        engine.begin()
        assert engine.finish() == Recognition((), 0.0)
        engine.begin()
        engine.feed(np.zeros(0, np.int16))
        assert engine.finish() == Recognition((), 0.0)

    def test_silence_is_not_believed(self) -> None:
        """A second of nothing is no phrase."""
        engine = self.make()
        engine.use(self.grammar())
        assert self.heard(engine, np.zeros(16_000, np.int16)).confidence < 0.5

    def test_an_utterance_left_open_is_dropped_by_the_next(self) -> None:
        """Its sound is not mixed into what follows."""
        engine = self.make()
        engine.use(self.grammar())
        engine.begin()
        engine.feed(self.say(self.phrases[0]))
        assert self.heard(engine, self.say(self.phrases[1])).hypotheses[0].text == self.phrases[1]

    def test_words_it_cannot_pronounce_are_named_before_anything_is_heard(self) -> None:
        """All of them, and the grammar before stays in use; an engine of any words takes them."""
        engine = self.make()
        engine.use(self.grammar())
        if not self.unknown_words:
            engine.use(Grammar.from_phrases("odd", ["xqzzt brrp", self.phrases[0]]))
            assert self.heard(engine, self.say("xqzzt brrp")).hypotheses[0].text == "xqzzt brrp"
            return
        first, second = self.unknown_words
        with pytest.raises(UnknownWordError) as caught:
            engine.use(Grammar.from_phrases("odd", [f"{first} {second}", self.phrases[0]]))
        assert first in str(caught.value)
        assert second in str(caught.value)
        assert self.heard(engine, self.say(self.phrases[0])).hypotheses[0].text == self.phrases[0]

    def test_missing_words_come_in_the_order_given(self) -> None:
        """Known ones are left out."""
        asked = [*reversed(self.unknown_words), *self.phrases[0].split()]
        assert self.make().missing_words(asked) == list(reversed(self.unknown_words))

    def test_listening_without_a_grammar_is_refused_in_words(self) -> None:
        """There is nothing to listen for."""
        engine = self.make_unused()
        with pytest.raises(GrammarError, match="No grammar"):
            self.heard(engine, self.say(self.phrases[0]))
