"""A closed grammar: what may be said in one state of the dialogue, and what each phrase means."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from itertools import islice
from random import Random

from handsfree.speech.expressions import (
    Alternatives,
    Expression,
    Keyed,
    Match,
    Optional,
    Repeated,
    Sequence,
    Words,
    children,
    match,
    normalise,
    spoken_words,
    with_children,
    words,
)
from handsfree.speech.interpretation import meaning_of_slots
from handsfree.speech.meaning import Meaning


@dataclass(frozen=True, slots=True)
class Grammar:
    """A named set of phrases with their meanings; immutable, safe to share and to compare.

    The branches of the grammar carry keys: "call:haunch", "command:strike", "command:that
    was:haunch", "answer:yes"; in a plain phrase list each phrase is its own key.
    """

    name: str
    root: Expression

    @classmethod
    def from_phrases(cls, name: str, phrases: Iterable[str]) -> Grammar:
        """A plain list of phrases: `contains` and `key_of` work, nothing has a meaning.

        Raises:
            ValueError: The list holds no words at all.
        """
        distinct = dict.fromkeys(" ".join(normalise(phrase)) for phrase in phrases)
        options = tuple(Keyed(words(phrase), phrase) for phrase in distinct if phrase)
        if not options:
            raise ValueError("a phrase list without phrases cannot be listened for")
        return cls(name, Alternatives(options))

    def words(self) -> list[str]:
        """The distinct words of all phrases, in the order they stand in the grammar."""
        return list(dict.fromkeys(spoken_words(self.root)))

    def contains(self, text: str) -> bool:
        """Whether the text is a whole phrase of this grammar."""
        return next(self._readings(text), None) is not None

    def parse(self, text: str) -> tuple[Meaning, ...]:
        """All distinct meanings of the text; () when it is no phrase, or has no meaning here."""
        found = (meaning_of_slots(reading.slots) for reading in self._readings(text))
        return tuple(dict.fromkeys(meaning for meaning in found if meaning is not None))

    def key_of(self, text: str) -> str | None:
        """The key of the branch the phrase belongs to, None when it is no phrase."""
        reading = next(self._readings(text), None)
        return None if reading is None else ":".join(reading.keys)

    def keys(self) -> list[str]:
        """The keys of all branches, in grammar order."""
        return list(dict.fromkeys(_keys(self.root, ())))

    def without(self, keys: Collection[str]) -> Grammar | None:
        """The grammar with these branches (and all below them) taken out; None when nothing is left."""
        root = _prune(self.root, (), frozenset(keys))
        return None if root is None else Grammar(self.name, root)

    def phrases(self, limit: int) -> list[str]:
        """Up to `limit` distinct phrases, the plain ones first, every branch represented early."""
        distinct: dict[str, None] = {}
        # A repeat can bring the same text twice (two readings); a bounded look keeps this finite.
        for spoken in islice(_enumerate(self.root), limit * 4):
            distinct.setdefault(" ".join(spoken))
            if len(distinct) == limit:
                break
        return list(distinct)

    def random_phrase(self, random: Random) -> str:
        """One phrase drawn at random, rare branches as likely as common ones."""
        return " ".join(_draw(self.root, random))

    def _readings(self, text: str) -> Iterator[Match]:
        said = normalise(text)
        return (reading for reading in match(self.root, said) if said and reading.end == len(said))


def _keys(part: Expression, path: tuple[str, ...]) -> Iterator[str]:
    if isinstance(part, Keyed):
        path = (*path, part.key)
        if not any(isinstance(inner, Keyed) for inner in _descendants(part.part)):
            yield ":".join(path)
    for inner in children(part):
        yield from _keys(inner, path)


def _descendants(part: Expression) -> Iterator[Expression]:
    yield part
    for inner in children(part):
        yield from _descendants(inner)


def _prune(part: Expression, path: tuple[str, ...], keys: frozenset[str]) -> Expression | None:
    if isinstance(part, Keyed):
        path = (*path, part.key)
        if ":".join(path) in keys:
            return None
    inner = children(part)
    if not inner:
        return part
    pruned = tuple(_prune(child, path, keys) for child in inner)
    if all(new is old for new, old in zip(pruned, inner, strict=True)):
        return part  # untouched parts stay shared, so their sub-rules compile once
    left = tuple(child for child in pruned if child is not None)
    if isinstance(part, Alternatives):
        return with_children(part, left) if left else None
    if isinstance(part, Optional):
        return with_children(part, left) if left else Words(())
    return with_children(part, left) if len(left) == len(inner) else None


def _enumerate(part: Expression) -> Iterator[tuple[str, ...]]:
    if isinstance(part, Words):
        yield part.words
    elif isinstance(part, Sequence):
        yield from _enumerate_parts(part.parts)
    elif isinstance(part, Alternatives):
        yield from _in_turn([_enumerate(option) for option in part.options])
    elif isinstance(part, Optional):
        yield ()
        yield from _enumerate(part.part)
    elif isinstance(part, Repeated):
        yield from _enumerate(part.part)
        for first in _enumerate(part.part):
            for more in islice(_enumerate(part), 100):
                yield (*first, *more)
    else:
        yield from _enumerate(children(part)[0])


def _enumerate_parts(parts: tuple[Expression, ...]) -> Iterator[tuple[str, ...]]:
    if not parts:
        yield ()
        return
    # The last part stays at its plainest while the earlier ones vary.
    for last in _enumerate(parts[-1]):
        for first in _enumerate_parts(parts[:-1]):
            yield (*first, *last)


def _in_turn(sources: list[Iterator[tuple[str, ...]]]) -> Iterator[tuple[str, ...]]:
    while sources:
        still = []
        for source in sources:
            for item in islice(source, 1):
                yield item
                still.append(source)
        sources = still


def _draw(part: Expression, random: Random) -> tuple[str, ...]:
    if isinstance(part, Words):
        return part.words
    if isinstance(part, Sequence):
        return tuple(word for inner in part.parts for word in _draw(inner, random))
    if isinstance(part, Alternatives):
        return _draw(random.choice(part.options), random)
    if isinstance(part, Optional):
        return _draw(part.part, random) if random.random() < 0.5 else ()
    if isinstance(part, Repeated):
        drawn = _draw(part.part, random)
        while random.random() < 0.5:
            drawn += _draw(part.part, random)
        return drawn
    return _draw(children(part)[0], random)
