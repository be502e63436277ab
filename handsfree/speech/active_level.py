"""Pure: the active level of speech by ITU-T P.56 (12/2011), method B.

The envelope of the sound (two exponential averages in a row, time constant 0.03 s) is held against
thresholds a factor of two apart, with a hangover of 0.2 s. The active level is the energy over the
time for which the envelope is above the threshold that lies 15.9 dB below that very level.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from handsfree.speech.messages import RATE_HZ, Samples

_TIME_CONSTANT_S = 0.03
_HANGOVER = math.ceil(0.2 * RATE_HZ)
_MARGIN_DB = 15.9
#: Thresholds 2^-15 to 2^-1 of full scale, from P.56 for 16 bits.
_THRESHOLDS = 2.0 ** np.arange(-15, 0)
_KEPT = math.exp(-1.0 / (RATE_HZ * _TIME_CONSTANT_S))
#: Samples at a time; the recursion is worked out in closed form over these, which stays exact enough.
_RUN = 480
_DECAY = _KEPT ** np.arange(1, _RUN + 1)

Floats = NDArray[np.float64]


class ActiveLevel:
    """Measures a stretch of speech; `feed` any number of times, then ask.

    The result does not depend on how the sound was cut.
    """

    def __init__(self) -> None:
        self._first = self._second = 0.0
        self._energy = 0.0
        self._samples = 0
        self._active = np.zeros(len(_THRESHOLDS), dtype=np.int64)
        self._since = np.full(len(_THRESHOLDS), _HANGOVER, dtype=np.int64)

    def feed(self, samples: Samples) -> None:
        """The next samples, int16 at 16 kHz."""
        sound = samples.astype(np.float64) / 32_768.0
        self._energy += float(np.dot(sound, sound))
        self._samples += len(sound)
        for at in range(0, len(sound), _RUN):
            self._count(np.abs(sound[at : at + _RUN]))

    @property
    def long_term_db(self) -> float | None:
        """Level over all the time, decibels of RMS over full scale; None without any sound."""
        return 10.0 * math.log10(self._energy / self._samples) if self._energy > 0.0 else None

    @property
    def active_db(self) -> float | None:
        """Level over the active time, decibels of RMS over full scale; None where nothing was active."""
        above: tuple[float, float] | None = None
        for threshold, count in zip(_THRESHOLDS, self._active, strict=True):
            if count == 0 or self._energy <= 0.0:
                return None
            level_db = 10.0 * math.log10(self._energy / float(count))
            over_db = level_db - 20.0 * math.log10(float(threshold)) - _MARGIN_DB
            if over_db <= 0.0:
                if above is None:
                    return level_db
                # The level at which the margin is met exactly, straight between the two thresholds.
                share = above[1] / (above[1] - over_db)
                return above[0] + share * (level_db - above[0])
            above = (level_db, over_db)
        return None

    @property
    def activity(self) -> float | None:
        """The share of the time that was active, 0 to 1; None where nothing was active."""
        active_db, long_term_db = self.active_db, self.long_term_db
        if active_db is None or long_term_db is None:
            return None
        return float(10.0 ** ((long_term_db - active_db) / 10.0))

    def _count(self, magnitude: Floats) -> None:
        first = _averaged(magnitude, self._first)
        second = _averaged(first, self._second)
        self._first, self._second = float(first[-1]), float(second[-1])
        places = np.arange(len(second))
        over = second[:, None] >= _THRESHOLDS
        last = np.maximum.accumulate(np.where(over, places[:, None], -1), axis=0)
        # Samples since the envelope was last over the threshold; the sample itself counts as none.
        since = np.where(last >= 0, places[:, None] - last, self._since + places[:, None] + 1)
        self._active += np.count_nonzero(since <= _HANGOVER, axis=0)
        # Before anything was over a threshold there is no hangover to spend.
        self._since = np.minimum(since[-1], 2 * _HANGOVER)


def _averaged(values: Floats, before: float) -> Floats:
    """Exponential average with the envelope's time constant, from the value before the first sample on."""
    decay = _DECAY[: len(values)]
    averaged: Floats = decay * (before + (1.0 - _KEPT) * np.cumsum(values / decay))
    return averaged
