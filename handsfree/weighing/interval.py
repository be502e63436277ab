"""The scale interval d, given or learned from what is indicated. Pure."""

from __future__ import annotations

from math import gcd

from handsfree.weighing.messages import Indication

_DISTINCT_NEEDED = 10
"""Distinct values before d is taken to be more than one unit of the last digit: that ten values in
motion are all even by chance has a probability of 2**-10."""


class ScaleInterval:
    """Learns d: 1, 2 or 5 units of the last digit shown, or ten times those.

    Args:
        d_mg: The interval, when known; then nothing is learned.
    """

    def __init__(self, d_mg: int | None = None) -> None:
        self._given_mg = d_mg
        self._unit = ""
        self._digit_mg = 0
        self._seen: set[int] = set()
        self._divisor = 0

    def feed(self, indication: Indication) -> int:
        """The interval in milligrams that holds for this indication."""
        if (indication.unit, indication.interval_mg) != (self._unit, self._digit_mg):
            self._unit, self._digit_mg = indication.unit, indication.interval_mg
            self._seen.clear()
            self._divisor = 0
        if self._given_mg is not None:
            # A pound display of a kilogram scale shows steps of its own.
            return max(self._given_mg, self._digit_mg)
        counts = round(indication.value_mg / self._digit_mg)
        self._divisor = gcd(self._divisor, counts)
        if len(self._seen) < _DISTINCT_NEEDED:
            self._seen.add(counts)
        if len(self._seen) < _DISTINCT_NEEDED:
            return self._digit_mg
        steps = next((n for n in (50, 20, 10, 5, 2) if self._divisor % n == 0), 1)
        return steps * self._digit_mg
