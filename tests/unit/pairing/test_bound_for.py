"""Where a piece goes, when that was said: asked about, kept through an answer, and not lost by a "no"."""

from __future__ import annotations

import pytest

from handsfree.pairing.messages import Question, QuestionKind
from handsfree.speech.meaning import Answer, Call
from handsfree.testing.making_messages import call, load, utterance
from handsfree.testing.running_pairing import named, only, run
from handsfree.testing.stated_carcass import StatedCarcass


def bound(cut: str, side: str, destination: str | None) -> Call:
    return call(cut, side, destination=destination)


PET, WASTE, RIGHT = (bound("haunch", "right", where) for where in ("pet", "waste", None))
LEFT_PET = bound("haunch", "left", "pet")
UNSURE = (utterance(2, WASTE, PET, confidence=0.6), load(5, 0, 4500))


def test_two_destinations_that_come_close_are_asked_about() -> None:
    (question,) = only(run(*UNSURE, until_s=7), Question)
    assert question.kind is QuestionKind.WHICH
    assert [each.words() for each in question.options] == ["right haunch for waste", "right haunch for pet"]
    decisions = run(*UNSURE, utterance(9, PET), until_s=30)
    assert named(decisions) == [("right haunch for pet", 4500)]


def test_the_usual_place_said_and_not_said_are_the_same_entry() -> None:
    class Larder(StatedCarcass):
        def goes_to(self, call: Call) -> str:
            return call.destination or "prime"

    heard = utterance(2, RIGHT, bound("haunch", "right", "prime"), confidence=0.6)
    decisions = run(heard, load(5, 0, 4500), larder=Larder(), until_s=30)
    assert only(decisions, Question) == []
    assert named(decisions) == [("right haunch", 4500)]


@pytest.mark.parametrize(
    ("first", "second", "answer", "entered"),
    [
        (LEFT_PET, PET, RIGHT, "right haunch for pet"),
        (LEFT_PET, PET, bound("haunch", "right", "prime"), "right haunch for prime"),
        (LEFT_PET, RIGHT, RIGHT, "right haunch"),
        (LEFT_PET, bound("shank", "left", None), bound("haunch", "left", None), "left haunch for pet"),
        (LEFT_PET, bound("shank", "left", None), bound("shank", "left", None), "left shank"),
    ],
)
def test_an_answer_without_a_destination_keeps_the_one_that_was_offered(
    first: Call, second: Call, answer: Call, entered: str
) -> None:
    heard = utterance(2, first, second, confidence=0.6)
    decisions = run(heard, load(5, 0, 4500), utterance(9, answer), until_s=30)
    assert named(decisions) == [(entered, 4500)]


def test_no_to_a_destination_leaves_the_piece_to_be_offered_for_another() -> None:
    doubt = (utterance(2, WASTE, confidence=0.2), load(5, 0, 4500))
    again = utterance(14, PET, bound("flank", "left", None), confidence=0.6)
    decisions = run(*doubt, utterance(9, Answer.NO), again, until_s=17)
    first, *_, last = only(decisions, Question)
    assert first.options == (WASTE,)
    assert PET in last.options
