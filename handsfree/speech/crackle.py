"""Pure: crackle of a wet contact or a loose plug: jumps within a few samples that nothing announces.

A knock or a dropped knife rings for milliseconds and so raises the very measure a jump is held
against; a bad contact does not.
"""

from __future__ import annotations

import numpy as np

from handsfree.speech.messages import Samples

#: Second difference, share of full scale, below which no jump is heard.
_LEAST = 0.02
#: How far it must stand over the busiest tenth of its tenth of a second, as a factor.
_OVER = 12.0
_BUSY_SHARE = 0.9
_QUIETEST = 1e-4
#: Samples between jumps of two pops; the most a pop lasts.
_APART = 32
_LONGEST = 24


def pops_in(frame: Samples) -> int:
    """How many pops there are in a tenth of a second of sound, int16."""
    bends = np.abs(np.diff(frame / 32_768.0, 2))
    if not len(bends):
        return 0
    busy = float(np.partition(bends, int(_BUSY_SHARE * len(bends)))[int(_BUSY_SHARE * len(bends))])
    jumps = np.flatnonzero((bends > _LEAST) & (bends > _OVER * max(busy, _QUIETEST)))
    if not len(jumps):
        return 0
    groups = np.split(jumps, np.flatnonzero(np.diff(jumps) > _APART) + 1)
    return sum(1 for group in groups if group[-1] - group[0] < _LONGEST)
