"""A first engine and a second ear together, both without a model."""

from __future__ import annotations

import threading
from math import exp
from typing import ClassVar

import numpy as np
import pytest

from handsfree.errors import ModelError
from handsfree.speech.fusion import BELIEF_FIGURES, RANK_FIGURES, Column, Fusion, packaged_fusion
from handsfree.speech.grammar import Grammar
from handsfree.speech.meaning import Call
from handsfree.speech.messages import Hypothesis, Samples
from handsfree.speech.parser import hypothesis
from handsfree.speech.ports import Recognition
from handsfree.speech.two_ears import TwoEars
from handsfree.speech.typed import encode
from handsfree.testing.scripted_recogniser import ScriptedRecogniser
from handsfree.testing.shipped_words import shipped_vocabulary
from handsfree.testing.spelled_ear import SpelledEar, SpelledSound

LISTENING = shipped_vocabulary().listening()
CUTS = Grammar.from_phrases("cuts", ["left haunch", "left shank", "right haunch", "rump", "bone"])


def heard(first: Recognition | list[str], said: str, grammar: Grammar = CUTS, wanted: int = 3) -> Recognition:
    both = TwoEars(
        ScriptedRecogniser([first], confidence=0.6), SpelledEar(), packaged_fusion(SpelledEar().kind)
    )
    both.use(grammar)
    both.begin()
    both.feed(encode(said))
    return both.finish(wanted)


def test_it_names_both() -> None:
    assert (
        TwoEars(ScriptedRecogniser(), SpelledEar(), packaged_fusion(SpelledEar().kind)).name
        == "scripted with spelled"
    )


def test_two_that_agree_are_believed_more_than_two_that_do_not() -> None:
    agreed, split = heard(["left shank"], "left shank"), heard(["left haunch"], "rump")
    assert agreed.hypotheses[0].text == "left shank"
    assert agreed.confidence > split.confidence


def test_the_ear_brings_a_reading_the_first_engine_did_not_have() -> None:
    found = heard(["left haunch", "right haunch"], "rump")
    assert "rump" in [reading.text for reading in found.hypotheses]


def test_when_the_first_engine_heard_nothing_the_ear_still_reads() -> None:
    found = heard(Recognition((), 0.0), "rump")
    assert found.hypotheses[0].text == "rump"


def test_a_reading_carries_its_meaning_and_its_chance() -> None:
    found = heard(["left shank"], "left shank", LISTENING)
    meaning = found.hypotheses[0].meaning
    assert isinstance(meaning, Call)
    assert meaning.side is not None
    chances = [reading.probability for reading in found.hypotheses]
    assert chances[0] == found.confidence
    assert all(chance is not None and 0 <= chance <= 1 for chance in chances)
    assert sum(chance or 0.0 for chance in chances) <= 1 + 1e-9


def test_scores_fall_along_the_list_and_stop_where_asked() -> None:
    for wanted in (1, 2, 3):
        found = heard(["left haunch", "left shank", "rump"], "left shank", wanted=wanted).hypotheses
        assert len(found) == wanted
        scores = [reading.score for reading in found]
        assert scores == sorted(scores, reverse=True)
    assert heard(["left haunch"], "left haunch", wanted=0) == Recognition((), 0.0)


@pytest.mark.parametrize("own_voice", [True, False])
def test_beside_a_voice_of_its_own_the_readings_are_believed_more(own_voice: bool) -> None:
    first = Recognition((hypothesis(CUTS, "rump", -1.0),), 0.6, own_voice)
    fusion = Fusion((0.0,) * len(RANK_FIGURES), -1.0, (Column(0.0, 0.0, 0.0),) * len(BELIEF_FIGURES), 3.0)
    both = TwoEars(ScriptedRecogniser([first]), SpelledEar(), fusion)
    both.use(CUTS)
    both.begin()
    both.feed(encode("rump"))
    found = both.finish()
    assert found.confidence == pytest.approx(1 / (1 + exp(-2.0 if own_voice else 1.0)))  # -1 + 3, or -1
    assert found.own_voice is own_voice  # so that a third ear knows it too


class Counting(SpelledEar):
    """Counts the words it was asked about."""

    words = 0

    def listen(self, samples: Samples) -> SpelledSound:
        self.words += bool(len(samples) and np.any(samples))  # not the silence that is learned beforehand
        return super().listen(samples)


def test_what_the_engine_has_settled_stands_and_the_ear_is_no_longer_asked() -> None:
    sure = Recognition((hypothesis(CUTS, "rump", -1.0),), 0.9, own_voice=True, settled=True)
    unsure = Recognition((hypothesis(CUTS, "rump", -1.0),), 0.4, own_voice=True)
    ear = Counting()
    pair = TwoEars(ScriptedRecogniser([sure, sure, unsure]), ear, packaged_fusion(ear.kind))
    third = TwoEars(pair, SpelledEar(), packaged_fusion(ear.kind))
    third.use(CUTS)
    asked = []
    for said in ("bone", "bone", "bone"):
        third.begin()
        third.feed(encode(said))
        found = third.finish()
        asked.append(ear.words)
        assert (found == sure) is (len(asked) < 3)
    # The first time it listens meanwhile, not knowing yet; then only to what is not settled.
    assert asked == [1, 1, 2]
    assert found.hypotheses[0].text == "bone", "two ears that heard it outweigh an engine that is not sure"
    assert third.weighed is not None


def test_what_it_rests_on_can_be_looked_at() -> None:
    both = TwoEars(
        ScriptedRecogniser([["left haunch", "bone"]]), SpelledEar(), packaged_fusion(SpelledEar().kind)
    )
    both.use(CUTS)
    assert both.weighed is None
    both.begin()
    both.feed(encode("left haunch"))
    both.finish()
    assert both.weighed is not None
    best = [reading.text for reading in both.weighed.readings if reading.first_best]
    assert best == ["left haunch"]
    texts = [reading.text for reading in both.weighed.readings]
    assert len(texts) == len(set(texts))
    assert (
        {"left haunch", "bone"} <= set(texts) <= {"left haunch", "left shank", "right haunch", "rump", "bone"}
    )


def test_an_utterance_without_a_sample_has_no_reading() -> None:
    both = TwoEars(ScriptedRecogniser([["rump"]]), SpelledEar(), packaged_fusion(SpelledEar().kind))
    both.use(CUTS)
    both.begin()
    both.feed(np.zeros(0, np.int16))
    assert both.finish() == Recognition((), 0.0)


def test_a_new_grammar_is_what_the_ear_builds_from() -> None:
    both = TwoEars(ScriptedRecogniser([["rump"], ["yes"]]), SpelledEar(), packaged_fusion(SpelledEar().kind))
    for grammar, said in ((CUTS, "rump"), (Grammar.from_phrases("answers", ["yes", "no"]), "yes")):
        both.use(grammar)
        both.begin()
        both.feed(encode(said))
        for reading in both.finish().hypotheses:
            assert isinstance(reading, Hypothesis)
            assert grammar.contains(reading.text)


def test_words_are_the_first_engine_s_to_know() -> None:
    both = TwoEars(ScriptedRecogniser(unknown=["zzyxxq"]), SpelledEar(), packaged_fusion(SpelledEar().kind))
    assert both.missing_words(["rump", "zzyxxq"]) == ["zzyxxq"]


def test_the_ear_hears_the_sound_as_captured_as_well() -> None:
    # What the filter left is silence; the words are in the other half of the mixture.
    both = TwoEars(ScriptedRecogniser([["rump"]]), Noting(), packaged_fusion(SpelledEar().kind))
    both.use(CUTS)
    both.begin()
    sound = np.full(1_600, 1_000, np.int16)
    both.feed(sound, 3 * sound)
    both.feed(sound)
    both.finish()
    assert Noting.heard == [2_000] * 1_600 + [1_000] * 1_600


class Noting(SpelledEar):
    """Keeps the last sound it was given; reads nothing in it."""

    heard: ClassVar[list[int]] = []

    def listen(self, samples: Samples) -> SpelledSound:
        Noting.heard = samples.tolist()
        return super().listen(encode(""))


def test_a_grammar_that_comes_back_is_not_learned_anew() -> None:
    ear = SpelledEar()
    both = TwoEars(ScriptedRecogniser([["rump"]] * 4), ear, packaged_fusion(SpelledEar().kind))
    asked = []
    words = CUTS.words()
    answers = Grammar.from_phrases("answers", ["yes", "no", *words])
    for grammar in (CUTS, answers, CUTS, Grammar.from_phrases("answers", ["no", "yes", *words])):
        both.use(grammar)
        both.begin()
        both.feed(encode("rump"))
        ear.asked = 0
        both.finish()
        asked.append(ear.asked)
    # The first time as much again is asked about silence, also of a grammar with new words.
    assert asked[2] == asked[0] // 2
    # What is known about it serves every grammar without new words.
    assert asked[3] == asked[1] // 2


def test_the_ear_listens_while_the_first_engine_works() -> None:
    """Each waits for the other to have begun: one after the other they would wait in vain."""
    first_began, ear_began = threading.Event(), threading.Event()

    class First(ScriptedRecogniser):
        def finish(self, alternatives: int = 3) -> Recognition:
            first_began.set()
            assert ear_began.wait(10)
            return super().finish(alternatives)

    class Slow(SpelledEar):
        def listen(self, samples: Samples) -> SpelledSound:
            if len(samples) and np.any(samples):  # not the silence that is learned beforehand
                ear_began.set()
                assert first_began.wait(10)
            return super().listen(samples)

    both = TwoEars(First([["rump"]]), Slow(), packaged_fusion(SpelledEar().kind))
    both.use(CUTS)
    both.begin()
    both.feed(encode("rump"))
    assert both.finish().hypotheses[0].text == "rump"
    assert not any(each.name.startswith("ear") for each in threading.enumerate())


def test_an_ear_that_fails_says_so_and_the_next_word_is_heard() -> None:
    class Failing(SpelledEar):
        fails = False

        def listen(self, samples: Samples) -> SpelledSound:
            if self.fails:
                raise ModelError("the model is gone", next_step="fetch it again")
            return super().listen(samples)

    ear = Failing()
    both = TwoEars(ScriptedRecogniser([["rump"], ["bone"]]), ear, packaged_fusion(SpelledEar().kind))
    both.use(CUTS)
    for said, fails in (("rump", True), ("bone", False)):
        ear.fails = fails
        both.begin()
        both.feed(encode(said))
        if fails:
            with pytest.raises(ModelError, match=r"[Tt]he model is gone"):
                both.finish()
        else:
            assert both.finish().hypotheses[0].text == "bone"
