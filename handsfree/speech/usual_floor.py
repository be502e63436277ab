"""Pure: the noise floor a microphone usually has."""

from __future__ import annotations

#: Least and most a floor is told apart, decibels below full scale; one step each.
_LOWEST_DB = -100
_STEPS = 101
_QUIET_SHARE = 0.1


class UsualFloor:
    """The quiet tenth of all levels heard, older ones counting ever less.

    Args:
        needed: Levels it takes before anything is known; twice as many are half forgotten after it.
    """

    def __init__(self, needed: int) -> None:
        self._needed = needed
        self._counts = [0.0] * _STEPS
        self._total = 0.0

    @property
    def floor_db(self) -> float | None:
        """The usual floor to a decibel, below full scale; None before enough was heard."""
        if self._total < self._needed:
            return None
        below = 0.0
        for step, count in enumerate(self._counts):
            below += count
            if below >= _QUIET_SHARE * self._total:
                return float(_LOWEST_DB + step)
        return 0.0

    def add(self, level_db: float) -> None:
        """One more level."""
        self._counts[min(_STEPS - 1, max(0, round(level_db) - _LOWEST_DB))] += 1.0
        self._total += 1.0
        if self._total >= 40 * self._needed:
            self._counts = [count / 2.0 for count in self._counts]
            self._total /= 2.0
