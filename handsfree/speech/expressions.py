"""The building blocks of a grammar: expressions that match words and collect what they mean.

An expression is an immutable tree. `match` walks it over a list of words and yields every way it
fits, with the slots (what was said) and the keys (which branch it was) collected on the way.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

_STRIPPED = '.,;:!?"“”'


def normalise(text: str) -> tuple[str, ...]:
    """The words of a text as the grammars know them: lower case, no punctuation, hyphens split."""
    plain = unicodedata.normalize("NFC", text).lower().replace("-", " ").replace("’", "'")
    words = (word.strip(_STRIPPED) for word in plain.split())
    return tuple(word for word in words if word)


@dataclass(frozen=True, slots=True)
class Match:
    """One way an expression fits the words from some place on."""

    end: int
    """Index of the first word not taken."""
    slots: tuple[tuple[str, object], ...] = ()
    """What was said, by slot name, in the order spoken."""
    keys: tuple[str, ...] = ()
    """The keyed branches taken, outermost first."""


class Expression:
    """Base of all expressions; the kinds below are the whole list."""

    __slots__ = ()


@dataclass(frozen=True, slots=True)
class Words(Expression):
    """These words in this order."""

    words: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Sequence(Expression):
    """One part after the other."""

    parts: tuple[Expression, ...]


@dataclass(frozen=True, slots=True)
class Alternatives(Expression):
    """Exactly one of these."""

    options: tuple[Expression, ...]


@dataclass(frozen=True, slots=True)
class Optional(Expression):
    """This, or nothing."""

    part: Expression
    chance: float | None = None
    """How often it is said, 0 to 1, for engines that can use it; None when nothing is known."""


@dataclass(frozen=True, slots=True)
class Repeated(Expression):
    """This once or more often."""

    part: Expression
    chance: float | None = None
    """How likely another one is, 0 to 1, for engines that can use it; None when nothing is known. What an
    engine weighs it against is the likelihood of sound, so it may have to be far below any true share."""


@dataclass(frozen=True, slots=True)
class Tagged(Expression):
    """This, and it means `value` in the slot."""

    part: Expression
    slot: str
    value: object


@dataclass(frozen=True, slots=True)
class Read(Expression):
    """This, and the words it took are read by `reader` for the value of the slot."""

    part: Expression
    slot: str
    reader: Callable[[tuple[str, ...]], object]


@dataclass(frozen=True, slots=True)
class Keyed(Expression):
    """This, as a branch with a name: it can be told apart and taken out."""

    part: Expression
    key: str


@dataclass(frozen=True, slots=True)
class Rule(Expression):
    """This, under a name of its own: compiled once as a shared sub-rule, and read as such."""

    name: str
    part: Expression


def words(text: str) -> Words:
    """The words of a text as an expression."""
    return Words(normalise(text))


def any_of(*texts: str) -> Expression:
    """Any one of these texts."""
    options = tuple(words(text) for text in dict.fromkeys(texts))
    return options[0] if len(options) == 1 else Alternatives(options)


def match(part: Expression, said: tuple[str, ...], at: int = 0) -> Iterator[Match]:
    """Every way the expression fits the words from index `at` on."""
    match_kind = _MATCHERS[type(part)]
    return match_kind(part, said, at)


def _match_words(part: Words, said: tuple[str, ...], at: int) -> Iterator[Match]:
    end = at + len(part.words)
    if said[at:end] == part.words:
        yield Match(end)


def _match_sequence(part: Sequence, said: tuple[str, ...], at: int) -> Iterator[Match]:
    yield from _match_parts(part.parts, said, Match(at))


def _match_parts(parts: tuple[Expression, ...], said: tuple[str, ...], before: Match) -> Iterator[Match]:
    if not parts:
        yield before
        return
    for found in match(parts[0], said, before.end):
        joined = Match(found.end, before.slots + found.slots, before.keys + found.keys)
        yield from _match_parts(parts[1:], said, joined)


def _match_alternatives(part: Alternatives, said: tuple[str, ...], at: int) -> Iterator[Match]:
    for option in part.options:
        yield from match(option, said, at)


def _match_optional(part: Optional, said: tuple[str, ...], at: int) -> Iterator[Match]:
    yield Match(at)
    yield from match(part.part, said, at)


def _match_repeated(part: Repeated, said: tuple[str, ...], at: int) -> Iterator[Match]:
    for found in match(part.part, said, at):
        yield found
        if found.end > at:
            for more in _match_repeated(part, said, found.end):
                yield Match(more.end, found.slots + more.slots, found.keys + more.keys)


def _match_tagged(part: Tagged, said: tuple[str, ...], at: int) -> Iterator[Match]:
    for found in match(part.part, said, at):
        yield Match(found.end, ((part.slot, part.value), *found.slots), found.keys)


def _match_read(part: Read, said: tuple[str, ...], at: int) -> Iterator[Match]:
    for found in match(part.part, said, at):
        yield Match(found.end, ((part.slot, part.reader(said[at : found.end])), *found.slots), found.keys)


def _match_keyed(part: Keyed, said: tuple[str, ...], at: int) -> Iterator[Match]:
    for found in match(part.part, said, at):
        yield Match(found.end, found.slots, (part.key, *found.keys))


def _match_rule(part: Rule, said: tuple[str, ...], at: int) -> Iterator[Match]:
    return match(part.part, said, at)


_MATCHERS: dict[type[Expression], Callable[..., Iterator[Match]]] = {
    Words: _match_words,
    Sequence: _match_sequence,
    Alternatives: _match_alternatives,
    Optional: _match_optional,
    Repeated: _match_repeated,
    Tagged: _match_tagged,
    Read: _match_read,
    Keyed: _match_keyed,
    Rule: _match_rule,
}


def children(part: Expression) -> tuple[Expression, ...]:
    """The expressions directly inside this one."""
    match part:
        case Sequence(parts):
            return parts
        case Alternatives(options):
            return options
        case Optional(inner, _) | Repeated(inner, _) | Tagged(inner) | Read(inner) | Keyed(inner):
            return (inner,)
        case Rule(_, inner):
            return (inner,)
        case _:
            return ()


def with_children(part: Expression, inner: tuple[Expression, ...]) -> Expression:
    """The same kind of expression around other expressions."""
    if isinstance(part, Sequence):
        return Sequence(inner)
    if isinstance(part, Alternatives):
        return inner[0] if len(inner) == 1 else Alternatives(inner)
    if isinstance(part, Optional | Repeated | Tagged | Read | Keyed | Rule):
        return replace(part, part=inner[0])
    return part


def spoken_words(part: Expression) -> Iterator[str]:
    """Every word in the expression, in order, with repeats."""
    if isinstance(part, Words):
        yield from part.words
    for inner in children(part):
        yield from spoken_words(inner)
