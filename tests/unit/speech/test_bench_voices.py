"""Whoever is at the bench is heard through their own voice, and a second one can come to it."""

from __future__ import annotations

import itertools
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handsfree.speech.bench_voices import LONGEST_SAMPLES, BenchRecogniser
from handsfree.speech.grammar import Grammar
from handsfree.speech.hearing import Listener
from handsfree.speech.messages import RATE_HZ, Samples, SpeechPart
from handsfree.speech.parser import hypothesis
from handsfree.speech.ports import Recogniser, Recognition
from handsfree.speech.two_ears import TwoEars
from handsfree.testing.making_sound import tone
from handsfree.testing.scripted_recogniser import ScriptedRecogniser
from handsfree.testing.shipped_words import shipped_vocabulary

SHIPPED = shipped_vocabulary()
GRAMMAR = replace(SHIPPED, commands=replace(SHIPPED.commands, butchers=(1, 2))).listening()
NOBODY_NUMBERED = SHIPPED.listening()
SHORT = tone(1.0)


def sure(text: str, confidence: float) -> Recognition:
    return Recognition((hypothesis(GRAMMAR, text, -1.0),), confidence)


class Bench:
    """Engines told apart by what they hear."""

    def __init__(
        self,
        *,
        morag: str | Recognition = "haunch",
        plain: str | Recognition = "neck",
        iain: str | Recognition = "left shank",
        grammar: Grammar = GRAMMAR,
    ) -> None:
        repeated = {"plain": plain, "Morag": morag, "Iain": iain}
        self.engines = {
            name: ScriptedRecogniser(itertools.repeat(heard, 20)) for name, heard in repeated.items()
        }
        self.loaded: list[str] = []
        plain_engine = self.engines["plain"]
        self.engine = BenchRecogniser(plain_engine, plain_engine, self.load, {1: "Morag", 2: "Iain"})
        self.engine.use(grammar)

    def load(self, name: str) -> Recogniser | None:
        self.loaded.append(name)
        return self.engines.get(name)

    def hear(self, sound: Samples = SHORT) -> Recognition:
        self.engine.begin()
        self.engine.feed(sound)
        return self.engine.finish()

    def text(self, sound: Samples = SHORT) -> str:
        return self.hear(sound).hypotheses[0].text


def test_each_butcher_is_heard_by_their_own_engine_and_one_without_a_voice_by_the_plain_one() -> None:
    bench = Bench()
    heard = []
    for name in ("", "Morag", "Iain", "Aileen", "Morag", ""):
        bench.engine.listen_to(name)
        heard.append(bench.text())
    assert heard == ["neck", "haunch", "left shank", "neck", "haunch", "neck"]


def test_voices_are_made_ready_once_when_it_is_first_told_who_is_there() -> None:
    bench = Bench()
    assert bench.loaded == []  # nothing is loaded for a sound file that is only listened to
    for name in ("", "Iain", "Morag", "Iain", "Aileen", "Aileen"):
        bench.engine.listen_to(name)
    assert bench.loaded == ["Morag", "Iain", "Aileen"]


def test_a_grammar_taken_meanwhile_is_the_new_voices_too() -> None:
    bench = Bench()
    bench.engine.listen_to("Morag")
    bench.engine.use(Grammar.from_phrases("other", ["left shank"]))
    bench.engine.listen_to("Iain")
    bench.hear()
    assert bench.engines["Iain"].heard == [("other", len(SHORT))]


def test_what_the_voice_is_not_sure_of_may_be_another_butcher_coming_to_the_bench() -> None:
    bench = Bench(morag=sure("haunch", 0.3), plain=sure("ledger butcher two", 0.8))
    bench.engine.listen_to("Morag")
    assert bench.text() == "ledger butcher two"


@pytest.mark.parametrize("at_the_bench", ["Morag", "", "Aileen"])
def test_one_far_from_every_other_model_is_vouched_for_by_their_own(at_the_bench: str) -> None:
    unsure, own = sure("ledger butcher two", 0.06), sure("ledger butcher two", 0.8)
    bench = Bench(morag=unsure, plain=unsure, iain=own)
    bench.engine.listen_to(at_the_bench)
    heard = bench.hear()
    assert (heard.hypotheses[0].text, heard.confidence) == ("ledger butcher two", 0.8)


def test_only_the_butcher_who_was_called_is_asked() -> None:
    bench = Bench(
        morag=sure("haunch", 0.3), plain=sure("ledger butcher one", 0.2), iain=sure("ledger butcher two", 0.9)
    )
    bench.engine.listen_to("Morag")
    assert bench.text() == "haunch"
    assert bench.engines["Iain"].heard == []


@pytest.mark.parametrize(
    ("morag", "plain"),
    [
        (sure("haunch", 0.7), sure("ledger butcher two", 0.8)),  # the voice is sure
        (sure("haunch", 0.3), sure("neck", 0.8)),  # no butcher is called
        (sure("haunch", 0.3), sure("ledger butcher two", 0.5)),  # not sure either, and nor is Iain's voice
        (sure("haunch", 0.3), sure("ledger butcher five", 0.5)),
        (sure("haunch", 0.3), Recognition((), 0.0)),
    ],
)
def test_anything_else_stays_as_the_voice_heard_it(morag: Recognition, plain: Recognition) -> None:
    bench = Bench(morag=morag, plain=plain)
    bench.engine.listen_to("Morag")
    assert bench.text() == "haunch"


def test_nothing_is_heard_twice_that_is_talk_or_where_no_butcher_has_a_number() -> None:
    bench = Bench(morag=sure("haunch", 0.3), plain=sure("ledger butcher two", 0.8))
    bench.engine.listen_to("Morag")
    assert bench.text(tone(LONGEST_SAMPLES / RATE_HZ + 0.1)) == "haunch"
    none = Bench(morag=sure("haunch", 0.3), plain=sure("ledger butcher two", 0.8), grammar=NOBODY_NUMBERED)
    none.engine.listen_to("Morag")
    assert none.text() == "haunch"
    assert none.engines["plain"].heard == []


def test_a_second_ear_passes_on_who_is_at_the_bench() -> None:
    first = ScriptedRecogniser()
    TwoEars(first, None, None).listen_to("Iain")  # type: ignore[arg-type]
    assert first.butchers == ["Iain"]


def part(samples: Samples, *, first: bool, last: bool) -> SpeechPart:
    return SpeechPart(0, samples, first=first, last=last, end_ns=1_000_000_000)


@given(st.lists(st.tuples(st.sampled_from(["", "Morag", "Iain"]), st.booleans()), max_size=12))
def test_speech_in_progress_is_heard_as_it_began_and_the_next_by_who_was_named_last(
    told: list[tuple[str, bool]],
) -> None:
    """Names come at any time, before or in the middle of an utterance."""
    bench = Bench()
    listener = Listener(bench.engine, GRAMMAR)
    names, expected, heard = {"": "neck", "Morag": "haunch", "Iain": "left shank"}, [], []
    now = ""
    for name, in_the_middle in told:
        if not in_the_middle:
            listener.listen_to(name)
            now = name
        expected.append(names[now])
        listener.feed(part(SHORT[:4_000], first=True, last=False))
        if in_the_middle:
            listener.listen_to(name)
        heard += [u.hypotheses[0].text for u in listener.feed(part(SHORT[4_000:], first=False, last=True))]
        now = name
    assert heard == expected
