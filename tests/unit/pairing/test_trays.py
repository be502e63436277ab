"""Trays that nobody named: the known one, and the load that begins one tray after another."""

from __future__ import annotations

import pytest

from handsfree.pairing.messages import (
    Instruction,
    LoadPassed,
    PassingReason,
    PieceWeighed,
    Question,
    QuestionClosed,
    QuestionKind,
    TrayWithdrawn,
)
from handsfree.speech.meaning import Answer, Verb
from handsfree.speech.messages import Refusal
from handsfree.testing.making_messages import call, command, load, utterance
from handsfree.testing.running_pairing import named, only, run
from handsfree.testing.stated_carcass import StatedCarcass


def larder() -> StatedCarcass:
    return StatedCarcass(
        containers={"bench": 1_180_000}, trays_mg=(640_000, 1_180_000), usual_g={"haunch": 6000}
    )


def test_a_known_tray_of_another_kind_becomes_the_container_quietly() -> None:
    decisions = run(load(5, 0, 640), larder=larder(), until_s=30)
    assert not named(decisions)
    assert not only(decisions, Question)
    (told,) = only(decisions, Instruction)
    assert (told.command.verb, told.standing[0].value_mg) == (Verb.TRAY, 640_000)


def test_another_tray_on_a_pan_that_shows_no_zero_is_asked_about_like_any_load() -> None:
    decisions = run(load(5, 300, 940), larder=larder(), until_s=30)
    assert named(decisions) == [("?", 640)]


@pytest.mark.parametrize("called_s", [3.5, 5.6])
def test_a_piece_as_heavy_as_the_tray_with_a_call_before_or_after_stays_a_piece(called_s: float) -> None:
    decisions = run(
        *sorted(
            (utterance(called_s, call("neck")), load(5, 0, 1180)),
            key=lambda each: getattr(each, "heard_ns", 0) or each.t_ns,
        ),
        larder=larder(),
        until_s=40,
    )
    assert named(decisions) == [("neck", 1180)]


def test_a_call_just_after_the_tray_belongs_to_the_piece_laid_on_it() -> None:
    decisions = run(
        load(5, 0, 1180), utterance(6.2, call("neck")), load(8, 1180, 3180), larder=larder(), until_s=40
    )
    assert named(decisions) == [("neck", 2000)]
    assert [d.reason for d in only(decisions, LoadPassed)] == [PassingReason.KNOWN_TRAY]


def test_talk_beside_the_tray_does_not_make_a_piece_of_it() -> None:
    talk = utterance(4, call("neck"), confidence=0.4, refusal=Refusal.NOT_LIKE_SPEECH_WE_KNOW)
    assert not named(run(talk, load(5, 0, 1180), larder=larder(), until_s=40))


def test_a_call_long_before_the_piece_on_the_tray_brings_no_question_about_the_tray() -> None:
    talk = utterance(2, call("flank"), confidence=0.4, refusal=Refusal.NOT_LIKE_SPEECH_WE_KNOW)
    decisions = run(
        talk,
        load(5, 0, 1180),
        utterance(6.5, call("neck")),
        load(12, 1180, 3180),
        larder=larder(),
        until_s=40,
    )
    assert not only(decisions, Question)
    assert named(decisions) == [("neck", 2000)]
    assert [d.reason for d in only(decisions, LoadPassed)] == [PassingReason.KNOWN_TRAY]


def test_that_was_makes_a_piece_of_what_was_taken_for_the_tray() -> None:
    decisions = run(
        load(5, 0, 1180), command(9, Verb.THAT_WAS, call=call("neck")), larder=larder(), until_s=40
    )
    assert named(decisions) == [("neck", 1180)]
    assert not only(decisions, TrayWithdrawn)


def test_that_was_withdraws_a_tray_that_was_entered() -> None:
    decisions = run(
        load(5, 0, 640), command(9, Verb.THAT_WAS, call=call("neck")), larder=larder(), until_s=40
    )
    assert [type(d) for d in decisions[-2:]] == [TrayWithdrawn, PieceWeighed]
    assert named(decisions) == [("neck", 640)]


@pytest.mark.parametrize(("at_s", "cut"), [(25, "neck"), (9, "haunch")])
def test_that_was_said_later_or_of_a_cut_that_cannot_weigh_this_renames_the_last_piece(
    at_s: float, cut: str
) -> None:
    decisions = run(
        load(5, 0, 1180), command(at_s, Verb.THAT_WAS, call=call(cut)), larder=larder(), until_s=40
    )
    assert [d.command.verb for d in only(decisions, Instruction)] == [Verb.THAT_WAS]


def twice(*between: object) -> tuple[object, ...]:
    """A tray nobody named, a piece on it, all off, and the same tray again."""
    return (
        load(5, 0, 1180),
        utterance(22, call("neck")),
        load(24, 1180, 3180),
        load(40, 3180, 0),
        load(45, 0, 1185),
        *between,
    )


def test_the_load_that_began_an_earlier_tray_is_asked_about_as_a_tray() -> None:
    decisions = run(*twice(utterance(51, Answer.YES)), until_s=80)
    assert [d.kind for d in only(decisions, Question)] == [QuestionKind.WHAT_WAS_THAT, QuestionKind.TRAY]
    assert [d.command.verb for d in only(decisions, Instruction)] == [Verb.TRAY]
    assert named(decisions) == [("?", 1180), ("neck", 2000)]


def test_unanswered_it_is_the_tray_and_that_was_makes_a_piece_of_it() -> None:
    decisions = run(*twice(), until_s=80)
    assert named(decisions) == [("?", 1180), ("neck", 2000)]
    assert [d.command.verb for d in only(decisions, Instruction)] == [Verb.TRAY]
    taken_s = only(decisions, Instruction)[0].t_ns / 1e9
    after = run(*twice(command(taken_s + 3, Verb.THAT_WAS, call=call("flank"))), until_s=90)
    assert named(after)[-1] == ("flank", 1185)


def test_denied_it_is_left_without_a_name() -> None:
    decisions = run(*twice(utterance(51, Answer.NO)), until_s=80)
    assert named(decisions) == [("?", 1180), ("neck", 2000), ("?", 1185)]
    assert not only(decisions, Instruction)


def test_a_call_answers_it_as_well() -> None:
    decisions = run(*twice(utterance(51, call("flank"))), until_s=80)
    assert named(decisions)[-1] == ("flank", 1185)
    assert only(decisions, QuestionClosed)


def test_a_first_load_that_was_called_is_no_tray_when_it_comes_again() -> None:
    decisions = run(utterance(3, call("neck")), *twice(), until_s=80)
    assert [d.kind for d in only(decisions, Question)] == [QuestionKind.WHAT_WAS_THAT]
