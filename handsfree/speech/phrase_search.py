"""Pure: the phrases of a grammar that a token model finds likeliest in a sound, by beam search.

Only phrases of the grammar are ever built: the words that may come next are asked of the grammar,
and only their tokens of the model. Phrases that begin alike share their beginning.

A token model was trained on running text and holds the trade's words for unlikely before it has heard
anything. What it would write of itself is therefore taken off, measured on silence ("internal language
model" subtraction: Meng et al., "Internal Language Model Estimation for Domain-Adaptive End-to-End
Speech Recognition", 2021). Without it the search drops the right phrase early: on 15 development phrases
a condition it was among five at pink 5 dB for 73 %, with it for 93 %.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from handsfree.speech.continuations import Continuations, State
from handsfree.speech.silence import Silence
from handsfree.speech.token_model import LogProbabilities, SoundTokens

#: Phrases kept open at once. On development phrases 4 lost some that 8 found and 12 found no more.
WIDTH = 8
UNASKED_SHARE = 0.6
"""How much of the model's own expectation is taken off. On development words and phrases 0.6 put more
right readings first than 0, 0.3 and 0.9, with denoised, undenoised and mixed sound alike."""
_HOPELESS = 14.0
"""Natural log below the best open phrase at which one is given up."""
_ROOM = 2.0
"""With something taken off a phrase may gain by a further word, though seldom more than this."""
LONGEST = 16
"""Tokens of the longest phrase looked for: more than a person says in a segment of 4.5 s. Where a word
may be repeated (digits), a phrase that gains by each further one would otherwise grow for ever."""
_WORDS_A_SECOND = 4.5
_QUIET_S = 0.4
"""Of a segment, at least: what comes before the word, and the pause that ends it."""


@dataclass(frozen=True, slots=True)
class Found:
    """A phrase and how well it explains the sound."""

    text: str
    log_likelihood: float
    """Natural log of the probability of its tokens and an ending, given the sound."""
    unasked: float
    """The same given silence: how readily the model writes the phrase of itself."""
    tokens: int

    @property
    def worth(self) -> float:
        """What the search goes by: the likelihood, less a share of what silence would give."""
        return self.log_likelihood - UNASKED_SHARE * self.unasked


@dataclass(frozen=True, slots=True)
class _Open:
    words: tuple[str, ...]
    tokens: tuple[int, ...]
    scored: int
    """How many of the tokens are in the two sums."""
    heard: float
    unasked: float
    state: State

    @property
    def worth(self) -> float:
        return self.heard - UNASKED_SHARE * self.unasked


class PhraseSearch:
    """Looks for the phrases of one grammar in one sound after another.

    Args:
        grammar: What may be said.
        silence: What the model writes where nothing is said; one for all grammars.
    """

    def __init__(self, grammar: Continuations, silence: Silence) -> None:
        self._grammar = grammar
        self._silence = silence
        words = grammar.every_word()
        self._columns = silence.learn(words)
        self._words = frozenset(words)

    def likeliest(
        self, sound: SoundTokens, count: int, width: int = WIDTH, *, most_words: int | None = None
    ) -> list[Found]:
        """Up to `count` phrases of the grammar, best `Found.worth` first.

        Args:
            sound: The model's view of the sound.
            count: How many phrases are wanted.
            width: How many beginnings are followed at once.
            most_words: Longer phrases are not looked for; see `words_in`.
        """
        open_phrases = [_Open((), (), 0, 0.0, 0.0, self._grammar.start)]
        found: list[Found] = []
        while open_phrases:
            longer: list[_Open] = []
            for phrase, table, silent in self._asked(sound, open_phrases):
                reached = self._caught_up(phrase, table, silent)
                if self._grammar.may_end(phrase.state):
                    found.append(self._ended(reached, table, silent))
                longer += self._longer(sound, reached, table, silent)
            found = _best(found, count)
            longer = [
                phrase
                for phrase in longer
                if len(phrase.tokens) <= LONGEST and (most_words is None or len(phrase.words) <= most_words)
            ]
            open_phrases = _worth_following(longer, found, count, width)
        return found

    def scores(self, sound: SoundTokens, texts: Sequence[str]) -> list[Found]:
        """How well each of these phrases explains the sound, in the order given.

        A text with a word that is not in the grammar is left out.
        """
        phrases = [
            _Open(tuple(text.split()), _spelled(sound, text), 0, 0.0, 0.0, frozenset())
            for text in texts
            if self._words.issuperset(text.split())
        ]
        return [
            self._ended(self._caught_up(phrase, table, silent), table, silent)
            for phrase, table, silent in self._asked(sound, phrases)
        ]

    def _asked(
        self, sound: SoundTokens, phrases: Sequence[_Open]
    ) -> list[tuple[_Open, LogProbabilities, LogProbabilities]]:
        """Each phrase with what the sound and the silence say about the tokens of the grammar."""
        if not phrases:
            return []
        beginnings = [phrase.tokens for phrase in phrases]
        heard = [table[:, self._silence.tokens] for table in sound.next_tokens(beginnings)]
        return list(zip(phrases, heard, self._silence.after(beginnings, self._columns), strict=True))

    def _caught_up(self, phrase: _Open, table: LogProbabilities, silent: LogProbabilities) -> _Open:
        """The phrase with all its tokens in the sums."""
        rest = range(phrase.scored, len(phrase.tokens))
        columns = [self._silence.column(phrase.tokens[place]) for place in rest]
        return _Open(
            phrase.words,
            phrase.tokens,
            len(phrase.tokens),
            phrase.heard + float(table[rest, columns].sum()) if columns else phrase.heard,
            phrase.unasked + float(silent[rest, columns].sum()) if columns else phrase.unasked,
            phrase.state,
        )

    def _ended(self, phrase: _Open, table: LogProbabilities, silent: LogProbabilities) -> Found:
        return Found(
            " ".join(phrase.words),
            phrase.heard + float(np.logaddexp.reduce(table[-1][self._silence.endings])),
            phrase.unasked + float(np.logaddexp.reduce(silent[-1][self._silence.endings])),
            len(phrase.tokens),
        )

    def _longer(
        self, sound: SoundTokens, phrase: _Open, table: LogProbabilities, silent: LogProbabilities
    ) -> list[_Open]:
        """The phrase with each word that may come next; of that word only the first token is scored."""
        found = []
        for word in self._grammar.words(phrase.state):
            spelling = sound.spelling(word, first=not phrase.words)
            column = self._silence.column(spelling[0])
            found.append(
                _Open(
                    (*phrase.words, word),
                    (*phrase.tokens, *spelling),
                    len(phrase.tokens) + 1,
                    phrase.heard + float(table[-1][column]),
                    phrase.unasked + float(silent[-1][column]),
                    self._grammar.after(phrase.state, word),
                )
            )
        return found


def words_in(seconds: float) -> int:
    """The most words that may have been said in a segment of this length.

    Where words may be repeated, as digits may, a token model that has heard them once is quick to write
    them again and again; there was no time to say them. On development voices 3.6 words a second were said
    at the fastest, of what a segment is longer than the quiet around the words.
    """
    return 1 + int(_WORDS_A_SECOND * max(0.0, seconds - _QUIET_S))


def _spelled(sound: SoundTokens, text: str) -> tuple[int, ...]:
    return tuple(
        token for place, word in enumerate(text.split()) for token in sound.spelling(word, first=place == 0)
    )


def _best(found: list[Found], count: int) -> list[Found]:
    """The best of each text; a text may be reached by two ways through the grammar."""
    distinct: dict[str, Found] = {}
    for phrase in sorted(found, key=lambda phrase: -phrase.worth):
        distinct.setdefault(phrase.text, phrase)
    return list(distinct.values())[:count]


def _worth_following(longer: list[_Open], found: list[Found], count: int, width: int) -> list[_Open]:
    """The best open phrases, as long as one of them may still come among the found."""
    if not longer:
        return []
    longer.sort(key=lambda phrase: -phrase.worth)
    least = longer[0].worth - _HOPELESS
    if len(found) == count:
        least = max(least, found[-1].worth - _ROOM)
    return [phrase for phrase in longer[:width] if phrase.worth > least]
