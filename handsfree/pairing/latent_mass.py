"""How heavy a carcass is when nobody has weighed it, and what a piece of it then weighs. Pure.

The dressed mass D is a latent variable. In logarithms, with m the usual share of a cut and s the spread
of its logarithm:

    log D ~ N(log of what such a carcass usually weighs, wide)
    log w | D ~ (1 - odd) N(log D + log m, s^2) + odd U(log 5 g, log 50 kg)

so every piece accepted, and a load that was probably the whole carcass (share 1), sharpens D, and a
piece that was cut or named in a way nobody foresaw does not spoil it. The product of the factors is
taken on a grid of log D (a tenth of the least spread apart, so the sum is the integral as far as it is
used); mean and variance of log D are what is handed on, and what a piece weighs integrates over it:

    p(w | c) = integral of p(w | D, c) p(D) dD = log-normal of log D + log m with both variances.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, exp, log, pi, sqrt

from handsfree.pairing.ports import Usual

#: Share of pieces that tell nothing of the carcass: cut, or named, in a way nobody foresaw (our own
#: choice: a little more than the pieces that are merely cut otherwise).
ODD = 0.05

#: So many standard deviations of the prior are looked at to either side.
_REACH = 8.0
_LEAST_STEP = 0.01
_ANY_DENSITY = 1 / log(50_000 / 5)
_NEVER = 1e-300
"""Least density, so that no logarithm is infinite."""


@dataclass(frozen=True, slots=True)
class CarcassMass:
    """What is believed of a dressed mass: log-normal."""

    median_mg: float
    sigma: float
    """Standard deviation of the natural logarithm, positive."""


@dataclass(frozen=True, slots=True)
class Evidence:
    """Something weighed that is a share of the carcass."""

    mass_mg: float
    """Positive."""
    share: float
    """Usual share of the dressed mass, positive; 1 for what may be the whole carcass."""
    spread: float
    """Standard deviation of the logarithm of that share, positive."""


def believed_mass(prior: CarcassMass, seen: Sequence[Evidence], *, odd: float = ODD) -> CarcassMass:
    """The dressed mass after what was seen of it.

    Args:
        prior: What such a carcass usually weighs.
        seen: What was weighed; nothing leaves the prior.
        odd: Probability, 0 to 1, that a piece tells nothing.
    """
    if not seen:
        return prior
    mean = log(prior.median_mg)
    step = max(_LEAST_STEP, min(prior.sigma, *(each.spread for each in seen)) / 10)
    reach = ceil(_REACH * prior.sigma / step)
    offsets = [step * number for number in range(-reach, reach + 1)]
    logs = [-0.5 * (offset / prior.sigma) ** 2 for offset in offsets]
    for each in seen:
        told = log(each.mass_mg / each.share) - mean
        floor = odd * _ANY_DENSITY
        height = (1 - odd) / (each.spread * sqrt(2 * pi))
        logs = [
            so_far + log(max(_NEVER, height * exp(-0.5 * ((told - offset) / each.spread) ** 2) + floor))
            for so_far, offset in zip(logs, offsets, strict=True)
        ]
    most = max(logs)
    weights = [exp(each - most) for each in logs]
    total = sum(weights)
    centre = sum(weight * offset for weight, offset in zip(weights, offsets, strict=True)) / total
    variance = (
        sum(weight * (offset - centre) ** 2 for weight, offset in zip(weights, offsets, strict=True)) / total
    )
    return CarcassMass(exp(mean + centre), sqrt(variance))


def usual_of(carcass: CarcassMass, share: float, spread: float, *, against: str = "") -> Usual:
    """What a piece of this share weighs when the carcass's own mass is no better known than this."""
    return Usual(share * carcass.median_mg, sqrt(carcass.sigma**2 + spread**2), against)
