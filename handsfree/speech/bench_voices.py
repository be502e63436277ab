"""Pure: a recogniser that hears whoever is at the bench through that butcher's own voice.

A butcher who comes to the bench says so while the voice of the one before is still listened through,
and a voice's model understands others a little worse. So what it is not sure of is heard once more by
the model as it comes, and taken from there if that is how another butcher comes to the bench.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from handsfree.speech.grammar import Grammar
from handsfree.speech.meaning import Command, Verb
from handsfree.speech.messages import RATE_HZ, Samples
from handsfree.speech.ports import Recogniser, Recognition

SURE = 0.6
"""From this confidence on nobody else is asked: above every threshold of `hearing.Thresholds`."""
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
        ahead: Butchers to make ready for when it is first told who is at the bench.
    """

    def __init__(
        self,
        anybody: Recogniser,
        plain: Recogniser,
        load: Callable[[str], Recogniser | None],
        ahead: Sequence[str] = (),
    ) -> None:
        self._engine = anybody
        self._plain = plain
        self._load = load
        self._ahead = tuple(ahead)
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
        for name in (*self._ahead, butcher):
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
        if self._engine is self._plain or not self._may_be_called or self._grammar is None:
            return recognition
        if recognition.confidence >= SURE or sum(map(len, sound)) > LONGEST_SAMPLES:
            return recognition
        self._plain.use(self._grammar)
        self._plain.begin()
        self._plain.feed(np.concatenate(sound) if sound else np.zeros(0, np.int16))
        other = self._plain.finish(alternatives)
        return other if _calls_a_butcher(other) and other.confidence > recognition.confidence else recognition


def _calls_a_butcher(recognition: Recognition) -> bool:
    meant = recognition.hypotheses[0].meaning if recognition.hypotheses else None
    return isinstance(meant, Command) and meant.verb is Verb.BUTCHER
