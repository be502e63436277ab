"""From words to a reading: what a text means under the grammar in use."""

from __future__ import annotations

from itertools import islice, product

from rapidfuzz import fuzz, process

from handsfree.speech.expressions import normalise
from handsfree.speech.grammar import Grammar
from handsfree.speech.meaning import Meaning
from handsfree.speech.messages import Hypothesis
from handsfree.speech.numbers import spoken_ways

_PHRASES_COMPARED = 4000
_LIKE_ENOUGH = 60.0
"""Similarity, 0 to 100, below which a suggestion would only confuse."""


def meaning_of(grammar: Grammar, text: str) -> Meaning | None:
    """The one meaning of a text; None when it is no phrase, means nothing, or could mean two things."""
    meanings = grammar.parse(text)
    return meanings[0] if len(meanings) == 1 else None


def hypothesis(grammar: Grammar, text: str, score: float) -> Hypothesis:
    """A reading of an utterance, with its words made normal and its meaning looked up."""
    said = " ".join(normalise(text))
    return Hypothesis(said, meaning_of(grammar, said), score)


def as_spoken(grammar: Grammar, text: str) -> str:
    """A typed text with figures written out so that it is a phrase: "tag 417" is "tag four one seven".

    A text that is no phrase either way comes back with its words made normal.
    """
    words = text.split()
    ways = [spoken_ways(word.strip(",;:!?")) or (word,) for word in words]
    for chosen in islice(product(*ways), 16):
        candidate = " ".join(chosen)
        if grammar.contains(candidate):
            return " ".join(normalise(candidate))
    return " ".join(normalise(text))


def suggestions(grammar: Grammar, text: str, limit: int = 3) -> list[str]:
    """Phrases of the grammar that a mistyped text may have meant, likeliest first."""
    said = " ".join(normalise(text))
    found = process.extract(
        said, grammar.phrases(_PHRASES_COMPARED), scorer=fuzz.ratio, limit=limit, score_cutoff=_LIKE_ENOUGH
    )
    return [phrase for phrase, _, _ in found]
