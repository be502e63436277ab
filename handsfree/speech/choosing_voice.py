"""Pure: a recogniser that finds out from the first utterances whose voice it hears, and then uses theirs.

Each utterance that was understood is laid over its words and its likelihood taken under every known
voice's model, against the model as it comes. The voice that leads clearly over all utterances so far
is used from then on; when none does, the model as it comes stays.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import numpy as np

from handsfree.speech.grammar import Grammar
from handsfree.speech.messages import Samples
from handsfree.speech.ports import Recogniser, Recognition

LEAST_CONFIDENCE = 0.5
"""An utterance understood with less says nothing about who spoke."""
FEWEST = 2
"""Utterances before a voice is chosen."""
MOST = 6
"""Utterances after which no voice is looked for any more."""
LEAST_LEAD = 1.0
"""Natural log likelihood per frame that a voice must be ahead of the next and of the model as it comes.
On development voices a voice's own model was ahead by 3.3 to 9.3, other people's by up to 0.8 (two
voices of one synthesiser: 7); measured by tests/benchmarks/hearing/enrolment.py."""

Marks = Mapping[str, float]
"""Voice -> natural log likelihood per frame over that of the model as it comes."""


class ChoosingRecogniser:
    """A `Recogniser` that begins with one engine and goes on with the speaker's own.

    Args:
        first: Used until a voice is chosen, and for good when none is.
        marks: Judges an utterance (denoised sound, its words) against the known voices.
        load: Makes the engine of a voice.
        chosen: Told the name of the voice when it is chosen.
    """

    def __init__(
        self,
        first: Recogniser,
        marks: Callable[[Samples, str], Marks],
        load: Callable[[str], Recogniser],
        chosen: Callable[[str], None] = lambda _name: None,
    ) -> None:
        self._engine = first
        self._marks = marks
        self._load = load
        self._tell = chosen
        self._grammar: Grammar | None = None
        self._sound: list[Samples] = []
        self._totals: dict[str, float] = {}
        self._judged = 0
        self.voice: str | None = None
        """The voice in use, None while the model as it comes is."""

    @property
    def name(self) -> str:
        """The engine in use."""
        return self._engine.name

    def missing_words(self, words: Sequence[str]) -> list[str]:
        """Those of `words` the engine cannot pronounce, in the order given."""
        return self._engine.missing_words(words)

    def listen_to(self, butcher: str) -> None:
        """See `Recogniser.listen_to`: who speaks is found out here."""

    def use(self, grammar: Grammar) -> None:
        """See `Recogniser.use`."""
        self._grammar = grammar
        self._engine.use(grammar)

    def begin(self) -> None:
        """See `Recogniser.begin`."""
        self._sound = []
        self._engine.begin()

    def feed(self, samples: Samples, captured: Samples | None = None) -> None:
        """See `Recogniser.feed`."""
        if self._looking:
            self._sound.append(samples)
        self._engine.feed(samples, captured)

    def finish(self, alternatives: int = 3) -> Recognition:
        """See `Recogniser.finish`; the voice, once it is known, is used from the next utterance on."""
        recognition = self._engine.finish(alternatives)
        if self._looking and recognition.hypotheses and recognition.confidence >= LEAST_CONFIDENCE:
            self._judge(np.concatenate(self._sound), recognition.hypotheses[0].text)
        return recognition

    @property
    def _looking(self) -> bool:
        return self.voice is None and self._judged < MOST

    def _judge(self, sound: Samples, text: str) -> None:
        marks = self._marks(sound, text)
        if not marks:
            return
        self._judged += 1
        for name, mark in marks.items():
            self._totals[name] = self._totals.get(name, 0.0) + mark
        leader = choice({name: total / self._judged for name, total in self._totals.items()})
        if self._judged >= FEWEST and leader is not None:
            engine = self._load(leader)
            if self._grammar is not None:
                engine.use(self._grammar)
            self._engine, self.voice = engine, leader
            self._tell(leader)


def choice(marks: Marks) -> str | None:
    """The voice that leads clearly over all others and over none; None when there is no such voice."""
    ranked = sorted(((mark, name) for name, mark in marks.items()), reverse=True)
    if not ranked:
        return None
    next_best = max(0.0, ranked[1][0] if len(ranked) > 1 else 0.0)
    return ranked[0][1] if ranked[0][0] - next_best >= LEAST_LEAD else None
