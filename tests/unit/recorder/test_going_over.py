"""Pieces without a name are asked about before the close: spoken, answered, in the ledger, in the balance."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest

from handsfree.carcass_in_hand import BooksInHand, CarcassFacts
from handsfree.clock import from_seconds
from handsfree.config import AnswerSettings, Config
from handsfree.ledger.books import Books, CarcassState, Piece
from handsfree.pairing.messages import Instruction
from handsfree.speech.hearing import Listener
from handsfree.speech.meaning import Call, Command, Verb
from handsfree.speech.typed import TypedRecogniser
from handsfree.testing.ledger_entries import POSTED_AT, piece
from handsfree.testing.memory_store import MemoryStore
from handsfree.testing.typed_session import STARTED_AT, session
from handsfree.wiring import words
from handsfree.wiring.workplace import Occasion, Workplace, workplace

#: A fallow buck of 40 kg cut to primals; the shares are the cut list's (Massey Univ. thesis 1985).
NAMED = {
    "left haunch": 7.84, "right haunch": 7.84, "right shoulder": 3.54, "saddle": 6.16,
    "left flank": 3.04, "right flank": 3.04, "neck": 4.72,
}  # fmt: skip
SHOULDER_KG = 3.56
A_KNIFE_KG = 0.21


def larder(*nameless_kg: float, config: Config | None = None, **heard: Any) -> Workplace:
    """A bench with all primals but the left shoulder named, and weights that have no name."""
    store, config = MemoryStore(), config or Config()
    facts = CarcassFacts("417", "fallow", "buck", Decimal("40.0"), "off", "cold")
    vocabulary = words.vocabulary(config)
    listener = Listener(TypedRecogniser(), vocabulary.listening())
    occasion = Occasion("live", STARTED_AT, "typed words", carcass=facts, plan="primals")
    place = workplace(config, store, vocabulary, occasion, scales={}, listener=listener)
    named = [
        piece(1, cut, round(kg * 1e6), side=side)
        for side, _, cut, kg in ((*name.rpartition(" "), kg) for name, kg in NAMED.items())
    ]
    unnamed = [replace(piece(1, "", round(kg * 1e6)), **heard) for kg in nameless_kg]
    for entry in store.append([*unnamed, *named], session="s", t_ns=0, posted_at=POSTED_AT):
        place.books.apply(entry)
    return place


def say(place: Workplace, texts: Sequence[str], *, rest_s: float = 30.0, start_s: float = 1.0) -> list[str]:
    """What is answered to these phrases, five seconds apart, and in the time after them."""
    talk = [(start_s + 5 * n, text) for n, text in enumerate(texts)]
    answered = []
    for step in session(talk, until_s=start_s + 5 * len(texts) + rest_s):
        for outcome in place.recorder.take(step):
            answered += [saying.text for saying in place.replies.to(outcome)]
    return answered


def pieces(books: Books) -> list[Piece]:
    return list(books.carcasses[1].pieces.values())


def test_the_weight_without_a_name_is_offered_as_what_is_missing_and_is_in_the_balance_by_its_name() -> None:
    place = larder(SHOULDER_KG)
    asked, named, closed = say(place, ["ledger close carcass", "yes"])
    assert asked == "no name, three point five six. left shoulder, yes or no?"
    assert named == "left shoulder"
    assert closed.startswith("carcass four one seven closed.")
    (first, *_) = pieces(place.books)
    assert (first.words(), first.destination, first.renamed) == ("left shoulder", "prime", True)
    assert place.books.carcasses[1].state is CarcassState.CLOSED
    closing = place.books.carcasses[1].closing
    assert closing is not None
    assert "unnamed" not in closing.sentence


def test_a_weight_that_was_no_piece_is_struck() -> None:
    place = larder(A_KNIFE_KG)
    asked, struck, _ = say(place, ["ledger close carcass", "ledger strike that"])
    assert asked.startswith("no name, two one zero grams.")
    assert struck == "struck, unnamed, two one zero grams"
    assert [each.words() for each in pieces(place.books) if each.struck] == ["unnamed"]
    assert pieces(place.books)[-1].words() == "neck", "the last piece stands"


def test_left_alone_it_is_listed_at_the_close() -> None:
    place = larder(SHOULDER_KG)
    asked, closed = say(place, ["ledger close carcass"])
    assert asked.startswith("no name")
    assert "closed" in closed
    assert not pieces(place.books)[0].named


def test_it_is_asked_once_more_after_the_carcass_was_taken_up_again() -> None:
    place = larder(SHOULDER_KG)
    say(place, ["ledger close carcass"])
    _, asked, named, _ = say(
        place, ["ledger resume four one seven", "ledger close carcass", "yes"], start_s=40
    )
    assert asked.startswith("no name")
    assert named == "left shoulder"


def test_the_settings_leave_it_out() -> None:
    place = larder(SHOULDER_KG, config=Config(answers=AnswerSettings(go_over=False)))
    (closed,) = say(place, ["ledger close carcass"])
    assert "closed" in closed


@pytest.mark.parametrize(
    ("phrase", "call"),
    [("left flank", "left flank"), ("ledger that was saddle", "saddle"), ("ledger read back", None)],
)
def test_what_was_heard_of_it_is_read_from_the_ledger(phrase: str, call: str | None) -> None:
    reading = {"name": "x", "heard": phrase, "sound": -0.5, "plan": 0.0, "weight": 0.0, "probability": 0.6}
    place = larder(SHOULDER_KG, readings=(reading,))
    vocabulary = words.vocabulary(Config())
    (found,) = BooksInHand(place.books, place.plans, vocabulary).nameless()
    assert (found.piece, found.mass_mg) == (pieces(place.books)[0].seq, round(SHOULDER_KG * 1e6))
    assert [(heard.words(), sound) for heard, sound in found.heard] == ([(call, -0.5)] if call else [])


@pytest.mark.parametrize("verb", [Verb.STRIKE, Verb.THAT_WAS])
def test_a_piece_that_was_struck_meanwhile_is_left_as_it_is(verb: Verb) -> None:
    place = larder(SHOULDER_KG)
    say(place, ["ledger close carcass", "ledger strike that"])
    say(place, ["ledger resume four one seven"], start_s=40)
    seq = pieces(place.books)[0].seq
    outcome = place.clerk.carry_out(
        Instruction(from_seconds(50), Command(verb, call=Call("neck")), "", piece=seq)
    )
    assert (outcome.refused, outcome.entries) == ("that piece is struck", ())
