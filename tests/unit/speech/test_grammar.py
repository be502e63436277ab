"""Grammars: keys, states, taking branches out, plain lists."""

import pytest

from handsfree.speech.grammar import Grammar
from handsfree.speech.meaning import YES_NO, Answer, Call, Command, Side, Verb
from handsfree.testing.shipped_words import shipped_vocabulary


def test_keys_name_the_branch_of_a_phrase() -> None:
    grammar = shipped_vocabulary().everything()
    keys = {
        "left haunch": "call:haunch",
        "two haunches for dice": "call:haunch",
        "same again": "call:same again",
        "ledger scratch that": "command:strike",
        "ledger that was left haunch": "command:that was:haunch",
        "ledger fallow buck": "command:describe:fallow buck",
        "ledger note bruised": "command:note:bruised",
        "ledger dressed weight forty": "command:dressed weight",
        "yes please": "answer:yes",
    }
    assert {phrase: grammar.key_of(phrase) for phrase in keys} == keys
    assert grammar.key_of("left carrot") is None


def test_taking_out_a_call_leaves_the_same_cut_in_a_correction() -> None:
    grammar = shipped_vocabulary().listening().without({"call:haunch"})
    assert grammar is not None
    assert not grammar.contains("left haunch")
    assert not grammar.contains("two haunches")
    assert grammar.contains("ledger that was left haunch")


def test_taking_out_a_parent_takes_everything_below_it() -> None:
    grammar = shipped_vocabulary().listening().without({"call", "command:that was"})
    assert grammar is not None
    assert not grammar.contains("neck")
    assert not grammar.contains("ledger that was neck")
    assert grammar.contains("ledger strike that")


def test_taking_out_everything_leaves_nothing() -> None:
    grammar = shipped_vocabulary().everything()
    assert grammar.without(grammar.keys()) is None
    assert grammar.without(()) == grammar


def test_yes_and_no_are_only_heard_while_a_question_is_open() -> None:
    vocabulary = shipped_vocabulary()
    assert not vocabulary.listening().contains("yes")
    assert vocabulary.answering((), YES_NO).parse("yes") == (Answer.YES,)
    assert not vocabulary.answering((), ()).contains("no")


def test_a_list_is_answered_by_the_number_of_what_was_read_out() -> None:
    vocabulary = shipped_vocabulary()
    of_two = vocabulary.answering((), (Answer.FIRST, Answer.SECOND, Answer.NO))
    assert of_two.parse("number two") == of_two.parse("the second one") == (Answer.SECOND,)
    assert of_two.parse("none of these") == (Answer.NO,)
    assert not of_two.contains("number three")
    assert not of_two.contains("yes")
    assert not vocabulary.listening().contains("number one")


def test_a_question_about_the_side_is_answered_by_the_side_alone() -> None:
    left, right = Call("shank", Side.LEFT), Call("shank", Side.RIGHT)
    grammar = shipped_vocabulary().answering((left, right))
    assert grammar.parse("right") == (right,)
    assert grammar.parse("left shank") == (left,)
    other = shipped_vocabulary().answering((left, Call("flank", Side.LEFT)))
    assert not other.contains("right")
    assert other.parse("left flank") == (Call("flank", Side.LEFT),)


def test_a_resting_recorder_hears_only_what_wakes_it() -> None:
    grammar = shipped_vocabulary().resting()
    assert grammar.parse("ledger wake") == (Command(Verb.WAKE),)
    assert set(grammar.keys()) == {"command:wake"}
    assert not grammar.contains("haunch")


def test_listening_can_be_narrowed_to_some_cuts() -> None:
    grammar = shipped_vocabulary().listening(["haunch", "neck"])
    assert grammar.contains("right haunch")
    assert grammar.contains("neck")
    assert not grammar.contains("shank")
    assert grammar.contains("ledger that was left shank")


def test_a_side_is_said_only_for_a_cut_that_has_sides() -> None:
    grammar = shipped_vocabulary().listening()
    assert not grammar.contains("left mince")
    assert not grammar.contains("left haunch right")
    assert grammar.parse("haunch left") == (Call("haunch", Side.LEFT),)


def test_defaults_are_resolved_from_the_cut_list() -> None:
    vocabulary = shipped_vocabulary()
    assert vocabulary.destination_of(Call("bone")) == "stock"
    assert vocabulary.destination_of(Call("bone", destination="pet")) == "pet"
    assert vocabulary.destination_of(Call("", same_again=True)) == ""
    assert vocabulary.is_sided("haunch")
    assert not vocabulary.is_sided("neck")


@pytest.mark.parametrize("cutlist", ["venison", "lamb"])
def test_the_shares_of_a_plan_leave_room_for_cutting_loss_and_no_more(cutlist: str) -> None:
    # 0.5 to 1.5 % saw dust and drip is common practice, no source; a plan must not promise more
    # than came in, nor leave so much over that a missing joint would not show.
    vocabulary = shipped_vocabulary(cutlist)
    for plan in vocabulary.cutlist.plans:
        shares = [piece.share for piece in plan.pieces]
        assert all(share is not None for share in shares)
        assert 0.975 <= sum(share for share in shares if share) <= 1.0


def test_the_primals_of_fallow_have_the_published_shares() -> None:
    # Massey Univ. MAgrSc thesis 1985 (hdl 10179/14178), fallow bucks, mean share of carcass:
    # neck 12.6, flank 15.4, shoulder 17.8, saddle 15.5, haunch 39.4 %; they add to 100.7 %.
    published = {"neck": 12.6, "flank": 15.4, "shoulder": 17.8, "saddle": 15.5, "haunch": 39.4}
    shares = dict.fromkeys(published, 0.0)
    for piece in shipped_vocabulary().plan("primals").pieces:
        assert piece.share is not None
        shares[piece.cut] += piece.share
    for cut, percent in published.items():
        assert shares[cut] == pytest.approx(percent / 100.7, abs=0.002)


def test_the_block_plan_is_a_whole_carcass_of_about_34_weighings() -> None:
    pieces = shipped_vocabulary().plan("block").pieces
    assert 32 <= len(pieces) <= 36
    both = {Side.LEFT, Side.RIGHT}
    for cut in ("topside", "silverside", "thick flank", "rump", "shank", "loin", "fillet", "shoulder"):
        assert {piece.side for piece in pieces if piece.cut == cut} == both


def test_a_plain_list_keeps_its_phrases_apart() -> None:
    grammar = Grammar.from_phrases("digits", ["One", "two", "one", "twenty-one"])
    assert grammar.words() == ["one", "two", "twenty"]
    assert grammar.key_of("twenty one") == "twenty one"
    rest = grammar.without({"one"})
    assert rest is not None
    assert rest.phrases(9) == ["two", "twenty one"]
    with pytest.raises(ValueError, match="without phrases"):
        Grammar.from_phrases("empty", ["  ", "..."])
