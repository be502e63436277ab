"""Noise, other talkers and rooms of a half, as arrays of any length."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import numpy as np
import soundfile
import soxr
from halves import SEED, SPEED, Half, half_of_talk
from numpy.typing import NDArray

from handsfree.speech.messages import RATE_HZ
from handsfree.testing.rehearsal.noises import MAKERS, shaped
from handsfree.testing.words_in_noise import real_data

Floats = NDArray[np.float64]


def active_rms(sound: Floats) -> float:
    """RMS where the sound is within 30 dB of its loudest 20 ms."""
    frames = sound[: len(sound) // 320 * 320].reshape(-1, 320)
    power = np.mean(frames**2, axis=1)
    return float(np.sqrt(np.mean(power[power > power.max() * 1e-3])))


def noise(source: str, length: int, seed: int, half: Half) -> Floats:
    """Noise of RMS 1 (other talkers: of active RMS 1), from a place that `seed` draws.

    Args:
        source: As in `halves.NOISES`.
        length: Samples.
        seed: Another stretch of the same source for another seed.
        half: Whose seeds, speed and talk recordings.
    """
    draw = np.random.default_rng([SEED[half], seed])
    kind, _, name = source.partition(" ")
    if kind == "talkers":
        return _talkers(int(name), length, draw, half)
    if kind == "pink":
        laid = shaped(length, draw, lambda f: 1 / np.sqrt(np.maximum(f, 20.0)))
    elif kind == "made":
        laid = _made(name, length, draw, SPEED[half])
    else:
        sound = soundfile.read(real_data() / "noise" / f"{source}.wav", dtype="float64")[0]
        laid = np.resize(np.roll(sound, -int(draw.integers(0, len(sound)))), length)
    return laid / np.sqrt(np.mean(laid**2))


def talk_recordings(half: Half) -> list[tuple[str, Floats]]:
    """The half's recordings of people talking: name and sound."""
    files = sorted((real_data() / "speech").glob("*.wav"))
    return [
        (file.stem, soundfile.read(file, dtype="float64")[0])
        for number, file in enumerate(files)
        if half_of_talk(number) == half
    ]


def recordings_in(folder: Path) -> list[tuple[str, Floats]]:
    """Everything in a folder that reads as sound at 16 kHz, in order of name, 0.6 s apart, as one recording.

    Raises:
        SystemExit: There is none.
    """
    files = [file for file in sorted(folder.rglob("*")) if file.suffix in {".wav", ".flac", ".ogg"}]
    read = [soundfile.read(file, dtype="float64", always_2d=True) for file in files]
    sounds = [sound.mean(axis=1) for sound, rate_hz in read if rate_hz == RATE_HZ]
    if not sounds:
        raise SystemExit(f"{folder} holds no sound at {RATE_HZ} Hz")
    gap = np.zeros(round(0.6 * RATE_HZ))
    joined = np.concatenate([part for sound in sounds for part in (sound, gap)])
    return [(f"{folder.name}, {len(sounds)} files", joined)]


def in_room(sound: Floats, room: str, half: Half) -> Floats:
    """The sound as it arrives in the room, direct sound at its own time, tail added, same active RMS."""
    response = impulse_response(room, half)
    wet = np.convolve(sound, response) if len(response) < 64 else _convolved(sound, response)
    return wet * (active_rms(sound) / active_rms(wet))


@lru_cache
def impulse_response(room: str, half: Half) -> Floats:
    """A room's response from its direct sound on; the largest sample is the direct sound, 1.0."""
    words = room.split()
    if words[0] == "made":
        rt60_s, ratio_db = float(words[1]), float(words[3])
        draw = np.random.default_rng([SEED[half], 99])
        t_s = np.arange(round(1.2 * rt60_s * RATE_HZ)) / RATE_HZ
        tail = draw.standard_normal(len(t_s)) * 10 ** (-3 * t_s / rt60_s)
        tail[: RATE_HZ // 400] = 0.0
        tail *= 10 ** (-ratio_db / 20) / np.sqrt(np.sum(tail**2))
        tail[0] = 1.0
        return np.asarray(tail)
    sound, rate_hz = soundfile.read(
        real_data() / "rooms" / f"{words[0]}.wav", dtype="float64", always_2d=True
    )
    one = soxr.resample(sound[:, int(words[1])], rate_hz, RATE_HZ)
    direct = int(np.argmax(np.abs(one)))
    return np.asarray(one[direct:] / one[direct])


def _convolved(sound: Floats, response: Floats) -> Floats:
    n = len(sound) + len(response) - 1
    return np.asarray(np.fft.irfft(np.fft.rfft(sound, n) * np.fft.rfft(response, n), n))


def _made(name: str, length: int, draw: np.random.Generator, speed: float) -> Floats:
    """Runs of 3 to 6 s of the generator with short breaks, so that it also begins and ends."""
    parts: list[Floats] = []
    have = 0
    while have < length:
        run = np.asarray(MAKERS[name](float(draw.uniform(3.0, 6.0)), draw))
        if speed != 1.0:
            run = soxr.resample(run, RATE_HZ * speed, RATE_HZ)
        steady = name == "fridge fan"
        parts += [run] if steady else [run, np.zeros(round(draw.uniform(0.1, 0.6) * RATE_HZ))]
        have = sum(map(len, parts))
    return np.concatenate(parts)[:length]


def _talkers(count: int, length: int, draw: np.random.Generator, half: Half) -> Floats:
    """So many people talking at once without pause, equally loud, each from another recording."""
    recordings = talk_recordings(half)
    total = np.zeros(length)
    order = list(draw.permutation(len(recordings)))
    for _ in range(count):
        line: list[Floats] = []
        while sum(map(len, line)) < length:
            if not order:
                order = list(draw.permutation(len(recordings)))
            sound = recordings[order.pop()][1]
            line.append(sound / active_rms(sound))
        total += np.roll(np.concatenate(line)[:length], int(draw.integers(0, length)))
    return total / active_rms(total)
