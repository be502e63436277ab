"""A clock that stands still until it is moved on; it never goes back and never sleeps."""

from __future__ import annotations

from datetime import UTC, datetime


class ManualClock:
    """Starts at 0.

    Args:
        started_at: The wall time (aware) at which the clock is 0.
    """

    def __init__(self, started_at: datetime = datetime(2025, 10, 14, 8, 30, tzinfo=UTC)) -> None:
        self._now_ns = 0
        self._started_at = started_at

    def now_ns(self) -> int:
        """The time it was moved to."""
        return self._now_ns

    def started_at(self) -> datetime:
        """As given."""
        return self._started_at

    def advance_ns(self, by_ns: int) -> None:
        """Move on.

        Raises:
            ValueError: `by_ns` is negative.
        """
        if by_ns < 0:
            raise ValueError("a clock does not go back")
        self._now_ns += by_ns
