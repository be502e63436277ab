"""Names read out to choose from by number, when a reply was not made out either."""

from __future__ import annotations

import pytest

from handsfree.pairing.messages import (
    LoadPassed,
    PassingReason,
    PieceWeighed,
    Question,
    QuestionKind,
    SpeechRefused,
)
from handsfree.speech.meaning import PLACES, Answer, Call
from handsfree.speech.messages import Utterance
from handsfree.testing.making_messages import call, load, refused, utterance
from handsfree.testing.running_pairing import named, only, run
from handsfree.testing.stated_carcass import StatedCarcass

USUAL_G = {"haunch": 4300, "flank": 1500, "loin": 1600, "rump": 1500}
LEFT = {cut: call(cut, "left") for cut in USUAL_G}
DUE = (LEFT["haunch"], call("haunch", "right"), LEFT["flank"], LEFT["loin"])


#: An offer that the butcher's reply does not settle: what weighs this was never heard.
OFFER = (refused(2, (call("neck"), 0.2)), load(5, 800, 5100))
UNCLEAR = refused(12, (LEFT["rump"], 0.2), (call("neck"), 0.02))


TRAY = {"bench": 800_000}


def larder() -> StatedCarcass:
    return StatedCarcass(usual_g=USUAL_G, due=DUE, containers=TRAY)


def test_a_reply_that_leaves_it_in_doubt_has_the_likeliest_read_out() -> None:
    asked = only(run(*OFFER, UNCLEAR, larder=larder(), until_s=20), Question)
    assert [q.kind for q in asked] == [QuestionKind.CONFIRM, QuestionKind.CHOOSE]
    # The reply told the left side, the weight a haunch; what weighs far otherwise is not read out.
    assert asked[1].options == (LEFT["haunch"], call("haunch", "right"), call("neck"))
    assert asked[1].replies == (Answer.FIRST, Answer.SECOND, Answer.THIRD, Answer.NO)


def test_the_number_takes_the_name_in_its_place() -> None:
    for place, name in zip(PLACES, ("left haunch", "right haunch", "neck"), strict=False):
        decisions = run(*OFFER, UNCLEAR, utterance(18, place), larder=larder(), until_s=40)
        assert named(decisions) == [(name, 4300)]
        assert [d.asked for d in only(decisions, PieceWeighed)] == [QuestionKind.CHOOSE]


def test_a_name_takes_its_place_too_and_another_name_is_paired_as_ever() -> None:
    for said in (call("haunch", "right"), call("shoulder", "left")):
        decisions = run(*OFFER, UNCLEAR, utterance(18, said), larder=larder(), until_s=40)
        assert named(decisions) == [(said.words(), 4300)]


def test_a_number_that_was_not_read_out_and_yes_settle_nothing() -> None:
    for answer in (Answer.FOURTH, Answer.YES):
        decisions = run(*OFFER, UNCLEAR, utterance(18, answer), larder=larder(), until_s=22)
        assert [d.why for d in only(decisions, SpeechRefused)][-1] == "no answer to what was asked"
        later = run(
            *OFFER, UNCLEAR, utterance(18, answer), utterance(20, Answer.SECOND), larder=larder(), until_s=40
        )
        assert named(later) == [("right haunch", 4300)]


def test_none_of_these_has_it_asked_anew_and_none_of_them_is_offered_again() -> None:
    decisions = run(*OFFER, UNCLEAR, utterance(18, Answer.NO), larder=larder(), until_s=30)
    assert only(decisions, Question)[-1].kind is QuestionKind.WHAT_WAS_THAT
    again = refused(30, (call("haunch", "right"), 0.02), (call("kidney"), 0.01))
    decisions = run(*OFFER, UNCLEAR, utterance(18, Answer.NO), again, larder=larder(), until_s=60)
    _, listed, *later = only(decisions, Question)
    assert not any(each.same_piece(denied) for q in later for each in q.options for denied in listed.options)
    assert named(decisions) == [("?", 4300)]


def test_a_list_that_nobody_answers_leaves_the_piece_unnamed_after_its_time() -> None:
    decisions = run(*OFFER, UNCLEAR, larder=larder(), until_s=27)
    assert named(decisions) == []
    assert named(run(*OFFER, UNCLEAR, larder=larder(), until_s=40)) == [("?", 4300)]


def test_what_was_that_not_understood_has_names_read_out_where_several_weigh_this() -> None:
    murmur = refused(12, (call("kidney"), 0.01))
    on_tray = StatedCarcass(usual_g=USUAL_G, due=DUE, containers=TRAY)
    what, which = only(run(load(5, 800, 2350), murmur, larder=on_tray, until_s=20), Question)
    assert what.kind is QuestionKind.WHAT_WAS_THAT
    # What was heard, of which no weight is known, is the least likely of them; a haunch is far off.
    assert (which.kind, which.options) == (QuestionKind.CHOOSE, (LEFT["loin"], LEFT["flank"], call("kidney")))


def test_of_a_load_on_a_bare_pan_that_nobody_could_name_the_tray_is_asked_first() -> None:
    bare = StatedCarcass(usual_g=USUAL_G, due=DUE)
    offer = (refused(2, (LEFT["flank"], 0.04), (LEFT["loin"], 0.03)), load(5, 0, 1180))
    unclear = refused(12, (call("kidney"), 0.05), (call("neck"), 0.04))
    asked = only(run(*offer, unclear, larder=bare, until_s=18), Question)
    assert [q.kind for q in asked][-1] is QuestionKind.TRAY
    is_tray = run(*offer, unclear, utterance(18, Answer.YES), larder=bare, until_s=60)
    assert named(is_tray) == []
    assert [d.reason for d in only(is_tray, LoadPassed)] == [PassingReason.CONTAINER]
    # It is asked once; where a piece was weighed alone before, not at all.
    none = run(*offer, unclear, utterance(18, Answer.NO), unclear_again(26), larder=bare, until_s=60)
    assert [q.kind for q in only(none, Question)].count(QuestionKind.TRAY) == 1
    alone = (utterance(-20, call("neck")), load(-18, 0, 900), load(-10, 900, 0))
    asked = only(run(*alone, *offer, unclear, larder=bare, until_s=60), Question)
    assert QuestionKind.TRAY not in [q.kind for q in asked]


def unclear_again(end_s: float) -> Utterance:
    return refused(end_s, (call("kidney"), 0.1), (call("neck"), 0.02))


def test_names_are_read_out_twice_at_most() -> None:
    said = [refused(12 + 8 * step, (LEFT["rump"], 0.02), (call("neck"), 0.01)) for step in range(8)]
    on_tray = StatedCarcass(usual_g=USUAL_G, due=DUE, containers=TRAY)
    asked = only(run(load(5, 800, 2350), *said, larder=on_tray, until_s=120), Question)
    assert 1 <= [q.kind for q in asked].count(QuestionKind.CHOOSE) <= 2


def test_an_answer_that_the_gate_refused_is_taken_where_a_question_waits_for_it() -> None:
    # 0.22 and 0.1 of two wordings are 0.32, more than three times what the name has.
    number_two = refused(18, (Answer.SECOND, 0.22), (Answer.SECOND, 0.1), (call("neck"), 0.1))
    decisions = run(*OFFER, UNCLEAR, number_two, larder=larder(), until_s=40)
    assert named(decisions) == [("right haunch", 4300)]


@pytest.mark.parametrize(
    "said",
    [
        refused(18, (Answer.SECOND, 0.29)),
        refused(18, (Answer.SECOND, 0.5), (call("neck"), 0.2)),
        refused(18, (Answer.FOURTH, 0.5)),
        refused(18, (Answer.YES, 0.5)),
    ],
    ids=["too unlikely", "another near", "not read out", "no answer to a list"],
)
def test_but_not_where_it_is_too_unlikely_or_answers_nothing(said: Utterance) -> None:
    decisions = run(*OFFER, UNCLEAR, said, larder=larder(), until_s=25)
    assert named(decisions) == []


def test_what_was_said_before_the_question_does_not_answer_it() -> None:
    before = refused(12.2, (Answer.SECOND, 0.5))
    assert named(run(*OFFER, UNCLEAR, before, larder=larder(), until_s=25)) == []


def test_a_number_of_pieces_is_read_out_only_if_it_was_refused() -> None:
    """Nine kidneys weigh what any piece does; so faint that is no reason to name them."""
    nine = Call("kidney", count=9)
    for chance, read_out in ((0.01, False), (0.15, True)):
        offer = (refused(2, (call("neck"), 0.2), (nine, chance)), load(5, 800, 5100))
        unclear = refused(12, (LEFT["rump"], 0.2), (nine, chance))
        asked = only(run(*offer, unclear, larder=larder(), until_s=20), Question)[-1]
        assert asked.kind is QuestionKind.CHOOSE
        assert (nine in asked.options) is read_out
