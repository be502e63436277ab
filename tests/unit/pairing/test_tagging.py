"""A tag that was not heard surely is asked back while the carcass has none."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from handsfree.pairing.messages import Instruction, Question, QuestionClosed, QuestionKind, SpeechRefused
from handsfree.speech.meaning import Answer, Call, Command, Meaning, Verb
from handsfree.speech.messages import Refusal, Utterance
from handsfree.testing.making_messages import command, load, refused, utterance
from handsfree.testing.running_pairing import only, run
from handsfree.testing.stated_carcass import StatedCarcass


def tag(digits: str) -> Command:
    return Command(Verb.TAG, digits=digits)


def tags(decisions: list[Any]) -> list[str]:
    return [d.command.digits for d in only(decisions, Instruction)]


def untagged() -> StatedCarcass:
    return StatedCarcass(lacks_tag=True)


HEARD = refused(5, (tag("417"), 0.1), (tag("419"), 0.1), (Call("neck"), 0.1))


def test_it_is_asked_back_by_its_digits_and_yes_takes_it() -> None:
    decisions = run(HEARD, utterance(8, Answer.YES), larder=untagged(), until_s=20)
    (asked,) = only(decisions, Question)
    assert (asked.kind, asked.digits, asked.replies) == (QuestionKind.TAG, "417", (Answer.YES, Answer.NO))
    assert tags(decisions) == ["417"]
    assert [d.answer for d in only(decisions, QuestionClosed)] == [Answer.YES]


@pytest.mark.parametrize("answer", [utterance(8, Answer.NO), None])
def test_no_or_nothing_enters_nothing(answer: Utterance | None) -> None:
    decisions = run(*(each for each in (HEARD, answer) if each), larder=untagged(), until_s=20)
    assert tags(decisions) == []
    assert len(only(decisions, QuestionClosed)) == 1


def test_the_same_tag_heard_again_is_meant() -> None:
    again = replace(HEARD, start_ns=HEARD.start_ns + 3 * 10**9, end_ns=8 * 10**9, heard_ns=8_300_000_000)
    assert tags(run(HEARD, again, larder=untagged(), until_s=20)) == ["417"]


def test_another_one_is_asked_about_instead() -> None:
    decisions = run(
        HEARD, refused(8, (tag("517"), 0.4)), utterance(11, Answer.YES), larder=untagged(), until_s=20
    )
    assert [each.digits for each in only(decisions, Question)] == ["417", "517"]
    assert tags(decisions) == ["517"]


def test_a_tag_told_clearly_answers() -> None:
    decisions = run(HEARD, command(8, Verb.TAG, digits="412"), larder=untagged(), until_s=20)
    assert tags(decisions) == ["412"]
    assert len(only(decisions, QuestionClosed)) == 1


def test_a_call_while_it_is_asked_is_no_answer() -> None:
    decisions = run(HEARD, utterance(8, Call("neck")), load(10, 0, 2000), larder=untagged(), until_s=20)
    assert tags(decisions) == []


UNSURE: list[tuple[Meaning, float]] = [(tag("417"), 0.05), (tag("419"), 0.05)]


@pytest.mark.parametrize(
    ("heard", "larder"),
    [
        (HEARD, StatedCarcass()),  # it has a tag
        (HEARD, StatedCarcass(lacks_tag=True, is_open=False)),
        (refused(5, *UNSURE), untagged()),  # too unlikely
        (refused(5, (Call("neck"), 0.3), (tag("417"), 0.3)), untagged()),  # likelier something else
        (replace(HEARD, refusal=Refusal.OWN_VOICE), untagged()),
    ],
)
def test_otherwise_it_is_refused_as_before(heard: Utterance, larder: StatedCarcass) -> None:
    decisions = run(heard, larder=larder, until_s=12)
    assert not only(decisions, Question)
    assert not only(decisions, Instruction)


def test_not_while_a_piece_is_asked_about() -> None:
    late = refused(12, (tag("417"), 0.4))
    decisions = run(load(5, 0, 2000), late, larder=untagged(), until_s=14)
    first, *others = [each.kind for each in only(decisions, Question)]
    assert first is QuestionKind.WHAT_WAS_THAT
    assert QuestionKind.TAG not in others
    assert only(decisions, SpeechRefused)
