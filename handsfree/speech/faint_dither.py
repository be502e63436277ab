"""Pure: faint pink noise under denoised speech.

A denoiser leaves pauses so clean that an acoustic model trained on rooms meets features it never
saw. Pink noise 35 dB below speech level brings them back into its world and is far below anything
a listener or the endpointer notices.
"""

from __future__ import annotations

import numpy as np

from handsfree.speech.messages import RATE_HZ
from handsfree.speech.resampling import Floats

_BELOW_SPEECH_DB = 35.0
_FRAME = RATE_HZ // 100
# The running stand-in for "the 95th percentile of a clip's power": clips are about this long.
_FRAMES_WATCHED = 400
# Between two calls the level is remembered and sinks slowly, so that it is right when the next comes.
_SINKS_DB_PER_FRAME = 0.25 / 100
# Before any speech was heard: the nominal active speech level, -26 dBov (ITU-T P.56 / G.191 practice).
_AT_FIRST_DB = -26.0
_LOWEST_DB = -60.0
# Long enough not to be heard as a loop, a power of two for the transform.
_LOOP = 1 << 18


class FaintDither:
    """Adds pink noise to a stream; the same sound gives the same result however it is cut.

    Args:
        seed: Which noise; fixed, so that a replay is the same run.
    """

    def __init__(self, seed: int = 1) -> None:
        self._noise = _pink_loop(seed)
        self._at = 0
        self._speech_db = _AT_FIRST_DB
        self._powers = np.zeros(_FRAMES_WATCHED)
        self._watched = 0
        self._frame_power = 0.0
        self._frame_filled = 0

    def add(self, sound: Floats) -> Floats:
        """The sound with dither; floats in -1..1, shape (n,), the same length."""
        out = np.empty_like(sound)
        done = 0
        while done < len(sound):
            piece = sound[done : done + _FRAME - self._frame_filled]
            gain = 10.0 ** ((self._speech_db - _BELOW_SPEECH_DB) / 20.0)
            noise = self._noise[self._at : self._at + len(piece)]
            if len(noise) < len(piece):
                noise = np.concatenate([noise, self._noise[: len(piece) - len(noise)]])
            out[done : done + len(piece)] = piece + gain * noise
            self._at = (self._at + len(piece)) % _LOOP
            done += len(piece)
            self._watch(piece)
        return out

    def _watch(self, piece: Floats) -> None:
        self._frame_power += float(np.dot(piece.astype(np.float64), piece))
        self._frame_filled += len(piece)
        if self._frame_filled < _FRAME:
            return
        self._powers[self._watched % _FRAMES_WATCHED] = self._frame_power / _FRAME
        self._watched += 1
        self._frame_power, self._frame_filled = 0.0, 0
        watched = self._powers[: self._watched]
        at = int(0.95 * (len(watched) - 1))
        power = float(np.partition(watched, at)[at])
        heard_db = 10.0 * np.log10(power) if power > 0.0 else _LOWEST_DB
        self._speech_db = max(_LOWEST_DB, heard_db, self._speech_db - _SINKS_DB_PER_FRAME)


def _pink_loop(seed: int) -> Floats:
    """Pink noise of unit power that repeats without a seam: 1/f power between 20 Hz and 8 kHz."""
    hz = np.fft.rfftfreq(_LOOP, 1.0 / RATE_HZ)
    shape = np.zeros(len(hz))
    heard = hz >= 20.0
    shape[heard] = 1.0 / np.sqrt(hz[heard])
    phases = np.random.default_rng(seed).uniform(0.0, 2.0 * np.pi, len(hz))
    noise = np.fft.irfft(shape * np.exp(1j * phases), _LOOP)
    loop: Floats = (noise / np.sqrt(np.mean(noise**2))).astype(np.float32)
    return loop
