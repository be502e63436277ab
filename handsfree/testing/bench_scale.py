"""A generated scale: a schedule of loads becomes the lines an instrument would send, with truth.

The pan and its load are a damped second-order system (a spring, as any load cell is), the display
adds noise, rounds to the scale interval and judges stability as R 76 does (two neighbouring
values). Figures for settling (0.3 to 1.5 s) and line rate (1 to 20 Hz) are common practice, no
source. Deterministic by seed. It is a model of an instrument, not a recording of one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

import numpy as np
import numpy.typing as npt

from handsfree.testing.scale_text import SHAPES, Shown, interval_g

Array = npt.NDArray[np.float64]

_OVER_INTERVALS = 9  # OIML R 76-1:2006 4.2.3: no indication above Max + 9 e


@dataclass(frozen=True, slots=True)
class Put:
    """A load is put on: a piece, a tray, a container."""

    t_s: float
    mass_g: float
    over_s: float = 0.2
    """How long the hand takes to let go."""


@dataclass(frozen=True, slots=True)
class Take:
    """A load is taken off."""

    t_s: float
    mass_g: float
    over_s: float = 0.2


@dataclass(frozen=True, slots=True)
class Swap:
    """A tray is lifted off and another put on."""

    t_s: float
    off_g: float
    on_g: float
    gap_s: float = 1.5
    """Time the pan is free between the two."""


@dataclass(frozen=True, slots=True)
class Touch:
    """A knife or hand leans on the pan (force as grams) and lets go: no load change."""

    t_s: float
    duration_s: float
    force_g: float


@dataclass(frozen=True, slots=True)
class Drip:
    """The load loses juice, slowly and steadily."""

    t_s: float
    duration_s: float
    rate_g_per_s: float


@dataclass(frozen=True, slots=True)
class Dropout:
    """No line comes for a while: cable, power save."""

    t_s: float
    duration_s: float


@dataclass(frozen=True, slots=True)
class Garble:
    """Lines come cut or with flipped bytes for a while."""

    t_s: float
    duration_s: float


@dataclass(frozen=True, slots=True)
class TareKey:
    """The scale's own tare key: from here on it shows net from zero."""

    t_s: float


BenchEvent = Put | Take | Swap | Touch | Drip | Dropout | Garble | TareKey


@dataclass(frozen=True, slots=True)
class TrueChange:
    """A real change of load: what a perfect weigher would report."""

    t_s: float
    """When the load began to move."""
    delta_g: float


class BenchScale:
    """A scale that is run through a schedule.

    Args:
        name: Name of the instrument, "bench" or "rail"; goes into nothing but messages.
        d_g: Scale interval in grams.
        max_kg: Maximum capacity; above Max + 9 d the display shows overload.
        rate_hz: Lines a second, 1 to 20.
        shape: Line shape, a key of `handsfree.testing.scale_text.SHAPES`.
        seed: Same seed, same lines.
        unit: Unit displayed.
        settle_s: Time after which a step has settled to 0.1 % of itself.
        damping: Damping ratio; below 1 it swings past the value.
        noise_d: Standard deviation of the display noise before rounding, in intervals.
        drift_g_per_min: Slow drift of zero.
        flag: The stable flag: honest, or stuck at one value.
        jitter_s: Standard deviation of the arrival time of a line.
    """

    def __init__(
        self,
        name: str,
        d_g: float,
        max_kg: float,
        rate_hz: float = 10.0,
        shape: str = "status_comma",
        seed: int = 1,
        *,
        unit: str = "kg",
        settle_s: float = 0.7,
        damping: float = 0.7,
        noise_d: float = 0.12,
        drift_g_per_min: float = 0.0,
        flag: Literal["honest", "stuck stable", "stuck moving"] = "honest",
        jitter_s: float = 0.004,
    ) -> None:
        self.name = name
        self.d_g = float(interval_g(unit, Decimal(str(d_g))))
        """Scale interval in grams in the unit displayed (a lb display has its own)."""
        self._interval = Decimal(str(d_g))
        self._max_g = max_kg * 1000.0
        self._rate_hz = rate_hz
        self._write = SHAPES[shape]
        self._seed = seed
        self._unit = unit
        self._damping = damping
        # 0.1 % of a step is left after ln(1000) / (damping * omega).
        self._omega = np.log(1000.0) / (min(damping, 1.0) * settle_s)
        self._noise_d = noise_d
        self._drift_g_per_s = drift_g_per_min / 60.0
        self._flag = flag
        self._jitter_s = jitter_s

    def run(
        self, events: Sequence[BenchEvent], duration_s: float, *, since_s: float = 0.0
    ) -> list[tuple[float, str]]:
        """The lines of `duration_s` seconds, each with its time of arrival and its terminator.

        Args:
            events: What happens to it.
            duration_s: Up to when.
            since_s: Lines displayed up to this time are left out. What happens later changes nothing
                but the display noise of the lines before.
        """
        noise = np.random.default_rng(self._seed)
        times = np.arange(1, int(duration_s * self._rate_hz) + 1) / self._rate_hz
        load = self._pan(times, events, noise)
        load += self._drift_g_per_s * times
        load += noise.normal(0.0, self._noise_d * self.d_g, times.size)
        load, net = self._tared(times, load, events)
        arrivals = times + np.abs(noise.normal(0.0, self._jitter_s, times.size))
        lines: list[tuple[float, str]] = []
        steps = np.rint(load / self.d_g).astype(int)
        for index, at in enumerate(np.maximum.accumulate(arrivals)):
            if times[index] <= since_s or _within(events, Dropout, times[index]):
                continue
            line = self._write(self._shown(steps, index, net=bool(net[index])))
            if _within(events, Garble, times[index]):
                line = _garbled(line, noise)
            lines.append((round(float(at), 6), line))
        return lines

    def truth(self, events: Sequence[BenchEvent]) -> list[TrueChange]:
        """Every real change of load in the schedule, in time order; touches and drips are none."""
        changes: list[TrueChange] = []
        for event in events:
            match event:
                case Put():
                    changes.append(TrueChange(event.t_s, event.mass_g))
                case Take():
                    changes.append(TrueChange(event.t_s, -event.mass_g))
                case Swap():
                    changes.append(TrueChange(event.t_s, -event.off_g))
                    changes.append(TrueChange(event.t_s + event.gap_s, event.on_g))
                case _:
                    pass
        return sorted(changes, key=lambda change: change.t_s)

    def _pan(self, times: Array, events: Sequence[BenchEvent], noise: np.random.Generator) -> Array:
        """What the load cell feels, in grams, at the given times."""
        felt = np.zeros_like(times)
        for event in events:
            match event:
                case Put():
                    felt += event.mass_g * self._ramp_response(times - event.t_s, event.over_s)
                case Take():
                    felt -= event.mass_g * self._ramp_response(times - event.t_s, event.over_s)
                case Swap():
                    felt -= event.off_g * self._ramp_response(times - event.t_s, 0.2)
                    felt += event.on_g * self._ramp_response(times - event.t_s - event.gap_s, 0.2)
                case Touch():
                    on = self._ramp_response(times - event.t_s, 0.15)
                    on -= self._ramp_response(times - event.t_s - event.duration_s, 0.1)
                    # A hand is never still: 8 % tremor, common practice, no source.
                    felt += event.force_g * on * (1.0 + noise.normal(0.0, 0.08, times.size))
                case Drip():
                    felt -= event.rate_g_per_s * np.clip(times - event.t_s, 0.0, event.duration_s)
                case _:
                    pass
        return felt

    def _ramp_response(self, since_s: Array, over_s: float) -> Array:
        """Response of the pan to a unit load let go over `over_s`: a few steps after each other."""
        parts = 5
        shifts = np.linspace(0.0, over_s, parts)
        total = np.zeros_like(since_s)
        for shift in shifts:
            total += self._step_response(since_s - shift)
        return total / parts

    def _step_response(self, since_s: Array) -> Array:
        """Step response of a damped second-order system, 0 before the step."""
        t = np.maximum(since_s, 0.0)
        if self._damping >= 1.0:
            response = 1.0 - np.exp(-self._omega * t) * (1.0 + self._omega * t)
        else:
            root = np.sqrt(1.0 - self._damping**2)
            swing = self._omega * root * t
            decay = np.exp(-self._damping * self._omega * t)
            response = 1.0 - decay * (np.cos(swing) + self._damping / root * np.sin(swing))
        return np.where(since_s > 0.0, response, 0.0)

    def _tared(
        self, times: Array, load: Array, events: Sequence[BenchEvent]
    ) -> tuple[Array, npt.NDArray[np.bool_]]:
        """Load as displayed after the scale's own tare key, and where it shows net."""
        shown = load.copy()
        net = np.zeros(times.size, dtype=bool)
        for event in events:
            if isinstance(event, TareKey):
                after = times >= event.t_s
                if after.any():
                    shown[after] = load[after] - load[int(np.argmax(after))]
                    net |= after
        return shown, net

    def _shown(self, steps: npt.NDArray[np.int_], index: int, *, net: bool) -> Shown:
        recent = steps[max(0, index - max(2, round(0.4 * self._rate_hz))) : index + 1]
        honest = bool(recent.max() - recent.min() <= 1)
        stable = {"honest": honest, "stuck stable": True, "stuck moving": False}[self._flag]
        value = int(steps[index])
        over = value * self.d_g > self._max_g + _OVER_INTERVALS * self.d_g
        under = value * self.d_g < -0.2 * self._max_g
        blank = over or under
        return Shown(
            None if blank else value,
            self._interval,
            self._unit,
            stable=stable and not blank,
            net=net,
            over=over,
            under=under,
        )


def _within(events: Sequence[BenchEvent], kind: type[Dropout | Garble], t_s: float) -> bool:
    return any(
        isinstance(event, kind) and event.t_s <= t_s < event.t_s + event.duration_s for event in events
    )


def _garbled(line: str, noise: np.random.Generator) -> str:
    """A line with its head lost, its tail and terminator lost, or one byte turned to rubbish."""
    cut = int(noise.integers(1, max(2, len(line) - 2)))
    match int(noise.integers(0, 3)):
        case 0:
            return line[cut:]
        case 1:
            return line[:cut]
        case _:
            return line[:cut] + chr(int(noise.integers(0x80, 0x100))) + line[cut + 1 :]
