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


def seconds(t_ns: int) -> float:
    """Nanoseconds as seconds, for showing and for arithmetic that need not be exact."""
    return t_ns / NS_PER_S


def from_seconds(t_s: float) -> int:
    """Seconds as whole nanoseconds."""
    return round(t_s * NS_PER_S)


def wall_time(started_at: datetime, t_ns: int) -> datetime:
    """The wall time at `t_ns` of a session that began at `started_at` (to the microsecond)."""
    return started_at + timedelta(microseconds=t_ns // 1000)
