"""Invented carcasses: they add up, every call is a phrase of the grammar, and the seed decides."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from handsfree.errors import SessionError
from handsfree.speech.meaning import Call
from handsfree.speech.parser import meaning_of
from handsfree.testing.rehearsal.invention import Larder, invent, pieces_from_rows
from handsfree.testing.rehearsal.scenario import Say, Speaker
from handsfree.testing.rehearsal.telling import Cast, Faults, Habits, Room, tell
from handsfree.testing.shipped_words import shipped_vocabulary

VENISON = shipped_vocabulary("venison")
GRAMMAR = VENISON.listening()
CAST = Cast(Speaker("flite", "rms"), [Speaker("flite", "slt", -8.0)])


@given(st.integers(0, 10_000), st.sampled_from(["primals", "block"]))
@settings(max_examples=25, deadline=None)
def test_pieces_and_process_loss_add_up_to_the_dressed_weight(seed: int, plan: str) -> None:
    carcass = invent(Larder(VENISON, plan, process_loss=0.004), np.random.default_rng(seed))
    # Scraps below 60 g are not weighed: at most a few of them.
    assert sum(piece.mass_g for piece in carcass.pieces) == pytest.approx(0.996 * carcass.dressed_g, abs=400)


@given(st.integers(0, 10_000))
@settings(max_examples=25, deadline=None)
def test_every_call_is_a_phrase_that_means_its_piece(seed: int) -> None:
    larder = Larder(VENISON, "block", aliases=0.6, destinations=0.4)
    before = None
    for piece in invent(larder, np.random.default_rng(seed)).pieces:
        said = meaning_of(GRAMMAR, piece.words())
        assert isinstance(said, Call), piece.words()
        call = before if said.same_again else said
        assert call is not None
        assert (call.cut, call.side or "", call.count) == (piece.cut, piece.side, piece.count)
        assert VENISON.destination_of(call) == piece.destination
        before = call


def story(seed: int, **habits: float):
    carcass = invent(Larder(VENISON, "primals"), np.random.default_rng(seed))
    return tell(carcass, CAST, habits=Habits(**habits), room=Room(chatter=0.5), faults=Faults(), seed=seed)


@given(st.integers(0, 10_000), st.floats(0, 1))
@settings(max_examples=25, deadline=None)
def test_every_story_can_be_played(seed: int, batches: float) -> None:
    assert story(seed, in_batches=batches).faults() == []


def test_the_seed_decides_the_story() -> None:
    assert story(7) == story(7)
    assert story(7) != story(8)


def test_habits_decide_when_the_name_is_said() -> None:
    def leads(calls_first: float) -> list[bool]:
        told = story(5, calls_first=calls_first, while_placing=0.0, strikes=0.0, corrects=0.0)
        said = [act.at_s for act in told.said() if act.to_recorder and "ledger" not in act.text]
        laid = [row.seconds for row in told.truth if row.event == "piece"]
        return [call < load for call, load in zip(said, laid, strict=True)]

    assert all(leads(1.0))
    assert not any(leads(0.0))


def test_a_piece_that_goes_missing_is_neither_called_nor_laid_down() -> None:
    carcass = invent(Larder(VENISON, "primals"), np.random.default_rng(1))
    told = tell(carcass, CAST, faults=Faults(missing=1.0), seed=1)
    assert {row.event for row in told.truth} >= {"missing"}
    assert not [row for row in told.truth if row.event == "piece"]
    assert [
        act.text for act in told.acts if isinstance(act, Say) and "ledger" not in act.text and act.to_recorder
    ] == []


def test_a_table_of_pieces_is_taken_as_it_stands() -> None:
    rows = [
        {"cut": "haunch", "side": "left", "net_g": "4100"},
        {"cut": "neck", "net_g": "900", "destination": "pet", "said": "neck for pet"},
    ]
    first, second = pieces_from_rows(rows, VENISON, "pieces.csv")
    assert (first.said, first.destination, first.mass_g) == ("left haunch", "prime", 4100.0)
    assert (second.said, second.destination) == ("neck for pet", "pet")


def test_a_count_in_a_table_is_called_in_words() -> None:
    (chops,) = pieces_from_rows(
        [{"cut": "double chops", "count": "4", "net_g": "600"}], VENISON, "pieces.csv"
    )
    assert chops.said == "four double chops"
    assert GRAMMAR.contains(chops.said)


@pytest.mark.parametrize(
    ("row", "sentence"),
    [
        ({"cut": "wing", "net_g": "100"}, "line 2: 'wing' is not on the venison list"),
        ({"cut": "neck", "net_g": "much"}, "line 2: the side, count or net_g cannot be read"),
        ({"cut": "neck", "net_g": "nan"}, "is no weight of a piece"),
        ({"cut": "neck", "net_g": "900", "said": "nick of thyme"}, "'nick of thyme' is no phrase"),
    ],
)
def test_a_table_that_cannot_be_used_says_which_line(row: dict[str, str], sentence: str) -> None:
    with pytest.raises(SessionError, match=sentence):
        pieces_from_rows([row], VENISON, "pieces.csv")
