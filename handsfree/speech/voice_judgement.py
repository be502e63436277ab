"""Pure: whether a speaker's model is better than the model as it comes, and how to trust it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from handsfree.speech.evidence import Evidence
from handsfree.speech.gate import Gate


@dataclass(frozen=True, slots=True)
class Trial:
    """One phrase kept back, heard by one model under one condition."""

    condition: str
    unseen: bool
    """It has a word that no teaching phrase has."""
    place: int | None
    """Of the true phrase among the readings, 0 for the best; None when it is not there."""
    evidence: Evidence | None
    behind: tuple[float, ...]
    """As in `Gate.probabilities`."""

    @property
    def right(self) -> bool:
        """Whether the best reading is the true one."""
        return self.place == 0


@dataclass(frozen=True, slots=True)
class Tally:
    """Right phrases of so many."""

    right: int
    of: int

    def __str__(self) -> str:
        return f"{self.right} of {self.of}"


def tally(trials: Sequence[Trial], condition: str | None = None, *, unseen: bool | None = None) -> Tally:
    """How many were right, of all or of those named."""
    taken = [
        trial for trial in trials if condition in (None, trial.condition) and unseen in (None, trial.unseen)
    ]
    return Tally(sum(trial.right for trial in taken), len(taken))


def is_better(before: Sequence[Trial], after: Sequence[Trial], gate: Gate) -> bool:
    """Whether the speaker's model is to be kept.

    More phrases right over all conditions, one where it is quiet counting as two, for no noise
    excuses a loss there; or as many, and the true phrases believed more (mean log probability). More than one
    phrase lost under any condition keeps the model as it comes. With the dozens of trials there are, one
    phrase is no proof, yet the best guess.
    """
    gained = 0
    for condition in {trial.condition for trial in before}:
        more = tally(after, condition).right - tally(before, condition).right
        if more < -1:
            return False
        gained += more * (2 if condition == QUIET else 1)
    if gained:
        return gained > 0
    return mean_log_probability(after, gate) > mean_log_probability(before, gate)


QUIET = "quiet"


def mean_log_probability(trials: Sequence[Trial], gate: Gate) -> float:
    """Mean natural log of the probability the gate gives to the truth, at least -5 for each."""
    if not trials:
        return 0.0
    return sum(max(-5.0, _log_truth(trial, gate)) for trial in trials) / len(trials)


def rival_scale(gate: Gate, good: Sequence[Trial]) -> float:
    """By how much to scale what a rival's distance tells, for this voice.

    The largest posterior over a grid, with a normal prior of standard deviation 0.35 on the logarithm, so
    that little speech moves it little. The gate's intercept stays as it was taught, with talk and words off
    the list: a voice reads none of those. Moved by the phrases read, with the truth taken out of the grammar,
    it made every voice too doubtful, for what is left are rivals nearer than any talk comes: of names heard
    on 19 development carcasses the expected calibration error was 15 % so, and is 2 % without
    (tests/benchmarks/pairing/rehearsed.py --read-in).

    Args:
        gate: The packaged one.
        good: Phrases of the grammar by this voice, never used for its model.
    """

    def posterior(scale: float) -> float:
        tried = replace(gate, rival=replace(gate.rival, behind=gate.rival.behind * scale))
        return sum(_log_truth(trial, tried) for trial in good) - 0.5 * (math.log(scale) / 0.35) ** 2

    return max((float(scale) for scale in np.exp(np.linspace(-0.7, 0.7, 15))), key=posterior)


def _log_truth(trial: Trial, gate: Gate) -> float:
    """Log probability of the true reading, or of "none of these" when it is not among them."""
    chances = gate.probabilities(trial.evidence, trial.behind)
    if trial.place is not None and trial.place < len(chances):
        return math.log(max(chances[trial.place], 1e-6))
    return math.log(max(1.0 - sum(chances), 1e-6))
