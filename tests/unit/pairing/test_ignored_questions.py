"""Questions that are ignored: what is said next names the next piece, not the one that was asked about."""

from __future__ import annotations

import pytest

from handsfree.pairing.messages import Question, QuestionClosed, QuestionKind
from handsfree.pairing.rhythm import learn
from handsfree.pairing.settings import PairingSettings
from handsfree.speech.meaning import Call
from handsfree.speech.messages import Refusal
from handsfree.testing.making_messages import call, load, utterance
from handsfree.testing.running_pairing import named, only, run
from handsfree.testing.stated_carcass import StatedCarcass

CALLS_FIRST = [-1.3] * 12
CALLS_AFTER = [0.8] * 12
LEFT, RIGHT = call("breast", "left"), call("breast", "right")
RIGHT_FLANK = call("flank", "right")


@pytest.mark.parametrize(
    ("lags_s", "first"), [(CALLS_FIRST, True), (CALLS_AFTER, False), ([], False), ([-1.3, 0.0, 0.8], False)]
)
def test_a_habit_must_be_known_to_count(lags_s: list[float], first: bool) -> None:
    assert learn(lags_s, PairingSettings()).calls_first is first


def test_who_names_pieces_first_and_lays_the_next_one_has_not_answered() -> None:
    decisions = run(
        load(5, 0, 575),  # asked about at 9 s
        load(8, 575, 0),
        utterance(12.5, RIGHT),
        load(15, 0, 505),
        until_s=30,
        lags_s=CALLS_FIRST,
    )
    assert [d.kind for d in only(decisions, Question)] == [QuestionKind.WHAT_WAS_THAT]
    assert sorted(named(decisions)) == [("?", 575), ("right breast", 505)]


@pytest.mark.parametrize(("lags_s", "answered_s"), [(CALLS_FIRST, 15.9), (CALLS_AFTER, 13.0)])
def test_with_nothing_laid_down_it_is_the_answer(lags_s: list[float], answered_s: float) -> None:
    decisions = run(load(5, 0, 575), load(8, 575, 0), utterance(12.5, RIGHT), until_s=30, lags_s=lags_s)
    assert named(decisions) == [("right breast", 575)]
    (closed,) = only(decisions, QuestionClosed)
    assert closed.answer == RIGHT
    assert closed.t_ns / 1e9 <= answered_s, "who names pieces afterwards is answered at once"


def test_two_names_are_the_answer_and_the_next_piece() -> None:
    decisions = run(
        load(5, 0, 575),
        load(8, 575, 0),
        utterance(11.5, LEFT),
        utterance(13.5, RIGHT),
        load(16, 0, 505),
        until_s=30,
        lags_s=CALLS_FIRST,
    )
    assert named(decisions) == [("left breast", 575), ("right breast", 505)]


def asked_about_a_flank(*then: object, until_s: float = 30) -> list[object]:
    """A second left flank, while the right one is to come: "right flank, yes or no?"."""
    larder = StatedCarcass(complete={("flank", "left")}, due=(RIGHT_FLANK,))
    return run(utterance(4.5, call("flank", "left")), load(5, 0, 900), *then, larder=larder, until_s=until_s)


def test_a_call_after_the_next_piece_was_laid_down_names_that_piece() -> None:
    answered = asked_about_a_flank(utterance(9, RIGHT_FLANK))
    (question,) = only(answered, Question)
    assert question.kind is QuestionKind.CONFIRM
    assert named(answered) == [("right flank", 900)]
    ignored = asked_about_a_flank(load(12, 900, 1850), utterance(13.5, RIGHT_FLANK))
    assert sorted(named(ignored)) == [("?", 900), ("right flank", 950)]
    faint = utterance(13.5, RIGHT_FLANK, confidence=0.4, refusal=Refusal.NOT_LIKE_SPEECH_WE_KNOW)
    assert ("right flank", 900) not in named(asked_about_a_flank(load(12, 900, 1850), faint))


def test_an_answer_off_the_plan_that_weighs_oddly_is_not_taken_for_the_next_pieces_name() -> None:
    larder = StatedCarcass(planned={"saddle", "haunch"}, usual_g={"loin": 300})
    decisions = run(
        load(5, 0, 905),
        utterance(12.5, call("loin", "right"), confidence=0.71),
        larder=larder,
        until_s=30,
        lags_s=CALLS_FIRST,
    )
    what, sure = only(decisions, Question)
    assert what.kind is QuestionKind.WHAT_WAS_THAT
    assert sure.kind is QuestionKind.CONFIRM
    assert sure.options == (call("loin", "right"),)
    assert sure.t_ns / 1e9 < 17


SAME_AGAIN = Call("", same_again=True)


def test_same_again_repeats_no_earlier_name_while_the_piece_before_has_none() -> None:
    told = run(
        utterance(4.5, call("rump")), load(5, 0, 700), utterance(11, SAME_AGAIN), load(11.5, 700, 1400)
    )
    assert named(told) == [("rump", 700), ("same again", 700)]
    ignored = asked_about_a_flank(load(12, 900, 1850), utterance(13.5, SAME_AGAIN))
    assert len(only(ignored, Question)) == 1
    assert sorted(named(ignored)) == [("?", 900), ("?", 950)]


@pytest.mark.parametrize("confidence", [0.1, 0.24])
def test_a_call_just_heard_names_the_load_before_what_was_heard_faintly_earlier(confidence: float) -> None:
    """A clatter as the pan is cleared, refused, may have been "neck"; the name is spoken in time."""
    clatter = utterance(1.8, call("neck"), confidence=confidence, refusal=Refusal.NOT_LIKE_SPEECH_WE_KNOW)
    said = utterance(6.5, call("haunch", "right"))
    larder = StatedCarcass(usual_g={"haunch": 4500, "neck": 2000})
    mixed = [-1.3, -1.0, -1.3, 0.8, -1.1]
    decisions = run(clatter, load(5, 0, 4585), said, larder=larder, until_s=30, lags_s=mixed)
    assert named(decisions) == [("right haunch", 4585)]
    assert not only(decisions, Question)
