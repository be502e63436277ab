"""The load that is probably the carcass: held against, asked about once, never entered unasked."""

from __future__ import annotations

from handsfree.clock import from_seconds
from handsfree.pairing.messages import (
    Instruction,
    LoadPassed,
    PassingReason,
    Question,
    QuestionClosed,
    QuestionKind,
    Tick,
)
from handsfree.pairing.pairing import Pairing
from handsfree.speech.meaning import Answer, Verb
from handsfree.testing.making_messages import call, command, load, plateau, utterance
from handsfree.testing.running_pairing import named, only, run
from handsfree.testing.stated_carcass import StatedCarcass


def larder(*, begun: bool = False) -> StatedCarcass:
    return StatedCarcass(has_begun=begun, lacks_dressed_weight=True, usual_g={"neck": 2000})


HUNG = (load(3, 0, 41_350, "rail"), load(9, 41_350, 0, "rail"))


def test_when_the_carcass_has_left_the_rail_it_is_asked_about_once() -> None:
    decisions = run(*HUNG, larder=larder(), until_s=60)
    (asked,) = only(decisions, Question)
    assert (asked.kind, asked.net_mg) == (QuestionKind.DRESSED_WEIGHT, 41_350_000)
    assert asked.t_ns >= 9e9
    assert [d.answer for d in only(decisions, QuestionClosed)] == [None]
    assert not only(decisions, Instruction)


def test_yes_takes_it_as_it_hung() -> None:
    decisions = run(*HUNG, utterance(13, Answer.YES), larder=larder(), until_s=30)
    (taken,) = only(decisions, Instruction)
    assert taken.command.verb is Verb.DRESSED_WEIGHT
    assert [(p.scale, p.value_mg) for p in taken.standing] == [("rail", 41_350_000)]


def test_no_leaves_it_out_of_the_books_and_out_of_mind() -> None:
    state = larder()
    decisions = run(
        *HUNG,
        utterance(13, Answer.NO),
        utterance(20, call("neck")),
        load(23, 0, 2000),
        larder=state,
        until_s=40,
    )
    assert not only(decisions, Instruction)
    assert state.supposed_mg is None


def test_until_then_pieces_are_held_against_it() -> None:
    state = larder()
    run(*HUNG, utterance(20, call("neck")), load(23, 0, 2000), larder=state, until_s=40)
    assert state.supposed_mg == 41_350_000


def test_a_dressed_weight_that_was_heard_is_not_asked_about() -> None:
    state = larder()
    state.lacks_dressed_weight = False
    assert not only(run(*HUNG, larder=state, until_s=40), Question)


def test_the_question_gives_way_to_one_about_a_piece() -> None:
    state = StatedCarcass(has_begun=False, lacks_dressed_weight=True, usual_g={"neck": 300}, sigma=0.1)
    decisions = run(*HUNG, utterance(13, call("neck")), load(16, 0, 2000), larder=state, until_s=24)
    assert [d.kind for d in only(decisions, Question)] == [QuestionKind.DRESSED_WEIGHT, QuestionKind.CONFIRM]


def test_it_waits_while_a_weight_waits_and_while_somebody_talks() -> None:
    pairing = Pairing(larder())
    for message in HUNG:
        assert not only(list(pairing.feed(message)), Question)
    assert not only(list(pairing.feed(Tick(from_seconds(13), busy=True))), Question)
    assert only(list(pairing.feed(Tick(from_seconds(14), busy=False))), Question)


def test_a_hook_or_a_load_after_the_first_piece_is_none() -> None:
    assert not only(
        run(load(3, 0, 1200, "rail"), load(9, 1200, 0, "rail"), larder=larder(), until_s=40), Question
    )
    assert not only(run(*HUNG, larder=larder(begun=True), until_s=40), Question)


def test_a_whole_carcass_off_the_bench_again_counts_and_a_tray_told_of_later_is_no_part_of_it() -> None:
    state = larder()
    decisions = run(
        load(3, 0, 17_400), load(20, 17_400, 0), utterance(25, Answer.YES), larder=state, until_s=40
    )
    (taken,) = only(decisions, Instruction)
    assert (taken.standing[0].value_mg, taken.standing[0].basis.value) == (17_400_000, "net")


def test_the_next_carcass_has_a_load_of_its_own() -> None:
    state = larder()
    state.has_begun = True
    state.lacks_dressed_weight = True
    pairing = Pairing(state)
    list(pairing.feed(plateau(2, 38_000, "rail")))
    decisions = pairing.feed(command(4, Verb.NEW_CARCASS))
    for _ in decisions:
        state.has_begun = False  # as the clerk would have it
    asked = only(
        [d for m in (load(9, 38_000, 0, "rail"), plateau(14, 0, "rail")) for d in pairing.feed(m)], Question
    )
    assert [each.net_mg for each in asked] == [38_000_000]


def test_a_load_on_top_of_another_is_no_carcass_when_one_has_hung() -> None:
    """Neither "dressed weight" nor "tray" was heard: the tray passes, what lies on it is a piece."""
    decisions = run(*HUNG, load(20, 0, 1180), load(30, 1180, 3630), larder=larder(), until_s=60)
    kinds = [d.kind for d in only(decisions, Question)]
    assert kinds.count(QuestionKind.WHAT_WAS_THAT) == 2
    assert [d.reason for d in only(decisions, LoadPassed) if d.change.scale == "bench"] == [
        PassingReason.THE_CARCASS
    ]
    assert named(decisions) == [("?", 2450)]


def test_the_first_piece_is_asked_about_when_a_carcass_has_hung() -> None:
    decisions = run(*HUNG, load(20, 0, 2450), utterance(27, call("neck")), larder=larder(), until_s=60)
    assert named(decisions) == [("neck", 2450)]
