"""Pure: which words may come next in a grammar, for a search that builds phrases word by word."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

from handsfree.speech.expressions import (
    Alternatives,
    Expression,
    Optional,
    Repeated,
    Sequence,
    Words,
    children,
)
from handsfree.speech.grammar import Grammar

State = frozenset[int]
"""Every place in the grammar that the words so far may have led to; empty when they fit nowhere."""


class Continuations:
    """A grammar as a finite automaton over words, walked as a set of places.

    Thompson's construction (Communications of the ACM 11 (1968) 419), laid without searching.

    Args:
        grammar: Read once; later changes of nothing can reach it, grammars are immutable.
    """

    def __init__(self, grammar: Grammar) -> None:
        self._steps: defaultdict[int, list[tuple[str, int]]] = defaultdict(list)
        self._free: defaultdict[int, list[int]] = defaultdict(list)
        self._places = 1
        self._end = self._build(grammar.root, 0)
        self._next: dict[State, dict[str, State]] = {}
        self.start: State = self._reached([0])

    def words(self, state: State) -> list[str]:
        """The words that may come next, in the order they stand in the grammar."""
        return list(self._following(state))

    def after(self, state: State, word: str) -> State:
        """Where the word leads; the empty state when it may not come here."""
        return self._following(state).get(word, frozenset())

    def every_word(self) -> list[str]:
        """All words of the grammar, in alphabetical order."""
        return sorted({word for steps in self._steps.values() for word, _ in steps})

    def may_end(self, state: State) -> bool:
        """Whether the words so far are a whole phrase."""
        return self._end in state

    def _following(self, state: State) -> dict[str, State]:
        found = self._next.get(state)
        if found is None:
            targets: defaultdict[str, list[int]] = defaultdict(list)
            for place in sorted(state):
                for word, target in self._steps.get(place, ()):
                    targets[word].append(target)
            found = self._next[state] = {word: self._reached(places) for word, places in targets.items()}
        return found

    def _reached(self, places: Iterable[int]) -> State:
        seen: set[int] = set()
        waiting = list(places)
        while waiting:
            place = waiting.pop()
            if place not in seen:
                seen.add(place)
                waiting += self._free.get(place, ())
        return frozenset(seen)

    def _new(self) -> int:
        self._places += 1
        return self._places - 1

    def _build(self, part: Expression, start: int) -> int:
        """Lay the expression from the place `start` on; the place it ends at."""
        if isinstance(part, Words):
            at = start
            for word in part.words:
                after = self._new()
                self._steps[at].append((word, after))
                at = after
            return at
        if isinstance(part, Sequence):
            for inner in part.parts:
                start = self._build(inner, start)
            return start
        if isinstance(part, Alternatives):
            end = self._new()
            for option in part.options:
                self._free[self._build(option, self._branch(start))].append(end)
            return end
        if isinstance(part, Optional):
            end = self._build(part.part, self._branch(start))
            after = self._new()
            self._free[end].append(after)
            self._free[start].append(after)
            return after
        if isinstance(part, Repeated):
            first = self._branch(start)
            end = self._build(part.part, first)
            self._free[end].append(first)
            after = self._new()
            self._free[end].append(after)
            return after
        return self._build(children(part)[0], start)

    def _branch(self, start: int) -> int:
        """A place of its own that `start` leads to, so that a loop cannot lead into a neighbour."""
        branch = self._new()
        self._free[start].append(branch)
        return branch
