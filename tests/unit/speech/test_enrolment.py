"""Reading a voice in: prompts, takes, phrases kept back, the verdict, the choice of a voice."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from handsfree.speech.choosing_voice import ChoosingRecogniser, choice
from handsfree.speech.denoise_none import NoDenoiser
from handsfree.speech.endpointing import Endpointer
from handsfree.speech.enrolled_voice import EnrolledVoice
from handsfree.speech.enrolment import MOST_TRIES, Enrolment, Finished, Kept, LeftOut, Prompt, Take
from handsfree.speech.enrolment_phrases import READ, phrases_to_read, split
from handsfree.speech.evidence import FIGURES, Evidence
from handsfree.speech.gate import Gate, RivalOdds
from handsfree.speech.grammar import Grammar
from handsfree.speech.hearing import SpeechParts
from handsfree.speech.messages import Hypothesis, Samples, SoundFlags
from handsfree.speech.ports import Recognition
from handsfree.speech.reading import Reading
from handsfree.speech.take_checks import Fault, fault_of
from handsfree.speech.voice_judgement import QUIET, Trial, is_better, rival_scale, tally
from handsfree.testing.loudness_activity import LoudnessActivity
from handsfree.testing.making_sound import in_blocks, silence, tone
from handsfree.testing.shipped_words import shipped_vocabulary

GOOD = Take(silence(1.0))
BAD = Take(silence(1.0), Fault.QUIET)


def test_a_good_take_is_kept_and_the_next_phrase_comes() -> None:
    enrolment = Enrolment(["left haunch", "two shanks"])
    assert enrolment.begin() == [Prompt(1, 2, "left haunch")]
    kept, prompt = enrolment.feed(GOOD)
    assert isinstance(kept, Kept)
    assert kept.phrase == "left haunch"
    assert prompt == Prompt(2, 2, "two shanks")


def test_a_bad_take_is_asked_for_again_with_the_reason() -> None:
    enrolment = Enrolment(["left haunch"])
    (prompt,) = enrolment.feed(BAD)
    assert isinstance(prompt, Prompt)
    assert prompt.words() == "again please, too quiet, speak up or come nearer, say left haunch"


def test_a_phrase_that_will_not_come_right_is_left_out() -> None:
    enrolment = Enrolment(["left haunch", "two shanks"])
    for _ in range(MOST_TRIES - 1):
        enrolment.feed(BAD)
    left_out, prompt = enrolment.feed(BAD)
    assert left_out == LeftOut("left haunch", Fault.QUIET)
    assert prompt == Prompt(2, 2, "two shanks")


def test_the_end_is_told_once_and_later_sound_is_nothing() -> None:
    enrolment = Enrolment(["left haunch"])
    assert enrolment.feed(GOOD)[-1] == Finished(1, 0)
    assert enrolment.feed(GOOD) == []


def reading(enrolment: Enrolment) -> Reading:
    parts = SpeechParts(NoDenoiser(), Endpointer(LoudnessActivity()))
    return Reading(enrolment, parts, lambda _sound, _phrase: True)


def steps(sound: Samples, enrolment: Enrolment, flags: SoundFlags = SoundFlags.NONE) -> list[object]:
    listener = reading(enrolment)
    found = [step for block in in_blocks(sound, flags=flags) for step in listener.feed(block)]
    return [*found, *listener.flush()]


def test_speech_from_the_microphone_is_a_take_with_its_sound() -> None:
    said = np.concatenate([silence(1.0), tone(0.8), silence(1.0)])
    kept = next(step for step in steps(said, Enrolment(["left haunch"])) if isinstance(step, Kept))
    # The tone and up to 0.65 s before (pre-roll and margin) and 0.4 s after.
    assert 0.8 * 16_000 <= len(kept.raw) <= 2.0 * 16_000
    assert np.abs(kept.raw).max() == 8_000


def test_the_recorders_own_prompt_is_no_take() -> None:
    said = np.concatenate([silence(1.0), tone(0.8), silence(1.0)])
    assert steps(said, Enrolment(["left haunch"]), SoundFlags.OWN_VOICE) == []


def test_lost_sound_is_asked_for_again() -> None:
    said = np.concatenate([silence(1.0), tone(0.8), silence(1.0)])
    (again,) = steps(said, Enrolment(["left haunch"]), SoundFlags.OVERFLOW)
    assert isinstance(again, Prompt)
    assert again.again == Fault.LOST


@pytest.mark.parametrize(
    ("sound", "speech_s", "fault"),
    [
        (np.concatenate([silence(0.3), tone(0.8), silence(0.3)]), 0.8, None),
        (np.concatenate([silence(0.3), tone(0.8, amplitude=40.0), silence(0.3)]), 0.8, Fault.QUIET),
        (np.full(16_000, 32_767, np.int16), 0.8, Fault.CLIPPED),
        (np.concatenate([silence(0.3), tone(0.8), silence(0.3)]), 0.1, Fault.SHORT),
        (np.concatenate([silence(0.3), tone(0.8), silence(0.3)]), 9.0, Fault.LONG),
        (tone(1.4), 0.8, Fault.NOISY),
        (silence(0.0), 0.8, Fault.NOTHING),
    ],
)
def test_takes_are_checked_before_they_are_kept(sound: Samples, speech_s: float, fault: Fault | None) -> None:
    assert fault_of(sound, speech_s, "left haunch") == fault


def test_phrases_to_read_are_phrases_and_none_comes_twice() -> None:
    vocabulary = shipped_vocabulary()
    grammar = vocabulary.listening()
    phrases = phrases_to_read(vocabulary)
    assert len(phrases) == len(set(phrases)) == READ
    assert all(grammar.contains(phrase) for phrase in phrases)
    assert phrases == phrases_to_read(vocabulary)


def test_what_is_said_at_the_block_every_day_is_read_and_taught() -> None:
    vocabulary = shipped_vocabulary()
    phrases = phrases_to_read(vocabulary)
    sides = split(phrases)
    taught = {word for place in sides.teaching for word in phrases[place].split()}
    planned = {each.cut for plan in vocabulary.cutlist.plans for each in plan.pieces}
    assert {word for cut in planned for word in cut.split()} <= taught
    assert {"oh", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"} <= taught
    assert {"left", "right", "ledger", "new", "carcass", "close", "dressed", "tray", "strike"} <= taught


def test_words_of_your_own_are_read_as_well_and_a_short_list_is_filled_up() -> None:
    vocabulary = shipped_vocabulary()
    haunch = next(cut for cut in vocabulary.cutlist.cuts if cut.name == "haunch")
    small = replace(vocabulary.cutlist, cuts=(haunch,), plans=())
    phrases = phrases_to_read(replace(vocabulary, cutlist=small))
    assert len(phrases) == len(set(phrases)) == READ
    assert any("haunch" in phrase for phrase in phrases)


def test_what_is_kept_back_never_teaches_and_half_has_words_never_read() -> None:
    phrases = phrases_to_read(shipped_vocabulary())
    sides = split(phrases)
    assert sides.enough
    assert not set(sides.teaching) & set(sides.kept_back)
    assert sorted((*sides.teaching, *sides.kept_back)) == list(range(len(phrases)))
    taught = {word for place in sides.teaching for word in phrases[place].split()}
    for place in sides.kept_back:
        assert (place in sides.unseen) == (not set(phrases[place].split()) <= taught)
    assert 3 <= len(sides.unseen) < len(sides.kept_back)


def test_a_phrase_read_twice_is_never_on_both_sides() -> None:
    phrases = [*phrases_to_read(shipped_vocabulary()), "left haunch", "left haunch"]
    sides = split(phrases)
    taught = {phrases[place] for place in sides.teaching}
    assert not taught & {phrases[place] for place in sides.kept_back}


GATE = Gate(
    0.0,
    (1.0, *[0.0] * (len(FIGURES) - 1)),
    (0.0,) * len(FIGURES),
    (1.0,) * len(FIGURES),
    (-9.0,) * len(FIGURES),
    (9.0,) * len(FIGURES),
    RivalOdds(0.0, -0.1, 0.0),
)


def trial(place: int | None, first: float = 2.0, condition: str = QUIET) -> Trial:
    return Trial(condition, False, place, Evidence(first, *[0.0] * (len(FIGURES) - 1)), (5.0, 9.0))


def test_more_right_phrases_keep_the_model() -> None:
    assert is_better([trial(0), trial(1)], [trial(0), trial(0)], GATE)
    assert not is_better([trial(0), trial(0)], [trial(0), trial(1)], GATE)


def test_a_phrase_lost_where_it_is_quiet_is_made_good_by_three_in_noise_only() -> None:
    before = [trial(0), *[trial(1, condition="noise")] * 3]
    after = [trial(1), *[trial(0, condition="noise")] * 3]
    assert is_better(before, after, GATE)
    assert not is_better(before[:2], after[:2], GATE)


@pytest.mark.parametrize("condition", [QUIET, "noise"])
def test_two_phrases_lost_under_one_condition_are_never_made_good(condition: str) -> None:
    lost, won = ([trial(0, condition=condition)] * 2, [trial(1, condition="loud")] * 9)
    after = [*[trial(1, condition=condition)] * 2, *[trial(0, condition="loud")] * 9]
    assert not is_better([*lost, *won], after, GATE)


def test_the_same_model_is_not_better() -> None:
    assert not is_better([trial(0)] * 4, [trial(0)] * 4, GATE)


def test_as_many_right_but_believed_more_is_better() -> None:
    assert is_better([trial(0, 1.0)] * 4, [trial(0, 3.0)] * 4, GATE)


def test_right_phrases_are_counted_by_condition() -> None:
    trials = [trial(0), trial(2), trial(0, condition="noise")]
    assert str(tally(trials, QUIET)) == "1 of 2"


def test_distance_tells_more_where_the_nearer_rival_was_right_and_little_speech_changes_it_less() -> None:
    # The rivals are 5 and 9 behind.
    much, some, little = (rival_scale(GATE, [trial(1)] * times) for times in (40, 8, 1))
    assert much > some > little >= 1.0
    assert rival_scale(GATE, [trial(2)] * 40) < 1.0
    assert rival_scale(GATE, []) == pytest.approx(1.0)


def test_a_voice_must_lead_clearly() -> None:
    assert choice({"Ann": 3.0, "Bea": 0.1}) == "Ann"
    assert choice({"Ann": 3.0, "Bea": 2.9}) is None
    assert choice({"Ann": 0.8}) is None  # no better than the model as it comes
    assert choice({}) is None


class Sure:
    """An engine that always hears the same, for certain."""

    def __init__(self, name: str) -> None:
        self.name = name

    def use(self, grammar: Grammar) -> None: ...
    def listen_to(self, butcher: str) -> None: ...
    def begin(self) -> None: ...
    def feed(self, samples: Samples, captured: Samples | None = None) -> None: ...

    def finish(self, alternatives: int = 3) -> Recognition:
        return Recognition((Hypothesis("left haunch", None, -1.0),), 0.9)

    def missing_words(self, words: object) -> list[str]:
        return []


def hear(engine: ChoosingRecogniser) -> None:
    engine.begin()
    engine.feed(tone(0.5))
    engine.finish()


def test_the_voice_is_chosen_after_two_utterances_and_its_engine_used() -> None:
    told: list[str] = []
    engine = ChoosingRecogniser(Sure("plain"), lambda _s, _t: {"Ann": 0.2, "Bea": 3.1}, Sure, told.append)
    hear(engine)
    assert engine.voice is None
    hear(engine)
    assert told == ["Bea"]
    assert engine.name == "Bea"


def test_when_nobody_leads_the_model_as_it_comes_stays() -> None:
    asked: list[str] = []

    def marks(_sound: Samples, text: str) -> dict[str, float]:
        asked.append(text)
        return {"Ann": 0.2, "Bea": 0.21}

    engine = ChoosingRecogniser(Sure("plain"), marks, Sure)
    for _ in range(10):
        hear(engine)
    assert engine.voice is None
    assert len(asked) == 6  # then it looks no more


def test_a_gate_set_to_a_voice_keeps_all_but_its_rivals() -> None:
    voice = EnrolledVoice("Morag", "2026-01-05T08:00:00+00:00", None, 1.2, 26, ())
    moved = voice.gate(GATE)
    assert moved.rival.behind == pytest.approx(1.2 * GATE.rival.behind)
    assert replace(moved, rival=GATE.rival) == GATE
