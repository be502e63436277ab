"""What answering needs from the outside, as protocols. Contract suite: `handsfree.testing`."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

from handsfree.speech.messages import Samples


@dataclass(frozen=True, slots=True, eq=False)
class Spoken:
    """Words as sound."""

    samples: Samples
    """Mono, shape (n,), int16, not empty."""
    rate_hz: int


class Voice(Protocol):
    """Turns words into sound."""

    @property
    def name(self) -> str:
        """Which voice, for messages to people."""
        ...

    def render(self, text: str) -> Spoken | None:
        """The words as sound; None when there is no voice here or it could not say them."""
        ...


class SoundOutput(Protocol):
    """A loudspeaker."""

    @property
    def name(self) -> str:
        """What it is, for messages to people."""
        ...

    @property
    def latency_s(self) -> float:
        """How long after `play` begins the first sample may still be on its way."""
        ...

    def play(self, samples: Samples, rate_hz: int) -> bool:
        """Play mono int16 samples and come back when they were heard, or `stop` was called.

        Returns:
            True when all of it was played; False when it was stopped, or there is no loudspeaker.
            Never raises for a missing or lost device: the work goes on without sound.
        """
        ...

    def stop(self) -> None:
        """End the sound that is playing, from another thread. What is played later is not hurt."""
        ...

    def close(self) -> None:
        """Free the device; later `play` calls give False. Safe to call twice."""
        ...
