"""Sound for tests: blocks from samples, tones and silence, and cutting at any place."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from handsfree.speech.messages import RATE_HZ, AudioBlock, Samples, SoundFlags
from handsfree.speech.timeline import BLOCK_SAMPLES, NS_PER_SAMPLE


def silence(duration_s: float) -> Samples:
    """Digital silence, shape (n,), int16."""
    return np.zeros(round(duration_s * RATE_HZ), dtype=np.int16)


def tone(duration_s: float, hz: float = 440.0, amplitude: float = 8_000.0) -> Samples:
    """A sine of this peak amplitude in 16-bit steps, shape (n,), int16."""
    at = np.arange(round(duration_s * RATE_HZ)) / RATE_HZ
    samples: Samples = np.rint(amplitude * np.sin(2.0 * np.pi * hz * at)).astype(np.int16)
    return samples


def in_blocks(
    samples: Samples,
    sizes: Sequence[int] = (BLOCK_SAMPLES,),
    start_ns: int = 0,
    flags: SoundFlags = SoundFlags.NONE,
) -> list[AudioBlock]:
    """The samples in stamped blocks whose sizes repeat `sizes`; zero sizes give empty blocks."""
    blocks: list[AudioBlock] = []
    at = turn = 0
    while at < len(samples):
        size = sizes[turn % len(sizes)]
        blocks.append(AudioBlock(start_ns + at * NS_PER_SAMPLE, samples[at : at + size], flags))
        at += size
        turn += 1
    return blocks


def joined(blocks: Iterable[AudioBlock]) -> Samples:
    """All samples of the blocks, one after the other."""
    return np.concatenate([np.zeros(0, dtype=np.int16), *(block.samples for block in blocks)])
