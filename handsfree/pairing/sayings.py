"""What was said twice of one piece or one tag, weighed together. Pure.

A call that noise made doubtful is said again, and noise has another moment. One voice is misheard alike
each time, so two sayings are no independent witnesses: their probabilities are pooled as a weighted mean
of logarithms (the logarithmic opinion pool: C. Genest and J. V. Zidek, Statistical Science 1 (1986)
114-135, from memory), which makes what was likely both times the likeliest and nothing surer than it was
heard. tests/benchmarks/hearing/said_twice.py compares the weights.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from math import exp, log

from handsfree.pairing.fusion import by_sound
from handsfree.pairing.settings import PairingSettings
from handsfree.speech.meaning import Call, Command, Verb
from handsfree.speech.messages import Hypothesis, Utterance

_PHRASES = 30
"""About so many pieces may be called at any time; of tags there are more."""
_LEAST = 1e-6
_KEPT = 16
"""So many readings are kept: all that both were heard with."""


def is_call(meaning: object) -> bool:
    """Whether a reading names a piece."""
    return isinstance(meaning, Call)


def is_tag(meaning: object) -> bool:
    """Whether a reading tells a tag."""
    return isinstance(meaning, Command) and meaning.verb is Verb.TAG and bool(meaning.digits)


def together(
    earlier: Utterance,
    later: Utterance,
    settings: PairingSettings,
    kind: Callable[[object], bool] = is_call,
) -> Utterance:
    """The later of two sayings of one call or one tag, with its readings weighed by both.

    Args:
        earlier: What was heard first; its readings may be weighed together already.
        later: What was heard then; the times are its own.
        settings: `earlier_saying` is the weight of the earlier one, 0 to 1.
        kind: Which readings count.
    """
    calls = _of_kind(later, kind)
    known = [each.meaning for each in calls]
    calls += [each for each in _of_kind(earlier, kind) if each.meaning not in known]
    if not calls:
        return later
    first, second = _Heard(earlier, settings), _Heard(later, settings)
    share = settings.earlier_saying
    parts = [
        (1.0 - share) * log(second.chance(each.meaning)) + share * log(first.chance(each.meaning))
        for each in calls
    ]
    parts.append((1.0 - share) * log(second.nothing) + share * log(first.nothing))
    highest = max(parts)
    chances = [exp(part - highest) for part in parts]
    whole = sum(chances)
    weighed = sorted(
        (replace(each, probability=chance / whole) for each, chance in zip(calls, chances, strict=False)),
        key=lambda each: -(each.probability or 0.0),
    )[:_KEPT]
    return replace(later, hypotheses=tuple(weighed), confidence=weighed[0].probability or 0.0)


def _of_kind(utterance: Utterance, kind: Callable[[object], bool]) -> list[Hypothesis]:
    return [each for each in utterance.hypotheses if kind(each.meaning)]


class _Heard:
    """What one saying makes of any call."""

    def __init__(self, utterance: Utterance, settings: PairingSettings) -> None:
        chances, nothing = by_sound(utterance, settings.close_score)
        self.nothing = max(nothing, _LEAST)
        self._chances = list(zip(utterance.hypotheses, chances, strict=True))
        self._unlisted = max(_LEAST, min([*chances, self.nothing / _PHRASES]))

    def chance(self, meaning: object) -> float:
        """Probability of a reading; one that is not among them is no likelier than the last of them."""
        exactly = [chance for each, chance in self._chances if each.meaning == meaning]
        if exactly:
            return max(*exactly, _LEAST)
        name = _name(meaning)
        named = [chance / 2 for each, chance in self._chances if name and _name(each.meaning) == name]
        return max([self._unlisted, *named])


def _name(meaning: object) -> object:
    """The piece, wherever it is to go."""
    return (meaning.cut, meaning.side, meaning.count) if isinstance(meaning, Call) else None
