"""Before a carcass is closed, what went in without a name is asked about."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from handsfree.clock import from_seconds
from handsfree.pairing.messages import (
    Instruction,
    PieceWeighed,
    Question,
    QuestionClosed,
    QuestionKind,
    SpeechRefused,
)
from handsfree.pairing.pairing import Pairing, PairingInput
from handsfree.pairing.ports import Nameless
from handsfree.pairing.settings import PairingSettings
from handsfree.speech.meaning import Answer, Call, Side, Verb
from handsfree.testing.making_messages import command, load, refused, utterance
from handsfree.testing.running_pairing import only, run
from handsfree.testing.stated_carcass import StatedCarcass

LEFT_SHANK = Call("shank", Side.LEFT)
NECK = Call("neck")
ALONE = Nameless(31, 640_000)
OTHER = Nameless(32, 2_010_000)


class Larder(StatedCarcass):
    """A stated carcass that takes names and strikes as the ledger would."""

    def take(self, decision: Any) -> None:
        if isinstance(decision, Instruction) and decision.piece is not None:
            self.unnamed = tuple(each for each in self.unnamed if each.piece != decision.piece)


def larder(*unnamed: Nameless, due: tuple[Call, ...] = (LEFT_SHANK, NECK)) -> Larder:
    return Larder(
        unnamed=unnamed or (ALONE,),
        due=due,
        usual_g={"shank": 650, "neck": 2000, "fore shank": 600},
        sigma=0.15,
    )


def played(
    state: Larder, *messages: PairingInput, until_s: float = 60, settings: PairingSettings | None = None
) -> list[Any]:
    """All decisions after "close carcass" at 1 s, each taken by the larder before the next is made."""
    closing = command(1, Verb.CLOSE_CARCASS)
    return run(closing, *messages, larder=state, until_s=until_s, settings=settings, take=state.take)


def closes(decisions: list[Any]) -> list[float]:
    """When the carcass was closed, in seconds."""
    return [
        round(d.t_ns / 1e9, 1) for d in only(decisions, Instruction) if d.command.verb is Verb.CLOSE_CARCASS
    ]


def renamings(decisions: list[Any]) -> list[tuple[int | None, str]]:
    return [
        (d.piece, d.command.call.words())
        for d in only(decisions, Instruction)
        if d.command.verb is Verb.THAT_WAS
    ]


def test_with_every_piece_named_it_closes_at_once() -> None:
    state = larder()
    state.unnamed = ()
    decisions = played(state)
    assert not only(decisions, Question)
    assert closes(decisions) == [1.3]


def test_the_one_cut_still_to_come_that_weighs_it_is_offered_and_yes_names_it_before_the_close() -> None:
    decisions = played(larder(), utterance(6, Answer.YES))
    (asked,) = only(decisions, Question)
    assert (asked.kind, asked.options, asked.piece, asked.net_mg) == (
        QuestionKind.CONFIRM,
        (LEFT_SHANK,),
        31,
        640_000,
    )
    assert renamings(decisions) == [(31, "left shank")]
    (closed,) = closes(decisions)
    assert closed >= 8.5, "the name read back may be put right first"


def test_left_alone_it_stays_without_a_name_and_the_carcass_is_closed() -> None:
    decisions = played(larder(), until_s=30)
    assert len(only(decisions, Question)) == 1
    assert renamings(decisions) == []
    (closed,) = closes(decisions)
    assert 10 < closed < 15


def test_two_questions_left_alone_are_enough() -> None:
    third = Nameless(33, 610_000)
    decisions = played(larder(ALONE, OTHER, third), until_s=60)
    assert [each.piece for each in only(decisions, Question)] == [31, 32]
    assert len(closes(decisions)) == 1


def test_close_said_again_closes_at_once() -> None:
    decisions = played(larder(ALONE, OTHER), command(7, Verb.CLOSE_CARCASS), until_s=60)
    (closed,) = closes(decisions)
    assert 7 <= closed < 7.6
    assert len(only(decisions, Question)) == 1


def test_no_offers_the_next_likely_and_at_last_asks_what_it_was() -> None:
    state = larder(due=(LEFT_SHANK, Call("fore shank", Side.RIGHT)))
    decisions = played(
        state, utterance(6, Answer.NO), utterance(12, Answer.NO), utterance(18, Call("neck fillet"))
    )
    asked = only(decisions, Question)
    assert [each.kind for each in asked] == [QuestionKind.CHOOSE, QuestionKind.WHAT_WAS_THAT]
    decisions = played(larder(), utterance(6, Answer.NO), utterance(12, Call("neck fillet", Side.LEFT)))
    assert [each.kind for each in only(decisions, Question)] == [
        QuestionKind.CONFIRM,
        QuestionKind.WHAT_WAS_THAT,
    ]
    assert renamings(decisions) == [(31, "left neck fillet")]


def test_a_name_answers_whatever_was_offered() -> None:
    decisions = played(larder(), utterance(6, Call("fore shank", Side.RIGHT)))
    assert renamings(decisions) == [(31, "right fore shank")]


def test_a_number_answers_a_list() -> None:
    state = larder(due=(LEFT_SHANK, Call("fore shank", Side.RIGHT)))
    decisions = played(state, utterance(6, Answer.SECOND))
    (asked,) = only(decisions, Question)
    assert asked.kind is QuestionKind.CHOOSE
    assert renamings(decisions) == [(31, asked.options[1].words())]


def test_strike_that_strikes_the_piece_asked_about_and_not_the_last_one() -> None:
    decisions = played(larder(ALONE, OTHER), command(6, Verb.STRIKE), until_s=12)
    (struck,) = [d for d in only(decisions, Instruction) if d.command.verb is Verb.STRIKE]
    assert struck.piece == 31
    assert [each.piece for each in only(decisions, Question)] == [31, 32]


def test_that_was_names_the_piece_asked_about_also_after_it_was_named() -> None:
    right = Call("shank", Side.RIGHT)
    state = larder()
    decisions = played(state, utterance(6, Answer.YES), command(8, Verb.THAT_WAS, call=right), until_s=30)
    assert renamings(decisions) == [(31, "left shank"), (31, "right shank")]
    assert closes(decisions)[0] >= 10.5


def test_what_is_not_understood_has_the_likeliest_read_out_once() -> None:
    state = larder(due=(LEFT_SHANK, NECK, Call("fore shank", Side.RIGHT)))
    state.usual_g["fore shank"] = 450
    decisions = played(state, refused(6, (Call("bone"), 0.01)), refused(14, (Call("bone"), 0.01)), until_s=40)
    first, second = only(decisions, Question)
    assert (first.kind, second.kind) == (QuestionKind.CONFIRM, QuestionKind.CHOOSE)
    assert {LEFT_SHANK, Call("fore shank", Side.RIGHT)} < set(second.options)
    assert Call("bone") in second.options, "what the reply may have been is among them"


def test_a_call_that_the_weight_speaks_against_needs_to_be_heard_surely() -> None:
    unsure = replace(utterance(6, NECK), confidence=0.6)
    decisions = played(larder(), unsure, until_s=30)
    assert renamings(decisions) == []
    assert only(decisions, SpeechRefused)
    assert renamings(played(larder(), utterance(6, NECK), until_s=30)) == [(31, "neck")]


def test_what_was_heard_in_mid_carcass_counts_again() -> None:
    heard = Nameless(31, 640_000, heard=((Call("breast", Side.LEFT), -0.1), (NECK, -4.0)))
    (asked, *_) = only(played(larder(heard), until_s=9), Question)
    assert Call("breast", Side.LEFT) in asked.options


def test_a_piece_laid_down_meanwhile_is_taken_first_and_then_the_carcass_is_closed() -> None:
    decisions = played(larder(), load(6, 0, 2000), utterance(8, NECK), until_s=40)
    (piece,) = only(decisions, PieceWeighed)
    assert piece.call == NECK
    (closed,) = closes(decisions)
    assert closed > piece.t_ns / 1e9
    assert isinstance(only(decisions, QuestionClosed)[0], QuestionClosed)


def test_what_is_struck_after_another_piece_was_laid_down_is_that_piece() -> None:
    decisions = played(larder(), load(6, 0, 2000), utterance(8, NECK), command(9.1, Verb.STRIKE), until_s=18)
    (struck,) = [d for d in only(decisions, Instruction) if d.command.verb is Verb.STRIKE]
    assert struck.piece is None, "the last one"
    assert [each.piece for each in only(decisions, Question)] == [31, 31], "it is asked about again"


def test_another_carcass_closes_this_one_first() -> None:
    decisions = played(larder(), command(6, Verb.NEW_CARCASS), until_s=12)
    assert [d.command.verb for d in only(decisions, Instruction)] == [Verb.CLOSE_CARCASS, Verb.NEW_CARCASS]


def test_the_end_of_the_session_closes_what_was_to_be_closed() -> None:
    pairing = Pairing(larder())
    list(pairing.feed(command(1, Verb.CLOSE_CARCASS)))
    assert closes(list(pairing.finish(from_seconds(2)))) == [2.0]


def test_without_questions_or_when_not_wanted_it_closes_at_once() -> None:
    for settings in (PairingSettings(questions=False), PairingSettings(go_over=False)):
        decisions = played(larder(), until_s=10, settings=settings)
        assert not only(decisions, Question)
        assert closes(decisions)[0] < 2.0
