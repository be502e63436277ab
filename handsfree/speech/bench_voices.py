"""Pure: a recogniser that hears whoever is at the bench through that butcher's own voice.

A butcher who comes to the bench says so while the voice of the one before is still listened through,
and a voice's model understands others a little worse. So what it is not sure of is heard once more by
the model as it comes, and where either heard a butcher called, by that butcher's own voice: nobody else
knows it better. What they are sure of is taken if it calls that butcher.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import numpy as np

from handsfree.speech.grammar import Grammar
from handsfree.speech.meaning import Command, Verb
from handsfree.speech.messages import RATE_HZ, Samples
from handsfree.speech.ports import Recogniser, Recognition

SURE = 0.6
"""From this confidence on nobody else is asked, and another is believed: no threshold of
`hearing.Thresholds` is higher."""
LONGEST_SAMPLES = 5 * RATE_HZ // 2
"""Longer than this is talk, not "ledger butcher two"."""


_CALLING = f"command:{Verb.BUTCHER.value}:"
"""How the branches of the grammar begin that call a butcher."""


class BenchRecogniser:
    """A `Recogniser` with an engine for each butcher.

    Args:
        anybody: Used while nobody is named.
        plain: The model as it comes: for butchers whose voice was not read in.
        load: Makes the engine of a butcher's voice; None for one whose voice was not read in.
        numbers: Butchers by number; they are made ready for when it is first told who is at the bench.
    """

    def __init__(
        self,
        anybody: Recogniser,
        plain: Recogniser,
        load: Callable[[str], Recogniser | None],
        numbers: Mapping[int, str] | None = None,
    ) -> None:
        self._engine = anybody
        self._plain = plain
        self._load = load
        self._numbers = dict(numbers or {})
        self._engines: dict[str, Recogniser] = {"": anybody}
        self._grammar: Grammar | None = None
        self._may_be_called = False
        self._sound: list[Samples] = []

    @property
    def name(self) -> str:
        """The engine in use."""
        return self._engine.name

    def missing_words(self, words: Sequence[str]) -> list[str]:
        """Those of `words` the engine cannot pronounce, in the order given."""
        return self._engine.missing_words(words)

    def listen_to(self, butcher: str) -> None:
        """Hear this butcher from the next `begin` on; an empty name is anybody.

        Raises:
            ModelError: A voice's model cannot be loaded.
        """
        for name in (*self._numbers.values(), butcher):
            if name not in self._engines:
                self._engines[name] = self._load(name) or self._plain
                if self._grammar is not None:  # compiled now, it is only swapped in later
                    self._engines[name].use(self._grammar)
        self._engine = self._engines[butcher]
        if self._grammar is not None:
            self._engine.use(self._grammar)

    def use(self, grammar: Grammar) -> None:
        """See `Recogniser.use`."""
        if grammar is not self._grammar:
            self._grammar = grammar
            branches = grammar.keys()
            self._may_be_called = any(branch.startswith(_CALLING) for branch in branches)
        self._engine.use(grammar)

    def begin(self) -> None:
        """See `Recogniser.begin`."""
        self._sound = []
        self._engine.begin()

    def feed(self, samples: Samples, captured: Samples | None = None) -> None:
        """See `Recogniser.feed`."""
        self._sound.append(samples)
        self._engine.feed(samples, captured)

    def finish(self, alternatives: int = 3) -> Recognition:
        """See `Recogniser.finish`."""
        recognition = self._engine.finish(alternatives)
        sound, self._sound = self._sound, []
        if not self._may_be_called or recognition.confidence >= SURE:
            return recognition
        if sum(map(len, sound)) > LONGEST_SAMPLES:
            return recognition
        whole = np.concatenate(sound) if sound else np.zeros(0, np.int16)
        return self._called(whole, recognition, alternatives) or recognition

    def _called(self, sound: Samples, heard: Recognition, alternatives: int) -> Recognition | None:
        """The calling of a butcher that this is for sure; None when nobody is sure of one."""
        heard_by: dict[int, Recognition] = {id(self._engine): heard}

        def by(engine: Recogniser) -> Recognition:
            if id(engine) not in heard_by:
                heard_by[id(engine)] = self._heard(engine, sound, alternatives)
            return heard_by[id(engine)]

        first = by(self._plain)
        if _butcher(first) and first.confidence >= SURE:
            return first
        for number in dict.fromkeys((_butcher(heard), _butcher(first))):
            own = self._engines.get(self._numbers.get(number, ""))
            if own is not None and number:
                second = by(own)
                if _butcher(second) == number and second.confidence >= SURE:
                    return second
        return None

    def _heard(self, engine: Recogniser, sound: Samples, alternatives: int) -> Recognition:
        if self._grammar is not None:
            engine.use(self._grammar)
        engine.begin()
        engine.feed(sound)
        return engine.finish(alternatives)


def _butcher(recognition: Recognition) -> int:
    """The number of the butcher that its best reading calls, 0 for anything else."""
    meant = recognition.hypotheses[0].meaning if recognition.hypotheses else None
    return meant.butcher if isinstance(meant, Command) and meant.verb is Verb.BUTCHER else 0
