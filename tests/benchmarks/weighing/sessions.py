"""Generated sessions of work at a scale: each draws its own instrument and its own bad moments.

Development seeds are below 500,000, test seeds from 500,000 on. What counts as a stay was settled on
development seeds, together with the method.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from pan import CELL_HZ, Instrument, Run, Work, run

from handsfree.testing.scale_text import SHAPES, Shown

TEST_SEEDS_FROM = 500_000
_WITH_FLAG = tuple(sorted(set(SHAPES) - {"number_unit", "number_comma_unit"}))
_WITH_NET = _WITH_FLAG


@dataclass(frozen=True, slots=True)
class Kind:
    """One row of the table: what is drawn for its sessions."""

    name: str
    rates_hz: tuple[float, ...]
    sends: str = "always"
    noise_d: tuple[float, float] = (0.03, 0.15)
    shake_d: tuple[float, float] = (0.0, 0.1)
    """Amplitude of the bench's sway under 10 kg, in d."""
    hum_d: tuple[float, float] = (0.0, 2.0)
    """Amplitude of a machine's vibration under 10 kg before the filter, in d."""
    flags: tuple[str, ...] = ("honest", "honest", "stuck stable", "stuck moving")


#: Idle noise of a sound instrument stays within half a d from peak to peak (common practice, no source),
#: a standard deviation of about 0.1 d; a bench that shakes has several times that.
KINDS = (
    Kind("10 lines a second", (10.0,)),
    Kind("5 to 20", (5.0, 6.25, 8.0, 12.5, 16.0, 20.0)),
    Kind("1 to 4", (1.0, 2.0, 2.0, 3.0, 4.0)),
    Kind("shaking bench", (10.0,), noise_d=(0.3, 1.2), shake_d=(0.0, 1.0)),
    Kind("sends only when stable", (5.0, 10.0, 20.0), "when stable", flags=("honest",)),
    Kind("one line when stable", (10.0,), "once when stable", flags=("honest",)),
    Kind("sends on change", (10.0, 20.0), "on change"),
)


def instrument(kind: Kind, rng: np.random.Generator) -> Instrument:
    """A scale of this kind."""
    sends = kind.sends
    flagged = sends in {"when stable", "once when stable"} or rng.random() < 0.75
    shapes = _WITH_FLAG if flagged else ("number_unit", "number_comma_unit")
    style = str(rng.choice(["average", "two poles", "quick to steps"]))
    length = rng.uniform(0.2, 0.7) if style == "average" else rng.uniform(0.03, 0.12)
    d_g = float(rng.choice([1, 2, 5, 10, 20]))
    return Instrument(
        d_g=d_g,
        rate_hz=float(rng.choice(kind.rates_hz)),
        shape=str(rng.choice(shapes)),
        sends=sends,  # type: ignore[arg-type]
        flag=str(rng.choice(kind.flags)),  # type: ignore[arg-type]
        pan_g=float(rng.uniform(1500, 4000)),
        natural_hz=float(rng.uniform(6, 15)),
        damping=float(rng.uniform(0.05, 0.3)),
        filter=style,  # type: ignore[arg-type]
        filter_s=float(length),
        noise_d=float(rng.uniform(*kind.noise_d)),
        shake_m_s2=float(rng.uniform(*kind.shake_d)) * d_g / 10_000 * 9.80665,
        shake_hz=float(rng.uniform(1, 4)),
        hum_m_s2=float(rng.uniform(*kind.hum_d)) * d_g / 10_000 * 9.80665,
        hum_hz=float(rng.uniform(12, 40)),
        drift_d_per_min=float(rng.uniform(-1, 1)),
        zero_tracking=bool(rng.random() < 0.6),
        hysteresis_d=float(rng.uniform(0.0, 0.2)),
        judged_s=float(rng.uniform(0.3, 0.8)),
        jitter=float(rng.uniform(0.0, 0.1)),
    )


def stand_s(scale: Instrument) -> float:
    """Shortest rest that counts as settled: 0.8 s, and four lines, for nobody can judge rest from fewer.

    A scale that is silent until it has judged rest by itself cannot show a shorter one.
    """
    # A trembling value must be averaged, by a person too.
    shortest_s = max(2.0 if scale.noise_d > 0.2 else 0.8, 4.0 / scale.rate_hz)
    return shortest_s + (scale.judged_s if "stable" in scale.sends else 0.0)


_MOMENTS = {
    "put": 0.30, "take": 0.20, "thrown": 0.06, "quick pair": 0.07, "swap": 0.06, "knife": 0.08, "hand": 0.06,
    "drip": 0.06, "silence": 0.04, "garble": 0.03, "tare": 0.04,
}  # fmt: skip


def work_at(  # noqa: C901, PLR0912, PLR0915 - one branch for each thing that happens
    scale: Instrument, rng: np.random.Generator, long_s: float = 75.0
) -> Work:
    """A minute and more of work: pieces of 20 d (Min of class III, OIML R 76-1:2006 Table 3) and more."""
    work, on = Work(), 0.0
    settle_s = (scale.filter_s if scale.filter == "average" else 8 * scale.filter_s) + 0.3
    # A butcher waits for the tone: rest of the scale's own settling, the least stand and a little more.
    rest_s = settle_s + stand_s(scale)
    at = 1.5 + 5.0 / scale.rate_hz + rest_s
    names, chances = list(_MOMENTS), list(_MOMENTS.values())
    while at < long_s:
        piece = float(np.round(rng.uniform(20 * scale.d_g, min(6000.0, 600 * scale.d_g)), 1))
        let_go_s = float(rng.uniform(0.05, 0.4))
        match str(rng.choice(names, p=chances)):
            case "put" if on + piece < 20_000:
                work.loads.append((at, piece, let_go_s, 0.0))
                on += piece
            case "thrown" if on + piece < 20_000:
                work.loads.append((at, piece, 0.01, float(rng.uniform(0.02, 0.2))))
                on += piece
            case "take" if on > 0:
                part = on if rng.random() < 0.6 or on < piece + 20 * scale.d_g else piece
                work.loads.append((at, -part, let_go_s, 0.0))
                on -= part
            case "quick pair" if on + 1.5 * piece < 20_000:
                gap_s = float(rng.uniform(0.3, 1.5))
                work.loads += [(at, piece, let_go_s, 0.0), (at + let_go_s + gap_s, 0.5 * piece, 0.2, 0.0)]
                on += 1.5 * piece
                at += gap_s
            case "swap" if on > 0:
                gap_s = rest_s + float(rng.uniform(0.0, 1.0))
                work.loads += [(at, -on, let_go_s, 0.0), (at + gap_s, piece, let_go_s, 0.0)]
                on = piece
                at += gap_s
            case "knife":
                work.hands.append((at, float(rng.uniform(0.1, 0.4)), float(rng.uniform(20, 2000)), 0.1))
            case "hand":
                held_s = float(rng.uniform(0.5, 3.0))
                work.hands.append((at, held_s, float(rng.uniform(50, 2500)), float(rng.uniform(0.03, 0.12))))
                at += held_s
            case "drip" if on > 0:
                work.drips.append((at, 4.0, float(rng.uniform(0.02, 0.25)) * scale.d_g))
                at += 1.0
            case "silence":
                silent_s = float(rng.uniform(0.5, 6.0))
                work.silences.append((at, at + silent_s))
                if rng.random() < 0.6 and on + piece < 20_000:  # the piece wakes it, a moment later
                    woken_s = at + silent_s - float(rng.uniform(0.2, 0.5))
                    work.loads.append((woken_s, piece, let_go_s, 0.0))
                    on += piece
                at += silent_s
            case "garble":
                work.garbled.append((at, at + float(rng.uniform(0.2, 0.6))))
            case "tare" if on > 0 and scale.shape in _WITH_NET and not work.tares_s:
                work.tares_s.append(at)
            case _:
                continue
        at += let_go_s + rest_s + float(rng.uniform(0.0, 2.0))
    work.duration_s = at + 2.0
    return work


@dataclass(frozen=True, slots=True)
class Session:
    """Everything of one session."""

    seed: int
    scale: Instrument
    work: Work
    run: Run
    lines: list[tuple[float, str]]


def session(kind: Kind, seed: int) -> Session:
    """The session of a seed."""
    rng = np.random.default_rng([seed, 0])
    scale = instrument(kind, rng)
    work = work_at(scale, rng)
    shown = run(scale, work, seed)
    return Session(seed, scale, work, shown, _sent(scale, work, shown, rng))


def _sent(scale: Instrument, work: Work, shown: Run, rng: np.random.Generator) -> list[tuple[float, str]]:
    """The lines, each with its arrival."""
    lines: list[tuple[float, str]] = []
    last_s, told, last_steps, last_at = -9.0, False, None, 0.0
    every_s, late_s = 1.0 / scale.rate_hz, float(rng.uniform(0.01, 0.06))
    write, d_g = SHAPES[scale.shape], _decimal(scale.d_g)
    due_s = float(rng.uniform(0, every_s))
    for i, t_s in enumerate(shown.times_s.tolist()):
        steps, stable = int(shown.steps[i]), bool(shown.stable[i])
        told = told and stable
        if scale.sends == "once when stable":
            send = stable and not told
        elif scale.sends == "on change":
            send = t_s >= last_s + every_s and steps != last_steps
        else:
            send = t_s >= due_s and (scale.sends == "always" or stable)
        while t_s >= due_s:
            due_s += every_s
        if not send or any(a <= t_s < b for a, b in work.silences):
            continue
        last_s, told, last_steps = t_s, True, steps
        flag = {"honest": stable, "stuck stable": True, "stuck moving": False}[scale.flag]
        line = write(Shown(steps, d_g, "kg", stable=flag, net=bool(shown.net[i])))
        if any(a <= t_s < b for a, b in work.garbled):
            line = _garbled(line, rng)
        last_at = max(last_at, t_s + late_s + abs(float(rng.normal(0, scale.jitter))) * every_s)
        lines.append((round(last_at, 6), line))
    return lines


def _decimal(d_g: float) -> object:
    from decimal import Decimal

    return Decimal(str(d_g))


def _garbled(line: str, rng: np.random.Generator) -> str:
    cut = int(rng.integers(1, max(2, len(line) - 2)))
    return (line[cut:], line[:cut], line[:cut] + chr(int(rng.integers(0x80, 0x100))) + line[cut + 1 :])[
        int(rng.integers(0, 3))
    ]


__all__ = ["CELL_HZ", "KINDS", "TEST_SEEDS_FROM", "Kind", "Session", "session", "stand_s"]
