"""A command that was refused and is said again is carried out."""

from __future__ import annotations

from typing import Any

import pytest

from handsfree.pairing.messages import Instruction, SpeechRefused
from handsfree.speech.meaning import Answer, Call, Command, Meaning, Verb
from handsfree.speech.messages import Utterance
from handsfree.testing.making_messages import command, plateau, refused, utterance
from handsfree.testing.running_pairing import only, run
from handsfree.testing.stated_carcass import StatedCarcass

CLOSE, PARK = Command(Verb.CLOSE_CARCASS), Command(Verb.PARK_CARCASS)


def done(*messages: Any, **carcass: Any) -> list[Verb]:
    decisions = run(*messages, larder=StatedCarcass(**carcass), until_s=60)
    return [each.command.verb for each in only(decisions, Instruction)]


def faint(end_s: float, meaning: Meaning = CLOSE, chance: float = 0.2) -> Utterance:
    return refused(end_s, (meaning, chance))


def test_what_is_heard_as_the_same_twice_running_is_meant() -> None:
    assert done(faint(5), faint(12)) == [Verb.CLOSE_CARCASS]
    assert done(faint(5), faint(12), faint(19)) == [Verb.CLOSE_CARCASS], "and then it is done"


def test_what_was_hardly_heard_between_does_not_matter() -> None:
    assert done(faint(5), faint(12, chance=0.03), faint(19)) == [Verb.CLOSE_CARCASS]


@pytest.mark.parametrize(
    "said",
    [
        [faint(5)],
        [faint(5), faint(12, PARK)],
        [faint(5), faint(32)],  # long after
        [faint(5, chance=0.05), faint(12, chance=0.05)],
        [faint(5), utterance(8, Answer.YES), faint(12)],  # something was understood
        [faint(5), faint(12, Call("neck"))],
    ],
)
def test_otherwise_it_stays_refused(said: list[Utterance]) -> None:
    assert done(*said) == []


def test_a_tag_is_asked_back_instead() -> None:
    tag = Command(Verb.TAG, digits="417")
    assert done(faint(5, tag), faint(12, tag)) == []


def test_at_rest_only_wake_is_heard() -> None:
    rest = command(2, Verb.REST)
    assert done(rest, faint(5), faint(12)) == [Verb.REST]
    wake = Command(Verb.WAKE)
    assert done(rest, faint(5, wake), faint(12, wake)) == [Verb.REST, Verb.WAKE]


def test_a_weight_to_be_taken_waits_for_the_scale_as_ever() -> None:
    dressed = Command(Verb.DRESSED_WEIGHT)
    said = (faint(5, dressed), faint(12, dressed))
    decisions = run(*said, plateau(14, 24_600, "rail"), larder=StatedCarcass(), until_s=20)
    (taken,) = only(decisions, Instruction)
    assert taken.standing[0].value_mg == 24_600_000
    assert len(only(decisions, SpeechRefused)) == 1
