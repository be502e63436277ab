"""A call said again: weighed together with what was heard before, and what is offered meanwhile."""

from __future__ import annotations

from dataclasses import replace
from math import isclose
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handsfree.clock import from_seconds
from handsfree.pairing.messages import (
    Instruction,
    LoadPassed,
    PassingReason,
    PieceWeighed,
    Question,
    QuestionClosed,
    QuestionKind,
    SpeechRefused,
)
from handsfree.pairing.sayings import together
from handsfree.pairing.settings import PairingSettings
from handsfree.speech.meaning import Answer, Call, Command, Verb
from handsfree.speech.messages import Refusal, Utterance
from handsfree.testing.making_messages import call, command, load, refused, utterance
from handsfree.testing.running_pairing import named, only, run
from handsfree.testing.stated_carcass import StatedCarcass

USUAL_G = {"haunch": 4300, "flank": 1500, "loin": 1600, "rump": 1500}
LEFT = {cut: call(cut, "left") for cut in USUAL_G}


def test_two_sayings_are_pooled_as_a_mean_of_logarithms() -> None:
    """Worked by hand: with half the weight each, p(c | 1, 2) ~ sqrt(p(c | 1) p(c | 2)), and so for no call.

    Flank 0.3 and 0.2, loin 0.1 and 0.4, none 0.6 and 0.4: the roots of 0.06, 0.04 and 0.24.
    """
    both = together(
        refused(1, (LEFT["flank"], 0.3), (LEFT["loin"], 0.1)),
        refused(4, (LEFT["loin"], 0.4), (LEFT["flank"], 0.2)),
        PairingSettings(earlier_saying=0.5),
    )
    whole = 0.06**0.5 + 0.04**0.5 + 0.24**0.5
    assert [each.meaning for each in both.hypotheses] == [LEFT["flank"], LEFT["loin"]]
    for each, chance in zip(both.hypotheses, (0.06**0.5 / whole, 0.04**0.5 / whole), strict=True):
        assert each.probability is not None
        assert isclose(each.probability, chance, rel_tol=1e-9)
    assert both.confidence == both.hypotheses[0].probability
    assert both.end_ns == refused(4, (LEFT["loin"], 0.4)).end_ns


def test_a_first_saying_that_counts_nothing_changes_nothing() -> None:
    later = refused(4, (LEFT["loin"], 0.4), (LEFT["flank"], 0.2))
    both = together(refused(1, (LEFT["flank"], 0.3)), later, PairingSettings(earlier_saying=0.0))
    kept = [each.probability for each in both.hypotheses]
    assert kept == pytest.approx([0.4, 0.2])


def test_a_piece_named_with_and_without_where_it_goes_is_one_piece() -> None:
    to_pet = Call("haunch", LEFT["haunch"].side, 1, "pet")
    both = together(
        refused(1, (to_pet, 0.2)), refused(4, (LEFT["haunch"], 0.3), (LEFT["flank"], 0.3)), PairingSettings()
    )
    assert both.hypotheses[0].meaning == LEFT["haunch"]


CHANCES = st.lists(st.floats(0.001, 0.24), min_size=1, max_size=4)


@given(CHANCES, CHANCES, st.floats(0.0, 1.0))
def test_the_chances_of_two_sayings_are_chances(one: list[float], two: list[float], share: float) -> None:
    calls = list(LEFT.values())

    def said(end_s: float, chances: list[float]) -> Utterance:
        given = sorted(chances, reverse=True)
        return refused(end_s, *zip(calls, given, strict=False))

    both = together(said(1, one), said(4, two), PairingSettings(earlier_saying=share))
    given = [each.probability or 0.0 for each in both.hypotheses]
    assert given == sorted(given, reverse=True)
    assert 0.0 < sum(given) < 1.0
    assert {each.meaning for each in both.hypotheses} == set(calls[: max(len(one), len(two))])


def test_the_weight_finds_the_right_one_of_many_readings_and_it_is_offered() -> None:
    """A haunch of which noise left a flank: the fourth reading weighs right and is asked, not entered."""
    larder = StatedCarcass(usual_g=USUAL_G)
    said = refused(
        2, (LEFT["flank"], 0.1), (LEFT["loin"], 0.05), (LEFT["rump"], 0.04), (LEFT["haunch"], 0.02)
    )
    offered = run(said, load(5, 0, 4300), larder=larder, until_s=12)
    (asked,) = only(offered, Question)
    assert (asked.kind, asked.options[0]) == (QuestionKind.CONFIRM, LEFT["haunch"])
    assert named(offered) == []
    taken = run(said, load(5, 0, 4300), utterance(12, Answer.YES), larder=larder, until_s=40)
    assert named(taken) == [("left haunch", 4300)]
    denied = run(said, load(5, 0, 4300), utterance(12, Answer.NO), larder=larder, until_s=40)
    assert [q.kind for q in only(denied, Question)] == [QuestionKind.CONFIRM, QuestionKind.WHAT_WAS_THAT]
    assert named(denied) == [("?", 4300)]


def test_a_reply_to_an_offer_is_weighed_with_the_call_before_it() -> None:
    """What was heard of the call before the question is not lost: it puts the loin before the flank."""
    larder = StatedCarcass()
    first = refused(2, (LEFT["loin"], 0.03), (LEFT["flank"], 0.001))
    second = refused(12, (LEFT["flank"], 0.3), (LEFT["loin"], 0.3))
    larder.containers["bench"] = 900_000
    decisions = run(first, load(5, 900, 900 + 1600), second, larder=larder, until_s=16)
    offer, both = only(decisions, Question)
    assert (offer.kind, offer.options) == (QuestionKind.CONFIRM, (LEFT["loin"],))
    assert (both.kind, both.options) == (QuestionKind.CHOOSE, (LEFT["loin"], LEFT["flank"]))


def test_a_doubtful_reply_may_turn_the_question() -> None:
    """Asked about a flank of 4.3 kg, the butcher says haunch again, and now it is among the readings."""
    larder = StatedCarcass(usual_g=USUAL_G)
    begun = (utterance(2, LEFT["flank"], confidence=0.6), load(5, 0, 4300))
    again = refused(12, (LEFT["flank"], 0.3), (LEFT["haunch"], 0.03))
    decisions = run(*begun, again, utterance(16, Answer.YES), larder=larder, until_s=40)
    assert [q.options[0] for q in only(decisions, Question)] == [LEFT["flank"], LEFT["haunch"]]
    assert [d.answer for d in only(decisions, QuestionClosed)] == [None, Answer.YES]
    assert named(decisions) == [("left haunch", 4300)]


def test_a_correction_whose_name_alone_is_in_doubt_is_asked_back() -> None:
    larder = StatedCarcass(usual_g=USUAL_G, last_mass_mg=4_300_000)

    def that_was(*chances: tuple[str, float]) -> Utterance:
        return refused(12, *((Command(Verb.THAT_WAS, call=LEFT[cut]), chance) for cut, chance in chances))

    begun = (utterance(2, call("neck")), load(5, 0, 4300))
    decisions = run(*begun, that_was(("flank", 0.5), ("haunch", 0.11)), larder=larder, until_s=16)
    assert [q.options for q in only(decisions, Question)] == [(LEFT["haunch"],)]
    assert not only(decisions, Instruction)
    sure = run(*begun, that_was(("flank", 0.4), ("haunch", 0.3)), larder=larder, until_s=16)
    assert [d.command.call for d in only(sure, Instruction)] == [LEFT["haunch"]]
    # That it was a correction must be likely, whichever.
    unlikely = run(*begun, that_was(("flank", 0.3), ("haunch", 0.2)), larder=larder, until_s=16)
    assert not only(unlikely, Question)
    assert [d.why for d in only(unlikely, SpeechRefused)] == [Refusal.NOT_LIKE_SPEECH_WE_KNOW.value]


def test_a_correction_heard_as_what_cannot_weigh_this_is_asked_as_the_one_that_can() -> None:
    """ "That was left haunch", heard as a flank with the haunch faintly behind it; said clearly it is one."""
    larder = StatedCarcass(usual_g=USUAL_G, last_mass_mg=4_300_000)
    begun = (utterance(2, call("neck")), load(5, 0, 4300))
    for sure, offered in ((0.64, "haunch"), (0.9, "flank")):
        readings = (("flank", sure), ("rump", 0.05), ("haunch", 0.004))
        said = refused(12, *((Command(Verb.THAT_WAS, call=LEFT[cut]), chance) for cut, chance in readings))
        decisions = run(*begun, replace(said, refusal=None), larder=larder, until_s=16)
        assert [q.options for q in only(decisions, Question)] == [(LEFT[offered],)]


TRAY = Command(Verb.TRAY)


@pytest.mark.parametrize("chance", [0.04, 0.1, 0.2])
def test_a_load_on_a_bare_pan_is_asked_about_as_a_tray_when_that_is_among_the_readings(chance: float) -> None:
    """Whether the call by itself would have been asked about or taken."""
    larder = StatedCarcass(usual_g=USUAL_G)
    said = refused(3, (LEFT["loin"], chance), (TRAY, 0.03))
    asked = only(run(said, load(5, 0, 900), larder=larder, until_s=12), Question)
    assert [q.kind for q in asked] == [QuestionKind.TRAY]
    # Not of what is laid on a tray.
    begun = (load(1, 0, 800), utterance(2, TRAY))
    on_top = run(*begun, said, load(5, 800, 1700), larder=larder, until_s=40)
    assert [d.heard for d in only(on_top, PieceWeighed)] == [LEFT["loin"].words()]


@pytest.mark.parametrize("said_s", [12.0, 16.0])
def test_something_like_tray_said_to_an_offer_has_the_tray_asked_about(said_s: float) -> None:
    larder = StatedCarcass(usual_g=USUAL_G)
    begun = (refused(3, (LEFT["loin"], 0.04)), load(5, 0, 900))
    said = refused(said_s, (TRAY, 0.06))
    decisions = run(*begun, said, utterance(18.5, Answer.YES), larder=larder, until_s=40)
    assert [q.kind for q in only(decisions, Question)] == [QuestionKind.CONFIRM, QuestionKind.TRAY]
    assert [d.reason for d in only(decisions, LoadPassed)] == [PassingReason.CONTAINER]
    assert named(decisions) == []


def test_a_tray_called_indistinctly_after_its_load_went_in_without_a_name_takes_it_back() -> None:
    said = refused(25, (TRAY, 0.27))
    decisions = run(load(5, 0, 1180), said, until_s=40)
    assert named(decisions) == [("?", 1180)]
    verbs = [d.command.verb for d in only(decisions, Instruction)]
    assert verbs == [Verb.STRIKE, Verb.TRAY]
    # A piece that has its name is left alone, and so is one that lies on others.
    on_top = run(load(1, 0, 800), utterance(2, TRAY), load(5, 800, 1980), said, until_s=40)
    assert [d.command.verb for d in only(on_top, Instruction)] == [Verb.TRAY]
    piece = run(utterance(4, LEFT["loin"]), load(5, 0, 1180), said, until_s=40)
    assert not only(piece, Instruction)


def murmured(end_s: float, *readings: tuple[Call | Command, float]) -> Utterance:
    """Something said, of which hardly anything was heard."""
    return refused(end_s, *(readings or ((call("kidney"), 0.01),)))


DUE = (LEFT["haunch"], call("haunch", "right"), LEFT["flank"], LEFT["loin"])


def test_a_reply_that_was_not_understood_has_the_one_cut_offered_that_weighs_this() -> None:
    """Of two sides the one that was heard; yes takes it, and nothing is ever entered without."""
    larder = StatedCarcass(usual_g=USUAL_G, due=DUE)
    begun = (load(5, 0, 4300), murmured(12, (call("rump", "right"), 0.01), (call("kidney"), 0.004)))
    ignored = run(*begun, larder=larder, until_s=60)
    what, offered = only(ignored, Question)
    assert what.kind is QuestionKind.WHAT_WAS_THAT
    assert (offered.kind, offered.options) == (QuestionKind.CONFIRM, (call("haunch", "right"),))
    assert named(ignored) == [("?", 4300)]
    taken = run(*begun, utterance(15, Answer.YES), larder=larder, until_s=60)
    assert named(taken) == [("right haunch", 4300)]
    # By sound it was none: the entry says so.
    assert [d.confidence for d in only(taken, PieceWeighed)] == [0.0]
    # Denied it waits for its name as before, and nothing is offered a second time.
    denied = run(*begun, utterance(15, Answer.NO), murmured(22), larder=larder, until_s=60)
    assert len(only(denied, Question)) == 2
    assert named(denied) == [("?", 4300)]


def test_where_nothing_by_plan_weighs_this_nothing_is_offered() -> None:
    larder = StatedCarcass(usual_g=USUAL_G, due=DUE, containers={"bench": 800_000})
    decisions = run(load(5, 800, 800 + 90_000), murmured(12), larder=larder, until_s=60)
    assert [q.kind for q in only(decisions, Question)] == [QuestionKind.WHAT_WAS_THAT]


@pytest.mark.parametrize("said_s", [12.0, 17.4])
def test_of_the_first_load_on_a_bare_pan_the_tray_is_asked(said_s: float) -> None:
    larder = StatedCarcass(usual_g=USUAL_G, due=DUE)
    said = (murmured(said_s), utterance(said_s + 5, Answer.YES))
    decisions = run(load(5, 0, 1180), *said, larder=larder, until_s=60)
    assert [q.kind for q in only(decisions, Question)] == [QuestionKind.WHAT_WAS_THAT, QuestionKind.TRAY]
    assert [d.reason for d in only(decisions, LoadPassed)] == [PassingReason.CONTAINER]


@pytest.mark.parametrize("said_s", [7.0, 12.0])
def test_a_cough_is_no_reply(said_s: float) -> None:
    larder = StatedCarcass(usual_g=USUAL_G, due=DUE)
    cough = replace(murmured(said_s), start_ns=murmured(said_s).end_ns - 300_000_000)
    decisions = run(load(5, 0, 4300), cough, larder=larder, until_s=60)
    assert [q.kind for q in only(decisions, Question)] == [QuestionKind.WHAT_WAS_THAT]


def offers(decisions: list[Any]) -> list[tuple[QuestionKind, tuple[Call, ...]]]:
    return [(each.kind, each.options) for each in only(decisions, Question)]


def test_what_was_said_beside_a_weight_and_not_understood_has_the_one_cut_that_weighs_it_offered() -> None:
    larder = StatedCarcass(usual_g=USUAL_G, due=DUE, containers={"bench": 900_000})
    laid = load(5, 900, 900 + 4300)
    decisions = run(laid, murmured(7), utterance(13, Answer.YES), larder=larder, until_s=30)
    assert offers(decisions) == [(QuestionKind.CONFIRM, (LEFT["haunch"],))]
    assert named(decisions) == [("left haunch", 4300)]
    denied = run(laid, murmured(7), utterance(13, Answer.NO), larder=larder, until_s=40)
    assert [kind for kind, _ in offers(denied)] == [QuestionKind.CONFIRM, QuestionKind.WHAT_WAS_THAT]


def test_with_nothing_said_beside_it_or_something_understood_since_nothing_is_offered() -> None:
    larder = StatedCarcass(usual_g=USUAL_G, due=DUE, containers={"bench": 900_000})
    laid = load(25, 900, 900 + 4300)
    for said in ([], [murmured(9)], [murmured(20), command(22, Verb.TOTAL)]):
        decisions = run(*said, laid, larder=larder, until_s=40)
        assert offers(decisions) == [(QuestionKind.WHAT_WAS_THAT, ())]


def test_of_the_first_load_of_which_something_was_said_the_tray_is_asked_at_once() -> None:
    larder = StatedCarcass(usual_g=USUAL_G, due=DUE)
    decisions = run(murmured(3), load(5, 0, 1180), utterance(13, Answer.YES), larder=larder, until_s=30)
    assert offers(decisions) == [(QuestionKind.TRAY, ())]
    assert [d.reason for d in only(decisions, LoadPassed)] == [PassingReason.CONTAINER]


def test_a_thud_that_the_gate_let_through_names_no_piece() -> None:
    """ "Bone", short and none too sure, just as the piece lands; a sure one is a call."""
    larder = StatedCarcass(usual_g=USUAL_G | {"bone": 3000}, due=DUE, planned={"haunch"})
    for confidence, expected in ((0.65, []), (0.95, [("bone", 4300)])):
        thud = utterance(5.2, call("bone"), confidence=confidence)
        thud = replace(thud, start_ns=thud.end_ns - 500_000_000)
        decisions = run(thud, load(6, 0, 4300), larder=larder, until_s=8.7)
        assert named(decisions) == expected


def test_a_clear_call_after_an_offer_names_the_weight_as_it_would_after_what_was_that() -> None:
    larder = StatedCarcass(usual_g=USUAL_G)
    offer = (refused(2, (LEFT["loin"], 0.04)), load(5, 0, 900))
    decisions = run(*offer, utterance(12, call("neck")), larder=larder, until_s=40)
    assert [q.options for q in only(decisions, Question)] == [(LEFT["loin"],)]
    assert named(decisions) == [("neck", 900)]


def test_a_question_waits_until_nothing_was_said_for_a_while() -> None:
    """The second of two calls may follow: it is not talked into."""
    larder = StatedCarcass()
    begun = (load(5, 0, 2000), load(7, 2000, 3000))
    quiet = run(*begun, until_s=10, larder=larder)
    assert only(quiet, Question)[0].t_ns < from_seconds(9.6)
    talk = murmured(8.5)
    spoken = run(*begun, talk, until_s=20, larder=larder)
    assert only(spoken, Question)[0].t_ns >= talk.end_ns + PairingSettings().pause_ns


def test_what_was_hardly_heard_of_the_first_of_two_keeps_its_turn() -> None:
    """Two laid down, then two called, the first one drowned: the second call is for the second piece."""
    drowned = refused(7.6, (LEFT["loin"], 0.1), (LEFT["flank"], 0.05))
    clear = utterance(9, LEFT["rump"])
    decisions = run(load(5, 0, 1500), load(6.4, 1500, 3000), drowned, clear, until_s=13)
    assert [d.change.after.value_mg for d in only(decisions, PieceWeighed)] == [3_000_000]
    assert named(decisions) == [("left rump", 1500)]
