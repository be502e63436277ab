"""The likelihood-ratio bound: what the best possible test of the unaccounted mass would find.

By the lemma of Neyman and Pearson the likelihood ratio gives the most powerful test at any rate of
false alarms. The losses and readings of the simulation have log-concave densities (gamma of shape
above 1, uniform, normal), so the ratio for a missing mass rises with the unaccounted mass: a threshold
on it is that test, whatever the missing mass is (uniformly most powerful; Karlin and Rubin). The
bound is told everything the simulation knows: means of all losses, the way of cutting, hot or cold.
Its null distribution is the simulation's own, found by drawing faultless carcasses, not the
recorder's budget.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

import numpy as np
from carcasses import Carcass, Rng, carcass
from numpy.typing import NDArray

#: False alarms the bound is allowed, all on the side of the missing mass: as many as the target allows.
FALSE_ALARM_RATE = 0.01
#: Carcasses of a class are taken together over sizes of this many parts.
SIZES_G = (0.0, 15_000.0, 25_000.0, 35_000.0, 1e9)


def size_class(one: Carcass) -> tuple[str, bool, int]:
    """What the noise of a faultless record depends on: way of cutting, hot or cold, size."""
    return one.way_of_cutting, one.hot, int(np.searchsorted(SIZES_G, one.dressed_true_g))


class Bound:
    """The bound of the simulation of `carcasses.carcass`."""

    def __init__(self, rng: Rng, draws: int) -> None:
        """Draw the null distribution.

        Args:
            rng: Of its own, not that of the judged carcasses.
            draws: How many faultless carcasses.
        """
        rows: dict[tuple[str, bool, int], list[float]] = defaultdict(list)
        for _ in range(draws):
            one = carcass(rng)
            rows[size_class(one)].append(one.noise_g() / one.dressed_true_g)
        self._null: dict[tuple[str, bool, int], NDArray[np.float64]] = {
            key: np.sort(values) for key, values in rows.items()
        }

    def power(self, one: Carcass, moved_g: float) -> float:
        """Probability with which the best test finds this mass missing (or, negative, too much)."""
        null = self._null[size_class(one)]
        share = moved_g / one.dressed_true_g
        if share < 0:  # the same test on the other side
            null, share = -null[::-1], -share
        threshold = np.quantile(null, 1 - FALSE_ALARM_RATE)
        return float(np.mean(null + share > threshold))

    def mean_power(self, cases: Iterable[tuple[Carcass, float]]) -> float:
        """The mean over carcasses and moved masses."""
        return float(np.mean([self.power(one, moved_g) for one, moved_g in cases]))
