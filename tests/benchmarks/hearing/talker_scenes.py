"""Scenes with a near talker and others across the room, in one stretch as a microphone hears them."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from backgrounds import Floats, active_rms, in_room, noise
from halves import Half
from sound_store import Said, Track, kept
from talker_filters import through

from handsfree.speech.denoise_deepfilter import DeepFilterDenoiser
from handsfree.speech.messages import RATE_HZ
from handsfree.testing.rehearsal.voices import Voice, speak

_SPEECH_RMS = 0.08
_LEAD_S = 3.0
FAR_ROOM = "made 0.5 s -3 dB"
"""Other talkers are heard across a room: 0.5 s of reverberation, 3 dB less direct than reverberant."""


@dataclass(frozen=True, slots=True)
class Scene:
    """What is said by whom over what."""

    texts: tuple[str, ...]
    voice: Voice
    talkers: int
    """How many others talk all the time."""
    below_db: float
    """How far their sum is below the near talker's mean level (active levels)."""
    spread_db: float = 3.0
    """Standard deviation of the near talker's own level from call to call."""
    half: Half = "development"
    seed: int = 0


def scene_track(scene: Scene) -> Track:
    """The scene's sound, captured and denoised; calls come 1 to 4 s apart."""
    what = ("scene 3", scene)

    def make() -> Track:
        draw = random.Random(scene.seed)
        said: list[Said] = []
        placed: list[tuple[int, Floats]] = []
        at = round(_LEAD_S * RATE_HZ)
        for text in scene.texts:
            clip = speak(text, scene.voice).astype(np.float64) / 32768
            clip *= _SPEECH_RMS / active_rms(clip) * 10 ** (draw.gauss(0.0, scene.spread_db) / 20)
            said.append(Said(text, str(scene.voice), at, at + len(clip)))
            placed.append((at, clip))
            at += len(clip) + round(draw.uniform(1.0, 4.0) * RATE_HZ)
        total = noise("pink", at, scene.seed, scene.half) * _SPEECH_RMS * 10 ** (-35 / 20)
        for first, clip in placed:
            total[first : first + len(clip)] += clip
        if scene.talkers:
            far = in_room(noise(f"talkers {scene.talkers}", at, scene.seed, scene.half), FAR_ROOM, scene.half)
            total += far[:at] / active_rms(far[:at]) * _SPEECH_RMS * 10 ** (-scene.below_db / 20)
        raw = (np.clip(total, -1.0, 1.0) * 32767).astype(np.int16)
        return Track(raw, through(DeepFilterDenoiser(), raw), tuple(said))

    return kept(what, make)


def scenes(
    texts_of: Sequence[Sequence[str]], voices: Sequence[Voice], talkers: int, below_db: float, half: Half
) -> list[Scene]:
    """One scene a voice."""
    return [
        Scene(tuple(texts), voice, talkers, below_db, half=half, seed=100 + number)
        for number, (texts, voice) in enumerate(zip(texts_of, voices, strict=True))
    ]
