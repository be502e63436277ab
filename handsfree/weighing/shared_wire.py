"""Several scales on one port: what comes is given to each of them. Opens nothing itself."""

from __future__ import annotations

import threading
from collections import deque

from handsfree.errors import ScaleError
from handsfree.weighing.ports import Chunk, Ended, Lost, Nothing, Received, Transport


class SharedWire:
    """One transport under several; each scale picks its own lines by their address.

    Args:
        transport: The port they share; its scale's name is not used.
    """

    def __init__(self, transport: Transport) -> None:
        self._transport = transport
        self._taps: list[_Tap] = []
        self._reading = threading.Lock()

    def tap(self, scale: str) -> Transport:
        """A transport for one of the scales."""
        tap = _Tap(self, scale)
        self._taps.append(tap)
        return tap

    def receive_for(self, tap: _Tap, timeout_s: float) -> Received:
        """What comes next for one of them; only one reads the port at a time."""
        if tap.waiting:
            return tap.waiting.popleft()
        if not self._reading.acquire(timeout=timeout_s):
            return tap.waiting.popleft() if tap.waiting else Nothing(tap.last_ns)
        try:
            if tap.waiting:  # another read it in the meantime
                return tap.waiting.popleft()
            try:
                received = self._transport.receive(timeout_s)
            except ScaleError as error:
                self._give(Lost(tap.last_ns, error.what), tap)
                raise
            if isinstance(received, Chunk | Lost):
                self._give(received, tap)
            return received
        finally:
            self._reading.release()

    def send(self, data: bytes) -> None:
        """Send a request to the wire."""
        self._transport.send(data)

    def closed(self) -> None:
        """One of them is closed; the last closes the port."""
        if all(tap.is_closed for tap in self._taps):
            self._transport.close()

    def _give(self, received: Chunk | Lost, reader: _Tap) -> None:
        for tap in self._taps:
            if tap is not reader and not tap.is_closed:
                tap.waiting.append(received)


class _Tap:
    """One scale's view of the wire."""

    def __init__(self, wire: SharedWire, scale: str) -> None:
        self._wire = wire
        self._scale = scale
        self.waiting: deque[Chunk | Lost] = deque()
        self.is_closed = False
        self.last_ns = 0

    @property
    def scale(self) -> str:
        """Name of the instrument."""
        return self._scale

    def receive(self, timeout_s: float) -> Received:
        """The next bytes of the wire, this scale's and its neighbours'.

        Raises:
            ScaleError: The port cannot be opened at the first use.
        """
        if self.is_closed:
            return Ended(self.last_ns)
        received = self._wire.receive_for(self, timeout_s)
        self.last_ns = max(self.last_ns, received.t_ns)
        return received

    def send(self, data: bytes) -> None:
        """Send a request to the wire."""
        if not self.is_closed:
            self._wire.send(data)

    def close(self) -> None:
        """Leave the wire."""
        self.is_closed = True
        self.waiting.clear()
        self._wire.closed()
