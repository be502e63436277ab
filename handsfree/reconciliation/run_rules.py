"""Run rules on a chart of individuals: patterns that are unlikely while nothing has changed. Pure.

The Western Electric rules (Western Electric Company, Statistical Quality Control Handbook, 1956), as
NIST/SEMATECH e-Handbook 6.3.2 gives them. All four together alarm once in 91.75 values in order (Champ &
Woodall 1987, Technometrics 29(4):393), the first alone once in 370: runs are hints, no verdict.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

# How many of how many last values lie beyond so many standard deviations on one side.
_RULES: Final = ((1, 1, 3.0), (2, 3, 2.0), (4, 5, 1.0), (8, 8, 0.0))


@dataclass(frozen=True, slots=True)
class Run:
    """A rule that a value completed."""

    place: int
    """Of the value that completed it, from 0."""
    rule: int
    """1 to 4: one beyond 3, two of three beyond 2, four of five beyond 1, eight beyond 0."""
    above: bool


def runs(values: Sequence[float], centre: float, sigma: float) -> tuple[Run, ...]:
    """Every rule that a value completes, in order of place.

    A value completes a rule only when it lies beyond the rule's line itself.
    """
    scaled = (np.asarray(values, dtype=float) - centre) / sigma if sigma > 0 else np.zeros(len(values))
    found = []
    for rule, (wanted, of, beyond) in enumerate(_RULES, 1):
        for above in (True, False):
            out = scaled > beyond if above else scaled < -beyond
            complete = out & (_last(out, of) >= wanted)
            found += [Run(int(place), rule, above) for place in np.flatnonzero(complete)]
    return tuple(sorted(found, key=lambda run: (run.place, run.rule)))


def _last(out: npt.NDArray[np.bool_], of: int) -> npt.NDArray[np.int_]:
    """How many of the last `of` values lie out, at each place; fewer came before at the beginning."""
    sums = np.concatenate([np.zeros(1, dtype=int), np.cumsum(out)])
    starts = np.maximum(np.arange(1, len(sums)) - of, 0)
    return np.asarray(sums[1:] - sums[starts])
