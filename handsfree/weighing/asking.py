"""A scale that sends only when it is asked: a transport that asks for it. Opens nothing itself."""

from __future__ import annotations

from handsfree.clock import Clock, from_seconds
from handsfree.weighing.ports import Chunk, Ended, Lost, Received, Transport

ANSWER_S = 1.0
"""Time after which an unanswered request is sent again (public interface manuals advise a second)."""
_ENDS = frozenset(b"\r\n\x03")
_LEAST_WAIT_S = 0.001


class Asking:
    """Sends a request whenever the last one was answered, and not more often than told.

    A request that is not answered in time is sent again, so that an answer lost on the line costs no more
    than that time. Everything the scale sends goes on as it comes, asked for or not.

    Args:
        transport: Where the scale is.
        request: What makes it send one line.
        clock: The session's time.
        every_s: Least time between two requests.
        answer_s: Time to wait for an answer; longer for a scale that waits until it is stable.
    """

    def __init__(
        self,
        transport: Transport,
        request: bytes,
        clock: Clock,
        *,
        every_s: float,
        answer_s: float = ANSWER_S,
    ) -> None:
        self._transport = transport
        self._request = request
        self._clock = clock
        self._every_ns = from_seconds(every_s)
        self._answer_ns = max(from_seconds(answer_s), self._every_ns)
        self._asked_ns: int | None = None
        self._due_ns = 0
        self._open = False

    @property
    def scale(self) -> str:
        """Name of the instrument at the other end."""
        return self._transport.scale

    def receive(self, timeout_s: float) -> Received:
        """The next bytes, asking for them when it is time; see `Transport`.

        Raises:
            ScaleError: The port cannot be opened at the first use.
        """
        if not self._open:
            # The first call opens the port; a request before would be lost.
            first = self._transport.receive(0.0)
            self._open = True
            if not isinstance(first, Ended):
                self._due_ns = self._clock.now_ns()
            return first
        now_ns = self._clock.now_ns()
        if now_ns >= self._due_ns:
            self._transport.send(self._request)
            self._asked_ns = now_ns
            self._due_ns = now_ns + self._answer_ns
        wait_s = min(timeout_s, max(_LEAST_WAIT_S, (self._due_ns - now_ns) / 1e9))
        received = self._transport.receive(wait_s)
        if isinstance(received, Chunk) and self._asked_ns is not None and _ENDS & set(received.data):
            self._due_ns = self._asked_ns + self._every_ns
        elif isinstance(received, Lost):
            self._due_ns = received.t_ns
        return received

    def send(self, data: bytes) -> None:
        """Send something else to the scale."""
        self._transport.send(data)

    def close(self) -> None:
        """Free the port."""
        self._transport.close()
