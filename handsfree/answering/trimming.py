"""Takes the silence off rendered words, which are joined to one answer. Pure."""

from __future__ import annotations

import numpy as np

from handsfree.speech.messages import Samples

#: Below this the sound is silence, of 32768.
_SILENCE = 200

#: What stays after the last sound: the pause of a comma.
_PAUSE_S = 0.1


def trimmed(samples: Samples, rate_hz: int) -> Samples:
    """The samples without leading silence and with a tenth of a second of it at most at the end."""
    loud = np.flatnonzero(np.abs(samples.astype(np.int32)) > _SILENCE)
    if not len(loud):
        return samples
    end = min(len(samples), int(loud[-1]) + round(_PAUSE_S * rate_hz))
    return samples[int(loud[0]) : end]
