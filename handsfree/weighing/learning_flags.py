"""Which word or mark of a scale's lines says that the value stands: the one that goes with motion. Pure."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

_AFTER_S = 0.9
_STOOD_S = 1.5
_LEAST = 2


@dataclass(frozen=True, slots=True)
class Flag:
    """A flag that was found."""

    stable: Mapping[str, bool]
    """What each word says; with a mark, "" is its absence."""
    place: int | None
    """Place of the word among the tokens; None for a mark that comes and goes."""
    mark: str | None
    """The mark; None for a word at one place."""
    confidence: float
    """Part of the lines, moving or long at rest, for which it says what the values say."""

    def is_in(self, tokens: Sequence[str], place: int) -> bool:
        """Whether the flag stands at this place of a line."""
        return tokens[place] == self.mark if self.mark is not None else place == self.place

    def says(self, tokens: Sequence[str]) -> bool | None:
        """What the flag of a line says."""
        if self.mark is not None:
            return self.stable[self.mark if self.mark in tokens else ""]
        return self.stable.get(tokens[self.place or 0]) if (self.place or 0) < len(tokens) else None


def motion(values: Sequence[tuple[int, float]]) -> list[bool | None]:
    """For each (time in ns, value): True while it moves and just after, False long at rest, None between."""
    moved_ns: int | None = None
    out: list[bool | None] = []
    top = max((abs(value) for _, value in values), default=0.0)
    for i, (t_ns, value) in enumerate(values):
        if i and abs(value - values[i - 1][1]) > 0.005 * top:
            moved_ns = t_ns
        since_s = _STOOD_S if moved_ns is None else (t_ns - moved_ns) / 1e9
        out.append(True if since_s < _AFTER_S * 0.4 else False if since_s >= _STOOD_S else None)
    return out


def find_flag(lines: Sequence[Sequence[str]], moving: Sequence[bool | None]) -> Flag | None:
    """The word or mark that goes with motion; None when none does in three lines out of four."""
    found = [*_words(lines, moving), *_marks(lines, moving)]
    best = max(found, key=lambda flag: flag.confidence, default=None)
    return best if best is not None and best.confidence >= 0.75 else None


def _words(lines: Sequence[Sequence[str]], moving: Sequence[bool | None]) -> list[Flag]:
    flags = []
    for place in range(min((len(tokens) for tokens in lines), default=0)):
        words = [tokens[place] for tokens in lines]
        if 2 <= len(set(words)) <= 6 and all(word.isalpha() for word in words):
            flags += _flag(words, moving, place, None)
    return flags


def _marks(lines: Sequence[Sequence[str]], moving: Sequence[bool | None]) -> list[Flag]:
    marks = {token for tokens in lines for token in tokens if not any(c.isdigit() for c in token)}
    flags = []
    for mark in sorted(marks):
        there = [mark if mark in tokens else "" for tokens in lines]
        if len(set(there)) == 2:
            flags += _flag(there, moving, None, mark)
    return flags


def _flag(
    words: Sequence[str], moving: Sequence[bool | None], place: int | None, mark: str | None
) -> list[Flag]:
    moves = Counter(word for word, move in zip(words, moving, strict=True) if move is True)
    stands = Counter(word for word, move in zip(words, moving, strict=True) if move is False)
    if sum(moves.values()) < _LEAST or sum(stands.values()) < _LEAST:
        return []
    share = {
        word: moves[word] / sum(moves.values()) - stands[word] / sum(stands.values()) for word in set(words)
    }
    stable = {word: share[word] <= 0 for word in share}
    if len(set(stable.values())) < 2:
        return []
    right = sum(n for word, n in moves.items() if not stable[word]) / sum(moves.values())
    rested = sum(n for word, n in stands.items() if stable[word]) / sum(stands.values())
    return [Flag(stable, place, mark, (right + rested) / 2)]
