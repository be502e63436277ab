"""Pure: which phrases a voice is asked to read, and which of them are kept back for the test.

What is said at the block every day is read first: the cuts of the plans, tags with every digit, the commands
of each carcass. The rest is for the words, and so the sounds, that have not come by yet.

What is kept back never teaches the model. Half of it has a word that no other phrase has, so that
the test also tells about words the voice never read.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from itertools import cycle, islice
from random import Random

from handsfree.speech.commands import CommandSet
from handsfree.speech.cutlist import CutList, PlannedPiece
from handsfree.speech.grammar import Grammar
from handsfree.speech.meaning import Side, Verb
from handsfree.speech.numbers import words_for
from handsfree.speech.vocabulary import Vocabulary

READ = 40
"""Phrases to read: some 29 teach and 11 test; about three minutes (measured nowhere, a choice)."""
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


_TAGS = ("four oh one seven", "zero nine three", "two five eight oh six")
"""Every digit, and "oh" beside "four", which are heard for one another."""
_SAID_EVERY_DAY = (Verb.NEW_CARCASS, Verb.DRESSED_WEIGHT, Verb.TRAY, Verb.STRIKE, Verb.CLOSE_CARCASS)


def phrases_to_read(vocabulary: Vocabulary, count: int = READ) -> list[str]:
    """Phrases to read aloud, the same for the same words: what is said every day, then what is not.

    A voice is taught with few phrases, and what it is taught helps most where the same words are said.
    """
    grammar = vocabulary.listening()
    daily = _daily(vocabulary.cutlist, vocabulary.commands)
    first = [phrase for phrase in dict.fromkeys(daily) if grammar.contains(phrase)][:count]
    return [*first, *_others(grammar, count - len(first), first)]


def _daily(cutlist: CutList, said: CommandSet) -> Iterator[str]:
    """Three calls to one command, as the work has them."""
    calls, others = _calls(cutlist, said), _commands(said)
    for number, call in enumerate(calls, 1):
        yield call
        if number % 3 == 0:
            yield from islice(others, 1)
    yield from others


def _calls(cutlist: CutList, said: CommandSet) -> Iterator[str]:
    """Every piece of the first plan, and of each other cut that is planned one, half of them with a place."""
    places = cycle(place.name for place in cutlist.destinations)
    begun: set[str] = set()
    for number, plan in enumerate(cutlist.plans):
        for each in plan.pieces:
            if number == 0 or each.cut not in begun:
                begun.add(each.cut)
                side = Side.RIGHT if number and each.side and len(begun) % 4 > 1 else each.side
                call = _call(replace(each, side=side), cutlist, said)
                to = said.to_destination[0] if said.to_destination else ""
                yield f"{call} {to} {next(places)}" if number and len(begun) % 2 and to else call


def _call(piece: PlannedPiece, cutlist: CutList, said: CommandSet) -> str:
    cut = next(cut for cut in cutlist.cuts if cut.name == piece.cut)
    several = piece.count > 1 and cut.plurals
    sides = {None: "", Side.LEFT: said.left[0], Side.RIGHT: said.right[0]}
    number = words_for(Decimal(piece.count)) if several else ""
    return " ".join(
        part for part in (number, sides[piece.side], cut.plurals[0] if several else cut.name) if part
    )


def _commands(said: CommandSet) -> Iterator[str]:
    tags = iter(_TAGS)
    for verb in _SAID_EVERY_DAY:
        yield from (f"{said.attention} {each.words}" for each in said.phrasings[verb][:1])
        for digits in islice(tags, 1):
            yield from (f"{said.attention} {each.words} {digits}" for each in said.phrasings[Verb.TAG][:1])


def _others(grammar: Grammar, count: int, read: Sequence[str]) -> list[str]:
    """Further phrases: each next one brings the most words not read yet, for every phone to come by."""
    draw = Random(7)  # noqa: S311 - no secret; the same phrases every time
    pool = list(dict.fromkeys(grammar.random_phrase(draw) for _ in range(_POOL)))
    pool = [phrase for phrase in pool if 2 <= len(phrase.split()) <= _LONGEST_WORDS and phrase not in read]
    # The commonest first word is the attention word: what begins with it is a command.
    ((attention, _),) = Counter(phrase.split()[0] for phrase in pool).most_common(1)
    kinds = [
        [phrase for phrase in pool if phrase.split()[0] == attention],
        [phrase for phrase in pool if phrase.split()[0] != attention],
    ]
    seen = Counter(word for phrase in read for word in phrase.split())
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
    # What is said every day is read first, and is to be taught.
    kept = alone[-((wanted + 1) // 2) :]
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
