"""The scale interval d, given or learned from what is indicated. Pure."""

from __future__ import annotations

from math import gcd

from handsfree.weighing.messages import Indication

#: Step in units of the last digit, and how many different values other than zero must all be multiples
#: of it before it is taken for d. Few are enough: the first value between two steps takes it back.
_STEPS = ((50, 3), (20, 3), (10, 2), (5, 2), (2, 4))


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
        if counts and len(self._seen) <= _STEPS[-1][1]:
            self._seen.add(counts)
        seen = len(self._seen)
        steps = next((n for n, needed in _STEPS if seen >= needed and self._divisor % n == 0), 1)
        return steps * self._digit_mg
