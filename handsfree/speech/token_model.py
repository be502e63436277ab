"""What an ear is to the phrase search: a model that writes tokens and listens. Pure; a protocol and no more.

Contract suite: `handsfree.testing.ear_contract`.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from handsfree.speech.messages import Samples

LogProbabilities = NDArray[np.float32]


def log_probabilities(logits: NDArray[np.float32]) -> LogProbabilities:
    """Natural-log probabilities from a model's logits, along the last axis."""
    top = logits.max(axis=-1, keepdims=True)
    return np.asarray(logits - top - np.log(np.exp(logits - top).sum(axis=-1, keepdims=True)))


class SoundTokens(Protocol):
    """What a token model makes of one sound."""

    def spelling(self, word: str, *, first: bool) -> tuple[int, ...]:
        """The tokens of a word inside a phrase, or at its beginning."""
        ...

    def next_tokens(self, beginnings: Sequence[tuple[int, ...]]) -> list[LogProbabilities]:
        """For each beginning, natural-log probabilities of the token after each of its prefixes.

        Shape (len(beginning) + 1, number of tokens): row 0 is the first token's, the last row that
        of the token after the whole beginning.
        """
        ...

    def freely(self) -> float:
        """Natural-log probability of the likeliest text of any words, for comparison only."""
        ...

    @property
    def endings(self) -> tuple[int, ...]:
        """The tokens that may stand after a whole phrase: end of text and closing punctuation."""
        ...


class Ear(Protocol):
    """A token model that listens to one sound after another."""

    @property
    def name(self) -> str:
        """Which model, for tables and messages."""
        ...

    @property
    def kind(self) -> str:
        """Its kind, by which its weights beside the first engine are found."""
        ...

    def listen(self, samples: Samples) -> SoundTokens:
        """What the model makes of the sound, int16 at 16 kHz."""
        ...
