"""Control charts of one figure a carcass: individuals with moving range, EWMA and CUSUM. Pure.

Formulas and constants: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2 to 6.3.2.4.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import inf, sqrt
from statistics import fmean
from typing import Final

from handsfree.errors import EntryError

#: Mean range of two values of a normal distribution, in standard deviations.
D2_OF_TWO: Final = 1.128
#: Upper limit of the moving range, in mean moving ranges.
D4_OF_TWO: Final = 3.267
#: The usual weight of the newest value in an EWMA.
EWMA_WEIGHT: Final = 0.3


@dataclass(frozen=True, slots=True)
class Chart:
    """One chart; values and limits have the unit of what is charted."""

    values: tuple[float, ...]
    """What is drawn, in order."""
    centre: float
    lower: tuple[float, ...]
    """Lower limit at each value."""
    upper: tuple[float, ...]

    @property
    def signals(self) -> tuple[int, ...]:
        """Places (from 0) of the values beyond a limit."""
        rows = enumerate(zip(self.lower, self.values, self.upper, strict=True))
        return tuple(place for place, (low, value, high) in rows if not low <= value <= high)


@dataclass(frozen=True, slots=True)
class Cusum:
    """Tabular CUSUM: how far the sums ran above and below the target."""

    above: tuple[float, ...]
    below: tuple[float, ...]
    limit: float

    @property
    def signals(self) -> tuple[int, ...]:
        """Places (from 0) where either sum is beyond the limit."""
        rows = enumerate(zip(self.above, self.below, strict=True))
        return tuple(place for place, sums in rows if max(sums) > self.limit)


def moving_ranges(values: Sequence[float]) -> tuple[float, ...]:
    """Differences between neighbours, without sign: one fewer than the values."""
    return tuple(abs(after - before) for before, after in pairwise(values))


def sigma_of(values: Sequence[float]) -> float:
    """Standard deviation between neighbours: mean moving range over d2(2) = 1.128 (NIST 6.3.2.2).

    Raises:
        EntryError: There are fewer than two values.
    """
    if len(values) < 2:
        raise EntryError("a chart needs two carcasses at least", next_step="close more carcasses first")
    return fmean(moving_ranges(values)) / D2_OF_TWO


def individuals(values: Sequence[float]) -> Chart:
    """Individuals chart with limits at three standard deviations (NIST 6.3.2.2).

    Raises:
        EntryError: There are fewer than two values.
    """
    centre, reach = fmean(values) if values else 0.0, 3 * sigma_of(values)
    count = len(values)
    return Chart(tuple(values), centre, (centre - reach,) * count, (centre + reach,) * count)


def moving_range(values: Sequence[float]) -> Chart:
    """Moving-range chart: from nothing to 3.267 mean ranges (D4 of two).

    Raises:
        EntryError: There are fewer than two values.
    """
    ranges, centre = moving_ranges(values), sigma_of(values) * D2_OF_TWO
    return Chart(ranges, centre, (0.0,) * len(ranges), (D4_OF_TWO * centre,) * len(ranges))


def ewma(
    values: Sequence[float],
    target: float,
    sigma: float,
    *,
    weight: float = EWMA_WEIGHT,
    reach: float = 3.0,
    settled: bool = False,
) -> Chart:
    """Exponentially weighted moving average (NIST 6.3.2.4).

    Args:
        values: In order.
        target: Where the average starts, and the centre line.
        sigma: Standard deviation of one value.
        weight: Of the newest value, 0 to 1.
        reach: Limits in standard deviations of the average.
        settled: The limits of a long series everywhere, instead of the narrower exact ones at its start.
    """
    averages, average = [], target
    for value in values:
        average = weight * value + (1 - weight) * average
        averages.append(average)
    final = weight / (2 - weight)
    widths = [
        reach * sigma * sqrt(final * (1.0 if settled else 1 - (1 - weight) ** (2 * place)))
        for place in range(1, len(averages) + 1)
    ]
    return Chart(
        tuple(averages),
        target,
        tuple(target - width for width in widths),
        tuple(target + width for width in widths),
    )


def cusum(
    values: Sequence[float], target: float, *, slack: float, limit: float, ceiling: float = inf
) -> Cusum:
    """Tabular CUSUM (NIST 6.3.2.3).

    Args:
        values: In order.
        target: The mean to be held.
        slack: What each value may be off without adding: half of the shift to be found.
        limit: The sum that signals.
        ceiling: No sum grows beyond this, so that one long above its limit falls back soon after the end.
    """
    above, below = [], []
    high = low = 0.0
    for value in values:
        off = value - target
        high += off - slack
        high = 0.0 if high < 0 else min(high, ceiling)
        low -= off + slack
        low = 0.0 if low < 0 else min(low, ceiling)
        above.append(high)
        below.append(low)
    return Cusum(tuple(above), tuple(below), limit)
