"""What the weighing path needs from the outside. Contract suite: `handsfree.testing`."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol


@dataclass(frozen=True, slots=True)
class Chunk:
    """Bytes that arrived from a scale; frames may begin and end anywhere in them."""

    t_ns: int
    """Time of arrival of the last byte."""
    data: bytes


@dataclass(frozen=True, slots=True)
class Nothing:
    """Nothing arrived within the wait; the scale may send later."""

    t_ns: int


@dataclass(frozen=True, slots=True)
class Ended:
    """The stream is over (end of a capture, or closed by us); nothing more will come."""

    t_ns: int


@dataclass(frozen=True, slots=True)
class Lost:
    """The port has gone away (unplugged); the transport tries to open it again by itself."""

    t_ns: int
    detail: str


Received = Chunk | Nothing | Ended | Lost


class Transport(Protocol):
    """Where a scale's bytes come from: a serial port, a capture, a socket."""

    @property
    def scale(self) -> str:
        """Name of the instrument at the other end."""
        ...

    def receive(self, timeout_s: float) -> Received:
        """The next bytes, or why there are none. "Nothing yet", "lost" and "ended" differ.

        After `Lost`, later calls give `Nothing` until the port is back, then `Chunk` again.

        Raises:
            ScaleError: The port cannot be opened at the first use.
        """
        ...

    def send(self, data: bytes) -> None:
        """Send a request to the scale; transports that cannot send do nothing."""
        ...

    def close(self) -> None:
        """Free the port; `receive` gives `Ended` from then on. Safe to call twice."""
        ...
