"""Which voices, people, noises, talk and rooms belong to development and which to the test half.

Everything that is chosen or trained (settings, gate, thresholds) sees the development half only; a
test half is run once for a final table. No voice, speaker, noise source, recording of talk or room
is in both. Two limits: the espeak-ng voices of both halves come from one formant synthesiser, and
the generated noises of both halves come from one generator (other seeds, in the test half played at
another speed: another machine).
"""

from __future__ import annotations

from typing import Literal

from handsfree.testing.rehearsal.voices import Voice

Half = Literal["development", "test"]
HALVES: tuple[Half, Half] = ("development", "test")

VOICES: dict[Half, tuple[Voice, ...]] = {
    "development": (
        Voice("flite", "slt"),
        Voice("flite", "rms", 0.9),
        Voice("espeak-ng", "en-gb"),
        Voice("espeak-ng", "en-gb-scotland", 0.9),
        Voice("espeak-ng", "en-gb-x-gbclan+f3", 1.05),
    ),
    "test": (
        Voice("flite", "awb"),
        Voice("flite", "kal16"),
        Voice("espeak-ng", "en-gb-x-rp"),
        Voice("espeak-ng", "en-gb-x-gbcwmd+f4", 0.95),
    ),
}

#: Kind of noise -> source in each half: a file of real/noise, "made NAME" for a generator of
#: handsfree/testing/rehearsal/noises.py, "pink"/"white" for generated coloured noise, or
#: "talkers N": N people of the half's own talk recordings at once.
NOISES: dict[str, dict[Half, str]] = {
    "pink": {"development": "pink", "test": "pink_noise"},
    "fan": {"development": "made fridge fan", "test": "home_aircon_0"},
    "water": {"development": "home_dishwasher_0", "test": "running_tap"},
    "saw": {"development": "made saw", "test": "made saw"},
    "dishes": {"development": "made clatter", "test": "doing_the_dishes"},
    "talkers": {"development": "talkers 3", "test": "talkers 3"},
}
MORE_DEVELOPMENT_NOISES = ("white_noise", "home_vacuuming_0", "made water")
"""Further development noises that no table names; `exercise_bike` is nobody's."""

#: Room -> impulse response in each half: a file of real/rooms and its channel, or a made one by its
#: reverberation time (RT60) and direct-to-reverberant ratio.
ROOMS: dict[Half, str] = {"development": "made 0.5 s 3 dB", "test": "kitchen-true-stereo 0"}

SEED: dict[Half, int] = {"development": 0, "test": 50_000}
SPEED: dict[Half, float] = {"development": 1.0, "test": 0.85}
"""Playing speed of generated noises."""


def half_of_speaker(file_name: str) -> Half:
    """The half of a Speech Commands clip; its name begins with a hash of its speaker, 8 hex digits."""
    return HALVES[int(file_name[:8], 16) % 2]


def half_of_talk(number: int) -> Half:
    """The half of a talk recording by its place in the sorted folder."""
    return HALVES[number % 2]
