"""Pure: voice activity from loudness over a tracked floor, where the better detector does not load.

Meant for denoised sound, in which what stands out of the floor is nearly always speech.
"""

from __future__ import annotations

import math
from collections import deque

import numpy as np

from handsfree.speech.messages import Samples

_CHUNK = 512
# The floor is the quiet tenth of the last 8 s: longer than any call, shorter than a change of machine.
_CHUNKS_WATCHED = 250
_QUIET_SHARE = 0.1
# Even odds at this height over the floor; on development noises denoised speech stands 20 dB out.
_EVEN_DB = 12.0
_SOFT_DB = 2.0
# Nothing below this is speech, whatever the floor: 16-bit sound a person can hardly hear.
_FAINT_DB = -58.0


class EnergyActivity:
    """A `VoiceActivityDetector` that compares loudness with the quiet part of the last seconds."""

    def __init__(self) -> None:
        self._levels: deque[float] = deque(maxlen=_CHUNKS_WATCHED)

    @property
    def chunk_samples(self) -> int:
        """Samples at 16 kHz that one `probability` call takes."""
        return _CHUNK

    def probability(self, chunk: Samples) -> float:
        """Probability of speech in these samples, 0 to 1."""
        power = float(np.mean((chunk.astype(np.float64) / 32_768.0) ** 2))
        level_db = 10.0 * math.log10(power + 1e-10)
        self._levels.append(level_db)
        floor_db = max(_FAINT_DB, sorted(self._levels)[int(_QUIET_SHARE * len(self._levels))])
        return 1.0 / (1.0 + math.exp(-(level_db - floor_db - _EVEN_DB) / _SOFT_DB))

    def reset(self) -> None:
        """Forget what was heard so far."""
        self._levels.clear()
