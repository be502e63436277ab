"""Pure: the last seconds of sound as captured, beside what a denoiser makes of them."""

from __future__ import annotations

from collections import deque

import numpy as np

from handsfree.clock import from_seconds
from handsfree.speech.messages import AudioBlock, Samples
from handsfree.speech.timeline import NS_PER_SAMPLE

_KEPT_NS = from_seconds(4.0)
"""More than any denoiser, endpointer and pre-roll hold back together: about half a second."""


class CapturedSound:
    """Remembers blocks for a while; asked for a stretch, gives its samples.

    Args:
        kept_ns: How far back from the newest sample it can be asked.
    """

    def __init__(self, kept_ns: int = _KEPT_NS) -> None:
        self._kept_ns = kept_ns
        self._blocks: deque[AudioBlock] = deque()

    def add(self, block: AudioBlock) -> None:
        """The next block, in time order."""
        self._blocks.append(block)
        while self._blocks[0].end_ns < block.end_ns - self._kept_ns:
            self._blocks.popleft()

    def over(self, start_ns: int, count: int) -> Samples:
        """`count` samples from `start_ns` on, int16; zeros where nothing was captured or is kept."""
        found = np.zeros(count, np.int16)
        for block in self._blocks:
            at = round((block.t_ns - start_ns) / NS_PER_SAMPLE)
            first, after = max(at, 0), min(at + len(block.samples), count)
            if first < after:
                found[first:after] = block.samples[first - at : after - at]
        return found
