"""The butcher who listens: what is said to each answer, held against a recorder scripted here.

What a person would do at the block is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from handsfree.answering.messages import Tone
from handsfree.testing.rehearsal.attentive import Attention, AttentiveBench
from handsfree.testing.rehearsal.ears import Answer
from handsfree.testing.rehearsal.invention import Larder, invent
from handsfree.testing.rehearsal.pace import Cut
from handsfree.testing.rehearsal.scenario import Act, Put, Say, Speaker
from handsfree.testing.rehearsal.telling import Cast, Habits, Room, tell
from handsfree.testing.shipped_words import shipped_vocabulary

HAUNCH = Cut("haunch", 4565.0, "left", destination="prime")
SHANK = Cut("shank", 640.0, "right", destination="prime")
Script = Callable[[int, str], tuple[Tone, str] | None]


class ScriptedRecorder:
    """Ears through which a script answers: to the nth thing said, in its words, a second later."""

    def __init__(self, script: Script) -> None:
        self._script = script
        self._heard = 0
        self._speaking: list[tuple[float, float]] = []

    def hear(self, until_s: float, acts: Sequence[Act]) -> list[Answer]:
        said = [act for act in acts if isinstance(act, Say) and act.to_recorder]
        answers: list[Answer] = []
        for number, say in enumerate(said[self._heard :], self._heard + 1):
            if say.at_s + 1.0 > until_s:
                break
            self._heard = number
            answer = self._script(number, say.text)
            if answer is not None:
                answers.append(Answer(say.at_s + 1.0, *answer))
                self._speaking.append((say.at_s, say.at_s + 1.0))
        return answers

    def is_speaking(self, t_s: float) -> bool:
        return any(from_s <= t_s < to_s for from_s, to_s in self._speaking)


def bench(script: Script, **attention: float) -> AttentiveBench:
    return AttentiveBench(
        {"bench": 5, "rail": 20}, 1, ScriptedRecorder(script), Attention(**{"notices": 1.0} | attention)
    )


def said(told: AttentiveBench) -> list[str]:
    return [act.text for act in told.acts if isinstance(act, Say)]


def test_what_is_taken_at_once_is_said_once() -> None:
    told = bench(lambda _n, _text: (Tone.ACCEPTED, "left haunch"))
    told.weigh_then_call(HAUNCH)
    assert said(told) == ["left haunch"]


def test_what_brings_no_answer_is_said_again_slower_after_the_butchers_patience() -> None:
    told = bench(lambda n, _text: (Tone.ACCEPTED, "left haunch") if n == 3 else None, patience_s=5.0)
    told.weigh_then_call(HAUNCH)
    calls = [act for act in told.acts if isinstance(act, Say)]
    assert [each.text for each in calls] == ["left haunch"] * 3
    assert [each.pace > 1 for each in calls] == [False, True, True]
    assert calls[1].at_s - calls[0].at_s >= 5.0


def test_after_a_few_times_it_is_let_go() -> None:
    told = bench(lambda _n, _text: None, sayings=3)
    told.weigh_then_call(HAUNCH)
    assert len(said(told)) == 3


def test_another_name_read_back_is_put_right_where_it_is_noticed() -> None:
    def deaf_in_one_ear(n: int, _text: str) -> tuple[Tone, str]:
        return (Tone.ACCEPTED, "left flank") if n == 1 else (Tone.CORRECTED, "now left haunch, four kilos")

    told = bench(deaf_in_one_ear)
    told.call_then_weigh(HAUNCH)
    assert said(told) == ["left haunch", "ledger that was left haunch"]
    inattentive = bench(deaf_in_one_ear, notices=0.0)
    inattentive.call_then_weigh(HAUNCH)
    assert said(inattentive) == ["left haunch"]


@pytest.mark.parametrize(
    ("question", "reply"),
    [
        ("what was that, four point five six five?", "left haunch"),
        ("left haunch or left flank?", "left haunch"),
        ("second left haunch, yes or no?", "yes"),
        ("left flank, yes or no?", "left haunch"),
        ("left shank or left flank?", "left haunch"),
        ("number one, left flank. number two, left haunch. or none of these?", "number two"),
        ("number one, left flank. number two, right haunch. or none of these?", "none of these"),
    ],
)
def test_a_question_is_answered_as_it_is_asked(question: str, reply: str) -> None:
    told = bench(lambda n, _text: (Tone.QUESTION, question) if n == 1 else (Tone.ACCEPTED, "left haunch"))
    told.weigh_then_call(HAUNCH)
    assert said(told) == ["left haunch", reply]


@pytest.mark.parametrize(
    "aside", [(Tone.REFUSED, "no weight for fat"), (Tone.NOTED, "the microphone is good again")]
)
def test_what_is_no_answer_to_a_command_does_not_have_it_said_again(aside: tuple[Tone, str]) -> None:
    """A second "strike that" would take a second piece out of the sum."""

    class Recorder(ScriptedRecorder):
        def hear(self, until_s: float, acts: Sequence[Act]) -> list[Answer]:
            found = super().hear(until_s, acts)
            struck = [Answer(each.t_s + 1.0, Tone.CORRECTED, "struck, fat") for each in found]
            return [*found, *struck]

    told = AttentiveBench({"bench": 5, "rail": 20}, 1, Recorder(lambda _n, _text: aside), Attention())
    told.command("ledger strike that", "struck")
    assert said(told) == ["ledger strike that"]


FOR_PET = Cut("haunch", 4565.0, "left", destination="pet", said="left haunch for pet", elsewhere=True)


@pytest.mark.parametrize(
    ("question", "reply"),
    [
        ("left haunch for waste or left haunch for pet?", "left haunch for pet"),
        ("left haunch for pet, yes or no?", "yes"),
        ("left haunch for waste, yes or no?", "left haunch for pet"),
        ("left haunch, yes or no?", "left haunch for pet"),
        ("number one, left haunch. number two, left haunch for pet. or none of these?", "number two"),
        ("number one, left haunch. number two, left flank. or none of these?", "none of these"),
    ],
)
def test_a_question_about_where_a_piece_goes_is_answered_as_it_is_asked(question: str, reply: str) -> None:
    told = bench(
        lambda n, _text: (Tone.QUESTION, question) if n == 1 else (Tone.ACCEPTED, "left haunch for pet")
    )
    told.weigh_then_call(FOR_PET)
    assert said(told) == ["left haunch for pet", reply]


@pytest.mark.parametrize("read_back", ["left haunch", "left haunch for waste"])
def test_another_destination_read_back_is_put_right(read_back: str) -> None:
    told = bench(
        lambda n, _text: (
            (Tone.ACCEPTED, read_back) if n == 1 else (Tone.CORRECTED, "now left haunch for pet, four kilos")
        )
    )
    told.call_then_weigh(FOR_PET)
    assert said(told) == ["left haunch for pet", "ledger that was left haunch for pet"]


def test_a_piece_left_without_a_name_is_named() -> None:
    told = bench(lambda n, _text: (Tone.UNNAMED, "") if n == 1 else (Tone.ACCEPTED, "left haunch"))
    told.weigh_then_call(HAUNCH)
    assert said(told) == ["left haunch", "ledger that was left haunch"]


def test_of_two_pieces_laid_down_the_one_asked_about_by_its_weight_is_named() -> None:
    def script(n: int, text: str) -> tuple[Tone, str] | None:
        if n == 2:
            return Tone.ACCEPTED, "left haunch"
        if n == 3:
            return Tone.ACCEPTED, "right shank"
        return (Tone.QUESTION, "what was that, six four zero grams?") if text == "left haunch" else None

    told = bench(script)
    told.lay(HAUNCH)
    told.lay(SHANK)
    told.say("left haunch")
    told.see_to(HAUNCH, SHANK)
    assert said(told)[1] == "right shank"


def test_of_two_calls_the_first_may_be_answered_before_the_second_is_said() -> None:
    """What is read back in the breath between them is heard, and nothing is said again."""
    answers = {1: (Tone.ACCEPTED, "left haunch"), 2: (Tone.ACCEPTED, "right shank")}
    told = bench(lambda n, _text: answers[n])
    for piece in (HAUNCH, SHANK):
        told.say(piece.words())
        told.pause(2.0)
    told.see_to(HAUNCH, SHANK)
    assert said(told) == ["left haunch", "right shank"]


def test_a_tray_that_is_asked_about_is_told_as_one() -> None:
    told = bench(lambda _n, text: (Tone.NOTED, "tray, one point one eight") if "tray" in text else None)
    told.tray(1180.0)
    told.lay(HAUNCH)
    told.swap_tray()
    assert said(told) == ["ledger tray", "ledger tray"]


@pytest.mark.parametrize(
    ("named", "reply"),
    [
        ("one point one eight", "yes"),
        ("one point one eight five", "yes"),
        ("one point one seven five", "yes"),
        ("one point one nine", "no"),
    ],
)
def test_a_weight_is_told_from_another_by_more_than_one_interval_of_the_display(
    named: str, reply: str
) -> None:
    told = bench(lambda n, _text: (Tone.QUESTION, f"tray, {named}, yes or no?") if n == 1 else None)
    told.tray(1180.0)
    told.say("left haunch")
    told.see_to(HAUNCH)
    assert said(told)[1] == reply


def test_a_command_is_said_until_it_is_answered_as_meant() -> None:
    answers = {1: None, 2: (Tone.NOTED, "tag nine one seven"), 3: (Tone.NOTED, "tag four one seven")}
    told = bench(lambda n, _text: answers[n])
    told.command("ledger tag four one seven", "tag four one seven")
    assert len(said(told)) == 3


def test_without_a_carcass_one_is_opened_first() -> None:
    def script(n: int, text: str) -> tuple[Tone, str] | None:
        if text == "ledger new carcass":
            return Tone.NOTED, "new carcass"
        return (Tone.REFUSED, "no carcass open") if n == 1 else (Tone.ACCEPTED, "left haunch")

    told = bench(script)
    told.weigh_then_call(HAUNCH)
    assert said(told) == ["left haunch", "ledger new carcass", "left haunch"]


VENISON = shipped_vocabulary("venison")
CAST = Cast(Speaker("flite", "rms"), [Speaker("flite", "slt", -8.0)])


@given(st.integers(0, 10_000), st.lists(st.sampled_from([*Tone]), max_size=60), st.floats(0, 1))
@settings(max_examples=25, deadline=None)
def test_whatever_is_answered_the_story_ends_and_can_be_played(
    seed: int, tones: list[Tone], batches: float
) -> None:
    """A recorder out of its mind: any tone with words of any kind, or none."""
    rng = np.random.default_rng(seed)
    words = ["", "left haunch", "what was that, one kilo?", "neck or loin?", "tray", "no carcass open"]
    words += ["no name, one point one two. neck, yes or no?", "carcass closed", "struck"]

    def script(n: int, _text: str) -> tuple[Tone, str] | None:
        return (tones[n], str(rng.choice(words))) if n < len(tones) else None

    carcass = invent(Larder(VENISON, "primals"), rng)
    told = tell(
        carcass,
        CAST,
        habits=Habits(in_batches=batches),
        room=Room(chatter=0.3),
        seed=seed,
        ears=lambda _scene: ScriptedRecorder(script),
    )
    assert told.faults() == []
    assert sum(row.event == "piece" for row in told.truth) == len(carcass.pieces)
    assert sum(isinstance(act, Put) for act in told.acts) >= len(carcass.pieces)


class SlowRecorder:
    """Ears that hear one long answer: from 4 to 9 s, longer than the butcher would wait in silence."""

    def hear(self, until_s: float, _acts: Sequence[Act]) -> list[Answer]:
        done, self.told = getattr(self, "told", False), until_s >= 9.0
        return [Answer(9.0, Tone.ACCEPTED, "left haunch")] if self.told and not done else []

    def is_speaking(self, t_s: float) -> bool:
        return 4.0 <= t_s < 9.0


def test_nobody_talks_into_an_answer() -> None:
    told = AttentiveBench({"bench": 5}, 1, SlowRecorder(), Attention(patience_s=2.5))
    told.say("left haunch")
    told.see_to(HAUNCH)
    assert said(told) == ["left haunch"]


@pytest.mark.parametrize(
    ("asked", "reply"), [("left haunch, yes or no?", ["yes"]), ("tray, yes or no?", ["no"])]
)
def test_a_correction_that_is_asked_back_is_confirmed(asked: str, reply: list[str]) -> None:
    told = bench(lambda n, _text: (Tone.QUESTION, asked) if n == 1 else (Tone.CORRECTED, "now left haunch"))
    told.command("ledger that was left haunch", "now")
    assert said(told) == ["ledger that was left haunch", *reply]


SHANK_WEIGHS = "six four zero grams"


@pytest.mark.parametrize(
    ("asked", "reply"),
    [
        (f"no name, {SHANK_WEIGHS}. right shank, yes or no?", ["yes"]),
        (f"no name, {SHANK_WEIGHS}. left flank, yes or no?", ["right shank"]),
        (
            f"no name, {SHANK_WEIGHS}. number one, neck. number two, right shank. or none of these?",
            ["number two"],
        ),
        (
            f"no name, {SHANK_WEIGHS}. number one, neck. number two, loin. or none of these?",
            ["none of these"],
        ),
        ("no name, nine one zero grams. what was it?", ["ledger strike that"]),
    ],
)
def test_a_weight_without_a_name_is_known_again_at_the_close(asked: str, reply: list[str]) -> None:
    def script(n: int, _text: str) -> tuple[Tone, str]:
        return {1: (Tone.ACCEPTED, "right shank"), 2: (Tone.QUESTION, asked)}.get(
            n, (Tone.CLOSED, "carcass closed")
        )

    told = bench(script)
    told.weigh_then_call(SHANK)
    told.command("ledger close carcass", "carcass")
    assert said(told) == ["right shank", "ledger close carcass", *reply]


def test_what_is_not_understood_at_the_close_is_said_again_and_a_wrong_name_is_put_right() -> None:
    answers = {
        1: (Tone.ACCEPTED, "right shank"),
        2: (Tone.QUESTION, f"no name, {SHANK_WEIGHS}. what was it?"),
        3: None,
        4: (Tone.ACCEPTED, "left flank"),
        5: (Tone.CORRECTED, f"now right shank, {SHANK_WEIGHS}"),
    }
    told = bench(lambda n, _text: answers.get(n))
    told.weigh_then_call(SHANK)
    told.command("ledger close carcass", "carcass")
    assert said(told)[2:5] == ["right shank", "right shank", "ledger that was right shank"]


def test_no_to_a_tag_is_said_once_and_then_the_tag_again() -> None:
    answers = {1: (Tone.QUESTION, "tag five one seven, yes or no?"), 3: (Tone.NOTED, "tag four one seven")}
    told = bench(lambda n, _text: answers.get(n))
    told.command("ledger tag four one seven", "tag four one seven")
    assert said(told) == ["ledger tag four one seven", "no", "ledger tag four one seven"]
