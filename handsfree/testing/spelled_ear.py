"""A second ear without a model: it reads the words that the sound carries, and is never quite sure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from handsfree.speech.messages import Samples
from handsfree.speech.token_model import LogProbabilities
from handsfree.speech.typed import decode

_TOKENS = 4096
_SURE = 0.9


class SpelledEar:
    """An `Ear` for sound made by `typed.encode`; each word is one token, or its letters in pairs.

    Args:
        mishears: Said words -> what the ear takes them for.
        pairs: Spell each word in tokens of two letters, so that words share beginnings.
    """

    def __init__(self, mishears: Mapping[str, str] | None = None, *, pairs: bool = False) -> None:
        self._mishears = dict(mishears or {})
        self._pairs = pairs
        self._tokens: dict[str, int] = {"": 0}
        self.asked = 0
        """How many beginnings it was asked about, all sounds together."""

    @property
    def name(self) -> str:
        """What it is."""
        return "spelled"

    @property
    def kind(self) -> str:
        """Whose weights it goes by."""
        return "whisper"

    def listen(self, samples: Samples) -> SpelledSound:
        """The words in the sound."""
        words = decode(samples).split()
        return SpelledSound(self, [self._mishears.get(word, word) for word in words])

    def spelling(self, word: str) -> tuple[int, ...]:
        """The tokens of a word."""
        size = 2 if self._pairs else len(word)
        parts = [word[at : at + size] for at in range(0, len(word), size)]
        marked = [f" {parts[0]}", *parts[1:]]
        return tuple(self._tokens.setdefault(part, len(self._tokens)) for part in marked)


class SpelledSound:
    """One sound; a `SoundTokens`."""

    endings = (0,)

    def __init__(self, ear: SpelledEar, words: Sequence[str]) -> None:
        self._ear = ear
        self._said = [token for word in words for token in ear.spelling(word)]

    def spelling(self, word: str, *, first: bool) -> tuple[int, ...]:
        """The tokens of a word, the same everywhere in a phrase."""
        del first
        return self._ear.spelling(word)

    def freely(self) -> float:
        """The words it reads, and their end."""
        return float((len(self._said) + 1) * np.log(_SURE)) if self._said else -1.0

    def next_tokens(self, beginnings: Sequence[tuple[int, ...]]) -> list[LogProbabilities]:
        """The word read next gets most of the probability; after words it did not read all are alike."""
        self._ear.asked += len(beginnings)
        return [
            np.stack([self._row(beginning[:place]) for place in range(len(beginning) + 1)])
            for beginning in beginnings
        ]

    def _row(self, before: tuple[int, ...]) -> LogProbabilities:
        if before != tuple(self._said[: len(before)]):
            return np.full(_TOKENS, -np.log(_TOKENS), np.float32)  # nothing is read there
        row = np.full(_TOKENS, (1 - _SURE) / (_TOKENS - 1), np.float32)
        row[self._said[len(before)] if len(before) < len(self._said) else 0] = _SURE
        return np.asarray(np.log(row), dtype=np.float32)
