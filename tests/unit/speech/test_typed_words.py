"""The typed-words engine: exact, silent on anything else."""

import numpy as np
import pytest

from handsfree.errors import GrammarError
from handsfree.speech.grammar import Grammar
from handsfree.speech.meaning import Call, Side
from handsfree.speech.parser import meaning_of
from handsfree.speech.ports import Recogniser
from handsfree.speech.typed import TypedRecogniser, decode, encode
from handsfree.testing.shipped_words import shipped_vocabulary


def typed(engine: Recogniser, text: str, chunk: int = 5) -> list[str]:
    samples = np.concatenate([np.zeros(7, np.int16), encode(text), np.zeros(3, np.int16)])
    engine.begin()
    for start in range(0, len(samples), chunk):
        engine.feed(samples[start : start + chunk])
    return [hypothesis.text for hypothesis in engine.finish().hypotheses]


def test_text_survives_as_samples() -> None:
    samples = encode("어깨 left")
    assert samples.dtype == np.int16
    assert decode(samples) == "어깨 left"
    assert decode(np.array([-3, 0, 104, 105, 30000], np.int16)) == "hi"


def test_a_phrase_is_heard_with_its_meaning_and_full_confidence() -> None:
    engine = TypedRecogniser()
    engine.use(shipped_vocabulary().listening())
    engine.begin()
    engine.feed(encode("Left  Haunch."))
    heard = engine.finish()
    assert heard.confidence == 1.0
    assert [(h.text, h.meaning) for h in heard.hypotheses] == [("left haunch", Call("haunch", Side.LEFT))]


def test_chunks_and_silence_do_not_matter_and_nothing_is_left_over() -> None:
    engine = TypedRecogniser()
    engine.use(shipped_vocabulary().listening())
    assert [typed(engine, "ledger tag 417", chunk) for chunk in (1, 2, 50)] == [
        ["ledger tag four one seven"]
    ] * 3
    assert typed(engine, "") == []
    assert typed(engine, "left haunch") == ["left haunch"]


def test_anything_else_is_not_heard() -> None:
    engine = TypedRecogniser()
    engine.use(shipped_vocabulary().listening())
    assert typed(engine, "lovely weather") == []
    assert typed(engine, "yes") == []
    engine.use(shipped_vocabulary().answering())
    assert typed(engine, "yes") == ["yes"]
    assert engine.missing_words(["zzyx"]) == []


def test_without_a_grammar_it_says_so() -> None:
    engine = TypedRecogniser()
    with pytest.raises(GrammarError, match="No grammar was given"):
        engine.finish()


def test_a_plain_list_is_heard_without_a_meaning() -> None:
    grammar = Grammar.from_phrases("list", ["left", "right"])
    engine = TypedRecogniser()
    engine.use(grammar)
    engine.begin()
    engine.feed(encode("left"))
    assert engine.finish().hypotheses[0].meaning is None
    assert meaning_of(grammar, "left") is None
