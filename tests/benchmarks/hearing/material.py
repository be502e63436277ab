"""Sound for training and measuring: phrases by synthetic voices in real noise, and real talk.

Development and held-out parts share no voice, no noise and no talker's recording.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soundfile

from handsfree.speech.denoise_deepfilter import DeepFilterDenoiser
from handsfree.speech.endpointing import Endpointer
from handsfree.speech.grammar import Grammar
from handsfree.speech.messages import RATE_HZ, Samples
from handsfree.speech.ports import Denoiser
from handsfree.speech.voice_activity import SileroVoiceActivity
from handsfree.testing.making_sound import in_blocks, joined
from handsfree.testing.rehearsal.voices import Voice, installed, speak
from handsfree.testing.words_in_noise import real_data

DEVELOPMENT_VOICES = (
    Voice("flite", "slt"),
    Voice("flite", "rms", 0.9),
    Voice("espeak-ng", "en-gb"),
    Voice("espeak-ng", "en-gb-scotland", 0.9),
)
HELD_OUT_VOICES = (Voice("flite", "awb"), Voice("flite", "kal16"), Voice("espeak-ng", "en-gb-x-rp"))
DEVELOPMENT_NOISES = ("running_tap", "home_dishwasher_0", "white_noise")
HELD_OUT_NOISES = ("doing_the_dishes", "home_aircon_0", "pink_noise")

_SPEECH_RMS = 0.08
_PAUSE_S = 0.8
_LEAD_S = 2.5
_BEFORE = RATE_HZ // 4
_AFTER = 3 * RATE_HZ // 10
"""What the endpointer keeps around the speech: 0.25 s before, 0.30 s after."""


@dataclass(frozen=True, slots=True, eq=False)
class Clip:
    """One phrase as it left the denoiser, and as it went in."""

    text: str
    clean: Samples
    raw: Samples


def phrases(grammar: Grammar, count: int, seed: int) -> list[str]:
    """Phrases as they come in a day's work: three calls to one command."""
    draw = random.Random(seed)
    found: dict[str, None] = {}
    while len(found) < count:
        phrase = grammar.random_phrase(draw)
        if phrase.startswith("ledger") == (len(found) % 4 == 3) and len(phrase.split()) <= 6:
            found[phrase] = None
    return list(found)


def spoken(
    texts: list[str], voice: Voice, noise: str, snr_db: float, seed: int, denoiser: Denoiser | None = None
) -> list[Clip]:
    """The phrases by the voice, one after the other in the noise, denoised in one go and cut apart.

    The signal-to-noise ratio is RMS where the speech is within 30 dB of its loudest 20 ms over
    full-band RMS of the noise. 40 dB and more count as clean.
    """
    pieces = [np.zeros(round(_LEAD_S * RATE_HZ))]
    places: list[tuple[int, int]] = []
    at = len(pieces[0])
    for text in texts:
        clip = speak(text, voice).astype(np.float64) / 32768
        frames = clip[: len(clip) // 320 * 320].reshape(-1, 320)
        power = np.mean(frames**2, axis=1)
        clip *= _SPEECH_RMS / np.sqrt(np.mean(power[power > power.max() * 1e-3]))
        places.append((at, at + len(clip)))
        pieces += [clip, np.zeros(round(_PAUSE_S * RATE_HZ))]
        at += len(pieces[-2]) + len(pieces[-1])
    speech = np.concatenate(pieces)
    raw = _int16(speech + _noise(noise, len(speech), seed) * _SPEECH_RMS * 10 ** (-snr_db / 20))
    clean = _denoised(raw, denoiser)
    return [
        Clip(text, clean[first - _BEFORE : last + _AFTER], raw[first - _BEFORE : last + _AFTER])
        for text, (first, last) in zip(texts, places, strict=True)
    ]


def talk(half: int) -> Iterator[Samples]:
    """Real people's talk that is no call: whole segments up to 4.5 s, and pieces of 0.9 to 2.2 s.

    Args:
        half: 0 for development, 1 for the held-out recordings.
    """
    for number, file in enumerate(sorted((real_data() / "speech").glob("*.wav"))):
        if number % 2 != half:
            continue
        sound = soundfile.read(file, dtype="int16")[0]
        draw = np.random.default_rng(number)
        for segment in _segments(_denoised(sound, None)):
            if len(segment) <= 4.75 * RATE_HZ:
                yield segment
            for _ in range(3):
                length = int(draw.uniform(0.9, 2.2) * RATE_HZ)
                if len(segment) > length:
                    start = int(draw.integers(0, len(segment) - length))
                    yield segment[start : start + length]


def words(half: int) -> Iterator[Clip]:
    """Real people's single words, denoised; the halves share no speaker."""
    for file in sorted((real_data() / "words").glob("*/*.wav")):
        # Speech Commands names a clip by a hash of its speaker, "2005ca25_nohash_0.wav".
        if int(file.name[:8], 16) % 2 == half:
            sound = soundfile.read(file, dtype="int16")[0]
            # Half a second of the recording's own beginning goes before: the filter learns its noise.
            lead = np.concatenate([np.resize(sound[:800], RATE_HZ // 2), sound])
            yield Clip(file.parent.name, _denoised(lead, None)[3 * RATE_HZ // 8 :], sound)


def voices(wanted: tuple[Voice, ...]) -> list[Voice]:
    """Those of the voices that are installed."""
    return [voice for voice in wanted if installed(voice)]


def _segments(sound: Samples) -> list[Samples]:
    endpointer = Endpointer(SileroVoiceActivity())
    segments: list[Samples] = []
    open_parts: list[Samples] = []
    for block in in_blocks(sound):
        for part in endpointer.feed(block):
            open_parts = [part.samples] if part.first else [*open_parts, part.samples]
            if part.last:
                segments.append(np.concatenate(open_parts))
    return segments


def _denoised(raw: Samples, denoiser: Denoiser | None) -> Samples:
    chain = denoiser or DeepFilterDenoiser()
    return joined([out for block in in_blocks(raw) for out in chain.feed(block)] + chain.flush())


def _noise(name: str, length: int, seed: int) -> np.ndarray:
    path: Path = real_data() / "noise" / f"{name}.wav"
    sound = soundfile.read(path, dtype="float64")[0]
    start = int(np.random.default_rng(seed).integers(0, len(sound)))
    laid = np.resize(np.roll(sound, -start), length)
    return laid / np.sqrt(np.mean(laid**2))


def _int16(sound: np.ndarray) -> Samples:
    return (np.clip(sound, -1.0, 1.0) * 32767).astype(np.int16)
