"""Quantiles of Student's t distribution, for coverage factors at few degrees of freedom.

JCGM 100:2008 G.3: k = t_p(ν_eff). The distribution function is a regularised incomplete beta
function, worked out by its continued fraction (Abramowitz and Stegun 26.5.8, 26.7.1).
"""

from __future__ import annotations

from functools import lru_cache
from math import exp, inf, isinf, lgamma, log, log1p, pi
from statistics import NormalDist

_TINY = 1e-300
_STEPS = 500


@lru_cache(maxsize=256)
def student_quantile(probability: float, degrees_of_freedom: float) -> float:
    """The t that is not exceeded with this probability.

    Args:
        probability: Between 0.5 and 1.
        degrees_of_freedom: ν > 0, need not be whole; `inf` gives the normal quantile.
    """
    if isinf(degrees_of_freedom):
        return NormalDist().inv_cdf(probability)
    tail = 1 - probability
    t = max(NormalDist().inv_cdf(probability), 1e-9)  # Student's tail is the longer one: too small
    for _ in range(_STEPS):
        # Newton's method on logarithms: the tail of few degrees of freedom is nearly a power of t.
        there = _upper_tail(t, degrees_of_freedom)
        step = log(there / tail) * there / (t * _density(t, degrees_of_freedom))
        t *= exp(max(-2.0, min(2.0, step)))
        if abs(step) < 1e-12:
            break
    return t


def _density(t: float, dof: float) -> float:
    """Density of Student's t."""
    front = lgamma((dof + 1) / 2) - lgamma(dof / 2) - log(dof * pi) / 2
    return exp(front - (dof + 1) / 2 * log1p(t * t / dof))


def _upper_tail(t: float, dof: float) -> float:
    """Probability that Student's t exceeds `t` >= 0."""
    square = t * t
    return 0.5 * _incomplete_beta(dof / 2, 0.5, dof / (dof + square)) if t < inf else 0.0


def _incomplete_beta(a: float, b: float, x: float) -> float:
    """Regularised incomplete beta function I_x(a, b)."""
    if not 0.0 < x < 1.0:
        return 0.0 if x <= 0.0 else 1.0
    if x > (a + 1) / (a + b + 2):  # the fraction converges fast below this only
        return 1.0 - _incomplete_beta(b, a, 1.0 - x)
    front = exp(lgamma(a + b) - lgamma(a) - lgamma(b) + a * log(x) + b * log1p(-x)) / a
    return front * _fraction(a, b, x)


def _fraction(a: float, b: float, x: float) -> float:
    """The continued fraction, evaluated forwards (modified Lentz method)."""
    c, d, value = 1.0, 0.0, 1.0
    for step in range(1, _STEPS):
        half = step // 2
        if step % 2 == 0:
            term = half * (b - half) * x / ((a + 2 * half - 1) * (a + 2 * half))
        else:
            term = -(a + half) * (a + b + half) * x / ((a + 2 * half) * (a + 2 * half + 1))
        d = 1.0 / _not_nought(1.0 + term * d)
        c = _not_nought(1.0 + term / c)
        value *= c * d
        if abs(c * d - 1.0) < 1e-15:
            break
    return 1.0 / value


def _not_nought(value: float) -> float:
    return value if abs(value) > _TINY else _TINY
