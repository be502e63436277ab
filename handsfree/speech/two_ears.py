"""Pure: a recogniser that asks a second model about what the first one heard, and weighs the two."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from math import exp

import numpy as np

from handsfree.speech.continuations import Continuations
from handsfree.speech.fusion import Belief, Fusion, Reading
from handsfree.speech.grammar import Grammar
from handsfree.speech.messages import RATE_HZ, Hypothesis, Samples
from handsfree.speech.parser import hypothesis
from handsfree.speech.phrase_search import Ear, SoundTokens, likeliest, scores
from handsfree.speech.ports import Recogniser, Recognition

_NOTHING = Recognition((), 0.0)
_FRAMES_A_SECOND = 100
_READINGS = 3
"""How many readings the ear is asked for at least."""
_SILENCE = np.zeros(RATE_HZ, np.int16)
_BLANKS_KEPT = 5_000


@dataclass(frozen=True, slots=True)
class Weighed:
    """What the last result rests on; for training and for fault-finding."""

    readings: tuple[Reading, ...]
    freely: float
    """Natural-log probability of the likeliest free text."""
    belief: Belief


class TwoEars:
    """A `Recogniser` made of a first engine and a second ear.

    The first engine decodes while the word is spoken, and is asked for its best reading only. At the
    end the ear looks for the likeliest phrases of the same grammar by itself and scores the first
    engine's too; the weights order them all, so the best may be one the first engine did not think
    of. (The first engine's rivals, asked for as well on development sound, changed nothing for the
    better, and cost as much time as the ear.)

    Args:
        first: The engine; from here on only this wrapper speaks to it.
        ear: The second model.
        fusion: The weights.
    """

    def __init__(self, first: Recogniser, ear: Ear, fusion: Fusion) -> None:
        self._first = first
        self._ear = ear
        self._fusion = fusion
        self._grammar: Grammar | None = None
        self._phrases: Continuations | None = None
        self._heard: list[Samples] = []
        self._silence: SoundTokens | None = None
        self._blanks: dict[str, float] = {}
        self._weighed: Weighed | None = None

    @property
    def name(self) -> str:
        """Both engines."""
        return f"{self._first.name} with {self._ear.name}"

    @property
    def weighed(self) -> Weighed | None:
        """What the last result rests on; None when there was none."""
        return self._weighed

    def missing_words(self, words: Sequence[str]) -> list[str]:
        """Those the first engine cannot pronounce; the ear spells any word."""
        return self._first.missing_words(words)

    def use(self, grammar: Grammar) -> None:
        """Listen for this grammar from the next `begin` on.

        Raises:
            UnknownWordError: A word has no pronunciation in the first engine; names all of them.
        """
        self._first.use(grammar)
        if grammar is not self._grammar:
            self._grammar, self._phrases = grammar, Continuations(grammar)

    def begin(self) -> None:
        """Start an utterance; one left open is dropped.

        Raises:
            GrammarError: No grammar was given to listen for.
        """
        self._first.begin()
        self._heard = []

    def feed(self, samples: Samples) -> None:
        """The next samples of the utterance, int16 at 16 kHz."""
        self._first.feed(samples)
        if len(samples):
            self._heard.append(samples)

    def finish(self, alternatives: int = 3) -> Recognition:
        """End the utterance and say what it was, with up to `alternatives` readings."""
        self._weighed = None
        heard = self._first.finish(1)
        sound, self._heard = self._heard, []
        samples = np.concatenate(sound) if sound else np.zeros(0, np.int16)
        if self._phrases is None or alternatives < 1 or not len(samples):
            return _NOTHING
        tokens = self._ear.listen(samples)
        frames = len(samples) * _FRAMES_A_SECOND / RATE_HZ
        ordered = self._fusion.ordered(
            self._readings(tokens, self._phrases, heard, max(alternatives, _READINGS))
        )
        if not ordered:
            return _NOTHING
        freely = tokens.freely()
        belief = self._fusion.belief_in(ordered, heard.confidence, freely)
        self._weighed = Weighed(tuple(ordered), freely, belief)
        sure = self._fusion.confidence(belief)
        return Recognition(tuple(self._hypotheses(ordered[:alternatives], sure, frames)), sure)

    def _readings(
        self, tokens: SoundTokens, phrases: Continuations, first: Recognition, wanted: int
    ) -> list[Reading]:
        """Everything either engine thought of."""
        found = likeliest(tokens, phrases, wanted)
        best = first.hypotheses[0].text if first.hypotheses else ""
        if best and best not in [phrase.text for phrase in found]:
            found += scores(tokens, [best])
        self._learn_blanks([phrase.text for phrase in found])
        return [
            Reading(
                phrase.text,
                phrase.log_likelihood,
                self._blanks[phrase.text],
                phrase.tokens,
                phrase.text == best,
            )
            for phrase in found
        ]

    def _hypotheses(self, readings: Sequence[Reading], sure: float, frames: float) -> Iterator[Hypothesis]:
        """The readings as messages; together they are no likelier than certain."""
        assert self._grammar is not None
        worths = [self._fusion.worth(reading) for reading in readings]
        relative = [exp(max(-50.0, worth - worths[0])) for worth in worths]
        rest = sum(relative[1:])
        share = min(sure, (1.0 - sure) / rest) if rest else 0.0
        for place, reading in enumerate(readings):
            meant = hypothesis(self._grammar, reading.text, worths[place] / frames)
            yield replace(meant, probability=relative[place] * share if place else sure)

    def _learn_blanks(self, texts: Iterable[str]) -> None:
        """How readily the ear writes these phrases when there is nothing to hear; worked out once."""
        new = [text for text in texts if text not in self._blanks]
        if len(self._blanks) + len(new) > _BLANKS_KEPT:
            self._blanks.clear()
            new = list(texts)
        if self._silence is None:
            self._silence = self._ear.listen(_SILENCE)
        for phrase in scores(self._silence, new):
            self._blanks[phrase.text] = phrase.log_likelihood
