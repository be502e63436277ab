"""Pure: the bookkeeping every denoiser shares, so that each one only has to take noise out.

Sound goes in and out sample for sample: as many come out as went in, each with the stamp and the
flags of the sound it was made from, however long the method holds it back.
"""

from __future__ import annotations

from abc import ABC, abstractmethod

import numpy as np

from handsfree.speech.messages import AudioBlock, Samples
from handsfree.speech.resampling import FULL_SCALE, Floats, to_int16
from handsfree.speech.timeline import NS_PER_SAMPLE, FlagTrack


class SteadyDenoiser(ABC):
    """A `Denoiser` around a method that answers with the same sound later, in order, without loss."""

    def __init__(self) -> None:
        self._in_ns = self._out_ns = 0
        self._running = False
        self._flags = FlagTrack()

    @property
    @abstractmethod
    def name(self) -> str:
        """What it is, for tables and messages."""

    def feed(self, block: AudioBlock) -> list[AudioBlock]:
        """Denoised sound that is ready, in at most one block; see `Denoiser.feed`."""
        out: list[AudioBlock] = []
        if self._running and block.t_ns != self._in_ns:
            # Time is missing: what was held belongs before the hole.
            out += self.flush()
        if not self._running:
            self._running = True
            self._in_ns = self._out_ns = block.t_ns
        self._flags.add(block)
        self._in_ns = block.end_ns
        return out + self._stamped(self._process(block.samples.astype(np.float32) / FULL_SCALE))

    def flush(self) -> list[AudioBlock]:
        """What is still held back; the next block may begin at any time."""
        if not self._running:
            return []
        held = (self._in_ns - self._out_ns) // NS_PER_SAMPLE
        tail = self._drain()
        # A resampler may round the total by a sample; the count is kept exactly.
        tail = np.concatenate([tail, np.zeros(max(0, held - len(tail)), dtype=np.float32)])[:held]
        self._running = False
        return self._stamped(tail)

    @abstractmethod
    def _process(self, sound: Floats) -> Floats:
        """Take these samples (-1..1), give those that are ready, the earliest first."""

    @abstractmethod
    def _drain(self) -> Floats:
        """Give the samples still held back; be ready for a new run of sound."""

    def _stamped(self, sound: Floats) -> list[AudioBlock]:
        if not len(sound):
            return []
        samples: Samples = to_int16(sound)
        start_ns, self._out_ns = self._out_ns, self._out_ns + len(samples) * NS_PER_SAMPLE
        flags = self._flags.over(start_ns, self._out_ns)
        self._flags.forget_before(self._out_ns)
        return [AudioBlock(start_ns, samples, flags)]
