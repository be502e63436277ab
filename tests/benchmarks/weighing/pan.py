"""A physical model of a bench scale: pan, load cell, electronics, display, sending. Numbers in grams.

Pan and load are a mass on a spring with a damper (the load cell); everything that touches the pan is
a force: pieces let go over some tenths of a second, a piece thrown (a blow with the momentum of the
fall), a hand or knife that leans and trembles, the bench that shakes (an acceleration of pan and load
together). The electronics sample at 50 Hz, filter, track zero (OIML R 76-1:2006 4.5.7: at most half a d
a second, only near zero and at rest), round to d with a little hysteresis, judge rest over a time of their
own, and send in one of four ways. Figures in `Instrument` are common practice, no source, unless said.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import pi, sqrt
from typing import Literal

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

PAN_HZ = 400
"""Steps a second of the pan's motion; its natural frequency stays below 60 Hz."""
CELL_HZ = 50
"""Samples a second of the electronics."""
_G = 9.80665  # m/s2, CGPM 1901


@dataclass(frozen=True, slots=True)
class Instrument:
    """One scale, its bench and its line; drawn at random for each session."""

    d_g: float
    rate_hz: float
    shape: str
    sends: Literal["always", "when stable", "once when stable", "on change"]
    flag: Literal["honest", "stuck stable", "stuck moving"]
    pan_g: float
    """Mass of pan and cell that moves with the load."""
    natural_hz: float
    """With the pan and 20 kg on it; the empty pan swings faster."""
    damping: float
    """Damping ratio at that load."""
    filter: Literal["average", "two poles", "quick to steps"]
    filter_s: float
    """Length of the average, or time constant of each pole."""
    noise_d: float
    """Standard deviation of the electronics' noise behind the filter, in d."""
    shake_m_s2: float
    """Amplitude of the bench's slow sway, acceleration."""
    shake_hz: float
    hum_m_s2: float
    """Amplitude of a machine's vibration."""
    hum_hz: float
    drift_d_per_min: float
    zero_tracking: bool
    hysteresis_d: float
    judged_s: float
    """Time over which the scale's own flag wants two neighbouring values."""
    jitter: float
    """Standard deviation of the arrival of a line, in line intervals."""


@dataclass(slots=True)
class Work:
    """What happens to the pan. Loads are (t, grams, seconds of letting go, fall in metres)."""

    duration_s: float = 0.0
    loads: list[tuple[float, float, float, float]] = field(default_factory=list)
    hands: list[tuple[float, float, float, float]] = field(default_factory=list)
    """(t, seconds, grams, tremor as a part of the force)"""
    drips: list[tuple[float, float, float]] = field(default_factory=list)
    """(t, seconds, grams a second)"""
    tares_s: list[float] = field(default_factory=list)
    silences: list[tuple[float, float]] = field(default_factory=list)
    """Power save or a loose plug: nothing is sent from, to."""
    garbled: list[tuple[float, float]] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Run:
    """What the display showed at each sample of the electronics, and what it would have shown in peace."""

    times_s: Array
    steps: npt.NDArray[np.int_]
    stable: npt.NDArray[np.bool_]
    net: npt.NDArray[np.bool_]
    peace_d: Array
    """The value before rounding, in d, without hands, shaking and noise; gross."""


def run(scale: Instrument, work: Work, seed: int) -> Run:
    """Let the work happen."""
    rng = np.random.default_rng([seed, 1])
    load, put = _loads(work)
    forces = _hands(work, rng)
    shaking = _shaking(scale, work, rng)
    noise = rng.normal(0.0, 1.0, len(load) // (PAN_HZ // CELL_HZ))
    shown = _electronics(scale, _pan(scale, load, put + forces, shaking), noise)
    peace = _electronics(scale, _pan(scale, load, put, np.zeros_like(load)), 0.0 * noise)
    times = (np.arange(len(shown)) + 1) / CELL_HZ
    drift = scale.drift_d_per_min / 60.0 * times
    return _display(scale, work, times, shown / scale.d_g + drift, peace / scale.d_g + drift)


def _loads(work: Work) -> tuple[Array, Array]:
    """What lies on the pan, and the force it presses with, at each step."""
    steps = round(work.duration_s * PAN_HZ)
    load, blows = np.zeros(steps), np.zeros(steps)
    for t_s, grams, over_s, fall_m in work.loads:
        first = round(t_s * PAN_HZ)
        ramp = max(1, round(over_s * PAN_HZ))
        load[first : first + ramp] += grams * np.linspace(0.0, 1.0, ramp, endpoint=False)[: steps - first]
        load[first + ramp :] += grams
        if fall_m and grams > 0:
            for after_s, part in ((0.0, 1.0), (0.16, 0.2)):  # the blow, and a small bounce
                wide = round(0.04 * PAN_HZ)
                at = first + round(after_s * PAN_HZ)
                peak = part * grams * sqrt(2 * _G * fall_m) / _G * pi / (2 * wide / PAN_HZ)
                wave = peak * np.sin(pi * (np.arange(wide) + 0.5) / wide)
                blows[at : at + wide] += wave[: max(0, steps - at)]
    for t_s, long_s, rate in work.drips:
        first, last = round(t_s * PAN_HZ), round((t_s + long_s) * PAN_HZ)
        lost = np.clip(np.arange(steps) - first, 0, last - first) / PAN_HZ
        load -= rate * lost
    return load, load + blows


def _hands(work: Work, rng: np.random.Generator) -> Array:
    steps = round(work.duration_s * PAN_HZ)
    force = np.zeros(steps)
    for t_s, long_s, grams, tremor in work.hands:
        first, count = round(t_s * PAN_HZ), round(long_s * PAN_HZ)
        count = min(count, steps - first)
        rise = np.clip(np.minimum(np.arange(count), np.arange(count)[::-1]) / (0.08 * PAN_HZ), 0.0, 1.0)
        # A held force wanders by a few per cent with a memory of a quarter of a second.
        wander, keep = np.zeros(count), np.exp(-1.0 / (0.25 * PAN_HZ))
        steps_of_it = rng.normal(0.0, tremor * sqrt(1 - keep * keep), count)
        level = rng.normal(0.0, tremor)
        for i in range(count):
            level = keep * level + steps_of_it[i]
            wander[i] = level
        force[first : first + count] += grams * rise * (1.0 + wander)
    return force


def _shaking(scale: Instrument, work: Work, rng: np.random.Generator) -> Array:
    """Acceleration of the bench in g: a sway whose phase wanders, and a hum."""
    steps = round(work.duration_s * PAN_HZ)
    if not (scale.shake_m_s2 or scale.hum_m_s2):
        return np.zeros(steps)
    walk = np.cumsum(rng.normal(0.0, sqrt(2.0 / PAN_HZ), steps))
    t = np.arange(steps) / PAN_HZ
    sway = scale.shake_m_s2 * np.sin(2 * pi * scale.shake_hz * t + walk)
    return np.asarray((sway + scale.hum_m_s2 * np.sin(2 * pi * scale.hum_hz * t)) / _G)


def _pan(scale: Instrument, load: Array, force: Array, shaking: Array) -> Array:
    """What the load cell feels at 50 Hz: the spring's force of a damped mass, averaged over each sample."""
    omega2 = (2 * pi * scale.natural_hz) ** 2
    drag = 2 * scale.damping / (2 * pi * scale.natural_hz)
    full_g = scale.pan_g + 20_000.0
    dt, felt, speed, pan = 1.0 / PAN_HZ, 0.0, 0.0, scale.pan_g
    out = []
    pull = (force + shaking * (pan + load)).tolist()
    ease = (omega2 * full_g / (pan + np.maximum(load, 0.0)) * dt).tolist()
    for wanted, gain in zip(pull, ease, strict=True):
        # The drag of the step's end: stable however strong it is.
        speed = (speed + gain * (wanted - felt)) / (1.0 + gain * drag)
        felt += speed * dt
        out.append(felt)
    each = PAN_HZ // CELL_HZ
    whole = len(out) // each * each
    return np.asarray(out[:whole]).reshape(-1, each).mean(axis=1)


def _electronics(scale: Instrument, felt: Array, noise: Array) -> Array:
    """The filter of the electronics; `noise` (standard deviation 1) is scaled to come out as told."""
    unit = np.zeros(400)
    unit[0] = 1.0
    gain = sqrt(float(np.sum(_filtered(scale, unit, steps=False) ** 2)))
    return _filtered(scale, felt + noise * scale.noise_d * scale.d_g / gain)


def _filtered(scale: Instrument, felt: Array, *, steps: bool = True) -> Array:
    if scale.filter == "average":
        count = max(2, round(scale.filter_s * CELL_HZ))
        total = np.cumsum(np.concatenate([np.zeros(count), felt]))
        return np.asarray((total[count:] - total[:-count]) / count)
    keep = float(np.exp(-1.0 / (scale.filter_s * CELL_HZ)))
    one = two = 0.0
    out = []
    for value in felt.tolist():
        if steps and scale.filter == "quick to steps" and abs(value - two) > 20 * scale.d_g:
            one += 0.5 * (value - one)
            two += 0.5 * (one - two)
        one = keep * one + (1 - keep) * value
        two = keep * two + (1 - keep) * one
        out.append(two)
    return np.asarray(out)


def _display(scale: Instrument, work: Work, times: Array, value: Array, peace: Array) -> Run:
    """Zero tracking, tare key, rounding with hysteresis and the scale's own judgement of rest."""
    count, wait = len(times), max(2, round(scale.judged_s * CELL_HZ))
    steps, stable = np.zeros(count, dtype=int), np.zeros(count, dtype=bool)
    net = np.zeros(count, dtype=bool)
    tares = sorted(work.tares_s)
    zero = tare = 0.0
    shown, is_net = 0, False
    peaceful = peace.copy()
    recent: list[int] = []
    for i in range(count):
        at_rest = bool(recent) and max(recent) - min(recent) <= 1
        if tares and times[i] > tares[0] + 1.0:  # the key is refused while the pan moves
            tares.pop(0)
        if tares and times[i] >= tares[0] and at_rest and len(recent) == wait:
            tares.pop(0)
            tare, is_net = value[i] - zero, True
            shown, recent = 0, []
        now = value[i] - zero - tare
        if scale.zero_tracking and not is_net and at_rest and abs(now) < 0.5:
            zero += float(np.clip(now, -0.5 / CELL_HZ, 0.5 / CELL_HZ))
            now = value[i] - zero - tare
        if abs(now - shown) > 0.5 + scale.hysteresis_d:
            shown = round(now)
        recent = [*recent[-wait + 1 :], shown]
        steps[i], stable[i], net[i] = shown, len(recent) == wait and max(recent) - min(recent) <= 1, is_net
        peaceful[i] = peace[i] - zero
    return Run(times, steps, stable, net, peaceful)
