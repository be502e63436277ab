"""Time as the recorder uses it: nanoseconds since the session began.

Every message is stamped with `t_ns`, nanoseconds since the session's start, so that a live run
and a replay carry the same numbers. Wall time is the session's start plus `t_ns`.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from time import monotonic_ns
from typing import Protocol

NS_PER_S = 1_000_000_000


class Clock(Protocol):
    """Where a live session gets its time from."""

    def now_ns(self) -> int:
        """Nanoseconds since the session began; never goes backwards."""
        ...

    def started_at(self) -> datetime:
        """The wall time (aware, UTC) at which `now_ns` was 0."""
        ...


class SystemClock:
    """The machine's monotonic clock, with the wall time noted once at the start."""

    def __init__(self) -> None:
        self._zero_ns = monotonic_ns()
        self._started_at = datetime.now(UTC)

    def now_ns(self) -> int:
        """Nanoseconds since this clock was made."""
        return monotonic_ns() - self._zero_ns

    def started_at(self) -> datetime:
        """The wall time at which this clock was made."""
        return self._started_at


class WallClockWatch:
    """Notices when the machine's clock is set, or stood still while it slept: times would no longer fit.

    Pure: the caller brings both times.

    Args:
        started_at: The wall time at which the session's time was 0.
        least_s: Smallest jump to tell; a time service moves a clock slowly by less.
    """

    def __init__(self, started_at: datetime, least_s: float = 2.0) -> None:
        self._least_s = least_s
        self._zero = started_at

    def feed(self, now_ns: int, wall: datetime) -> float | None:
        """Seconds by which the clock was set since it was last looked at (forward is positive); None: not."""
        jump_s = (wall - wall_time(self._zero, now_ns)).total_seconds()
        if abs(jump_s) < self._least_s:
            return None
        self._zero = wall_time(wall, -now_ns)
        return jump_s


def clock_was_set(jump_s: float) -> str:
    """A jump of the clock in words: "the clock was set forward by 3600 seconds"."""
    way = "forward" if jump_s > 0 else "back"
    return f"the clock was set {way} by {abs(jump_s):.0f} seconds"


def seconds(t_ns: int) -> float:
    """Nanoseconds as seconds, for showing and for arithmetic that need not be exact."""
    return t_ns / NS_PER_S


def from_seconds(t_s: float) -> int:
    """Seconds as whole nanoseconds."""
    return round(t_s * NS_PER_S)


def wall_time(started_at: datetime, t_ns: int) -> datetime:
    """The wall time at `t_ns` of a session that began at `started_at` (to the microsecond)."""
    return started_at + timedelta(microseconds=t_ns // 1000)
