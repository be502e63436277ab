"""What a hypothesis does to the unaccounted mass: its effect as a distribution, seen through noise.

An effect is a known mass, plus a signed log-normal mass, plus a normal one of either sign; any of
them may be nothing. The noise is normal with the standard uncertainty of the balance. The integral
over the one that is smoother against the other uses Gauss-Hermite nodes, for many effects at once.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from math import exp, expm1, fsum, hypot, log, pi, sqrt

import numpy as np
from numpy.typing import NDArray

_NODES = 40
Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Effect:
    """The mass by which a hypothesis moves the unaccounted rest."""

    median_mg: float = 0.0
    """Median of the mass, positive; 0 when the rest is not moved by an uncertain mass."""
    log_sd: float = 0.0
    """Standard deviation of the logarithm of the mass; 0 when the mass is known."""
    sign: int = 1
    """1 when mass is missing from the sum, -1 when there is too much in it."""
    shift_mg: float = 0.0
    """A known mass that is missing besides; negative when there is too much."""
    wide_mg: float = 0.0
    """Standard deviation of a normal part of either sign, 0 when there is none."""

    def density(self, rest_mg: float, u_mg: float) -> float:
        """Probability density (per mg) of this unaccounted mass, given the effect and the noise."""
        return float(densities([self], rest_mg, u_mg)[0])

    def estimate(self, rest_mg: float, u_mg: float) -> tuple[float, float]:
        """Mean and standard deviation (mg) of the mass, given this unaccounted mass.

        The mass is positive both when it is missing and when it is too much.
        """
        if self.wide_mg > 0.0:
            weight = self.wide_mg**2 / (self.wide_mg**2 + u_mg**2)
            return abs(weight * rest_mg), sqrt(weight) * u_mg
        pairs = self._weighted_masses(rest_mg - self.shift_mg, u_mg)
        total = fsum(weight for weight, _ in pairs)
        known = self.sign * self.shift_mg
        if total <= 0.0:
            return abs(known + self.median_mg), self.median_mg * self.log_sd
        mean = fsum(weight * mass for weight, mass in pairs) / total
        variance = fsum(weight * (mass - mean) ** 2 for weight, mass in pairs) / total
        return abs(known + mean), sqrt(variance)

    def signed_median_mg(self) -> float:
        """The typical move of the unaccounted mass: positive when mass is missing."""
        return self.shift_mg + self.sign * self.median_mg

    def _weighted_masses(self, rest_mg: float, u_mg: float) -> list[tuple[float, float]]:
        """(density weight, mass) pairs of the log-normal part, its weights summing to the density."""
        if self.median_mg <= 0.0 or self.log_sd <= 0.0:
            return [(normal_density(rest_mg - self.sign * self.median_mg, u_mg), self.median_mg)]
        xs, ws = _nodes()
        if self.log_sd * self.median_mg < 2 * u_mg:  # the noise is the smooth one
            masses = [(w, self.median_mg * exp(x * self.log_sd)) for x, w in zip(xs, ws, strict=True)]
            return [(w * normal_density(rest_mg - self.sign * m, u_mg), m) for w, m in masses]
        masses = [(w, self.sign * (rest_mg - x * u_mg)) for x, w in zip(xs, ws, strict=True)]
        return [(w * log_normal_density(m, self.median_mg, self.log_sd), m) for w, m in masses if m > 0]


def densities(effects: Sequence[Effect], rest_mg: float, u_mg: float) -> Floats:
    """The density of `Effect.density` for many effects."""
    rows = [(e.median_mg, e.log_sd, e.sign, e.shift_mg, e.wide_mg) for e in effects]
    median, log_sd, sign, shift, wide = np.array(rows, dtype=np.float64).reshape(-1, 5).T
    sd = np.hypot(u_mg, wide)
    rest = rest_mg - shift
    known = (median <= 0.0) | (log_sd <= 0.0)
    smooth = ~known & (log_sd * median < 2 * sd)
    sharp = ~known & ~smooth
    found = np.zeros(len(rows))
    found[known] = _normal(rest[known] - sign[known] * median[known], sd[known])
    xs, ws = (np.array(values) for values in _nodes())
    if smooth.any():
        masses = median[smooth, None] * np.exp(np.outer(log_sd[smooth], xs))
        off = rest[smooth, None] - sign[smooth, None] * masses
        found[smooth] = _normal(off, sd[smooth, None]) @ ws
    if sharp.any():
        masses = sign[sharp, None] * (rest[sharp, None] - np.outer(sd[sharp], xs))
        there = masses > 0
        safe = np.where(there, masses, 1.0)
        logs = np.log(safe / median[sharp, None])
        found[sharp] = np.where(there, _normal(logs, log_sd[sharp, None]) / safe, 0.0) @ ws
    return found


def together(effects: Sequence[Effect]) -> Effect:
    """One effect for several at once.

    Known masses add, normal parts add in squares, log-normal ones of one sign keep mean and variance
    (Fenton-Wilkinson).

    Raises:
        ValueError: Uncertain masses of both signs; they are not taken together.
    """
    # A known mass may be told either way; here it becomes a shift.
    shift = fsum(e.shift_mg + (e.sign * e.median_mg if e.log_sd <= 0.0 else 0.0) for e in effects)
    wide = hypot(*(e.wide_mg for e in effects))
    open_ones = [e for e in effects if e.median_mg > 0.0 and e.log_sd > 0.0]
    if not open_ones:
        return Effect(shift_mg=shift, wide_mg=wide)
    if len({e.sign for e in open_ones}) > 1:
        raise ValueError("uncertain masses of both signs have no one log-normal sum")
    means = [e.median_mg * exp(e.log_sd**2 / 2) for e in open_ones]
    variance = fsum(m * m * expm1(e.log_sd**2) for m, e in zip(means, open_ones, strict=True))
    mean = fsum(means)
    log_variance = log(1 + variance / mean**2)
    return Effect(mean * exp(-log_variance / 2), sqrt(log_variance), open_ones[0].sign, shift, wide)


def normal_density(x: float, sd: float) -> float:
    """Density at `x` of the normal distribution around 0."""
    return exp(-0.5 * (x / sd) ** 2) / (sd * sqrt(2 * pi))


def log_normal_density(x: float, median: float, log_sd: float) -> float:
    """Density at `x` > 0 of the log-normal distribution with this median."""
    return normal_density(log(x / median), log_sd) / x


def _normal(x: Floats, sd: Floats) -> Floats:
    found: Floats = np.exp(-0.5 * (x / sd) ** 2) / (sd * sqrt(2 * pi))
    return found


@cache
def _nodes() -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Standard normal abscissas and weights of Gauss-Hermite quadrature; the weights sum to 1."""
    xs, ws = np.polynomial.hermite.hermgauss(_NODES)
    return tuple(float(x) * sqrt(2) for x in xs), tuple(float(w) / sqrt(pi) for w in ws)
