"""The sample count as the clock of the sound path: stamps, flags and equal blocks.

At 16 kHz one sample is exactly 62 500 ns, so times made from sample counts are exact integers and
the same sound gives the same stamps however it was cut into blocks.
"""

from __future__ import annotations

from collections import deque

import numpy as np

from handsfree.speech.messages import RATE_HZ, AudioBlock, Samples, SoundFlags

NS_PER_SAMPLE = 1_000_000_000 // RATE_HZ

#: 20 ms, the block every source hands out.
BLOCK_SAMPLES = 320


def samples_in(duration_ns: int) -> int:
    """How many whole samples fit `duration_ns` best (nearest)."""
    return (duration_ns + NS_PER_SAMPLE // 2) // NS_PER_SAMPLE


def empty_samples() -> Samples:
    """No sound: shape (0,), int16."""
    return np.zeros(0, dtype=np.int16)


class FlagTrack:
    """Remembers which stretches of time were flagged, for stages that hold sound back.

    `add` the flags of each block as it comes, ask `over` a stretch in time order.
    """

    def __init__(self) -> None:
        self._spans: deque[tuple[int, int, SoundFlags]] = deque()

    def add(self, block: AudioBlock) -> None:
        """Remember the block's flags, if it has any.

        A block without samples still carries its flags, to the sample that comes next.
        """
        if block.flags:
            self._spans.append((block.t_ns, max(block.end_ns, block.t_ns + 1), block.flags))

    def over(self, start_ns: int, end_ns: int) -> SoundFlags:
        """All flags that touch [start_ns, end_ns)."""
        found = SoundFlags.NONE
        for first_ns, after_ns, flags in self._spans:
            if first_ns < end_ns and after_ns > start_ns:
                found |= flags
        return found

    def forget_before(self, t_ns: int) -> None:
        """Drop what ends at or before `t_ns`; it will not be asked for again."""
        while self._spans and self._spans[0][1] <= t_ns:
            self._spans.popleft()


class BlockCutter:
    """Cuts a run of samples into equal blocks stamped from the sample count.

    Args:
        start_ns: Time of the first sample.
        block_samples: Length of the blocks; only the last one, from `flush`, may be shorter.
    """

    def __init__(self, start_ns: int = 0, block_samples: int = BLOCK_SAMPLES) -> None:
        self._next_ns = start_ns
        self._block_samples = block_samples
        self._held: list[Samples] = []
        self._held_count = 0
        self._flags = FlagTrack()

    @property
    def end_ns(self) -> int:
        """Time just after the last sample that was fed."""
        return self._next_ns + self._held_count * NS_PER_SAMPLE

    def feed(self, samples: Samples, flags: SoundFlags = SoundFlags.NONE) -> list[AudioBlock]:
        """The whole blocks that these samples complete; a block carries the flags of all its samples."""
        self._flags.add(AudioBlock(self.end_ns, samples, flags))
        self._held.append(samples)
        self._held_count += len(samples)
        if self._held_count < self._block_samples:
            return []
        run = np.concatenate(self._held)
        whole = len(run) // self._block_samples * self._block_samples
        self._held, self._held_count = [run[whole:]], len(run) - whole
        return [
            self._stamped(run[at : at + self._block_samples]) for at in range(0, whole, self._block_samples)
        ]

    def flush(self) -> list[AudioBlock]:
        """The samples left over, as one short block, or nothing."""
        rest = np.concatenate(self._held) if self._held else empty_samples()
        self._held, self._held_count = [], 0
        return [self._stamped(rest)] if len(rest) else []

    def _stamped(self, samples: Samples) -> AudioBlock:
        block = AudioBlock(self._next_ns, np.ascontiguousarray(samples, dtype=np.int16))
        flags = self._flags.over(block.t_ns, block.end_ns)
        self._flags.forget_before(block.end_ns)
        self._next_ns = block.end_ns
        return AudioBlock(block.t_ns, block.samples, flags)
