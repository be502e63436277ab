"""The typed-words engine: the samples carry the words themselves, so everything runs without sound.

Never chosen by default. `encode` makes the samples: one byte of UTF-8 to a sample; zeros are silence.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from handsfree.errors import GrammarError
from handsfree.speech.grammar import Grammar
from handsfree.speech.messages import Samples
from handsfree.speech.parser import as_spoken, hypothesis
from handsfree.speech.ports import Recognition


def encode(text: str) -> Samples:
    """The text as samples for the typed-words engine, int16, shape (n,)."""
    return np.frombuffer(text.encode("utf-8"), dtype=np.uint8).astype(np.int16)


def decode(samples: Samples) -> str:
    """The text that samples carry; what is no text is left out."""
    carried = samples[(samples > 0) & (samples < 256)].astype(np.uint8)
    return carried.tobytes().decode("utf-8", errors="ignore")


class TypedRecogniser:
    """Reads the words from the samples; hears exactly what was typed, or nothing."""

    def __init__(self) -> None:
        self._grammar: Grammar | None = None
        self._heard: list[Samples] = []

    @property
    def name(self) -> str:
        """Which engine this is."""
        return "typed words"

    def listen_to(self, butcher: str) -> None:
        """See `Recogniser.listen_to`: everybody is heard alike."""

    def use(self, grammar: Grammar) -> None:
        """Take the phrases of this grammar from the next utterance on."""
        self._grammar = grammar

    def begin(self) -> None:
        """Start an utterance."""
        self._heard = []

    def feed(self, samples: Samples, captured: Samples | None = None) -> None:
        """The next samples of the utterance."""
        del captured
        self._heard.append(samples)

    def finish(self, alternatives: int = 3) -> Recognition:
        """What was typed: one reading when it is a phrase of the grammar, none otherwise.

        Raises:
            GrammarError: No grammar was given to listen for.
        """
        if self._grammar is None:
            raise GrammarError("no grammar was given to listen for", next_step="call use(grammar) first")
        text = as_spoken(self._grammar, decode(np.concatenate([np.zeros(0, np.int16), *self._heard])))
        self._heard = []
        if alternatives < 1 or not self._grammar.contains(text):
            return Recognition((), 0.0)
        return Recognition((hypothesis(self._grammar, text, 0.0),), 1.0)

    def missing_words(self, words: Sequence[str]) -> list[str]:
        """None: every word can be typed."""
        return []
