"""A tag that was not heard surely is asked back while the carcass has none."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import pytest

from handsfree.pairing.messages import Instruction, Question, QuestionClosed, QuestionKind, SpeechRefused
from handsfree.pairing.settings import PairingSettings
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
    return StatedCarcass(tag="")


HEARD = refused(5, (tag("417"), 0.1), (tag("419"), 0.1), (Call("neck"), 0.1))


def test_it_is_asked_back_by_its_digits_and_yes_takes_it() -> None:
    decisions = run(HEARD, utterance(8, Answer.YES), larder=untagged(), until_s=20)
    (asked,) = only(decisions, Question)
    assert (asked.kind, asked.digits, asked.replies) == (QuestionKind.TAG, "417", (Answer.YES, Answer.NO))
    assert tags(decisions) == ["417"]
    assert [d.answer for d in only(decisions, QuestionClosed)] == [Answer.YES]


ALONE = refused(5, (tag("512"), 0.3), (Call("neck"), 0.1))


@pytest.mark.parametrize("answer", [utterance(8, Answer.NO), None])
def test_no_or_nothing_enters_nothing(answer: Utterance | None) -> None:
    decisions = run(*(each for each in (ALONE, answer) if each), larder=untagged(), until_s=20)
    assert tags(decisions) == []
    assert len(only(decisions, QuestionClosed)) == 1


def asked(decisions: list[Any]) -> list[str]:
    return [each.digits for each in only(decisions, Question)]


def test_after_no_the_next_likely_is_asked_about_and_never_one_that_was_denied() -> None:
    no = utterance(8, Answer.NO)
    decisions = run(HEARD, no, utterance(11, Answer.YES), larder=untagged(), until_s=20)
    assert asked(decisions) == ["417", "419"]
    assert tags(decisions) == ["419"]
    again = refused(14, (tag("417"), 0.4), (tag("219"), 0.1))
    decisions = run(HEARD, no, utterance(11, Answer.NO), again, larder=untagged(), until_s=20)
    assert asked(decisions) == ["417", "419", "219"]


def test_what_both_sayings_may_have_been_is_likelier_than_what_one_was() -> None:
    first = refused(5, (tag("417"), 0.3), (tag("519"), 0.1))
    second = refused(20, (tag("611"), 0.32), (tag("417"), 0.3))
    decisions = run(first, second, utterance(24, Answer.YES), larder=untagged(), until_s=30)
    assert asked(decisions) == ["417", "417"]
    assert tags(decisions) == ["417"]


def test_what_is_left_when_those_denied_are_out_must_be_likely_enough() -> None:
    decisions = run(
        HEARD,
        utterance(8, Answer.NO),
        larder=untagged(),
        until_s=20,
        settings=PairingSettings(next_tag=0.2),
    )
    assert asked(decisions) == ["417"]


@pytest.mark.parametrize(
    ("heard", "then"),
    [
        ("472", ["072"]),  # "oh seven two" heard as "four seven two"
        ("904", ["944", "900"]),  # either of two places, likelier neither than the other
        ("512", []),
    ],
)
def test_after_no_oh_and_four_are_exchanged(heard: str, then: list[str]) -> None:
    said = refused(5, (tag(heard), 0.8), (Call("neck"), 0.1))
    noes = [utterance(at_s, Answer.NO) for at_s in (8, 11, 14)]
    decisions = run(said, *noes, larder=untagged(), until_s=30)
    assert asked(decisions) == [heard, *then]
    assert tags(decisions) == []


def test_what_was_heard_comes_before_what_it_is_taken_for() -> None:
    said = refused(5, (tag("472"), 0.5), (tag("412"), 0.2))
    decisions = run(said, utterance(8, Answer.NO), utterance(11, Answer.NO), larder=untagged(), until_s=20)
    assert asked(decisions) == ["472", "412", "072"]


def test_after_two_that_follow_it_must_be_told_again_and_after_four_noes_none_follows() -> None:
    def said(at_s: float, *digits: str) -> Utterance:
        return refused(at_s, *((tag(each), 0.19) for each in digits))

    noes = [utterance(at_s, Answer.NO) for at_s in (8, 11, 14, 23, 26, 33)]
    first, second, third = said(5, "211", "212", "213", "215", "216"), said(20, "311", "312"), said(30, "511")
    decisions = run(first, *noes[:3], second, *noes[3:5], third, noes[5], larder=untagged(), until_s=40)
    found = asked(decisions)
    assert found[:3] == ["211", "212", "213"]  # the first telling, and two that follow
    assert len(found) == 5  # one for the second, told after three noes, and one for the third
    assert len(set(found)) == 5


@dataclass
class Tagged(StatedCarcass):
    """A carcass that takes tags as the ledger would."""

    def take(self, decision: Any) -> None:
        if isinstance(decision, Instruction):
            self.tag = decision.command.digits


def unsure(end_s: float, *readings: tuple[Meaning, float]) -> Utterance:
    """As `refused`, but sure enough for the gate."""
    return replace(refused(end_s, *readings), refusal=None)


def test_a_tag_told_again_that_is_in_the_books_already_was_heard_wrong() -> None:
    larder = Tagged(tag="")
    first = unsure(5, (tag("417"), 0.6), (tag("419"), 0.2))
    again = unsure(9, (tag("417"), 0.6), (tag("419"), 0.2))
    decisions = run(first, again, utterance(12, Answer.YES), larder=larder, until_s=20, take=larder.take)
    assert asked(decisions) == ["419"]
    assert tags(decisions) == ["417", "419"]


def test_a_tag_in_the_books_told_again_may_be_the_one_it_is_taken_for() -> None:
    larder = Tagged(tag="")
    heard = [unsure(at_s, (tag("472"), 0.8)) for at_s in (5, 9)]
    decisions = run(*heard, utterance(12, Answer.YES), larder=larder, until_s=20, take=larder.take)
    assert asked(decisions) == ["072"]
    assert tags(decisions) == ["472", "072"]


def test_a_tag_heard_surely_twice_stands() -> None:
    larder = Tagged(tag="")
    heard = [unsure(at_s, (tag("417"), 0.95), (tag("419"), 0.05)) for at_s in (5, 9)]
    decisions = run(*heard, larder=larder, until_s=20, take=larder.take)
    assert (asked(decisions), tags(decisions)) == ([], ["417", "417"])


def test_one_that_was_denied_is_not_taken_even_when_the_gate_lets_it_through() -> None:
    denied = [HEARD, utterance(8, Answer.NO), utterance(10, Answer.NO)]
    told = unsure(13, (tag("417"), 0.6), (tag("219"), 0.2))
    decisions = run(*denied, told, larder=untagged(), until_s=20)
    assert asked(decisions) == ["417", "419", "219"]
    assert tags(decisions) == []


def test_a_doubtful_tag_is_heard_soon_after_one_was_entered_and_not_later() -> None:
    for at_s, expected in ((10, ["517"]), (60, [])):
        larder = Tagged(tag="")
        told = unsure(5, (tag("417"), 0.6), (tag("415"), 0.05))
        heard = refused(at_s, (tag("517"), 0.3), (tag("419"), 0.1))
        decisions = run(told, heard, larder=larder, until_s=70, take=larder.take)
        assert asked(decisions) == expected


def test_another_carcass_is_told_the_tag_that_was_denied_of_the_first() -> None:
    decisions = run(
        ALONE,
        utterance(8, Answer.NO),
        command(10, Verb.NEW_CARCASS),
        command(12, Verb.TAG, digits="512"),
        larder=untagged(),
        until_s=20,
    )
    assert tags(decisions)[-1] == "512"


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
        (HEARD, StatedCarcass(tag="", is_open=False)),
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
