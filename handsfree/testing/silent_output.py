"""A loudspeaker that collects what it is given; time passes on a clock only if one is given."""

from __future__ import annotations

from collections.abc import Callable

from handsfree.speech.messages import Samples


class SilentOutput:
    """Collects the sound it is given.

    Args:
        on_play: Called with the length in nanoseconds while a sound "plays": to move a manual clock,
            or to speak into it from the side. The sound counts as stopped if `stop` was called
            meanwhile.
        latency_s: Reported latency.
    """

    def __init__(self, on_play: Callable[[int], None] = lambda _: None, latency_s: float = 0.0) -> None:
        self._on_play = on_play
        self._latency_s = latency_s
        self._stopped = False
        self._closed = False
        self.played: list[tuple[Samples, int]] = []
        """Samples and rate of every sound begun."""
        self.stops = 0
        """How often `stop` was called."""

    @property
    def name(self) -> str:
        """What it is."""
        return "no loudspeaker, sounds are collected"

    @property
    def latency_s(self) -> float:
        """As given."""
        return self._latency_s

    def play(self, samples: Samples, rate_hz: int) -> bool:
        """Collect the sound; False when stopped meanwhile or closed."""
        if self._closed:
            return False
        self._stopped = False
        self.played.append((samples, rate_hz))
        self._on_play(len(samples) * 1_000_000_000 // rate_hz)
        return not self._stopped

    def stop(self) -> None:
        """Note that the sound is ended."""
        self._stopped = True
        self.stops += 1

    def close(self) -> None:
        """Collect nothing more."""
        self._closed = True
