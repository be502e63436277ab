"""The sounds of a larder, made from nothing but numbers: no recording is in them.

Each maker takes its length and a seeded generator and gives float samples at 16 kHz whose
root mean square (beds) or peak (single sounds) is 1; the mixer sets the level. The same seed gives
the same sound. The figures are by ear and common practice, no source, except where one is named.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

RATE_HZ = 16_000
Sound = NDArray[np.floating[Any]]
Maker = Callable[[float, np.random.Generator], Sound]

MAINS_HZ = 50.0


def fridge_fan(seconds: float, rng: np.random.Generator) -> Sound:
    """The cold room's fan: mains hum, blade harmonics, and low broadband air, gently swaying."""
    n = _count(seconds)
    t = np.arange(n) / RATE_HZ
    hum = sum(
        0.6 / k * np.sin(2 * np.pi * MAINS_HZ * k * t + rng.uniform(0, 2 * np.pi)) for k in (1, 2, 3, 4, 6)
    )
    blade_hz = 7 * 23.5  # seven blades of a slipping motor at 1,410 turns a minute
    blades = sum(
        0.5 / k * np.sin(2 * np.pi * blade_hz * k * t + rng.uniform(0, 2 * np.pi)) for k in range(1, 6)
    )
    air = shaped(n, rng, lambda f: (1 + (f / 400) ** 2) ** -0.5)
    sway = 1 + 0.15 * np.sin(2 * np.pi * 0.23 * t + rng.uniform(0, 2 * np.pi))
    return unit_rms(sway * (0.5 * hum + 0.5 * blades + 1.2 * air))


def water(seconds: float, rng: np.random.Generator) -> Sound:
    """A tap into a steel sink: a hiss around 2.5 kHz that the falling water breaks up."""
    n = _count(seconds)
    hiss = shaped(n, rng, lambda f: (f / 700) / (1 + (f / 2500) ** 2))
    breaking = np.abs(shaped(n, rng, lambda f: 1.0 * (f < 18)))
    return _faded(unit_rms(hiss * (0.4 + breaking / (breaking.mean() + 1e-12))), 0.15)


def clatter(seconds: float, rng: np.random.Generator) -> Sound:
    """Steel on steel: a few strikes, each a set of ringing modes that are no harmonics."""
    n = _count(seconds)
    out = np.zeros(n)
    for at_s in np.sort(rng.uniform(0, max(seconds - 0.25, 0.01), size=max(1, round(4 * seconds)))):
        modes_hz = rng.uniform(900, 6800, size=9)
        decay_s = rng.uniform(0.03, 0.22, size=9)
        _add(out, at_s, rng.uniform(0.3, 1) * _ring(modes_hz, decay_s, rng))
    return unit_peak(out)


def bandsaw(seconds: float, rng: np.random.Generator) -> Sound:
    """A bone saw run up, through the bone, and down: tooth rate and harmonics with grit between."""
    n = _count(seconds)
    t = np.arange(n) / RATE_HZ
    run = np.clip(np.minimum(t / 0.5, (seconds - t) / 0.7), 0, 1)
    pitch_hz = 118 * (0.5 + 0.5 * run) * (1 + 0.01 * np.sin(2 * np.pi * 3.1 * t))
    turn = 2 * np.pi * np.cumsum(pitch_hz) / RATE_HZ
    motor = sum(np.sin(k * turn + rng.uniform(0, 2 * np.pi)) / k**0.8 for k in range(1, 14))
    grit = shaped(n, rng, lambda f: (f / 1200) / (1 + (f / 3000) ** 2))
    bite = np.clip(np.sin(2 * np.pi * 0.9 * t / max(seconds, 1e-9) * 2) + 0.6, 0.15, 1)
    return unit_rms(run * (0.35 * motor + 1.1 * bite * grit))


def dog_bark(seconds: float, rng: np.random.Generator) -> Sound:
    """A dog in the yard: short glottal bursts through two formants, two or three a second."""
    n = _count(seconds)
    out = np.zeros(n)
    at_s = 0.02
    while at_s < seconds - 0.25:
        length_s = rng.uniform(0.13, 0.2)
        m = _count(length_s)
        t = np.arange(m) / RATE_HZ
        pitch_hz = 430 * (1 - 0.35 * t / length_s) * rng.uniform(0.92, 1.08)
        turn = 2 * np.pi * np.cumsum(pitch_hz) / RATE_HZ
        throat = sum(np.sin(k * turn) / k for k in range(1, 16)) + 0.8 * rng.standard_normal(m)
        mouth = _filtered(throat, lambda f: _formant(f, 850, 180) + 0.6 * _formant(f, 1650, 260))
        _add(out, at_s, rng.uniform(0.7, 1) * np.sin(np.pi * t / length_s) ** 0.6 * mouth)
        at_s += length_s + rng.choice([0.12, 0.18, 0.5])
    return unit_peak(out)


def chops(seconds: float, rng: np.random.Generator) -> Sound:
    """A cleaver into bone on a wooden block: a crack and a dull thump, about two a second."""
    out = np.zeros(_count(seconds))
    at_s = 0.02
    while at_s < seconds - 0.2:
        crack = _burst(0.012, rng) * rng.uniform(0.4, 0.7)
        thump = _ring(np.array([95.0, 160.0, 270.0]), np.array([0.09, 0.06, 0.03]), rng)
        strength = rng.uniform(0.7, 1)
        _add(out, at_s, strength * crack)
        _add(out, at_s, strength * thump)
        at_s += rng.uniform(0.42, 0.6)
    return unit_peak(out)


def thud(seconds: float, rng: np.random.Generator) -> Sound:
    """Meat laid on a pan: one soft low thump with a little steel in it."""
    out = np.zeros(_count(max(seconds, 0.3)))
    _add(out, 0.0, _ring(np.array([70.0, 120.0, 210.0]), np.array([0.07, 0.05, 0.03]), rng))
    _add(out, 0.0, 0.12 * _ring(rng.uniform(700, 2400, size=4), rng.uniform(0.02, 0.06, size=4), rng))
    return unit_peak(out)


def pink(seconds: float, rng: np.random.Generator) -> Sound:
    """Pink noise: the same power in every octave from 20 Hz up."""
    return unit_rms(shaped(_count(seconds), rng, lambda f: np.maximum(f, 20.0) ** -0.5))


MAKERS: dict[str, Maker] = {
    "pink": pink,
    "fridge fan": fridge_fan,
    "water": water,
    "clatter": clatter,
    "saw": bandsaw,
    "dog": dog_bark,
    "chops": chops,
    "thud": thud,
}

CREST_DB = dict.fromkeys(("clatter", "dog", "chops", "thud"), 12.0)
"""Single sounds are given by their peak; at a level of 0 dB that peak stands this far above the
voice's root mean square, about where the voice's own peaks are."""


def shaped(n: int, rng: np.random.Generator, gain: Callable[[Sound], Sound]) -> Sound:
    """White Gaussian noise of `n` samples with its spectrum multiplied by `gain(f_hz)`."""
    return _filtered(rng.standard_normal(n), gain)


def unit_rms(sound: Sound) -> Sound:
    """The sound with a root mean square of 1."""
    return sound / (float(np.sqrt(np.mean(sound**2))) or 1.0)


def unit_peak(sound: Sound) -> Sound:
    """The sound with a peak of 1."""
    return sound / (float(np.max(np.abs(sound))) or 1.0)


def _count(seconds: float) -> int:
    return max(1, round(seconds * RATE_HZ))


def _filtered(sound: Sound, gain: Callable[[Sound], Sound]) -> Sound:
    f_hz = np.fft.rfftfreq(len(sound), 1 / RATE_HZ)
    return np.fft.irfft(np.fft.rfft(sound) * gain(f_hz), len(sound))


def _formant(f_hz: Sound, centre_hz: float, width_hz: float) -> Sound:
    return 1 / (1 + ((f_hz - centre_hz) / width_hz) ** 2)


def _ring(modes_hz: Sound, decay_s: Sound, rng: np.random.Generator) -> Sound:
    t = np.arange(_count(6 * float(decay_s.max()))) / RATE_HZ
    phases = rng.uniform(0, 2 * np.pi, size=len(modes_hz))
    weights = rng.uniform(0.3, 1, size=len(modes_hz))
    parts = (
        w * np.exp(-t / d) * np.sin(2 * np.pi * f * t + p)
        for f, d, p, w in zip(modes_hz, decay_s, phases, weights, strict=True)
    )
    return unit_peak(np.asarray(sum(parts)))


def _burst(seconds: float, rng: np.random.Generator) -> Sound:
    n = _count(seconds)
    return unit_peak(rng.standard_normal(n) * np.exp(-np.arange(n) / (0.3 * n)))


def _add(out: Sound, at_s: float, sound: Sound) -> None:
    at = round(at_s * RATE_HZ)
    part = sound[: max(0, len(out) - at)]
    out[at : at + len(part)] += part


def _faded(sound: Sound, seconds: float) -> Sound:
    n = min(_count(seconds), len(sound) // 2)
    ramp = np.linspace(0, 1, n)
    sound[:n] *= ramp
    sound[len(sound) - n :] *= ramp[::-1]
    return sound
