"""Which names were taken for which when they were played to the engine: counts, and better words. Pure."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import product

from handsfree.speech.confusable import Spoken, alike_pairs, ways_to_say, weighted_distance
from handsfree.speech.lexicon import Lexicon
from handsfree.speech.numbers import words_for
from handsfree.speech.vocabulary import Vocabulary

#: Phrases with a rival this near, weighted, are worth playing; farther ones cost time and tell nothing.
WORTH_PLAYING = 2.0
#: From this many voices on a confusion is the words' fault; one voice alone may just speak badly.
REAL_VOICES = 2


@dataclass(frozen=True, slots=True)
class Playing:
    """One phrase said by one voice, and what the engine made of it."""

    spoken: Spoken
    voice: str
    condition: str
    """ "quiet", or the noise and its level."""
    heard: str
    """The text heard, empty for none."""
    heard_owner: str
    """What it stands for: the branch of the grammar, empty when nothing was heard."""

    @property
    def right(self) -> bool:
        """Whether it was taken for what it stands for."""
        return self.heard_owner == self.spoken.owner


@dataclass(frozen=True, slots=True)
class Confusion:
    """One phrase taken for another thing."""

    spoken: Spoken
    heard_owner: str
    heard: str
    """The text most lately heard for it."""
    voices: tuple[str, ...]
    """The voices it happened with, each once."""
    times: int
    played: int
    """How often the phrase was played in all."""
    back: int
    """How often the other thing was taken for this one."""

    @property
    def real(self) -> bool:
        """Whether it happened with enough voices to be the words' fault."""
        return len(self.voices) >= REAL_VOICES


def phrases_to_play(vocabulary: Vocabulary, lexicon: Lexicon, limit: float = WORTH_PLAYING) -> list[Spoken]:
    """Every whole phrase that has a rival for another thing within `limit` phones, as it is said.

    Args:
        vocabulary: The words.
        lexicon: How they are said.
        limit: In phones, weighted.
    """
    grammar = vocabulary.everything()
    every = [
        Spoken(text, key)
        for text in dict.fromkeys(_whole_phrases(vocabulary))
        if (key := grammar.key_of(text)) is not None
    ]
    near = {one for pair in alike_pairs(lexicon, every, limit) for one in (pair.first, pair.second)}
    return [one for one in every if one in near]


def _whole_phrases(vocabulary: Vocabulary) -> Iterator[str]:
    """Names of cuts, answers, and after the attention word all that ends without a number or a call."""
    said, cutlist = vocabulary.commands, vocabulary.cutlist
    for cut in cutlist.cuts:
        yield from cut.spoken_names()
        yield from (f"two {name}" for name in cut.plurals)
    yield from said.same_again
    for answers in said.answers.values():
        yield from answers
    commands = [
        p.words for phrasings in said.phrasings.values() for p in phrasings if p.words and not p.slots
    ]
    commands += [
        f"{name} {sex}" for kind in cutlist.species for name in kind.spoken_names() for sex in kind.sexes
    ]
    commands += [f"plan {name}" for plan in cutlist.plans for name in plan.spoken_names()]
    commands += [f"butcher {words_for(Decimal(number))}" for number in said.butchers]
    commands += [f"note {text}" for notes in said.notes.values() for text in notes]
    yield from (f"{said.attention} {text}" for text in commands)


def confusions(playings: Iterable[Playing]) -> list[Confusion]:
    """Each phrase with each other thing it was taken for, the most voices first."""
    every = list(playings)
    wrong: dict[tuple[Spoken, str], list[Playing]] = defaultdict(list)
    between: dict[tuple[str, str], int] = defaultdict(int)
    for one in every:
        if one.heard_owner and not one.right:
            wrong[one.spoken, one.heard_owner].append(one)
            between[one.spoken.owner, one.heard_owner] += 1
    found = [
        Confusion(
            spoken,
            owner,
            cases[-1].heard,
            tuple(dict.fromkeys(case.voice for case in cases)),
            len(cases),
            sum(one.spoken == spoken for one in every),
            between[owner, spoken.owner],
        )
        for (spoken, owner), cases in wrong.items()
    ]
    return sorted(found, key=lambda c: (-len(c.voices), -c.times, c.spoken.phrase))


def farthest(lexicon: Lexicon, candidates: Sequence[str], rivals: Sequence[str]) -> tuple[str, float] | None:
    """The candidate farthest from its nearest rival, and how far in phones; None when none can be said."""
    others = [way for rival in rivals for way in ways_to_say(lexicon, rival)]
    found: list[tuple[float, int, str]] = []
    for place, name in enumerate(candidates):
        ways = ways_to_say(lexicon, name)
        if ways and others:
            nearest = min(weighted_distance(one, other) for one, other in product(ways, others))
            found.append((nearest, -place, name))  # the earlier of equals
    return (max(found)[2], max(found)[0]) if found else None
