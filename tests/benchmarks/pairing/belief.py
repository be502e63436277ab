"""How far the probability of a name can be believed, and how much the engine's own should count.

A piece's name is chosen from readings, each with the logarithms of its sound, plan and weight, which the
ledger keeps. Held against the truth they tell whether of the names that were given 80 % four in five were
right (reliability, expected calibration error: Guo et al., "On Calibration of Modern Neural Networks",
2017; Brier 1950), and which weight of the sound would have given the truth the highest likelihood.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from math import exp, log
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "reconciliation"))

from calibration import brier_score, expected_calibration_error, reliability

from handsfree.speech.meaning import Call, Side
from handsfree.testing.rehearsal.scenario import TruthRow
from handsfree.testing.rehearsal.score import Score

EDGES = (0.0, 0.3, 0.5, 0.6, 0.7, 0.8, 0.87, 0.94, 0.98, 1.0)
SOUND_WEIGHTS = (0.2, 0.4, 0.6, 0.8, 1.0, 1.2, 1.5)
_LEAST = 1e-4
"""Probabilities are kept to four places."""


@dataclass(frozen=True, slots=True)
class Believed:
    """The readings of one piece, and which of them is true."""

    sound: tuple[float, ...]
    """Natural-log probability of each by sound alone, likeliest of all together first."""
    rest: tuple[float, ...]
    """What plan and weight add to each."""
    probability: tuple[float, ...]
    """Of each, all together; what they lack to 1 is "no call"."""
    true: int | None
    """Which is true; None when it was not among them."""

    @property
    def is_right(self) -> bool:
        """Whether the likeliest is true."""
        return self.true == 0

    def of_truth(self, sound_weight: float, judged_with: float) -> float:
        """What the truth's probability would be if the sound counted this much.

        The truth is "no call" where it was not heard.

        Args:
            sound_weight: Another weight of the sound.
            judged_with: The one that `probability` comes from.
        """
        given = [exp(judged_with * s + r) for s, r in zip(self.sound, self.rest, strict=True)]
        named = max(_LEAST, sum(self.probability))
        nothing = max(_LEAST, 1.0 - named) * sum(given) / named
        terms = [exp(sound_weight * s + r) for s, r in zip(self.sound, self.rest, strict=True)]
        true = nothing if self.true is None else terms[self.true]
        return true / (sum(terms) + nothing)


def believed(scores: Iterable[Score], destination_of: Callable[[Call], str]) -> list[Believed]:
    """Every piece of these carcasses whose name was chosen from readings and whose truth is known."""
    found = []
    for score in scores:
        for finding in score.findings:
            row, piece = finding.truth, finding.piece
            if row is None or piece is None or not piece.entered.readings:
                continue
            readings = piece.entered.readings
            names = [str(each["name"]) for each in readings]
            if any("same again" in name for name in names):
                continue
            may_be = names_of(row, destination_of)
            true = next((place for place, name in enumerate(names) if name in may_be), None)
            found.append(
                Believed(
                    tuple(float(each["sound"]) for each in readings),
                    tuple(float(each["plan"]) + float(each["weight"]) for each in readings),
                    tuple(float(each["probability"]) for each in readings),
                    true,
                )
            )
    return found


def names_of(row: TruthRow, destination_of: Callable[[Call], str]) -> set[str]:
    """What may truly be said of a piece: also without its side, and without where such pieces usually go."""
    whole = Call(row.cut, Side(row.side) if row.side else None, row.count, row.destination)
    calls = [whole, replace(whole, side=None)]
    if destination_of(replace(whole, destination=None)) == row.destination:
        calls += [replace(each, destination=None) for each in calls]
    return {each.words() for each in calls}


def tables(every: Sequence[Believed], judged_with: float) -> list[str]:
    """How reliable the likeliest names are, by all evidence and by sound alone, and the best sound weight.

    Args:
        every: The pieces.
        judged_with: The weight of the sound they were judged with.
    """
    if not every:
        return ["no piece was named from readings"]
    ones = [1.0] * len(every)
    right = [each.is_right for each in every]
    lines = [f"{len(every)} pieces with readings; of the likeliest names, sound, plan and weight together:"]
    said = [each.probability[0] for each in every]
    lines += _reliability(said, right, ones)
    by_sound = [max(range(len(each.sound)), key=lambda n, each=each: each.sound[n]) for each in every]
    lines.append("by sound alone:")
    lines += _reliability(
        [min(1.0, exp(each.sound[n])) for each, n in zip(every, by_sound, strict=True)],
        [each.true == n for each, n in zip(every, by_sound, strict=True)],
        ones,
    )
    lines.append("weight of the sound -> mean natural-log probability of the truth:")
    lines.append("  ".join(f"{w:.1f} {mean_log(every, w, judged_with):.3f}" for w in SOUND_WEIGHTS))
    return lines


def mean_log(every: Sequence[Believed], sound_weight: float, judged_with: float) -> float:
    """Mean natural logarithm of the probability the truth would be given; see `Believed.of_truth`."""
    chances = (each.of_truth(sound_weight, judged_with) for each in every)
    return sum(log(max(_LEAST, chance)) for chance in chances) / len(every)


def _reliability(said: Sequence[float], right: Sequence[bool], ones: Sequence[float]) -> list[str]:
    rows = reliability(said, right, ones, EDGES)
    error, score = expected_calibration_error(rows), brier_score(said, right, ones)
    return [
        *(
            f"  {row.low:.2f} to {row.high:.2f}: {row.count:5d}, said {row.said:6.1%}, true {row.true:6.1%}"
            for row in rows
        ),
        f"  expected calibration error {error:.1%}, Brier score {score:.4f}",
    ]
