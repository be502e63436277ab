"""When a port that is lost may be tried again. Pure: it opens nothing itself."""

from __future__ import annotations

from collections.abc import Callable

from handsfree.clock import Clock, from_seconds
from handsfree.errors import ScaleError


class Reopening:
    """Tries now and then, not at every call; only the very first failure is raised.

    A port that is not there at the beginning is a mistake to be put right at once; one that goes away
    later comes back by itself.

    Args:
        clock: The session's time.
        retry_s: Time between two tries.
    """

    def __init__(self, clock: Clock, retry_s: float) -> None:
        self._clock = clock
        self._retry_ns = from_seconds(retry_s)
        self._tried = False
        self._next_ns = 0

    def attempt(self, opening: Callable[[], None]) -> bool:
        """Whether it was time to try and `opening` succeeded.

        Raises:
            ScaleError: What the very first `opening` raised.
        """
        now_ns = self._clock.now_ns()
        if self._tried and now_ns < self._next_ns:
            return False
        first, self._tried = not self._tried, True
        try:
            opening()
        except ScaleError:
            self.wait_from(now_ns)
            if first:
                raise
            return False
        return True

    def wait_from(self, now_ns: int) -> None:
        """The port was lost now: let it come back before the next try."""
        self._next_ns = now_ns + self._retry_ns
