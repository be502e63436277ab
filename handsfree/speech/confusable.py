"""Which phrases sound too much alike: weighted phoneme edit distance over the lexicon. Pure.

A phone put in or left out costs one; exchanging two costs what `phone_confusions` gives. rapidfuzz
finds the pairs worth weighing: no exchange costs less than `CHEAPEST`, so what is many phones apart
unweighted cannot be near. The limits are judgement, no source.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import combinations, islice, product

from rapidfuzz.distance import Levenshtein

from handsfree.speech.lexicon import Lexicon
from handsfree.speech.phone_confusions import CHEAPEST, exchange_cost
from handsfree.speech.phones import Pronunciation

#: Up to this many phones apart, unweighted, two phrases are a fault: roe and doe, chump and rump.
TOO_ALIKE = 1
#: Up to this many phones apart, weighted, noise may make one of the other.
ALIKE = 1.5

_MOST_WAYS = 12
"""A phrase of several words with several forms each is compared by its first ways only."""


@dataclass(frozen=True, slots=True)
class Spoken:
    """A phrase and what it stands for: phrases of one owner may sound alike."""

    phrase: str
    owner: str


@dataclass(frozen=True, slots=True)
class AlikePair:
    """Two phrases for different things that sound alike."""

    first: Spoken
    second: Spoken
    distance: float
    """Phones apart, weighted, in the two ways of saying them that are closest."""
    phones: int
    """Phones apart, unweighted, in the same two ways."""
    blame: tuple[str, str]
    """The words that differ, one side each; empty when one phrase is the other and more."""

    @property
    def too_alike(self) -> bool:
        """Whether this is a fault rather than a caution."""
        return self.phones <= TOO_ALIKE


def phones_apart(first: Sequence[str], second: Sequence[str]) -> int:
    """Plain edit distance: phones put in, left out or exchanged."""
    return Levenshtein.distance(first, second)


def weighted_distance(first: Sequence[str], second: Sequence[str]) -> float:
    """Edit distance in phones, less for exchanging phones that are readily taken for each other."""
    row = [float(place) for place in range(len(second) + 1)]
    for count, phone in enumerate(first, 1):
        above, row = row, [float(count)]
        for place, other in enumerate(second):
            row.append(min(above[place] + exchange_cost(phone, other), above[place + 1] + 1, row[place] + 1))
    return row[-1]


def ways_to_say(lexicon: Lexicon, phrase: str) -> list[Pronunciation]:
    """The ways a phrase can be said; empty when a word is not known."""
    each = [lexicon.pronunciations(word) for word in phrase.split()]
    ways = (tuple(phone for word in words for phone in word) for words in product(*each))
    return list(dict.fromkeys(islice(ways, _MOST_WAYS)))


def alike_pairs(lexicon: Lexicon, spoken: Iterable[Spoken], limit: float = ALIKE) -> list[AlikePair]:
    """Every pair with different owners that is at most `limit` phones apart, closest first."""
    said = [(one, ways_to_say(lexicon, one.phrase)) for one in dict.fromkeys(spoken)]
    found: list[AlikePair] = []
    most = int(limit / CHEAPEST)
    for (first, first_ways), (second, second_ways) in combinations(said, 2):
        if first.owner == second.owner or not first_ways or not second_ways:
            continue
        distance, phones = min(
            (
                (weighted_distance(one, other), phones_apart(one, other))
                for one, other in product(first_ways, second_ways)
                if Levenshtein.distance(one, other, score_cutoff=most) <= most
            ),
            default=(limit + 1, 0),
        )
        if distance <= limit:
            blame = _blame(first.phrase, second.phrase)
            found.append(AlikePair(first, second, distance, phones, blame))
    return sorted(found, key=lambda pair: (pair.distance, pair.first.phrase, pair.second.phrase))


def clearer_name(lexicon: Lexicon, names: Sequence[str], rivals: Sequence[str]) -> str | None:
    """The first of the names that sounds like none of the rivals, None when there is none."""
    for name in names:
        pairs = alike_pairs(lexicon, [Spoken(name, "name"), *(Spoken(rival, "rival") for rival in rivals)])
        if not any("name" in (pair.first.owner, pair.second.owner) for pair in pairs):
            return name
    return None


def _blame(first: str, second: str) -> tuple[str, str]:
    one, other = first.split(), second.split()
    while one and other and one[0] == other[0]:
        one, other = one[1:], other[1:]
    while one and other and one[-1] == other[-1]:
        one, other = one[:-1], other[:-1]
    return " ".join(one), " ".join(other)
