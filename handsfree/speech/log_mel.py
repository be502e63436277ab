"""Pure: sound as a log-mel spectrogram, the input of Whisper models.

80 triangular bands on the mel scale of Slaney (Auditory Toolbox, Interval Research report 1998-010),
each of area 1; Hann window of 25 ms every 10 ms; power, log10, held within 8 of the loudest value and
brought near ±1 by (x + 4) / 4: Radford et al., "Robust Speech Recognition via Large-Scale Weak
Supervision" (2022), section 2.2, with the constants of the code they published.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray

from handsfree.speech.messages import RATE_HZ, Samples

Floats = NDArray[np.float32]

BANDS = 80
WINDOW = 400
"""Samples, 25 ms."""
HOP = 160
"""Samples, 10 ms."""
_RANGE = 8.0
_FLOOR = 1e-10


def log_mel(samples: Samples, frames: int, bands: int = BANDS) -> Floats:
    """The spectrogram of the samples, silence after them, cut or filled to `frames`.

    Args:
        samples: int16 at 16 kHz.
        frames: How many frames of 10 ms are wanted, at least 1.
        bands: Mel bands, 80 in all models but the newest large ones.

    Returns:
        Shape (bands, frames), float32.
    """
    half = WINDOW // 2
    sound = np.zeros(frames * HOP + WINDOW, np.float32)
    heard = samples[: frames * HOP].astype(np.float32) / 32768
    sound[half : half + len(heard)] = heard
    # The first frame is centred on the first sample: what is before it is the sound mirrored.
    mirrored = sound[half + 1 : 2 * half + 1]
    sound[:half] = mirrored[::-1]
    windows = np.lib.stride_tricks.sliding_window_view(sound, WINDOW)[::HOP][:frames]
    # A Hann window that repeats every WINDOW samples, not one that ends in zero twice.
    hann = np.hanning(WINDOW + 1)[:-1].astype(np.float32)
    power = np.abs(np.fft.rfft(windows * hann, axis=1)) ** 2
    bands_log = np.log10(np.maximum(mel_filters(bands) @ power.T, _FLOOR))
    bands_log = np.maximum(bands_log, bands_log.max() - _RANGE)
    return np.asarray((bands_log + 4.0) / 4.0, dtype=np.float32)


@cache
def mel_filters(bands: int = BANDS) -> Floats:
    """Weights of the power spectrum's bins in each band, shape (bands, WINDOW // 2 + 1)."""
    bins_hz = np.linspace(0.0, RATE_HZ / 2, WINDOW // 2 + 1)
    edges_hz = _hz(np.linspace(0.0, float(_mel(np.array(RATE_HZ / 2))), bands + 2))
    low, centre, high = edges_hz[:-2, None], edges_hz[1:-1, None], edges_hz[2:, None]
    rising, falling = (bins_hz - low) / (centre - low), (high - bins_hz) / (high - centre)
    triangles = np.maximum(0.0, np.minimum(rising, falling))
    return np.asarray(triangles * 2.0 / (high - low), dtype=np.float32)


_LINEAR_HZ_PER_MEL = 200 / 3
_BEND_HZ = 1000.0
_LOG_STEP = np.log(6.4) / 27.0
"""Above 1 kHz 27 mels are a factor of 6.4."""


def _mel(hz: NDArray[np.float64]) -> NDArray[np.float64]:
    bend = _BEND_HZ / _LINEAR_HZ_PER_MEL
    above = bend + np.log(np.maximum(hz, _BEND_HZ) / _BEND_HZ) / _LOG_STEP
    return np.where(hz < _BEND_HZ, hz / _LINEAR_HZ_PER_MEL, above)


def _hz(mel: NDArray[np.float64]) -> NDArray[np.float64]:
    bend = _BEND_HZ / _LINEAR_HZ_PER_MEL
    return np.where(mel < bend, mel * _LINEAR_HZ_PER_MEL, _BEND_HZ * np.exp(_LOG_STEP * (mel - bend)))
