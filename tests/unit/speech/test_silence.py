"""What a model writes where nothing is said is asked once, and serves every grammar."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from handsfree.speech.silence import Silence
from handsfree.speech.token_model import LogProbabilities

WORDS = ("haunch", "shank", "rump", "yes", "no")
TOKENS = 8


class Quiet:
    """A sound in which a model hears nothing; what it would write hangs on the whole beginning."""

    endings = (0, 7)

    def __init__(self) -> None:
        self.asked: list[tuple[int, ...]] = []

    def spelling(self, word: str, *, first: bool) -> tuple[int, ...]:
        return (WORDS.index(word) + 1, 6 if first else 1)

    def next_tokens(self, beginnings: Sequence[tuple[int, ...]]) -> list[LogProbabilities]:
        self.asked += beginnings
        return [
            np.array([_row(each[:length]) for length in range(len(each) + 1)], np.float32)
            for each in beginnings
        ]

    def freely(self) -> float:
        return 0.0


def _row(beginning: tuple[int, ...]) -> list[float]:
    return [-float(sum(beginning) * TOKENS + len(beginning) + token) for token in range(TOKENS)]


beginnings = st.lists(st.lists(st.integers(0, TOKENS - 1), max_size=3).map(tuple), min_size=1, max_size=4)


@given(st.lists(st.tuples(st.lists(st.sampled_from(WORDS), max_size=3), beginnings), max_size=8))
def test_a_table_is_what_the_model_says_whatever_was_learned_before(
    steps: list[tuple[list[str], list[tuple[int, ...]]]],
) -> None:
    sound = Quiet()
    silence = Silence(sound)
    for words, asked in steps:
        columns = silence.learn(words)
        tables = silence.after(asked, columns)
        for beginning, table in zip(asked, tables, strict=True):
            assert table.shape == (len(beginning) + 1, table.shape[1])
            assert table.shape[1] >= columns
            for word in words:
                for token in sound.spelling(word, first=True):
                    whole = np.array([_row(beginning[:n])[token] for n in range(len(beginning) + 1)])
                    assert table[:, silence.column(token)] == pytest.approx(whole)


def test_nothing_is_asked_twice_unless_new_words_make_more_of_it_needed() -> None:
    sound = Quiet()
    silence = Silence(sound)
    few = silence.learn(["haunch", "shank"])
    silence.after([(1,), (2, 6), (1,)], few)
    silence.after([(1,)], few)
    assert sound.asked == [(1,), (2, 6)]
    more = silence.learn(["yes"])
    assert more == few + 1
    silence.after([(1,)], few)  # who needs no more is served from what is there
    assert len(sound.asked) == 2
    silence.after([(1,), (2, 6)], more)
    silence.after([(2, 6)], few)
    assert sound.asked[2:] == [(1,), (2, 6)]


def test_the_columns_of_the_endings_are_known_before_any_word() -> None:
    silence = Silence(Quiet())
    assert [int(silence.tokens[column]) for column in silence.endings] == [0, 7]
    with pytest.raises(KeyError):
        silence.column(1)
