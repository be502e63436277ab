"""What a token model writes where nothing is said, remembered for all grammars. Pure."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from handsfree.speech.token_model import LogProbabilities, SoundTokens

_KEPT = 3_000
"""Beginnings remembered, about 3 kB each."""


class Silence:
    """A model's view of silence, as far as it was asked for, over the tokens that grammars are made of.

    Each state of the dialogue has a grammar of its own, and nearly all of it is the same: what was worked out
    for one is at hand for the next.

    Args:
        sound: A sound in which nothing is said.
    """

    def __init__(self, sound: SoundTokens) -> None:
        self._sound = sound
        self._columns: dict[int, int] = {}
        self._tables: OrderedDict[tuple[int, ...], LogProbabilities] = OrderedDict()
        self._take_in(sound.endings)

    def learn(self, words: Iterable[str]) -> int:
        """Make room for the tokens of these words; the number of columns there are then.

        Columns stay where they are: a table that was worked out before is good for whoever needs no more.
        """
        spelled = (self._sound.spelling(word, first=first) for word in words for first in (True, False))
        self._take_in(token for tokens in spelled for token in tokens)
        return len(self._columns)

    @property
    def tokens(self) -> NDArray[np.int64]:
        """The tokens of the columns."""
        return self._tokens

    @property
    def endings(self) -> list[int]:
        """The columns of the tokens that may stand after a whole phrase."""
        return [self._columns[token] for token in self._sound.endings]

    def column(self, token: int) -> int:
        """The column of a token of the words learned.

        Raises:
            KeyError: It is in none of them.
        """
        return self._columns[token]

    def after(self, beginnings: Sequence[tuple[int, ...]], columns: int) -> list[LogProbabilities]:
        """As `SoundTokens.next_tokens`, of at least so many columns' tokens only."""
        known = self._tables
        new = [b for b in dict.fromkeys(beginnings) if b not in known or known[b].shape[-1] < columns]
        if new:
            for beginning, table in zip(new, self._sound.next_tokens(new), strict=True):
                self._tables[beginning] = table[:, self._tokens]
        for beginning in beginnings:
            self._tables.move_to_end(beginning)
        found = [self._tables[beginning] for beginning in beginnings]
        while len(self._tables) > _KEPT:
            self._tables.popitem(last=False)
        return found

    def _take_in(self, tokens: Iterable[int]) -> None:
        new = sorted(set(tokens) - set(self._columns))
        if new:
            self._columns |= {token: column for column, token in enumerate(new, len(self._columns))}
            self._tokens = np.array(list(self._columns), dtype=np.int64)
