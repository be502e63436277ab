"""Pure: which phrases a voice is asked to read, and which of them are kept back for the test.

What is kept back never teaches the model. Half of it has a word that no other phrase has, so that
the test also tells about words the voice never read.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from random import Random

from handsfree.speech.grammar import Grammar

READ = 36
"""Phrases to read: some 26 teach and 10 test; about three minutes (measured nowhere, a choice)."""
KEPT_BACK_SHARE = 0.28
FEWEST_TEACHING = 15
FEWEST_KEPT_BACK = 5

_LONGEST_WORDS = 6
_POOL = 600


@dataclass(frozen=True, slots=True)
class Split:
    """Places in the list of phrases."""

    teaching: tuple[int, ...]
    kept_back: tuple[int, ...]
    unseen: frozenset[int]
    """Those kept back with a word that no teaching phrase has."""

    @property
    def enough(self) -> bool:
        """Whether there is enough to learn from and to test on."""
        return len(self.teaching) >= FEWEST_TEACHING and len(self.kept_back) >= FEWEST_KEPT_BACK


def phrases_to_read(grammar: Grammar, count: int = READ) -> list[str]:
    """Phrases of the grammar to read aloud, the same for the same grammar.

    Three calls to one command, as the work has them; each next one brings the most words not read
    yet, for every phone to come by.
    """
    draw = Random(7)  # noqa: S311 - no secret; the same phrases every time
    pool = list(dict.fromkeys(grammar.random_phrase(draw) for _ in range(_POOL)))
    pool = [phrase for phrase in pool if 2 <= len(phrase.split()) <= _LONGEST_WORDS]
    # The commonest first word is the attention word: what begins with it is a command.
    ((attention, _),) = Counter(phrase.split()[0] for phrase in pool).most_common(1)
    kinds = [
        [phrase for phrase in pool if phrase.split()[0] == attention],
        [phrase for phrase in pool if phrase.split()[0] != attention],
    ]
    seen: Counter[str] = Counter()
    chosen: list[str] = []
    while len(chosen) < count and any(kinds):
        wanted = kinds[0] if len(chosen) % 4 == 3 and kinds[0] else kinds[1] or kinds[0]
        # Two of three bring new words; the third repeats words, so that it may be kept back.
        repeats = len(chosen) % 3 == 2
        best = max(wanted, key=lambda phrase: _worth(phrase, seen, repeats=repeats))
        wanted.remove(best)
        chosen.append(best)
        seen.update(best.split())
    return chosen


def split(texts: Sequence[str], share: float = KEPT_BACK_SHARE) -> Split:
    """Which phrases teach and which are kept back; the same for the same texts.

    A phrase that was read twice is never on both sides.
    """
    wanted = round(share * len(texts))
    words = [frozenset(text.split()) for text in texts]
    often = Counter(word for each in words for word in each)
    repeated = {text for text, times in Counter(texts).items() if times > 1}
    able = [n for n in range(len(texts)) if texts[n] not in repeated]
    alone = [n for n in able if any(often[word] == 1 for word in words[n])]
    kept = _spread(alone, (wanted + 1) // 2)
    # The others: all of their words are also in phrases that teach.
    left = Counter(word for n, each in enumerate(words) if n not in kept for word in each)
    for n in [*_spread([m for m in able if m not in kept], len(able))]:
        if len(kept) >= wanted:
            break
        if all(left[word] > 1 for word in words[n]):
            kept.append(n)
            left.subtract(words[n])
    teaching = tuple(n for n in range(len(texts)) if n not in kept)
    taught = frozenset(word for n in teaching for word in words[n])
    return Split(teaching, tuple(sorted(kept)), frozenset(n for n in kept if not words[n] <= taught))


def _spread(places: Sequence[int], count: int) -> list[int]:
    """So many of the places, from all over the list, in an order that jumps about in it."""
    order = sorted(range(len(places)), key=lambda n: (n * 0.6180339887) % 1.0)
    return [places[n] for n in order[:count]]


def _worth(phrase: str, seen: Counter[str], *, repeats: bool) -> float:
    """How much a phrase adds: words not read yet, or words read once or twice."""
    words = phrase.split()
    if repeats:
        return sum(1.0 / seen[word] if seen[word] else -1.0 for word in words) / len(words)
    return sum(1.0 / (1 + seen[word]) ** 2 for word in words)
