"""The tones, each told apart by its pitch and by its rhythm, so that either alone is enough.

A saw covers a band, a hood or a small loudspeaker takes away the rest: a tone that is known by its
rhythm is still known. Fundamentals lie between 330 and 1400 Hz, where small loudspeakers work and
hearing loss from noise (deepest around 4 kHz) does not reach; a second and third harmonic help them
through. Which tone means what is our own choice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from handsfree.answering.messages import Tone
from handsfree.speech.messages import RATE_HZ, Samples

#: Raised-cosine rise and fall of every note: no clicks.
RAMP_S = 0.008

#: Peak of full scale that a tone reaches: about 6 dB below clipping.
PEAK = 0.5

_HARMONICS = (1.0, 0.3, 0.15)


@dataclass(frozen=True, slots=True)
class Note:
    """One note of a tone, or with `to_hz` a glide."""

    hz: float
    duration_s: float
    gap_s: float = 0.0
    """Silence after it."""
    to_hz: float | None = None
    """Pitch at the end of a glide, None for a steady note."""


TONES: dict[Tone, tuple[Note, ...]] = {
    Tone.ACCEPTED: (Note(1320, 0.09),),
    Tone.NOTED: (Note(660, 0.16),),
    Tone.UNNAMED: (Note(880, 0.06, 0.06), Note(880, 0.06)),
    Tone.QUESTION: (Note(740, 0.10, 0.03), Note(1110, 0.22)),
    Tone.REFUSED: (Note(330, 0.30),),
    Tone.CORRECTED: (Note(1110, 0.12, 0.03), Note(740, 0.12)),
    Tone.TROUBLE: (Note(990, 0.07, 0.03), Note(495, 0.07, 0.03), Note(990, 0.07, 0.03), Note(495, 0.07)),
    Tone.CLOSED: (Note(784, 0.07, 0.03), Note(784, 0.07, 0.03), Note(1047, 0.20)),
    Tone.AWAKE: (Note(450, 0.07, 0.05), Note(740, 0.07, 0.05), Note(1200, 0.07)),
    Tone.RESTING: (Note(1200, 0.30, 0.06, to_hz=450), Note(450, 0.06)),
}


@lru_cache(maxsize=64)
def tone_samples(tone: Tone, rate_hz: int = RATE_HZ) -> Samples:
    """The tone as mono int16 samples at this rate, shape (n,), read-only."""
    parts: list[NDArray[np.float64]] = []
    for note in TONES[tone]:
        parts += [_note(note, rate_hz), np.zeros(round(note.gap_s * rate_hz))]
    samples = np.round(np.concatenate(parts) * PEAK * 32767).astype(np.int16)
    samples.flags.writeable = False
    return samples


def duration_s(tone: Tone) -> float:
    """How long the tone lasts."""
    return sum(note.duration_s + note.gap_s for note in TONES[tone])


def _note(note: Note, rate_hz: int) -> NDArray[np.float64]:
    length = round(note.duration_s * rate_hz)
    t_s = np.arange(length) / rate_hz
    end_hz = note.hz if note.to_hz is None else note.to_hz
    # Phase of a linear glide: the integral of the pitch.
    phase = 2 * np.pi * (note.hz * t_s + (end_hz - note.hz) * t_s**2 / (2 * note.duration_s))
    audible = [
        (number, weight)
        for number, weight in enumerate(_HARMONICS, start=1)
        if number * max(note.hz, end_hz) < rate_hz / 2
    ]
    wave = sum((weight * np.sin(number * phase) for number, weight in audible), np.zeros(length))
    wave /= sum(weight for _, weight in audible)
    ramp = min(round(RAMP_S * rate_hz), length // 2)
    rise = 0.5 - 0.5 * np.cos(np.pi * (np.arange(ramp) + 0.5) / ramp)
    wave[:ramp] *= rise
    wave[length - ramp :] *= rise[::-1]
    return wave
