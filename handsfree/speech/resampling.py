"""Any rate and channel count to mono 16-bit sound at 16 kHz, while it streams.

The resampler compensates its own filter delay: output sample n lies at n / rate of the input's
time, and the result does not depend on how the input was cut into pieces.
"""

from __future__ import annotations

import numpy as np
import soxr
from numpy.typing import NDArray

from handsfree.speech.messages import RATE_HZ, Samples
from handsfree.speech.timeline import empty_samples

Floats = NDArray[np.float32]

#: Full scale of 16-bit sound.
FULL_SCALE = 32_768.0


def to_int16(sound: Floats) -> Samples:
    """Floats in -1..1 as 16-bit samples: rounded, limited, and not-a-number taken for silence."""
    scaled = np.rint(np.nan_to_num(sound, nan=0.0, posinf=1.0, neginf=-1.0) * FULL_SCALE)
    samples: Samples = np.clip(scaled, -32_768, 32_767).astype(np.int16)
    return samples


def to_mono(frames: NDArray[np.generic]) -> Floats:
    """Frames of shape (n,) or (n, channels), int16 or float, as mono floats in -1..1, shape (n,)."""
    sound = frames.astype(np.float32)
    if np.issubdtype(frames.dtype, np.integer):
        sound /= FULL_SCALE
    return sound if sound.ndim == 1 else sound.mean(axis=1, dtype=np.float32)


class ToSixteenKilohertz:
    """Streams sound of one rate into mono int16 at 16 kHz; 16 kHz mono int16 passes bit for bit.

    Args:
        rate_hz: Rate of what is fed, samples per second.
    """

    def __init__(self, rate_hz: float) -> None:
        self._stream = None if rate_hz == RATE_HZ else soxr.ResampleStream(rate_hz, RATE_HZ, 1)

    def feed(self, frames: NDArray[np.generic]) -> Samples:
        """The samples that are ready; frames of shape (n,) or (n, channels), int16 or float."""
        if self._stream is None:
            if frames.dtype == np.int16 and (frames.ndim == 1 or frames.shape[1] == 1):
                return np.array(frames, dtype=np.int16).reshape(-1)
            return to_int16(to_mono(frames))
        return to_int16(self._stream.resample_chunk(np.ascontiguousarray(to_mono(frames))))

    def flush(self) -> Samples:
        """What the filter still holds at the end of the sound."""
        if self._stream is None:
            return empty_samples()
        return to_int16(self._stream.resample_chunk(np.zeros(0, dtype=np.float32), last=True))
