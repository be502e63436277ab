"""Pure: the phrases of a grammar that a token model finds likeliest in a sound, by beam search.

Only phrases of the grammar are ever built: the words that may come next are asked of the grammar,
and only their tokens of the model. Phrases that begin alike share their beginning.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from handsfree.speech.continuations import Continuations, State
from handsfree.speech.messages import Samples

LogProbabilities = NDArray[np.float32]

#: Phrases kept open at once. On development phrases 4 lost some that 8 found and 12 found no more.
WIDTH = 8
_HOPELESS = 14.0
"""Natural log below the best open phrase at which one is given up."""


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

    def listen(self, samples: Samples) -> SoundTokens:
        """What the model makes of the sound, int16 at 16 kHz."""
        ...


@dataclass(frozen=True, slots=True)
class Found:
    """A phrase and how well it explains the sound."""

    text: str
    log_likelihood: float
    """Natural log of the probability of its tokens and an ending, given the sound."""
    tokens: int


@dataclass(frozen=True, slots=True)
class _Open:
    words: tuple[str, ...]
    tokens: tuple[int, ...]
    scored: int
    """How many of the tokens are in `log_probability`."""
    log_probability: float
    state: State


def likeliest(sound: SoundTokens, grammar: Continuations, count: int, width: int = WIDTH) -> list[Found]:
    """Up to `count` phrases of the grammar, likeliest first.

    Args:
        sound: The model's view of the sound.
        grammar: What may be said.
        count: How many phrases are wanted.
        width: How many beginnings are followed at once.
    """
    open_phrases = [_Open((), (), 0, 0.0, grammar.start)]
    found: list[Found] = []
    while open_phrases:
        rows = sound.next_tokens([phrase.tokens for phrase in open_phrases])
        longer: list[_Open] = []
        for phrase, table in zip(open_phrases, rows, strict=True):
            reached = phrase.log_probability + _sum(table, phrase.tokens, phrase.scored)
            if grammar.may_end(phrase.state):
                ended = reached + _ending(table[-1], sound.endings)
                found.append(Found(" ".join(phrase.words), ended, len(phrase.tokens)))
            for word in grammar.words(phrase.state):
                spelling = sound.spelling(word, first=not phrase.words)
                longer.append(
                    _Open(
                        (*phrase.words, word),
                        (*phrase.tokens, *spelling),
                        len(phrase.tokens) + 1,
                        reached + float(table[-1][spelling[0]]),
                        grammar.after(phrase.state, word),
                    )
                )
        found = _best(found, count)
        open_phrases = _worth_following(longer, found, count, width)
    return found


def scores(sound: SoundTokens, texts: Sequence[str]) -> list[Found]:
    """How well each of these phrases explains the sound, in the order given."""
    spelled = [_spelled(sound, text) for text in texts]
    rows = sound.next_tokens(spelled) if spelled else []
    return [
        Found(text, _sum(table, tokens, 0) + _ending(table[-1], sound.endings), len(tokens))
        for text, tokens, table in zip(texts, spelled, rows, strict=True)
    ]


def _spelled(sound: SoundTokens, text: str) -> tuple[int, ...]:
    return tuple(
        token for place, word in enumerate(text.split()) for token in sound.spelling(word, first=place == 0)
    )


def _sum(table: LogProbabilities, tokens: Sequence[int], already: int) -> float:
    return float(sum(table[place][tokens[place]] for place in range(already, len(tokens))))


def _ending(row: LogProbabilities, endings: Sequence[int]) -> float:
    return float(np.logaddexp.reduce(row[list(endings)]))


def _best(found: list[Found], count: int) -> list[Found]:
    """The likeliest of each text; a text may be reached by two ways through the grammar."""
    distinct: dict[str, Found] = {}
    for phrase in sorted(found, key=lambda phrase: -phrase.log_likelihood):
        distinct.setdefault(phrase.text, phrase)
    return list(distinct.values())[:count]


def _worth_following(longer: list[_Open], found: list[Found], count: int, width: int) -> list[_Open]:
    """The likeliest open phrases, as long as one of them may still come among the best.

    A phrase only gets less likely with each token, so one below the last of a full list never will.
    """
    if not longer:
        return []
    longer.sort(key=lambda phrase: -phrase.log_probability)
    least = longer[0].log_probability - _HOPELESS
    if len(found) == count:
        least = max(least, found[-1].log_likelihood)
    return [phrase for phrase in longer[:width] if phrase.log_probability > least]
