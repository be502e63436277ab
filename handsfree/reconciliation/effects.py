"""What a hypothesis does to the unaccounted mass: its effect as a distribution, seen through noise.

The effect is a signed log-normal mass (a mass known from a weighing has no spread of its own), the
noise is normal with the standard uncertainty of the balance. The integral over the one that is
smoother against the other uses Gauss-Hermite nodes.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from math import exp, expm1, fsum, log, pi, sqrt

import numpy as np

_NODES = 40


@dataclass(frozen=True, slots=True)
class Effect:
    """The mass by which a hypothesis moves the unaccounted rest."""

    median_mg: float = 0.0
    """Median of the mass, positive; 0 when the rest is not moved."""
    log_sd: float = 0.0
    """Standard deviation of the logarithm of the mass; 0 when the mass is known."""
    sign: int = 1
    """1 when mass is missing from the sum, -1 when there is too much in it."""

    def density(self, rest_mg: float, u_mg: float) -> float:
        """Probability density (per mg) of this unaccounted mass, given the effect and the noise."""
        return fsum(weight for weight, _ in self._weighted_masses(rest_mg, u_mg))

    def estimate(self, rest_mg: float, u_mg: float) -> tuple[float, float]:
        """Mean and standard deviation (mg) of the mass, given this unaccounted mass."""
        pairs = self._weighted_masses(rest_mg, u_mg)
        total = fsum(weight for weight, _ in pairs)
        if total <= 0.0:
            return self.median_mg, self.median_mg * self.log_sd
        mean = fsum(weight * mass for weight, mass in pairs) / total
        variance = fsum(weight * (mass - mean) ** 2 for weight, mass in pairs) / total
        return mean, sqrt(variance)

    def _weighted_masses(self, rest_mg: float, u_mg: float) -> list[tuple[float, float]]:
        """(density weight, mass) pairs whose weights sum to the density."""
        if self.median_mg <= 0.0 or self.log_sd <= 0.0:
            return [(normal_density(rest_mg - self.sign * self.median_mg, u_mg), self.median_mg)]
        if self.log_sd * self.median_mg < 2 * u_mg:  # the noise is the smooth one
            masses = [(w, self.median_mg * exp(x * self.log_sd)) for x, w in _nodes()]
            return [(w * normal_density(rest_mg - self.sign * m, u_mg), m) for w, m in masses]
        masses = [(w, self.sign * (rest_mg - x * u_mg)) for x, w in _nodes()]
        return [(w * log_normal_density(m, self.median_mg, self.log_sd), m) for w, m in masses if m > 0]


def together(effects: list[Effect]) -> Effect:
    """One effect for several at once, of one sign: same mean and variance (Fenton-Wilkinson)."""
    means = [e.median_mg * exp(e.log_sd**2 / 2) for e in effects]
    variance = fsum(m * m * expm1(e.log_sd**2) for m, e in zip(means, effects, strict=True))
    mean = fsum(means)
    if mean <= 0.0:
        return Effect()
    log_variance = log(1 + variance / mean**2)
    return Effect(mean * exp(-log_variance / 2), sqrt(log_variance), effects[0].sign)


def normal_density(x: float, sd: float) -> float:
    """Density of the normal distribution of mean 0 and this standard deviation."""
    return exp(-0.5 * (x / sd) ** 2) / (sd * sqrt(2 * pi))


def log_normal_density(x: float, median: float, log_sd: float) -> float:
    """Density at `x` > 0 of the log-normal distribution with this median."""
    return normal_density(log(x / median), log_sd) / x


@cache
def _nodes() -> tuple[tuple[float, float], ...]:
    """(standard normal abscissa, weight) of Gauss-Hermite quadrature; weights sum to 1."""
    xs, ws = np.polynomial.hermite.hermgauss(_NODES)
    return tuple((float(x) * sqrt(2), float(w) / sqrt(pi)) for x, w in zip(xs, ws, strict=True))
