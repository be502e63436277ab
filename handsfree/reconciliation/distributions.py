"""Standard uncertainties of the usual distributions, and effective degrees of freedom.

Source: JCGM 100:2008 4.3.7 (uniform), 4.3.9 (triangular), F.2.2.1 (resolution), G.4.1
(Welch-Satterthwaite). Any unit in, the same unit out.
"""

from __future__ import annotations

from collections.abc import Iterable
from math import fsum, inf, sqrt


def rounding(d: float) -> float:
    """Standard uncertainty of one digital reading of scale interval `d`: d/√12 (F.2.2.1)."""
    return d / sqrt(12)


def uniform(a: float) -> float:
    """Standard uncertainty of a value within ±a, all equally likely: a/√3 (4.3.7)."""
    return a / sqrt(3)


def triangular(a: float) -> float:
    """Standard uncertainty of a value within ±a, likeliest in the middle: a/√6 (4.3.9)."""
    return a / sqrt(6)


def arcsine(a: float) -> float:
    """Standard uncertainty of a value that swings like a sine between ±a: a/√2."""
    return a / sqrt(2)


def effective_degrees_of_freedom(parts: Iterable[tuple[float, float]]) -> float:
    """Welch-Satterthwaite degrees of freedom of a combined uncertainty (JCGM 100:2008 G.2b).

    Args:
        parts: (standard uncertainty, degrees of freedom) of each independent part; `inf` degrees
            of freedom for a part that is known, not estimated from few readings.

    Returns:
        ν_eff, not truncated; `inf` when no part is estimated from few readings.
    """
    pairs = list(parts)
    bottom = fsum(u**4 / dof for u, dof in pairs)
    return fsum(u * u for u, _ in pairs) ** 2 / bottom if bottom else inf
