"""Sound and scale lines in one order of time, the same live as in a replay.

Live, sound arrives in blocks a little after it was made, and scale bytes as they come. Steps are
held until the sound has passed them by a small grace, then released in order of time stamp, so
that a replay of the kept session takes the very same steps.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import count

from handsfree.clock import NS_PER_S
from handsfree.speech.messages import SpeechPart
from handsfree.weighing.ports import Chunk, Lost


@dataclass(frozen=True, slots=True)
class SoundStep:
    """A block of sound has passed; `parts` is the speech found in it (often none)."""

    t_ns: int
    """Time just after the last sample of the block."""
    parts: tuple[SpeechPart, ...] = ()
    busy: bool = False
    """Whether somebody is talking or a saw running: no moment for a question."""


@dataclass(frozen=True, slots=True)
class ScaleStep:
    """Bytes from a scale, or its loss."""

    t_ns: int
    scale: str
    received: Chunk | Lost


@dataclass(frozen=True, slots=True)
class DeviceStep:
    """A device trouble that is not in the data itself: the microphone went or came back."""

    t_ns: int
    device: str
    kind: str
    detail: str = ""


Step = SoundStep | ScaleStep | DeviceStep

#: At equal times the scale goes first: what it sent was there before the block of sound was full.
_RANK = {DeviceStep: 0, ScaleStep: 1, SoundStep: 2}


def in_order(*streams: Iterable[Step]) -> Iterator[Step]:
    """Several streams, each in order of time, as one (for replays)."""
    return heapq.merge(*streams, key=_key)


def _key(step: Step) -> tuple[int, int, str]:
    return (step.t_ns, _RANK[type(step)], step.scale if isinstance(step, ScaleStep) else "")


class StepBuffer:
    """Puts live steps in order of time before they are released.

    Pure: the caller brings the steps and the time.
    """

    def __init__(self, *, sound: bool, grace_ns: int = 80_000_000, sound_late_ns: int = 2 * NS_PER_S) -> None:
        """Make an empty buffer.

        Args:
            sound: Whether a microphone is in use, so that the sound sets the pace.
            grace_ns: How far the sound must have passed a step before it is released.
            sound_late_ns: When no sound has come for this long, the clock sets the pace.
        """
        self._sound = sound
        self._grace_ns = grace_ns
        self._sound_late_ns = sound_late_ns
        self._heap: list[tuple[tuple[int, int, str], int, Step]] = []
        self._order = count()
        self._sound_ns = 0

    def push(self, step: Step) -> None:
        """Take one more step. One that comes later than the grace allows keeps its own time stamp."""
        if isinstance(step, SoundStep):
            self._sound_ns = max(self._sound_ns, step.t_ns)
        heapq.heappush(self._heap, (_key(step), next(self._order), step))

    def ready(self, now_ns: int) -> list[Step]:
        """The steps that may be taken now, in order."""
        pace_ns = now_ns
        if self._sound and now_ns - self._sound_ns < self._sound_late_ns:
            pace_ns = self._sound_ns
        released = []
        while self._heap and self._heap[0][2].t_ns <= pace_ns - self._grace_ns:
            released.append(heapq.heappop(self._heap)[2])
        return released

    def rest(self) -> list[Step]:
        """Everything still held, in order, at the end of a session."""
        return [heapq.heappop(self._heap)[2] for _ in range(len(self._heap))]
