"""What is being said is heard out before anything is asked, however little it stands out of the noise."""

from __future__ import annotations

from dataclasses import replace

from handsfree.clerk import Outcome
from handsfree.clock import from_seconds, seconds
from handsfree.config import Config
from handsfree.merging import SoundStep, in_order
from handsfree.pairing.messages import Question
from handsfree.speech.hearing import Listener
from handsfree.speech.typed import TypedRecogniser
from handsfree.testing import bench_scale as bench
from handsfree.testing.memory_store import MemoryStore
from handsfree.testing.typed_session import STARTED_AT, lines, said, silence
from handsfree.wiring import words
from handsfree.wiring.workplace import Occasion, workplace

VOCABULARY = words.vocabulary(Config())
BEGUN_S, OVER_S = 11.0, 13.0


def asked_at_s(*, drawn_out: bool) -> list[float]:
    """When something was asked about a load of 7 s, called at 13 s in a segment that began earlier or not."""
    listener = Listener(TypedRecogniser(), VOCABULARY.listening())
    occasion = Occasion("live", STARTED_AT, "typed words")
    place = workplace(Config(), MemoryStore(), VOCABULARY, occasion, scales={}, listener=listener)
    talk = [said(1.0, "ledger new carcass"), said(3.0, "ledger dressed weight twenty kilos")]
    (word,) = said(OVER_S, "neck").parts
    begun = SoundStep(from_seconds(BEGUN_S), (replace(word, samples=word.samples[:0], last=False),))
    over = SoundStep(word.end_ns, (replace(word, first=not drawn_out),))
    call = [begun, over] if drawn_out else [over]
    pan = lines("bench", [bench.Put(6.5, 2000)], 40)
    outcomes: list[Outcome] = []
    for step in in_order(talk, call, silence(40), pan):
        outcomes += place.recorder.take(step)
    return [seconds(o.cause.t_ns) for o in outcomes if isinstance(o.cause, Question)]


def test_a_question_is_not_asked_into_a_word() -> None:
    (asked_s,) = asked_at_s(drawn_out=False)
    assert BEGUN_S < asked_s < OVER_S
    assert asked_at_s(drawn_out=True) == []
