"""A transport that gives what a script says: the fake for everything above the wire."""

from __future__ import annotations

from collections.abc import Iterable

from handsfree.weighing.ports import Chunk, Ended, Received


class ScriptedTransport:
    """Gives the scripted answers one after the other, then `Ended`.

    Args:
        scale: Name of the instrument.
        script: What `receive` gives, in order; after an `Ended` nothing else is given.
    """

    def __init__(self, scale: str, script: Iterable[Received]) -> None:
        self._scale = scale
        self._script = list(script)
        self._t_ns = 0
        self._ended = False
        self.sent: list[bytes] = []
        """Requests sent to the scale so far."""

    @property
    def scale(self) -> str:
        """Name of the instrument."""
        return self._scale

    def receive(self, timeout_s: float) -> Received:
        """The next scripted answer, without waiting."""
        if self._ended or not self._script:
            self._ended = True
            return Ended(self._t_ns)
        received = self._script.pop(0)
        self._t_ns = received.t_ns
        self._ended = isinstance(received, Ended)
        return received

    def send(self, data: bytes) -> None:
        """Note the request in `sent`."""
        self.sent.append(data)

    def close(self) -> None:
        """End the script."""
        self._ended = True


def chunks_of(lines: Iterable[tuple[float, str]]) -> list[Chunk]:
    """Generated or recorded lines (seconds, text with its line end) as chunks."""
    return [Chunk(round(t_s * 1e9), line.encode("latin-1")) for t_s, line in lines]
