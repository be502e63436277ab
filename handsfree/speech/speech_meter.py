"""Pure: how loud and how bright one stretch of speech is, measured while it comes in."""

from __future__ import annotations

import math

import numpy as np

from handsfree.speech.active_level import ActiveLevel
from handsfree.speech.messages import RATE_HZ, Samples, VoiceFigures

_FRAME = 512
_WINDOW = np.hanning(_FRAME)
_HZ = np.fft.rfftfreq(_FRAME, 1.0 / RATE_HZ)
#: Voiced speech has its first formants in the lower band; what water or a cloth takes away is the upper.
_LOW = (_HZ >= 300.0) & (_HZ < 1_000.0)
_HIGH = (_HZ >= 2_500.0) & (_HZ < 6_500.0)
_LOUD = 10.0 ** (-20.0 / 10.0)
"""Frames within 20 dB of the loudest count: pauses would measure the room."""
_LEAST_POWER = 1e-9


class SpeechMeter:
    """Measures speech part by part; how it is cut changes nothing."""

    def __init__(self) -> None:
        self._level = ActiveLevel()
        self._waiting = np.zeros(0, dtype=np.int16)
        self._bands: list[tuple[float, float]] = []

    def feed(self, samples: Samples) -> None:
        """The next samples, int16 at 16 kHz."""
        self._level.feed(samples)
        self._waiting = np.concatenate([self._waiting, samples])
        while len(self._waiting) >= _FRAME:
            frame, self._waiting = self._waiting[:_FRAME], self._waiting[_FRAME:]
            power = np.abs(np.fft.rfft(frame / 32_768.0 * _WINDOW)) ** 2
            self._bands.append((float(power[_LOW].sum()), float(power[_HIGH].sum())))

    def figures(self) -> VoiceFigures | None:
        """What was measured; None where nothing was loud enough to measure."""
        level_db = self._level.active_db
        loudest = max((low + high for low, high in self._bands), default=0.0)
        if level_db is None or loudest <= _LEAST_POWER:
            return None
        loud = [(low, high) for low, high in self._bands if low + high >= loudest * _LOUD]
        low, high = sum(low for low, _ in loud), sum(high for _, high in loud)
        return VoiceFigures(level_db, 10.0 * math.log10((high + _LEAST_POWER) / (low + _LEAST_POWER)))
