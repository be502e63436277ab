"""A second left haunch while the right one is outstanding: the right one is asked about, never taken."""

from __future__ import annotations

from handsfree.pairing.messages import PieceWeighed, Question, QuestionKind
from handsfree.speech.meaning import Answer
from handsfree.testing.making_messages import call, load, utterance
from handsfree.testing.running_pairing import named, only, run
from handsfree.testing.stated_carcass import StatedCarcass

LEFT, RIGHT = call("haunch", "left"), call("haunch", "right")
HEARD = (utterance(2, LEFT), load(5, 0, 4500))


def larder() -> StatedCarcass:
    return StatedCarcass(complete={("haunch", "left")})


def asked(decisions: list[object]) -> list[tuple[str, ...]]:
    return [tuple(each.words() for each in q.options) for q in only(decisions, Question)]


def test_the_outstanding_side_is_asked_and_yes_enters_it() -> None:
    decisions = run(*HEARD, utterance(9, Answer.YES), larder=larder(), until_s=30)
    assert asked(decisions) == [("right haunch",)]
    assert named(decisions) == [("right haunch", 4500)]


def test_unanswered_it_is_left_without_a_name_and_keeps_what_was_heard() -> None:
    decisions = run(*HEARD, larder=larder(), until_s=40)
    assert named(decisions) == [("?", 4500)]
    assert only(decisions, PieceWeighed)[0].heard == "left haunch"


def test_after_no_the_side_said_again_is_asked_for_as_a_second_one() -> None:
    decisions = run(*HEARD, utterance(9, Answer.NO), utterance(10.5, LEFT), larder=larder(), until_s=40)
    assert asked(decisions) == [("right haunch",), ("left haunch",)]


def test_the_same_side_said_in_answer_is_believed() -> None:
    decisions = run(*HEARD, utterance(9, LEFT), larder=larder(), until_s=40)
    assert named(decisions) == [("left haunch", 4500)]


def test_beside_a_rival_cut_it_stands_for_the_side_that_was_heard() -> None:
    heard = utterance(2, LEFT, call("shank", "left"), confidence=0.6)
    (question,) = only(run(heard, load(5, 0, 4500), larder=larder(), until_s=7), Question)
    assert question.kind is QuestionKind.WHICH
    assert [each.words() for each in question.options] == ["left shank", "right haunch"]


def test_the_other_side_heard_as_a_rival_is_the_same_question() -> None:
    heard = utterance(2, LEFT, RIGHT, confidence=0.6)
    assert asked(run(heard, load(5, 0, 4500), larder=larder(), until_s=7)) == [("right haunch",)]


def test_with_both_sides_in_or_the_other_off_the_plan_the_heard_one_is_asked_for() -> None:
    both = StatedCarcass(complete={("haunch", "left"), ("haunch", "right")})
    assert asked(run(*HEARD, larder=both, until_s=7)) == [("left haunch",)]
    off = StatedCarcass(complete={("haunch", "left")}, planned={"neck"})
    assert asked(run(*HEARD, larder=off, until_s=7)) == [("left haunch",)]
