"""A call said while the recorder speaks is the butcher's, when it has words that the recorder did not say."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

import pytest

from handsfree.clerk import Outcome
from handsfree.config import Config
from handsfree.ledger.books import Books
from handsfree.merging import SoundStep, Step
from handsfree.pairing.messages import SpeechRefused
from handsfree.speech.hearing import Listener
from handsfree.speech.messages import SoundFlags
from handsfree.speech.ports import Recognition
from handsfree.speech.typed import TypedRecogniser
from handsfree.testing import bench_scale as bench
from handsfree.testing.memory_store import MemoryStore
from handsfree.testing.typed_session import STARTED_AT, lines, session
from handsfree.wiring import words
from handsfree.wiring.workplace import Occasion, workplace

VOCABULARY = words.vocabulary(Config())
OVER_S = 12.5
"""While "left shoulder" is read back."""


class Unsure(TypedRecogniser):
    """As sure of everything as it is told to be."""

    def __init__(self, sure: float) -> None:
        super().__init__()
        self._sure = sure

    def finish(self, alternatives: int = 3) -> Recognition:
        """The words, at that confidence."""
        return replace(super().finish(alternatives), confidence=self._sure)


def over_the_answer(steps: Iterable[Step], also: SoundFlags) -> Iterator[Step]:
    """The recorder is heard from within the word on, not from before it as what is replied to."""
    for step in steps:
        if isinstance(step, SoundStep) and step.parts and step.parts[0].start_ns == int(OVER_S * 1e9):
            (said,) = step.parts
            before = replace(said, samples=said.samples[:0], last=False)
            word = replace(said, first=False, flags=SoundFlags.OWN_VOICE | also)
            yield replace(step, parts=(before, word))
        else:
            yield step


def worked(
    said_over: str,
    sure: float = 1.0,
    also: SoundFlags = SoundFlags.NONE,
    second_g: float | None = 2100,
    first: str = "left shoulder",
    earlier: str = "",
) -> tuple[list[str], list[Outcome]]:
    """The pieces, when this is said over the read-back of the first and a second is laid down or none."""
    store = MemoryStore()
    listener = Listener(Unsure(sure), VOCABULARY.listening())
    occasion = Occasion("live", STARTED_AT, "typed words")
    place = workplace(Config(), store, VOCABULARY, occasion, scales={}, listener=listener)
    talk = [(1.0, "ledger new carcass"), (6.0, first), (OVER_S, said_over)]
    talk += [(2.5, earlier)] if earlier else []
    before = [bench.Put(4, 1500)] if earlier else []
    second = [] if second_g is None else [bench.Put(15, second_g)]
    pan = lines("bench", [*before, bench.Put(8, 2000), *second], 40)
    outcomes = []
    for step in over_the_answer(session(sorted(talk), pan, until_s=40), also):
        for outcome in place.recorder.take(step):
            place.replies.to(outcome)  # as every session does
            outcomes.append(outcome)
    outcomes += place.recorder.finish("test")
    carcass = list(Books(store.entries()).carcasses.values())[-1]
    return [piece.words() for piece in carcass.standing()], outcomes


def test_another_cut_called_over_the_read_back_names_the_next_piece() -> None:
    assert worked("neck")[0] == ["left shoulder", "neck"]
    assert worked("neck for pet", first="left shoulder for stock")[0] == ["left shoulder", "neck"]


@pytest.mark.parametrize("said_over", ["right shoulder", "left haunch"])
def test_what_shares_a_word_with_the_answer_names_a_piece_that_weighs_so(said_over: str) -> None:
    assert worked(said_over)[0] == ["left shoulder", said_over]


@pytest.mark.parametrize("said_over", ["right shoulder", "left haunch"])
def test_what_shares_a_word_with_the_answer_needs_a_weight(said_over: str) -> None:
    pieces, outcomes = worked(said_over, second_g=None)
    assert pieces == ["left shoulder"]
    assert [o.cause.why for o in outcomes if isinstance(o.cause, SpeechRefused)] == [
        "does not sound like any phrase"
    ]


def test_what_has_no_word_but_the_answers_may_be_the_answer_itself() -> None:
    pieces, outcomes = worked("left shoulder")
    assert pieces == ["left shoulder", "unnamed"]
    assert [o.cause.why for o in outcomes if isinstance(o.cause, SpeechRefused)] == [
        "the recorder's own voice"
    ]


def test_words_of_several_answers_do_not_make_the_answer_of_a_call() -> None:
    """What was answered is "right flank" and "left shoulder": "right shoulder" is neither of them."""
    pieces, _ = worked("right shoulder", earlier="right flank")
    assert pieces == ["right flank", "left shoulder", "right shoulder"]


def test_what_is_not_heard_surely_is_not_believed_over_an_answer() -> None:
    assert worked("neck", 0.8)[0] == ["left shoulder", "unnamed"]


def test_what_lacks_sound_is_not_believed_over_an_answer_either() -> None:
    assert worked("neck", also=SoundFlags.GAP)[0] == ["left shoulder", "unnamed"]
